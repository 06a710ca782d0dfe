"""A table's rows, part by part: every line is counted and checked before its cells are read."""

import csv
import io
import os
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from circuits.captures.capture import Samples
from circuits.captures.cell_kinds import APART_SIGN
from circuits.captures.cell_values import CellNotes, CellReader
from circuits.captures.column_roles import Plan
from circuits.captures.line_map import LineMap
from circuits.captures.odd_lines import OddLines
from circuits.captures.raw_file import Oddities, RawFile, blocks, decoded
from circuits.captures.table_layout import FIGURES, TableLayout
from circuits.errors import DesignFileError
from circuits.plain_text import shown

LETTERS = bytes(range(65, 91)) + bytes(range(97, 123))
NO_BOUNDS = (np.zeros(0, np.int64), np.zeros(0, np.int64))
SAMPLED = 60
MOST_SECONDS = 9e9
"""Whole nanoseconds of 64 bits reach so far from 1970, or from the first row."""

WORKERS = min(4, os.cpu_count() or 1)
MARKS = b"#;%!/*>\n\x1a'"
MINUS = "−".encode()


@dataclass(frozen=True, slots=True, kw_only=True)
class RowPart:
    """Some rows: values by column number from 0, times by part, first rows after a new heading."""

    rows: int
    lines: LineMap
    values: dict[int, Samples]
    times: tuple[NDArray[Any], ...]
    breaks: tuple[int, ...]
    counter: Samples | None = None


@dataclass(frozen=True, slots=True)
class _Parsed:
    data: bytes
    lines: int
    bounds: tuple[NDArray[np.int64], NDArray[np.int64]]
    odd: NDArray[np.bool_] | None
    frame: Any


