"""The loop in time: the firmware's own integers against arc, rate, weather, crystal and cells."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calc.pendulum import circular_error
from calc.regulator import RegulatorConstants, quick_stepper, start_state
from calc.steering_curve import WidthCurve
from circuits.format_quantity import DAY
from circuits.stages.steering_loop import SteeringResult
from circuits.steering.course import Course

Array = NDArray[np.float64]
CHUNK = 10_000
SHARES = 9
"""States of the cells between which a run goes over step by step."""
DIES = 0.97
"""Width over the least that held an arc, below which it dies away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoopRun:
    """One run, a row a correction.

    `error` is what the movement has gained on true time and `seen` what it has gained on its
    crystal [s]; `rate` is its rate against true time, a ratio.
    """

    name: str
    words: str
    time: Array
    error: Array
    seen: Array
    width: Array
    arc: Array
    rate: Array
    skipped: int

    def after(self, time: float) -> "LoopRun":
        """Return the run from a moment on, its error against true time counted anew."""
        k = min(int(np.searchsorted(self.time, time)), len(self.time) - 1)
        interval = float(self.time[0])
        return replace(
            self, time=self.time[k:] - self.time[k] + interval, seen=self.seen[k:],
            error=self.error[k:] - (self.error[k] - self.seen[k]), width=self.width[k:],
            arc=self.arc[k:], rate=self.rate[k:],
        )  # fmt: skip

    @property
    def largest(self) -> float:
        """Largest time error against the crystal, to either side."""
        return float(np.abs(self.seen).max())

    @property
    def moved(self) -> float:
        """Share of the corrections that moved the width."""
        return float(np.mean(np.diff(self.width) != 0)) if len(self.width) > 1 else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """Where a run begins; settled at the width that is on time, unless an arc is told."""

    arc: float | None = None


@dataclass(frozen=True, slots=True)
class _Tables:
    """Rate and arc once settled, for every width in ticks from `first` on; against the target.

    A row for each share of fresh cells, from `share` on in steps of `share_step`.
    """

    first: int
    share: float
    share_step: float
    rates: list[list[float]]
    arcs: list[list[float]]


def settled_at(loop: SteeringResult, widths: Array, share: float) -> tuple[Array, Array]:
    """Return settled rate against the target, and arc, over widths at one state of the cells.

    Between fresh and spent cells a width is worth what it would be in either state, stretched by
    the widths that hold the target. Beyond the widths that hold an arc the last rate stands.

    Parameters
    ----------
    loop : SteeringResult
        The loop and its plant.
    widths : numpy.ndarray
        Widths [s].
    share : float
        Share of fresh cells: 1 fresh, 0 spent.
    """
    rate, arc = np.zeros_like(widths), np.zeros_like(widths)
    for curve, weight, factor in _worths(loop, share):
        worth = widths * factor
        x = np.log(np.clip(worth, curve.widths[0], curve.widths[-1]))
        rate += weight * (curve.rate_spline()(x) - loop.rate_target)
        held = curve.arc_spline()(x)
        if loop.curves.known:
            # A little below the least width no arc is held: it dies away.
            held = np.where(worth < DIES * curve.widths[0], 0.0, held)
        arc += weight * held
    return rate, arc


def edges_at(loop: SteeringResult, share: float) -> Array:
    """Return the widths at which an arc is lost, on both sides of the step that the arc has."""
    at = [DIES * curve.widths[0] / factor for curve, _, factor in _worths(loop, share)]
    return np.array([edge * side for edge in at for side in (1 - 1e-6, 1 + 1e-6)])


def _worths(loop: SteeringResult, share: float) -> tuple[tuple[WidthCurve, float, float], ...]:
    """Return both states' curves, what they weigh and what a width counts for in each."""
    # What holds an arc is width times voltage, nearly, and the voltage goes as the share.
    held = 1 / (share / loop.fresh.width + (1 - share) / loop.spent.width)
    return (
        (loop.curves.fresh, share, loop.fresh.width / held),
        (loop.curves.spent, 1 - share, loop.spent.width / held),
    )


def shares_over(fresh: Array) -> Array:
    """Return the states of the cells between which a run goes over step by step."""
    low, high = float(fresh.min()), float(fresh.max())
    return np.linspace(low, high, SHARES) if high > low else np.array([low, low])


def _tables(
    loop: SteeringResult, constants: RegulatorConstants, prompt: float, shares: Array
) -> _Tables:
    """Return what each width leads to without what it does at once."""
    ticks = np.arange(constants.width_min, constants.width_max + 1, dtype=np.float64)
    widths = np.asarray(ticks * loop.tick, dtype=np.float64)
    row = shares_over(shares)
    at_once = prompt * (widths - loop.fresh.width)
    rates, arcs = [], []
    for share in row.tolist():
        rate, arc = settled_at(loop, widths, share)
        rates.append((rate - at_once).tolist())
        arcs.append(arc.tolist())
    return _Tables(constants.width_min, float(row[0]), float(row[1] - row[0]), rates, arcs)


def _rate_of_arc(loop: SteeringResult, arc: float, kind: str) -> float:
    """Return the rate of a free arc: by the curve, below it by gravity or spring alone."""
    curve = loop.curves.fresh
    low = float(curve.arcs[0])
    inside = float(np.interp(arc, curve.arcs, curve.rates)) - loop.rate_target
    if arc >= low or kind != "pendulum":
        return inside
    return inside + circular_error(arc=arc) - circular_error(arc=low)


