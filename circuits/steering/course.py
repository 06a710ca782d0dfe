"""What the loop meets: weather on the rod, the crystal's own way, cells that run down."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.rate import temperature_rate
from circuits.design import Design
from circuits.format_quantity import DAY
from circuits.ledger import Ledger
from circuits.stages.reference_clock import COEFFICIENT, TURNOVER
from circuits.stages.steering_loop import SteeringResult
from circuits.temperature_span import span_of

Array = NDArray[np.float64]

YEAR = 365.0
STEP = 3600.0
ROOM = (289.15, 299.15)
"""K; coldest and warmest of a room in a year; common practice, no source."""
DAILY = 0.3
"""Share of the temperature span that a day takes; common practice, no source."""
AGEING = 3e-6
"""First year's ageing of a tuning fork, makers' sheets say 3 to 5 ppm."""
COLDEST = 0.55
"""Share of the year, from the start in autumn, after which it is warmest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunDown:
    """How cells run down: the share of fresh ones against the share of their life that is over."""

    life: float
    over: Array
    fresh: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """Hour by hour: temperature, free rate by the weather, crystal's rate, share of fresh cells.

    Rates are ratios, positive gains; a positive crystal runs fast.
    """

    step: float
    temperature: Array
    weather: Array
    crystal: Array
    fresh: Array

    @property
    def days(self) -> float:
        """How long it lasts."""
        return (len(self.weather) - 1) * self.step / DAY


def course_of(
    design: Design, ledger: Ledger, *, days: float, life: float | None, tolerance: bool = True,
    run_down: RunDown | None = None,
) -> Course:  # fmt: skip
    """Return so many days of weather, crystal and cells.

    Parameters
    ----------
    design : Design
        The design file: its temperature span, rod and crystal.
    ledger : Ledger
        Takes what is assumed.
    days : float
        How long [days].
    life : float or None
        Life of the cells [s]; None where nothing runs down.
    tolerance : bool
        Whether the crystal is off by its tolerance, the worse way.
    run_down : RunDown, optional
        How the cells run down; evenly if left out.
    """
    hours = np.arange(int(np.ceil(days * DAY / STEP)) + 1)
    t = hours * STEP
    span = span_of(design)
    if span is None:
        span = ROOM
        ledger.assume(
            "steering.room", span[1] - span[0], "K",
            "16 to 26 degC over a year, a third of it every day; common practice, no source",
        )  # fmt: skip
    middle, half = sum(span) / 2, (span[1] - span[0]) / 2
    yearly = -np.cos(2 * np.pi * (t / DAY / YEAR - COLDEST + 0.5))
    daily = np.cos(2 * np.pi * (t / DAY - 0.625))
    temperature = middle + half * ((1 - DAILY) * yearly + DAILY * daily)
    expansion = design.movement.rod_expansion or 0.0
    by_degree = temperature_rate(expansion=expansion, temperature_change=1.0)
    crystal = COEFFICIENT * (temperature - TURNOVER) ** 2 + AGEING * t / DAY / YEAR
    ledger.assume(
        "steering.ageing", AGEING, "1", "a tuning fork in its first year, makers' sheets (3 to 5)"
    )
    if tolerance:
        crystal = crystal - (design.controller.crystal_tolerance or 0.0)
    fresh = np.ones(len(t))
    if life is not None:
        over = np.clip(t / life, 0.0, 1.0)
        fresh = 1 - over if run_down is None else np.interp(over, run_down.over, run_down.fresh)
    return Course(
        step=STEP, temperature=temperature, weather=by_degree * (temperature - middle),
        crystal=crystal, fresh=fresh,
    )  # fmt: skip


def quiet(loop: SteeringResult, days: float) -> Course:
    """Return a course in which nothing happens, to put one cause into."""
    del loop
    count = int(np.ceil(days * DAY / STEP)) + 1
    still = np.zeros(count)
    return Course(
        step=STEP, temperature=still + TURNOVER, weather=still, crystal=still, fresh=still + 1.0
    )