class TableRows:
    """Reads a table's rows in order."""

    def __init__(self, raw: RawFile, layout: TableLayout, plan: Plan, head: Sequence[str]):
        self.raw = raw
        self.layout = layout
        self.plan = plan
        self.oddities = Oddities()
        self.cells = CellReader(raw.name, layout.decimal, CellNotes())
        self.odd_lines = OddLines(raw.name, layout, plan, head)
        rows = head[layout.first_line - 1 :][:SAMPLED]
        # A sign may stand apart from its number, as in "+ 0.081".
        self._apart = layout.separator != " " and any(map(APART_SIGN.search, rows))
        self._special = self._special_bytes()
        self.first_texts: list[str] = []
        self._first_lines = [1]
        self.last_text = ""
        self.bytes_read = 0
        self._used = [
            use.number - 1
            for use in plan.uses
            if use.role != "left out" or use.number - 1 == plan.counter
        ]
        # Stamps hardly ever come twice, other words nearly always.
        self._texts = {
            column: "str" if layout.kinds[column] == "stamp" else "category"
            for column in self._used
            if layout.kinds[column] not in ("number", "blank")
        }
        numbers = all(layout.kinds[column] == "number" for column in self._used)
        self._plain = numbers and layout.separator != " " and layout.fields - 1 in self._used

    def _special_bytes(self) -> NDArray[np.bool_]:
        table = np.zeros(256, np.bool_)
        separator = self.layout.separator.encode()
        table[[mark for mark in MARKS if bytes([mark]) != separator]] = True
        if self.layout.kinds[0] in FIGURES:
            table[list(LETTERS)] = True
        return table

    def _rows_only(self) -> Iterator[bytes]:
        """Yield the file's bytes from the first row on."""
        skip = self.layout.first_line - 1
        for block in blocks(self.raw, self.oddities):
            data = block
            lines = data.count(b"\n") if skip else 0
            while skip and lines:
                data = data[data.index(b"\n") + 1 :]
                skip, lines = skip - 1, lines - 1
            if data:
                yield data
            else:
                self._first_lines.append(self.layout.first_line - skip)

    def line_of(self, place: tuple[int, int]) -> int:
        """Return the line in the file of a line in some part of it."""
        return self._first_lines[place[0]] + place[1]

    def parts(self) -> Iterator[RowPart]:
        """Yield the rows in order."""
        line = self.layout.first_line
        with ThreadPoolExecutor(WORKERS) as pool:
            ahead: deque[Future[_Parsed]] = deque()
            source = self._rows_only()
            more = True
            while more or ahead:
                # The parser works outside the interpreter's lock: the next parts are under way
                # while one is taken in order.
                while more and len(ahead) < WORKERS:
                    data = next(source, None)
                    more = data is not None
                    if data is not None:
                        ahead.append(pool.submit(self._parsed, data))
                if ahead:
                    parsed = ahead.popleft().result()
                    self.bytes_read += len(parsed.data)
                    part, line = self._part(parsed, line)
                    self._first_lines.append(line)
                    if part.rows:
                        yield part

    def _parsed(self, data: bytes) -> "_Parsed":
        """Return one part's lines, and its cells unless some line has to be looked at."""
        codes = np.frombuffer(data, np.uint8)
        lines = int(np.count_nonzero(codes == 10))
        if self._plain and b'"' not in data:
            frame = self._plain_frame(data, codes, lines)
            if frame is not None:
                return _Parsed(data, lines, NO_BOUNDS, None, frame)
        ends = np.flatnonzero(codes == 10)
        starts = np.empty_like(ends)
        starts[0] = 0
        starts[1:] = ends[:-1] + 1
        odd = self._special[codes[starts]] | self._ragged(codes, data, starts, ends)
        frame = None if odd.any() else self._frame(data)
        return _Parsed(data, lines, (starts, ends), odd, frame)

    def _plain_frame(self, data: bytes, codes: NDArray[np.uint8], lines: int) -> Any:
        """Return the cells of a part in which every line is a row of numbers, else None.

        Where there are as many separators as the rows need, a row too long means one too short,
        and that one leaves the last column open.
        """
        fields, separator = self.layout.fields, self.layout.separator
        if fields > 1:
            found = int(np.count_nonzero(codes == ord(separator)))
            if found != lines * (fields - 1):
                return None
        try:
            frame = self._frame(data)
        except DesignFileError:
            return None
        if len(frame) != lines or any(kind.kind not in "iuf" for kind in frame.dtypes):
            return None
        last = frame[fields - 1]
        with np.errstate(all="ignore"):
            closed = last.dtype.kind != "f" or np.isfinite(np.add.reduce(np.asarray(last)))
        return frame if closed else None

    def _part(self, parsed: "_Parsed", line: int) -> tuple[RowPart, int]:
        data, frame = parsed.data, parsed.frame
        kept: NDArray[np.int64] | None = None
        breaks: tuple[int, ...] = ()
        if frame is None and parsed.odd is not None:
            data, kept, breaks = self._without_odd(data, *parsed.bounds, parsed.odd, line)
        lines = LineMap(line, kept)
        rows = parsed.lines if kept is None else len(kept)
        after = line + parsed.lines
        if not rows:
            return RowPart(rows=0, lines=lines, values={}, times=(), breaks=()), after
        self._remember(data)
        if frame is None:
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
            if not ((table[:, 0] < starts) | (table[:, -1] > ends)).any():
                return np.zeros(len(ends), np.bool_)
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
            row = self.odd_lines.row(decoded(data[start:end]), line + int(index))
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

    def _frame(self, data: bytes) -> Any:
        import pandas as pd  # noqa: PLC0415

        layout = self.layout
        separator = layout.separator or "\x1f"
        if self._apart:
            data = data.replace(b"+ ", b"+").replace(b"- ", b"-")
        if not data.isascii():
            data = data.replace(MINUS, b"-")
        try:
            return pd.read_csv(
                io.BytesIO(data), sep=r"\s+" if separator == " " else separator, header=None,
                names=list(range(layout.fields)), usecols=self._used, index_col=False,
                decimal=layout.decimal, skipinitialspace=True, dtype=self._texts,
                keep_default_na=False, na_values=[""], skip_blank_lines=False,
                quoting=csv.QUOTE_MINIMAL if b'"' in data else csv.QUOTE_NONE,
                encoding_errors="replace", low_memory=False,
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
                values[column] = cells.by_unit_column(series, frame[column + 1], use, lines)
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
            found: NDArray[Any] = np.asarray(series)
        else:
            found = self.cells.bare(series, use, lines)
        open_cells = np.isnan(found) if found.dtype.kind == "f" else np.zeros(1, np.bool_)
        if open_cells.any():
            row = int(np.argmax(open_cells))
            raise DesignFileError(
                file=self.raw.name, key=f"line {lines.line(row)}",
                found=f"no time in column {use.number} ({use.name})",
                wanted="mend or delete that line",
            )  # fmt: skip
        most = MOST_SECONDS if self.plan.time.absolute else MOST_SECONDS * 1e6
        if max(abs(float(found.max())), abs(float(found.min()))) * use.factor > most:
            row = int(np.argmax(np.abs(found.astype(np.float64))))
            raise DesignFileError(
                file=self.raw.name, key=f"line {lines.line(row)}",
                found=f"the time {found[row]} {use.unit_text} in column {use.number} ({use.name})",
                wanted="mend or delete that line, or say the unit of the column with --units",
            )  # fmt: skip
        return found