def run_loop(
    loop: SteeringResult, constants: RegulatorConstants, course: Course, *, name: str, words: str,
    start: Start | None = None, days: float | None = None, offset: float = 0.0,
    offset_after: float = 0.0, jitter: bool = True, kind: str = "pendulum", seed: int = 1,
    progress: Callable[[int, int, str], None] | None = None,
) -> LoopRun:  # fmt: skip
    """Follow the loop, correction by correction, with the firmware's own integers.

    Parameters
    ----------
    loop : SteeringResult
        The loop and its plant.
    constants : RegulatorConstants
        The firmware's constants.
    course : Course
        What it meets.
    name, words : str
        What the run is called.
    start : Start, optional
        Where it begins.
    days : float, optional
        How long; the whole course if left out.
    offset : float
        A further rate, a ratio, from `offset_after` seconds on.
    jitter : bool
        Whether the events jitter.
    kind : str
        pendulum or balance: what an arc below the held ones does to the rate.
    seed : int
        Of the jitter.
    progress : callable, optional
        Told how many corrections are done, of how many.
    """
    count = max(int((course.days if days is None else days) * DAY / loop.interval), 1)
    prompt = (loop.fresh.slope_prompt + loop.spent.slope_prompt) / 2
    hour = np.arange(len(course.weather))
    at = (np.arange(count) + 0.5) * loop.interval / course.step
    fresh = np.interp(at, hour, course.fresh)
    table = _tables(loop, constants, prompt, fresh)
    step = quick_stepper(constants, start_state(constants))
    width = constants.width_centre
    index = width - table.first
    row = -1 if table.share_step else 0
    arc, slow = table.arcs[row][index], table.rates[row][index]
    if start is not None and start.arc is not None:
        arc = start.arc
        slow = _rate_of_arc(loop, arc, kind) - prompt * (width * loop.tick - loop.fresh.width)
    later = np.arange(count) * loop.interval >= offset_after
    met = _Met(
        weather=(np.interp(at, hour, course.weather) + offset * later).tolist(),
        crystal=np.interp(at, hour, course.crystal).tolist(),
        fresh=fresh.tolist(),
        # Beats jitter by two events; one event ends an interval.
        wobble=np.random.default_rng(seed)
        .normal(0, loop.jitter / np.sqrt(2) if jitter else 0.0, count)
        .tolist(),
    )
    rows, skipped = _follow(loop, table, met, step, prompt, (width, arc, slow), progress)
    time = np.linspace(1.0, count, count) * loop.interval
    return LoopRun(
        name=name, words=words, time=time, error=rows[0], seen=rows[1],
        width=rows[2] * loop.tick, arc=rows[3], rate=rows[4], skipped=skipped,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Met:
    """What each interval meets: free rate, crystal's rate, share of fresh cells, jitter."""

    weather: list[float]
    crystal: list[float]
    fresh: list[float]
    wobble: list[float]


def _follow(
    loop: SteeringResult, table: _Tables, met: _Met,
    step: Callable[[int], tuple[int, int, int, int]], prompt: float,
    begin: tuple[int, float, float], progress: Callable[[int, int, str], None] | None,
) -> tuple[Array, int]:  # fmt: skip
    """Return error, error against the crystal, width, arc and rate after every interval."""
    interval, tick, target, first = loop.interval, loop.tick, loop.fresh.width, table.first
    tau = (loop.fresh.time_constant + loop.spent.time_constant) / 2
    fade = float(np.exp(-interval / tau))
    lag = tau * (1 - fade)
    base, per_row = table.share, 1 / table.share_step if table.share_step else 0.0
    row, last = 0, len(table.rates) - 2
    rate_low, rate_high = table.rates[0], table.rates[1]
    arc_low, arc_high = table.arcs[0], table.arcs[1]
    top = len(rate_low) - 1
    width, arc, slow = begin
    index = width - first
    error = clock = clock_off = 0.0
    counted = skipped = 0
    count = len(met.fresh)
    # Plain lists and no calls: a year is up to a million rounds.
    errors, seens, widths, arcs, gains = ([0.0] * count for _ in range(5))
    for k, (share, weather, crystal, wobble) in enumerate(
        zip(met.fresh, met.weather, met.crystal, met.wobble, strict=True)
    ):
        place = (share - base) * per_row - row
        if not 0 <= place <= 1:
            row = min(max(int(place + row), 0), last)
            rate_low, rate_high = table.rates[row], table.rates[row + 1]
            arc_low, arc_high = table.arcs[row], table.arcs[row + 1]
            place = (share - base) * per_row - row
        goal = rate_low[index] + place * (rate_high[index] - rate_low[index])
        arc_goal = arc_low[index] + place * (arc_high[index] - arc_low[index])
        gained = (goal + weather + prompt * (width * tick - target)) * interval
        gained += (slow - goal) * lag
        slow = goal + (slow - goal) * fade
        arc = arc_goal + (arc - arc_goal) * fade
        error += gained
        lasted = interval - gained
        clock_off += lasted * crystal
        clock += lasted * (1 + crystal)
        # The count goes on and on: what one interval is rounded by, the next one has more.
        now = int((clock + wobble) / tick + 0.5)
        _, _, width, skipped = step(now - counted)
        counted = now
        index = width - first
        if index < 0:
            index = 0
        elif index > top:
            index = top
        errors[k], seens[k], widths[k], arcs[k], gains[k] = (
            error, error - clock_off, width, arc, gained,
        )  # fmt: skip
        if progress is not None and not k % CHUNK:
            progress(k, count, "corrections")
    rows = np.array([errors, seens, widths, arcs, gains])
    rows[4] /= interval
    return rows, skipped
