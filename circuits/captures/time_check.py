"""Whether the rows' times run on evenly; what does not is counted, and nothing is moved."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from circuits.captures.capture import Samples, Sampling
from circuits.captures.cell_values import Tally
from circuits.captures.line_map import LineMap

EVEN = 0.01
"""Steps may differ from the interval by this part of it, and by two last printed digits."""

NEAREST = 0.45
"""A step that differs by more of the interval is another number of intervals, however printed."""

FEW = 0.01
"""A part of all steps that may be odd without the whole being called uneven."""

LONG_PAUSE = 20.0
"""Intervals; a longer step between uneven rows is a break in the record."""

FAR_BACK = 10.0
"""Intervals; a step back over more of them starts a new record."""

HOUR = 3600.0


@dataclass(slots=True)
class TimeCheck:
    """Takes the times in order, part by part, and judges them at the end.

    `resolution` is the value of the last printed digit; `on_clock` says that a clock made them.
    """

    resolution: float
    on_clock: bool
    rows: int = 0
    first: float = 0.0
    last: float = 0.0
    interval: float = 0.0
    repeats: Tally = field(default_factory=Tally)
    backward: Tally = field(default_factory=Tally)
    gaps: Tally = field(default_factory=Tally)
    missing_rows: int = 0
    pauses: Tally = field(default_factory=Tally)
    changes: Tally = field(default_factory=Tally)
    uneven: Tally = field(default_factory=Tally)
    longest: float = 0.0
    furthest_back: float = 0.0
    restarts: int = 0
    _gap_rows: list[NDArray[np.int64]] = field(default_factory=list)
    _pause_rows: list[NDArray[np.int64]] = field(default_factory=list)
    _break_rows: list[NDArray[np.int64]] = field(default_factory=list)

    @np.errstate(over="ignore", invalid="ignore")
    def feed(self, time: Samples, lines: LineMap, breaks: Sequence[int]) -> None:
        """Take the times of the next rows; `breaks` are rows before which a heading stood."""
        offset = 1
        if self.rows:
            steps = np.empty_like(time)
            steps[0] = time[0] - self.last
            np.subtract(time[1:], time[:-1], out=steps[1:])
            offset = 0
        else:
            self.first = float(time[0])
            steps = np.diff(time)
        base = self.rows
        self.rows += len(time)
        self.last = float(time[-1])
        if breaks:
            self._break_rows.append(np.array(breaks, np.int64) + base)
        if len(steps) and not self.interval:
            ahead = steps[:100_000]
            ahead = ahead[ahead > 0]
            self.interval = float(np.median(ahead)) if ahead.size else 0.0
        if len(steps):
            self._judge(steps, offset, base, lines, breaks)

    def _judge(
        self, steps: Samples, offset: int, base: int, lines: LineMap, breaks: Sequence[int]
    ) -> None:  # fmt: skip
        slack = min(EVEN * self.interval + 2 * self.resolution, NEAREST * self.interval)
        odd = np.abs(steps - self.interval) > slack
        # Across a new heading no step is expected.
        odd[[row - offset for row in breaks if row >= offset]] = False
        rows = np.flatnonzero(odd)
        if not rows.size and self.interval:
            return
        if not self.interval:
            rows = np.setdiff1d(np.arange(len(steps)), np.array(breaks, np.int64) - offset)
        off = steps[rows]

        def count(tally: Tally, which: NDArray[np.bool_]) -> None:
            if which.any():
                row = int(rows[np.argmax(which)]) + offset
                step = float(off[np.argmax(which)])
                tally.add(int(which.sum()), lines.line(row), f"{step:.6g}")

        places = rows + offset + base
        repeat, back = off == 0, off < 0
        change = np.zeros(len(off), np.bool_)
        if self.on_clock:
            change = np.abs(np.abs(off - self.interval) - HOUR) <= max(1.5 * self.interval, 1.5)
            change &= self.interval < HOUR / 10
        gap = (off > 1.5 * self.interval + 2 * self.resolution) & ~change
        pause = (off > LONG_PAUSE * self.interval) & ~change
        whole = np.rint(off / self.interval) if self.interval else off
        uneven = ~repeat & ~back & ~change & (np.abs(off - whole * self.interval) > slack)
        for tally, which in (
            (self.repeats, repeat), (self.backward, back & ~change), (self.changes, change),
            (self.gaps, gap), (self.pauses, pause), (self.uneven, uneven),
        ):  # fmt: skip
            count(tally, which)
        if gap.any():
            self.missing_rows += int(np.sum(whole[gap] - 1))
            self.longest = max(self.longest, float(off.max()))
        if back.any():
            self.furthest_back = min(self.furthest_back, float(off.min()))
        far = max(FAR_BACK * self.interval, 2.0 if self.on_clock else 0.0)
        self.restarts += int(np.count_nonzero((off < -far) & ~change))
        self._break_rows.append(places[(off < -far) | change])
        self._gap_rows.append(places[gap])
        self._pause_rows.append(places[pause])

    @property
    def is_even(self) -> bool:
        """Return whether the rows are evenly spaced, apart from gaps and a few slips."""
        steps = max(self.rows - 1, 1)
        slips = self.uneven.count + self.repeats.count + self.backward.count - self.restarts
        return self.interval > 0 and slips <= FEW * steps and self.gaps.count <= 0.2 * steps

    @property
    def is_smooth(self) -> bool:
        """Return whether every step is the interval."""
        return self.is_even and not (
            self.uneven.count or self.repeats.count or self.backward.count or self.gaps.count
            or self.changes.count
        )  # fmt: skip

    def segments(self, sampling: Sampling) -> tuple[slice, ...]:
        """Return the stretches of rows within which time runs on without a break."""
        found = list(self._break_rows)
        if sampling == "even":
            found += self._gap_rows
        elif sampling == "uneven":
            found += self._pause_rows
        starts = np.unique(np.concatenate([np.zeros(1, np.int64), *found]))
        edges = [*(int(row) for row in starts if row < self.rows), self.rows]
        return tuple(slice(a, b) for a, b in pairwise(edges))

    def mean_interval(self) -> float:
        """Return the interval from first and last time where nothing is odd, else the usual one."""
        if self.is_smooth and self.rows > 1:
            return (self.last - self.first) / (self.rows - 1)
        return self.interval


def are_transitions(columns: Sequence[Samples]) -> bool:
    """Return whether all columns are levels of which some changes in nearly every row."""
    if not columns or len(columns[0]) < 3:
        return False
    changed = np.zeros(len(columns[0]) - 1, np.bool_)
    for values in columns:
        low, high = float(np.min(values)), float(np.max(values))
        if not (np.all((values == low) | (values == high)) and low == round(low)):
            return False
        changed |= values[1:] != values[:-1]
    return bool(np.count_nonzero(~changed) <= max(1, 0.02 * len(changed)))
