"""A table's rows, part by part: every line is counted and checked before its cells are read."""

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from circuits.captures.capture import Samples
from circuits.captures.cell_kinds import kind_of
from circuits.captures.cell_values import CellNotes, CellReader, Tally
from circuits.captures.column_roles import Plan
from circuits.captures.heading_units import split_heading
from circuits.captures.line_map import LineMap
from circuits.captures.raw_file import Oddities, RawFile, blocks, decoded
from circuits.captures.table_layout import COMMENT, DECORATION, FIGURES, TableLayout, ragged
from circuits.errors import DesignFileError
from circuits.plain_text import shown

LETTERS = bytes(range(65, 91)) + bytes(range(97, 123))
MARKS = b"#;%!/*>\n\x1a'"
MINUS = "−".encode()


@dataclass(slots=True)
class RowNotes:
    """Lines among the rows that are none."""

    blank: Tally = field(default_factory=Tally)
    remarks: Tally = field(default_factory=Tally)
    headings: Tally = field(default_factory=Tally)


@dataclass(frozen=True, slots=True, kw_only=True)
class RowPart:
    """Some rows: values by column number from 0, times by part, first rows after a new heading."""

    rows: int
    lines: LineMap
    values: dict[int, Samples]
    times: tuple[NDArray[Any], ...]
    breaks: tuple[int, ...]
    counter: Samples | None = None


