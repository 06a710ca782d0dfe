"""The time of every row in seconds, from the columns that tell it or from the interval."""

from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from circuits.captures.capture import Samples
from circuits.captures.cell_values import Tally
from circuits.captures.clock_text import DAY
from circuits.captures.line_map import LineMap
from circuits.captures.table_rows import RowPart
from circuits.captures.time_columns import TimePlan

BILLION = 1_000_000_000


class TimeLine:
    """Sums the parts of time, row by row; dates and times of day count from the first row."""

    def __init__(self, plan: TimePlan):
        self.plan = plan
        self.start = ""
        self.midnights = Tally()
        self._dated = any(part.kind in ("date", "stamp", "epoch") for part in plan.parts)
        self._origin: int | None = None
        self._by_float: bool | None = None
        self._float_origin: float | None = None
        self._days = 0
        self._last = 0
        self._rows = 0

    def times(self, part: RowPart) -> Samples | None:
        """Return the times of the next rows, or None where nothing tells them."""
        first = self._rows
        self._rows += part.rows
        if not self.plan.parts:
            if self.plan.interval is None:
                return None
            rows = np.arange(first, self._rows, dtype=np.float64)
            return self.plan.begin + rows * self.plan.interval
        if not self.plan.absolute:
            return self._plain(part.times)
        if self._by_float is None:
            self._by_float = part.times[0].dtype.kind == "f"
        if self._by_float:
            return self._float_epoch(part.times)
        return self._absolute(part)

    def _plain(self, columns: tuple[NDArray[np.float64], ...]) -> Samples:
        total: Samples | None = None
        for column, part in zip(columns, self.plan.parts, strict=True):
            scaled = column if part.unit.factor == 1.0 else column * part.unit.factor
            total = scaled if total is None else total + scaled
        assert total is not None
        return total

    def _float_epoch(self, columns: tuple[NDArray[np.float64], ...]) -> Samples:
        if self._float_origin is None:
            self._float_origin = float(columns[0][0])
            seconds = self._float_origin * self.plan.parts[0].unit.factor
            self.start = _written(round(seconds * BILLION), True)
        return self._plain((columns[0] - self._float_origin, *columns[1:]))

    def _absolute(self, part: RowPart) -> Samples:
        total = np.zeros(part.rows, np.int64)
        for column, source in zip(part.times, self.plan.parts, strict=True):
            if source.kind == "numeric" or column.dtype.kind == "f":
                total += np.rint(column * (source.unit.factor * BILLION)).astype(np.int64)
            elif source.kind == "epoch":
                total += column.astype(np.int64) * round(source.unit.factor * BILLION)
            else:
                total += column
        if not self._dated:
            total = self._over_midnight(total, part.lines)
        if self._origin is None:
            self._origin = int(total[0])
            self.start = _written(self._origin, self._dated)
        return (total - self._origin) / BILLION

    def _over_midnight(self, clock: NDArray[np.int64], lines: LineMap) -> NDArray[np.int64]:
        """Return times of day that run on where they wrap at midnight."""
        before = np.empty_like(clock)
        before[0] = self._last if self._rows > len(clock) else clock[0]
        before[1:] = clock[:-1]
        wraps = clock - before < -DAY // 2
        count = int(wraps.sum())
        days = self._days + np.cumsum(wraps)
        self._last = int(clock[-1])
        self._days += count
        if count:
            self.midnights.add(count, lines.line(int(np.argmax(wraps))), "")
        return clock + days * DAY


def _written(nanoseconds: int, dated: bool) -> str:
    try:
        moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=nanoseconds // 1000)
    except OverflowError:
        return ""
    text = moment.strftime("%Y-%m-%d %H:%M:%S.%f" if dated else "%H:%M:%S.%f")
    return text.rstrip("0").rstrip(".")
