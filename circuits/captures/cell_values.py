"""A parsed column's cells as numbers in SI units; what holds none is counted, not guessed."""

import re
import warnings
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from circuits.captures.capture import ColumnUse, Samples
from circuits.captures.cell_kinds import LEVELS, QUANTITY, kind_of, number_in, plain
from circuits.captures.clock_text import all_nanoseconds
from circuits.captures.heading_units import HeadingUnit, known_unit
from circuits.captures.line_map import LineMap
from circuits.captures.stamp_columns import quick_nanoseconds
from circuits.errors import DesignFileError
from circuits.plain_text import shown

ISO = re.compile(r"[12][0-9]{3}-[01][0-9]-[0-3][0-9][ T][0-2][0-9]:[0-5][0-9]")


@dataclass(slots=True)
class Tally:
    """How often a thing was met, and where first."""

    count: int = 0
    line: int = 0
    text: str = ""

    def add(self, count: int, line: int, text: str) -> None:
        """Count some more."""
        if count and not self.count:
            self.line, self.text = line, text
        self.count += count


@dataclass(slots=True)
class CellNotes:
    """What was odd about the cells, by column."""

    empty: dict[str, Tally] = field(default_factory=dict)
    unit_changes: dict[str, Tally] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    unit_texts: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class CellReader:
    """Turns columns of cells into numbers; `file` and `decimal` are for its messages."""

    file: str
    decimal: str
    notes: CellNotes

    def numbers(self, series: Any, use: ColumnUse, lines: LineMap) -> Samples:
        """Return a column of numbers in SI units."""
        values = self._parsed(series, use, lines)
        if use.factor != 1.0 or use.offset:
            with np.errstate(over="ignore"):
                values = values * use.factor + use.offset
        return self._open(values, series, use, lines)

    def bare(self, series: Any, use: ColumnUse, lines: LineMap) -> Samples:
        """Return a column of numbers as they stand."""
        return self._open(self._parsed(series, use, lines), series, use, lines)

    def _parsed(self, series: Any, use: ColumnUse, lines: LineMap) -> Samples:
        if series.dtype.kind in "iufb":
            return np.asarray(series, np.float64)
        return self._mixed(series, use, lines)

    def _open(self, values: Samples, series: Any, use: ColumnUse, lines: LineMap) -> Samples:
        """Return values with cells left open, and counted, where there is no number."""
        with np.errstate(all="ignore"):
            whole = bool(np.isfinite(np.add.reduce(values)))
        none = np.zeros(0, np.bool_) if whole else ~np.isfinite(values)
        if not none.any():
            return values
        first = int(np.argmax(none))
        cell = series.iloc[first]
        text = shown(cell) if isinstance(cell, str) else "nothing"
        tally = self.notes.empty.setdefault(use.name, Tally())
        tally.add(int(none.sum()), lines.line(first), text)
        return np.where(none, np.nan, values)

    def _mixed(self, series: Any, use: ColumnUse, lines: LineMap) -> Samples:
        """Return the numbers of a column in which some cell is none."""
        import pandas as pd  # noqa: PLC0415

        texts = series.astype(object)
        if self.decimal == ",":
            texts = texts.map(lambda cell: _pointed(cell) if isinstance(cell, str) else cell)
        values = np.array(pd.to_numeric(texts, errors="coerce"), np.float64)
        for row in np.flatnonzero(~np.isfinite(values)):
            cell = series.iloc[row]
            if isinstance(cell, str):
                values[row] = self._odd_cell(cell, use, lines, int(row))
        return values

    def _odd_cell(self, cell: str, use: ColumnUse, lines: LineMap, row: int) -> float:
        value = number_in(cell, self.decimal)
        if value is not None:
            return value
        if kind_of(cell, self.decimal) in ("missing", "blank"):
            return np.nan
        other = "," if self.decimal == "." else "."
        wanted = "mend that line"
        if number_in(cell, other) is not None:
            wanted = f'say --decimal "{other}" if that is the decimal mark of the whole file'
        elif kind_of(cell, self.decimal) == "quantity":
            wanted = "split the file where the unit changes"
        elif use.role != "time":
            return np.nan
        raise DesignFileError(
            file=self.file, key=f"line {lines.line(row)}",
            found=f"{shown(cell)} in column {use.number} ({use.name}), where numbers stand",
            wanted=wanted,
        )  # fmt: skip

    def nanoseconds(self, series: Any, use: ColumnUse, lines: LineMap, order: str) -> NDArray[Any]:
        """Return a column of dates or times in nanoseconds."""
        quick = _quick_stamps(series)
        if quick is None and series.dtype != "category":
            quick = quick_nanoseconds(np.asarray(series, dtype=object), order)
        if quick is not None:
            return quick
        codes, texts = _coded(series)
        quick = quick_nanoseconds(texts, order)
        if quick is not None and codes.min() >= 0:
            return quick[codes]
        found, wrong = all_nanoseconds(texts, order)
        if wrong >= 0:
            found, wrong = all_nanoseconds([plain(text) for text in texts], order)
        row = -1
        if wrong >= 0:
            row = int(np.argmax(codes == wrong))
        elif codes.size and codes.min() < 0:
            row = int(np.argmin(codes))
        if row >= 0:
            raise DesignFileError(
                file=self.file, key=f"line {lines.line(row)}",
                found=f"{shown(texts[wrong]) if wrong >= 0 else 'nothing'} in column {use.number} "
                f"({use.name}), where times stand",
                wanted="mend or delete that line",
            )  # fmt: skip
        return found[codes]

    def levels(self, series: Any, use: ColumnUse, lines: LineMap) -> Samples:
        """Return a column of logic levels as 0 and 1."""
        codes, texts = _coded(series)
        known = []
        for text in texts:
            level = LEVELS.get(plain(text).casefold())
            known.append(number_in(text, self.decimal) if level is None else level)
        return self._by_code(codes, texts, [np.nan if v is None else v for v in known], use, lines)

    def quantities(self, series: Any, use: ColumnUse, lines: LineMap) -> Samples:
        """Return a column of figures that each carry their unit, in SI units."""
        codes, texts = _coded(series)
        values, units = [], []
        for text in texts:
            match = QUANTITY[self.decimal].fullmatch(plain(text))
            unit = known_unit(match["unit"]) if match else None
            number = number_in(match["number"], self.decimal) if match else None
            if unit is None or number is None:
                values.append(np.nan)
            else:
                values.append(number * unit.factor + unit.offset)
            units.append(unit)
        self._watch_units(codes, units, use, lines)
        return self._by_code(codes, texts, values, use, lines)

    def by_unit_column(
        self, series: Any, unit_series: Any, use: ColumnUse, lines: LineMap
    ) -> Samples:
        """Return figures scaled by the unit that stands beside each of them."""
        codes, texts = _coded(unit_series)
        units = [known_unit(plain(text)) for text in texts]
        self._watch_units(codes, units, use, lines)
        factors = np.array([unit.factor if unit else np.nan for unit in units] + [np.nan])
        offsets = np.array([unit.offset if unit else np.nan for unit in units] + [np.nan])
        with np.errstate(over="ignore"):
            scaled = self._parsed(series, use, lines) * factors[codes] + offsets[codes]
        return self._open(scaled, series, use, lines)

    def _watch_units(
        self, codes: NDArray[Any], units: list[HeadingUnit | None], use: ColumnUse, lines: LineMap
    ) -> None:
        """Count where the unit changes; refuse where it measures another thing."""
        name = use.name
        for row in np.flatnonzero(np.diff(codes, prepend=codes[:1] - 1)) if codes.size else ():
            unit = units[codes[row]] if codes[row] >= 0 else None
            if unit is None:
                continue
            if self.notes.units.setdefault(name, unit.si) != unit.si:
                raise DesignFileError(
                    file=self.file, key=f"line {lines.line(int(row))}",
                    found=f"the unit {unit.text} in column {use.number} ({name}), which was in "
                    f"{self.notes.units[name]} before",
                    wanted="split the file there",
                )  # fmt: skip
            if self.notes.unit_texts.setdefault(name, unit.text) != unit.text:
                self.notes.unit_changes.setdefault(name, Tally()).add(
                    1, lines.line(int(row)), f"{self.notes.unit_texts[name]} to {unit.text}"
                )
                self.notes.unit_texts[name] = unit.text

    def _by_code(
        self, codes: NDArray[Any], texts: list[str], values: list[float], use: ColumnUse,
        lines: LineMap,
    ) -> Samples:  # fmt: skip
        found: Samples = np.array([*values, np.nan], np.float64)[codes]
        none = ~np.isfinite(found)
        if none.any():
            first = int(np.argmax(none))
            text = shown(texts[codes[first]]) if codes[first] >= 0 else "nothing"
            self.notes.empty.setdefault(use.name, Tally()).add(
                int(none.sum()), lines.line(first), text
            )
        return np.where(none, np.nan, found)


def _pointed(cell: str) -> str:
    # A point in such a cell is a thousands mark or a slip: it must not pass for a decimal point.
    return "" if "." in cell else cell.replace(",", ".")


def _coded(series: Any) -> tuple[NDArray[np.int64], list[str]]:
    """Return a column as indices into its different texts; -1 where a cell is empty."""
    coded = series.astype("category")
    texts = np.asarray(coded.cat.categories, dtype=object).tolist()
    return np.asarray(coded.cat.codes, np.int64), list(map(str, texts))


def _quick_stamps(series: Any) -> NDArray[np.int64] | None:
    """Return international dates and times in nanoseconds, or None if they are written else."""
    import pandas as pd  # noqa: PLC0415

    first = series.iloc[0]
    if series.dtype == "category" or not isinstance(first, str) or not ISO.match(first):
        return None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = pd.to_datetime(series, format="ISO8601", errors="coerce", utc=True)
    if found.isna().any() or found.min().year < 1700 or found.max().year > 2250:
        return None
    return np.asarray(found.dt.tz_convert(None), "datetime64[ns]").astype(np.int64)