class TableRows:
    """Reads a table's rows in order."""

    def __init__(self, raw: RawFile, layout: TableLayout, plan: Plan, head: Sequence[str]):
        self.raw = raw
        self.layout = layout
        self.plan = plan
        self.oddities = Oddities()
        self.notes = RowNotes()
        self.cells = CellReader(raw.name, layout.decimal, CellNotes())
        above = head[: layout.first_line - 1]
        self._above = {line.strip() for line in above if line.strip()}
        self._starts = {layout.cells(line)[0].strip() for line in self._above}
        self._special = self._special_bytes()
        self.first_texts: list[str] = []
        self.last_text = ""
        self._used = [
            use.number - 1
            for use in plan.uses
            if use.role != "left out" or use.number - 1 == plan.counter
        ]

    def _special_bytes(self) -> NDArray[np.bool_]:
        table = np.zeros(256, np.bool_)
        separator = self.layout.separator.encode()
        table[[mark for mark in MARKS if bytes([mark]) != separator]] = True
        if self.layout.kinds[0] in FIGURES:
            table[list(LETTERS)] = True
        return table

    def parts(self) -> Iterator[RowPart]:
        """Yield the rows in order."""
        skip = self.layout.first_line - 1
        line = 1
        for block in blocks(self.raw, self.oddities):
            data = block
            lines = data.count(b"\n") if skip else 0
            while skip and lines:
                data = data[data.index(b"\n") + 1 :]
                skip, lines, line = skip - 1, lines - 1, line + 1
            if data:
                part, line = self._part(data, line)
                if part.rows:
                    yield part

    def _part(self, data: bytes, line: int) -> tuple[RowPart, int]:
        codes = np.frombuffer(data, np.uint8)
        ends = np.flatnonzero(codes == 10)
        starts = np.empty_like(ends)
        starts[0] = 0
        starts[1:] = ends[:-1] + 1
        odd = self._special[codes[starts]] | self._ragged(codes, data, starts, ends)
        kept: NDArray[np.int64] | None = None
        breaks: tuple[int, ...] = ()
        if odd.any():
            data, kept, breaks = self._without_odd(data, starts, ends, odd, line)
        lines = LineMap(line, kept)
        rows = len(ends) if kept is None else len(kept)
        after = line + len(ends)
        if not rows:
            return RowPart(rows=0, lines=lines, values={}, times=(), breaks=()), after
        self._remember(data)
        frame = self._frame(data)
        if len(frame) != rows:
            raise DesignFileError(
                file=self.raw.name, key=f"lines {line} to {after - 1}",
                found=f"{len(frame)} rows in {rows} lines", wanted="mend the quotes in these lines",
            )  # fmt: skip
        return self._read(frame, lines, breaks), after

    def _remember(self, data: bytes) -> None:
        """Keep the first two rows and the last one as they stand, to be shown."""
        if not self.first_texts:
            second = data.find(b"\n") + 1
            third = data.find(b"\n", second) + 1
            texts = [data[: second - 1], *([data[second : third - 1]] if third else [])]
            self.first_texts = [decoded(text) for text in texts]
        self.last_text = decoded(data[data.rfind(b"\n", 0, -1) + 1 : -1])

    def _ragged(
        self, codes: NDArray[np.uint8], data: bytes, starts: NDArray[np.int64],
        ends: NDArray[np.int64],
    ) -> NDArray[np.bool_]:  # fmt: skip
        """Return which lines have another number of cells than the table."""
        fields, separator = self.layout.fields, self.layout.separator
        if not separator or (fields == 1 and separator != " "):
            return np.zeros(len(ends), np.bool_)
        if separator == " ":
            solid = (codes != 32) & (codes != 9) & (codes != 10)
            solid[1:] &= ~solid[:-1].copy()
            found = np.diff(np.searchsorted(np.flatnonzero(solid), ends), prepend=0)
            return np.asarray(found != fields)
        marked = codes == ord(separator)
        if b'"' in data:
            marked &= np.bitwise_xor.accumulate((codes == 34).view(np.uint8)) == 0
        places = np.flatnonzero(marked)
        if len(places) == (fields - 1) * len(ends):
            table = places.reshape(len(ends), fields - 1)
            return np.asarray((table[:, 0] < starts) | (table[:, -1] > ends))
        return np.asarray(np.diff(np.searchsorted(places, ends), prepend=0) != fields - 1)

    def _without_odd(
        self, data: bytes, starts: NDArray[np.int64], ends: NDArray[np.int64],
        odd: NDArray[np.bool_], line: int,
    ) -> tuple[bytes, NDArray[np.int64], tuple[int, ...]]:  # fmt: skip
        """Return the lines without those that are no rows, and where a new heading stood."""
        keep = np.ones(len(ends), np.bool_)
        pieces: list[bytes] = []
        done = 0
        after_heading = []
        for index in np.flatnonzero(odd):
            start, end = int(starts[index]), int(ends[index])
            row = self._odd_line(decoded(data[start:end]), line + int(index))
            pieces.append(data[done:start])
            done = end + 1
            if row is None:
                keep[index] = False
            elif row == "heading":
                keep[index] = False
                after_heading.append(index)
            else:
                pieces.append(row.encode() + b"\n")
        pieces.append(data[done:])
        kept = np.flatnonzero(keep)
        places = {int(np.searchsorted(kept, index)) for index in after_heading}
        return b"".join(pieces), kept, tuple(sorted(p for p in places if p < len(kept)))

    def _odd_line(self, text: str, line: int) -> str | None:
        """Return a line's row mended, "heading", or None where it is no row; or refuse it."""
        layout = self.layout
        cells = layout.cells(text)
        places = [i for i, kind in enumerate(layout.kinds) if kind in FIGURES]
        kinds = [kind_of(cells[i], layout.decimal) for i in places if i < len(cells)]
        figures = sum(kind in FIGURES for kind in kinds)
        words = sum(kind in ("word", "level") for kind in kinds)
        stripped = text.strip().strip("\x1a")
        if not stripped or not any(cell.strip() for cell in cells):
            self.notes.blank.add(1, line, "")
            return None
        if figures and not words and not COMMENT.match(text):
            mended = self._trailing(text, cells)
            if mended is None:
                raise ragged(self.raw.name, line, layout, len(cells))
            return mended
        if stripped in self._above or self._is_heading(cells, line):
            self.notes.headings.add(1, line, shown(stripped))
            return "heading"
        known = cells[0].strip() in self._starts
        if COMMENT.match(text) or DECORATION.fullmatch(text) or known or not figures:
            self.notes.remarks.add(1, line, shown(stripped))
            return None
        if len(cells) == layout.fields and words < len(kinds):
            return text
        raise ragged(self.raw.name, line, layout, len(cells))

    def _trailing(self, text: str, cells: list[str]) -> str | None:
        """Return a row with as many separators as the others, if only a last one was at stake."""
        layout = self.layout
        if len(cells) == layout.fields:
            return text
        short = layout.fields - len(cells)
        if short == 1 and layout.kinds[-1] == "blank" and layout.separator != " ":
            return text + layout.separator
        if short == -1 and not cells[-1].strip() and layout.separator != " ":
            return text.rstrip().removesuffix(layout.separator)
        return None

    def _is_heading(self, cells: list[str], line: int) -> bool:
        """Return whether a line is the heading again; refuse one with other units."""
        uses = self.plan.uses
        if not self.layout.names or len(cells) < 2:
            return False
        same = 0
        for cell, use, name in zip(cells, uses, self.layout.names, strict=False):
            told, unit = split_heading(cell)
            before, _ = split_heading(name)
            same += told == before
            if told == before and unit.text and use.unit_text and unit.text != use.unit_text:
                if use.reason == "unit as told" or use.role == "left out":
                    continue
                raise DesignFileError(
                    file=self.raw.name, key=f"line {line}",
                    found=f"{shown(cell)}: the unit of column {use.number} changes from "
                    f"{use.unit_text} to {unit.text}",
                    wanted="split the file there and read the parts one by one",
                )  # fmt: skip
        return 2 * same > len(self.layout.names)

    def _frame(self, data: bytes) -> Any:
        import pandas as pd  # type: ignore[import-untyped]  # noqa: PLC0415

        layout = self.layout
        separator = layout.separator or "\x1f"
        if separator != " ":
            if b"+ " in data or b"- " in data:
                data = data.replace(b"+ ", b"+").replace(b"- ", b"-")
            if MINUS in data:
                data = data.replace(MINUS, b"-")
        texts = {
            i: "category" for i in self._used if layout.kinds[i] not in ("number", "blank")
        }  # fmt: skip
        try:
            return pd.read_csv(
                io.BytesIO(data), sep=r"\s+" if separator == " " else separator, header=None,
                names=list(range(layout.fields)), usecols=self._used, index_col=False,
                decimal=layout.decimal, skipinitialspace=True, dtype=texts,
                keep_default_na=False, na_values=[""], skip_blank_lines=False,
                quoting=csv.QUOTE_MINIMAL if b'"' in data else csv.QUOTE_NONE,
                encoding_errors="replace",
            )  # fmt: skip
        except (pd.errors.ParserError, pd.errors.EmptyDataError, ValueError) as error:
            raise DesignFileError(
                file=self.raw.name, found=f"rows that do not parse ({shown(str(error))})",
                wanted="save the capture again, without quotes inside cells",
            ) from error  # fmt: skip

    def _read(self, frame: Any, lines: LineMap, breaks: tuple[int, ...]) -> RowPart:
        kinds, uses, cells = self.layout.kinds, self.plan.uses, self.cells
        values: dict[int, Samples] = {}
        for column, use in enumerate(uses):
            if use.role != "channel":
                continue
            series = frame[column]
            if kinds[column] == "level":
                values[column] = cells.levels(series, use, lines)
            elif kinds[column] == "quantity":
                values[column] = cells.quantities(series, use, lines)
            elif column + 1 < len(uses) and uses[column + 1].role == "unit":
                values[column] = cells.by_unit_column(
                    cells.bare(series, use, lines), frame[column + 1], use, lines
                )
            else:
                values[column] = cells.numbers(series, use, lines)
        times = tuple(self._time(frame[part.column], part.column, lines, part.kind)
                      for part in self.plan.time.parts)  # fmt: skip
        numbers = None
        if self.plan.counter is not None:
            use = uses[self.plan.counter]
            numbers = cells.bare(frame[self.plan.counter], use, lines)
        return RowPart(
            rows=len(frame), lines=lines, values=values, times=times, breaks=breaks,
            counter=numbers,
        )  # fmt: skip

    def _time(self, series: Any, column: int, lines: LineMap, kind: str) -> NDArray[Any]:
        use = self.plan.uses[column]
        if kind in ("date", "clock", "stamp"):
            return self.cells.nanoseconds(series, use, lines, self.plan.time.order)
        if kind == "epoch" and series.dtype.kind in "iu":
            return np.asarray(series)
        found = self.cells.bare(series, use, lines)
        if np.isnan(found).any():
            row = int(np.argmax(np.isnan(found)))
            raise DesignFileError(
                file=self.raw.name, key=f"line {lines.line(row)}",
                found=f"no time in column {use.number} ({use.name})",
                wanted="mend or delete that line",
            )  # fmt: skip
        return found
