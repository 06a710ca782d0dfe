"""What a step function meets in its trial year, and how it reaches the harness."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuits.format_quantity import DAY
from circuits.steering.child import ChildRun, packed

Array = NDArray[np.float64]

YEAR = 365.0
ROW = 3600.0
"""Seconds of a row."""
ROWS_A_DAY = 24
FIELDS = (
    "steps", "time", "error", "error_low", "error_high", "width_low", "width_high", "width_last",
    "at_min", "at_max", "arc_low",
)  # fmt: skip
"""Fields of a row: counts, seconds, ticks of width, counts at the limits, radians."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FirmwareCourse:
    """What the step function meets. SI units; rates are shares of time, positive gains.

    `rates` and `arcs` are the settled movement against its nominal beat, a row for each of the
    `shares` of fresh cells, which rise by equal steps, a column for each of the `widths`; below
    `arc_least` the firmware sees no pass any more. `weather`, `crystal` and `fresh` (share of
    fresh cells, 1 to 0) stand every `course_step`.
    `width_min` and `width_max` are in ticks, as the function returns them. `allowed` is the time
    error allowed in a day; nothing is judged before `settled_after`.
    """

    tick: float
    beat: float
    beats_per_correction: int
    time_constant: float
    slope_prompt: float
    jitter: float
    width_start: float
    width_min: int
    width_max: int
    arc_least: float
    allowed: float
    settled_after: float
    widths: Array
    shares: Array
    rates: Array
    arcs: Array
    course_step: float
    weather: Array
    crystal: Array
    fresh: Array
    days: float = YEAR
    seed: int = 1

    @property
    def interval(self) -> float:
        """Nominal time from one correction to the next."""
        return self.beat * self.beats_per_correction

    @property
    def corrections(self) -> int:
        """How many corrections the course has."""
        return int(np.ceil(self.days * DAY / self.interval))

    def slope(self) -> float:
        """Return the change of the settled rate with the width where it starts, fresh [1/s]."""
        near = self.width_start + np.array([-0.5, 0.5]) * self.tick * (
            self.width_max - self.width_min
        )
        low, high = np.clip(near, self.width_min * self.tick, self.width_max * self.tick)
        rates = np.interp([low, high], self.widths, self.rates[-1])
        return float(rates[1] - rates[0]) / max(float(high - low), self.tick)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """The rows that came back, by field: one an hour."""

    table: Array

    @classmethod
    def of(cls, run: ChildRun) -> "Rows":
        """Return the rows of a run."""
        return cls(table=run.records)

    def __len__(self) -> int:
        return len(self.table)

    def column(self, name: str) -> Array:
        """Return one field."""
        return np.asarray(self.table[:, FIELDS.index(name)], dtype=np.float64)

    def begins(self, k: int) -> float:
        """Return when a row begins, in days."""
        return float(self.column("time")[k - 1]) / DAY if k else 0.0


def harness_input(
    course: FirmwareCourse, mark: float, *, row: float = ROW, corrections: int | None = None,
    origin: int = 0, extra_at: int = 0, extra_ticks: int = 0,
) -> bytes:  # fmt: skip
    """Return the numbers that the harness reads.

    Parameters
    ----------
    course : FirmwareCourse
        What the step function meets.
    mark : float
        What each row begins with.
    row : float
        Seconds after which a row is given.
    corrections : int, optional
        How many; the whole course if left out.
    origin : int
        Where the timer's count stands at the beginning.
    extra_at, extra_ticks : int
        From which correction on the count stands so much higher; from none on at 0.
    """
    numbers: Sequence[float] = (
        mark, course.tick, course.beat, course.beats_per_correction,
        course.corrections if corrections is None else corrections, row, course.time_constant,
        course.slope_prompt, course.jitter, course.seed, course.width_start, course.width_min,
        course.width_max, course.arc_least, origin, extra_at, extra_ticks, len(course.widths),
        len(course.weather), course.course_step, len(course.shares), course.shares[0],
        (course.shares[-1] - course.shares[0]) / (len(course.shares) - 1),
    )  # fmt: skip
    tables = (
        course.widths, course.rates.ravel(), course.arcs.ravel(), course.weather, course.crystal,
        course.fresh,
    )  # fmt: skip
    return packed(np.array(numbers)) + b"".join(packed(table) for table in tables)
