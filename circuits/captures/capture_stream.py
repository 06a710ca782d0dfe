"""A text file's rows, part by part, all read under one decision."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from circuits.captures.banner_words import Banner, read_banner
from circuits.captures.capture import Capture, Channel, ColumnUse, Decision, Samples, Sampling
from circuits.captures.cell_kinds import resolution_in
from circuits.captures.cell_values import Tally
from circuits.captures.column_roles import Plan, plan_columns
from circuits.captures.column_sample import Sample
from circuits.captures.oddities import (
    byte_findings,
    count_finding,
    counter_finding,
    row_findings,
    time_findings,
)
from circuits.captures.overrides import Overrides
from circuits.captures.raw_file import RawFile, first_lines, later_lines, open_raw
from circuits.captures.table_layout import COMMENT, TableLayout, find_layout
from circuits.captures.table_rows import RowPart, TableRows
from circuits.captures.time_check import TimeCheck, are_transitions
from circuits.captures.time_line import TimeLine
from circuits.captures.word_lists import printable
from circuits.errors import DesignFileError
from circuits.ledger import Finding

SAMPLED = 60
SHOWN = 120


class CaptureStream:
    """A text file's rows, part by part, all under one decision.

    Iterate once; `decision` and `findings` are whole when the iteration has ended.
    """

    @np.errstate(over="ignore", invalid="ignore")
    def __init__(self, path: str | Path, overrides: Overrides):
        self._raw: RawFile = open_raw(path)
        head = first_lines(self._raw)
        later = later_lines(self._raw)
        self.file = self._raw.name
        self.size = self._raw.size
        self.layout: TableLayout = find_layout(self.file, head, later, overrides)
        beside = 25 if "blank" in self.layout.kinds else -1
        self.banner: Banner = read_banner(head[: self.layout.first_line + beside])
        sample = _sample(self.layout, head, later)
        self.plan: Plan = plan_columns(self.file, self.layout, sample, self.banner, overrides)
        self._rows = TableRows(self._raw, self.layout, self.plan, head)
        self._line = TimeLine(self.plan.time)
        self.check = TimeCheck(_resolution(self.plan, self.layout, sample), self._clocked())
        self.sampling: Sampling = "even"
        self.decision: Decision = self._first_decision(head)
        self.findings: tuple[Finding, ...] = ()
        self._count = 0
        self._counter = Tally()
        self._last_number: float | None = None
        self._shown: list[str] = []

    def _clocked(self) -> bool:
        return any(part.kind in ("clock", "stamp", "epoch") for part in self.plan.time.parts)

    def _first_decision(self, head: list[str]) -> Decision:
        layout = self.layout
        above = [printable(line.rstrip()) for line in head[: layout.first_line - 1] if line.strip()]
        return Decision(
            layout="text", encoding=self._raw.encoding, separator=layout.separator,
            decimal=layout.decimal, heading_line=layout.heading_line if layout.names else None,
            unit_line=layout.unit_line, first_line=layout.first_line, columns=self.plan.uses,
            time_from=self.plan.time.words, interval=self.plan.time.interval, start="",
            sample_rows=(), read_as=(), banner=tuple(above), duration_check="", rows=0,
        )  # fmt: skip

    @property
    def bytes_read(self) -> int:
        """Return how much of the file has been read."""
        return self._rows.bytes_read

    def channel_uses(self) -> list[ColumnUse]:
        """Return the columns that become channels."""
        return [use for use in self.plan.uses if use.role == "channel"]

    def parts(self) -> Iterator[tuple[Samples | None, list[Samples], tuple[int, ...]]]:
        """Yield times, values by channel, and rows that a heading stood before."""
        for part in self._rows.parts():
            times = self._line.times(part)
            if times is not None and self.plan.time.parts:
                self.check.feed(times, part.lines, part.breaks)
            values = [part.values[use.number - 1] for use in self.channel_uses()]
            self._count_rows(part)
            self._show(times, values)
            yield times, values, part.breaks
        if not self._count:
            raise DesignFileError(
                file=self.file, found="no rows of figures", wanted="name a file with samples"
            )

    def _count_rows(self, part: RowPart) -> None:
        self._count += part.rows
        numbers = part.counter
        if numbers is not None:
            before = numbers[0] - 1 if self._last_number is None else self._last_number
            slips = np.diff(numbers, prepend=before) != 1
            if slips.any():
                self._counter.add(int(slips.sum()), part.lines.line(int(np.argmax(slips))), "")
            self._last_number = float(numbers[-1])

    def _show(self, times: Samples | None, values: list[Samples]) -> None:
        """Keep in words what the first two rows and the last one were read as."""
        channels = self.channel_uses()[:6]

        def words(row: int) -> str:
            told = [] if times is None else [f"time {times[row]:.9g} s"]
            for use, column in zip(channels, values, strict=False):
                unit = self._unit(use).removesuffix("1")
                told.append(f"{use.name} {column[row]:.9g}{' ' + unit if unit else ''}")
            return ", ".join(told)

        rows = len(values[0]) if values else 0 if times is None else len(times)
        if not self._shown:
            self._shown = [words(row) for row in range(min(2, rows))]
            self._shown.append("")
        self._shown[-1] = words(rows - 1)

    def _unit(self, use: ColumnUse) -> str:
        return self._rows.cells.notes.units.get(use.name, use.unit)

    def channels(self, values: list[Samples]) -> tuple[Channel, ...]:
        """Return values as channels."""
        return tuple(
            Channel(name=use.name, unit=self._unit(use), values=column)
            for use, column in zip(self.channel_uses(), values, strict=True)
        )

    def finish(self, sampling: Sampling) -> None:
        """Complete decision and findings after the last part."""
        self.sampling = sampling
        texts = [*self._rows.first_texts, self._rows.last_text][: len(self._shown)]
        uses = tuple(
            replace(use, unit=self._unit(use)) if use.role == "channel" else use
            for use in self.plan.uses
        )
        interval = self.plan.time.interval
        if interval is None and sampling == "even" and self.check.interval:
            interval = self.check.mean_interval()
        rows = self._count
        if rows < 3:
            texts, self._shown = texts[:rows], self._shown[:rows]
        self.decision = replace(
            self.decision, columns=uses, rows=rows, interval=interval, start=self._line.start,
            read_as=tuple(self._shown),
            sample_rows=tuple(printable(text[:SHOWN]) for text in texts),
            duration_check=self._duration(sampling, interval),
        )  # fmt: skip
        self.findings = (
            *byte_findings(self._rows), *row_findings(self._rows, self.plan),
            *time_findings(self.check, self._line, sampling, self.plan, self.banner),
            *count_finding(self.banner, rows, sampling), *counter_finding(self._counter),
        )  # fmt: skip

    def _duration(self, sampling: Sampling, interval: float | None) -> str:
        rows, check = self._count, self.check
        if not self.plan.time.parts:
            if interval is None:
                return f"{rows} rows, no time told"
            return f"{rows} rows of {interval:.9g} s: {rows * interval:.9g} s in all"
        span = check.last - check.first
        if sampling != "even" or not check.interval:
            return f"{rows} rows over {span:.9g} s, from {check.first:.9g} s to {check.last:.9g} s"
        by_count = (rows - 1) * (interval or check.interval)
        verdict = "they agree" if check.is_smooth else "see the findings on time"
        if check.is_smooth and self.banner.interval:
            by_count = (rows - 1) * self.banner.interval
            near = abs(by_count - span) <= 1.5 * check.interval + 1e-3 * abs(span)
            verdict = "they agree" if near else "they differ: see the findings"
        return (
            f"{rows} rows {interval or check.interval:.9g} s apart make {by_count:.9g} s, first "
            f"and last time {span:.9g} s: {verdict}"
        )

    def judged(self, columns: list[Samples]) -> Sampling:
        """Return how the rows are spaced."""
        if not self.plan.time.parts or self.check.is_smooth:
            return "even"
        if are_transitions(columns):
            return "transitions"
        return "even" if self.check.is_even else "uneven"

    def __iter__(self) -> Iterator[Capture]:
        """Yield the parts as captures; what is odd comes with the whole, in `findings`."""
        for times, values, breaks in self.parts():
            rows = len(values[0]) if values else 0 if times is None else len(times)
            if self._count == rows:
                self.sampling = self.judged(values)
            edges = [0, *(row for row in breaks if row), rows]
            yield Capture(
                file=self.file, time=times, channels=self.channels(values), findings=(),
                segments=tuple(map(slice, edges[:-1], edges[1:])), sampling=self.sampling,
                decision=replace(self.decision, rows=rows),
            )  # fmt: skip
        self.finish(self.sampling if self.sampling != "even" else self.judged([]))


def _sample(layout: TableLayout, head: list[str], later: list[str]) -> Sample:
    def rows(lines: list[str]) -> tuple[tuple[str, ...], ...]:
        cells = (layout.cells(line) for line in lines if not COMMENT.match(line))
        return tuple(tuple(row) for row in cells if len(row) == layout.fields)

    first = rows(head[layout.first_line - 1 : layout.first_line - 1 + SAMPLED])
    return Sample(first=first, later=rows(later))


def _resolution(plan: Plan, layout: TableLayout, sample: Sample) -> float:
    """Return the value of the last digit in which times are printed."""
    finest = []
    for part in plan.time.parts:
        texts = sample.texts(part.column)
        if part.kind in ("clock", "stamp"):
            digits = [text.rpartition(":")[2] for text in texts]
            finest.append(min((10.0 ** -_decimals(text) for text in digits), default=1.0))
        elif part.kind != "date":
            # Numbers printed in as few digits as possible do not show the resolution: the
            # longest ones do.
            longest = max((sum(c.isdigit() for c in text) for text in texts), default=0)
            whole = [t for t in texts if sum(c.isdigit() for c in t) == longest]
            steps = [resolution_in(text, layout.decimal) for text in whole]
            finest.append(max(steps, default=0.0) * part.unit.factor)
    return min(finest, default=0.0)


def _decimals(text: str) -> int:
    mark = max(text.find("."), text.find(","))
    return 0 if mark < 0 else min(9, sum(c.isdigit() for c in text[mark:]))
