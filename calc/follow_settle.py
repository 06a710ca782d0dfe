"""Where a driven movement settles: arcs, rates, and what a wider pulse does to both."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline, PPoly
from scipy.optimize import brentq

from calc.calculator import require
from calc.follow import DrivenMovement
from calc.follow_batch import many_swings
from calc.pendulum import circular_error
from calc.units import Count, Joule, PerSecond, Radian, RadianCurve, Ratio, Second, SecondCurve

Array = NDArray[np.float64]

_NEAR = 1e-3
"""Relative step of the differences about a settled swing."""
_DENSE = 320


@dataclass(frozen=True, slots=True, kw_only=True)
class Beats:
    """What a row of arcs becomes after a beat, or after a period where the beats differ.

    A row for each arc and a column for each width; `time` and energies are those of the mean
    beat, `beats` how many beats `arc_after` lies later.
    """

    arcs: Array
    widths: Array
    arc_after: Array
    time: Array
    e_mechanical: Array
    e_supply: Array
    beats: int
    driven: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class SettledSwing:
    """A swing that reproduces itself.

    `rate` is against the period of the smallest free swing; `circular` the part that the arc
    makes, `impulse` the rest. `slope` and `slope_prompt` tell how the rate changes with the pulse
    width, once the arc has followed and before it does. Energies are those of the mean beat.
    """

    arc: Radian
    stable: bool
    period: Second
    rate: Ratio
    circular: Ratio
    impulse: Ratio
    multiplier: Ratio
    time_constant: Second
    slope: PerSecond
    slope_prompt: PerSecond
    arc_slope: PerSecond
    e_mechanical: Joule
    e_supply: Joule


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """All settled swings at the pulse width, the smallest first, and what other widths would do.

    `width_least` is the width below which no arc is held, `width_turning` that beyond which the
    settled rate rises with the width; None where the widths looked at hold no such point.
    `grows` where even the widest arc still grows. `widths_held`, `arcs_held` and
    `rates_held` follow the widest stable arc over those widths that hold one.
    """

    swings: tuple[SettledSwing, ...]
    grows: bool
    width_least: Second | None
    width_turning: Second | None
    widths_held: SecondCurve
    arcs_held: RadianCurve
    rates_held: RadianCurve

    @property
    def held(self) -> SettledSwing | None:
        """The widest stable swing."""
        stable = [swing for swing in self.swings if swing.stable]
        return stable[-1] if stable else None

    @property
    def least_start(self) -> SettledSwing | None:
        """The unstable swing below the widest stable one: what a push must exceed."""
        held = self.held
        below = [s for s in self.swings if not s.stable and held is not None and s.arc < held.arc]
        return below[-1] if below else None


def beats(movement: DrivenMovement, arcs: Array, widths: Array, *, exact: bool) -> Beats:
    """Return what arcs become; over a period where the two directions differ."""
    there = many_swings(movement, arcs, widths, 1, exact=exact)
    if movement.both_ways and movement.offset == 0:
        return Beats(
            arcs=arcs, widths=widths, arc_after=there.arc_end, time=there.time,
            e_mechanical=there.e_mechanical, e_supply=there.e_supply, beats=1,
            driven=there.driven,
        )  # fmt: skip
    arc, time = np.empty_like(there.arc_end), np.empty_like(there.arc_end)
    given, supplied = np.zeros_like(arc), np.zeros_like(arc)
    if not movement.driven(-1):
        between = np.where(np.isfinite(there.arc_end), there.arc_end, arcs[:, None])
        back = many_swings(movement, between.ravel(), widths[:1], -1, exact=exact)
        arc, time = back.arc_end.reshape(arc.shape), back.time.reshape(arc.shape)
    else:
        for column in range(len(widths)):
            own = widths[column : column + 1]
            back = many_swings(movement, there.arc_end[:, column], own, -1, exact=exact)
            arc[:, column], time[:, column] = back.arc_end[:, 0], back.time[:, 0]
            given[:, column] = back.e_mechanical[:, 0]
            supplied[:, column] = back.e_supply[:, 0]
    return Beats(
        arcs=arcs, widths=widths, arc_after=arc, time=(there.time + time) / 2,
        e_mechanical=(there.e_mechanical + given) / 2,
        e_supply=(there.e_supply + supplied) / 2, beats=2, driven=there.driven,
    )  # fmt: skip


def _rate(movement: DrivenMovement, beat: Array) -> Array:
    return np.asarray(movement.period / (2 * beat) - 1)


def _swing_at(movement: DrivenMovement, arc: float, *, exact: bool) -> SettledSwing:
    """Return the settled swing near an arc, with every derivative from one small table."""
    steps = np.array([1 - _NEAR, 1.0, 1 + _NEAR])
    widths = movement.pulse_width * steps
    for _ in range(8):
        near = beats(movement, arc * steps, widths, exact=exact)
        multiplier = (near.arc_after[2, 1] - near.arc_after[0, 1]) / (2 * arc * _NEAR)
        step = (near.arc_after[1, 1] - arc) / (1 - multiplier)
        # Near a fold the step may be wild: it is kept small beside the arc.
        step = float(np.clip(step, -0.1 * arc, 0.1 * arc))
        # The parabola through the three arcs bridges what is left of the step.
        if abs(step) < (0.2 if exact else 3.0) * _NEAR * arc:
            break
        arc += step
    at = step / (arc * _NEAR)

    def along(column: Array) -> float:
        """Return the value at the settled arc, by the parabola through the three arcs."""
        low, middle, high = (float(v) for v in column)
        return float(middle + at * (high - low) / 2 + at * at * (high - 2 * middle + low) / 2)

    rates = _rate(movement, near.time)
    settled_arc = arc + step
    by_arc = (rates[2, 1] - rates[0, 1]) / (2 * arc * _NEAR)
    by_arc += at * (rates[2, 1] - 2 * rates[1, 1] + rates[0, 1]) / (arc * _NEAR)
    width_step = 2 * movement.pulse_width * _NEAR
    prompt = (along(rates[:, 2]) - along(rates[:, 0])) / width_step
    arc_by_width = (along(near.arc_after[:, 2]) - along(near.arc_after[:, 0])) / width_step
    arc_slope = arc_by_width / (1 - multiplier)
    beat = along(near.time[:, 1])
    rate = float(_rate(movement, np.array(beat)))
    circular = circular_error(arc=settled_arc) if movement.kind == "pendulum" else 0.0
    fade = np.log(multiplier) if multiplier > 0 else np.nan
    return SettledSwing(
        arc=settled_arc, stable=bool(abs(multiplier) < 1), period=2 * beat, rate=rate,
        circular=circular, impulse=rate - circular, multiplier=float(multiplier),
        time_constant=float(-near.beats * beat / fade), slope=float(prompt + by_arc * arc_slope),
        slope_prompt=float(prompt), arc_slope=float(arc_slope),
        e_mechanical=along(near.e_mechanical[:, 1]), e_supply=along(near.e_supply[:, 1]),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Table:
    """Growth in a beat or period, and the beat, against the logarithm of the arc, by width."""

    at: Array
    growth: Array
    growth_by: CubicSpline
    beat_by: CubicSpline

    def crossings(self, column: int) -> list[tuple[float, bool, float]]:
        """Return arc, stability and beat wherever the growth changes sign at one width."""
        growth = self.growth[:, column]
        growth_by = PPoly(self.growth_by.c[:, :, column], self.growth_by.x)
        beat_by = PPoly(self.beat_by.c[:, :, column], self.beat_by.x)
        found: list[tuple[float, bool, float]] = []
        for k in np.flatnonzero(growth[:-1] * growth[1:] < 0):
            at = brentq(lambda x: float(growth_by(x)), self.at[k], self.at[k + 1], xtol=1e-13)
            found.append((float(np.exp(at)), bool(growth[k] > 0), float(beat_by(at))))
        return found


def _table(movement: DrivenMovement, arcs: Array, widths: Array) -> _Table:
    known = beats(movement, arcs, widths, exact=False)
    # Below the smallest arc that reaches the trigger there is nothing to hold it.
    usable = np.isfinite(known.arc_after).all(axis=1) & known.driven
    require(
        usable.sum() >= 4,
        "settle: some swings must reach the trigger and their turning point; swing wider, or "
        "start the pulse nearer the middle",
    )
    growth = np.log(known.arc_after[usable] / arcs[usable, None])
    at = np.log(arcs[usable])
    fine = np.linspace(at[0], at[-1], _DENSE)
    growth_by = CubicSpline(at, growth)
    return _Table(fine, growth_by(fine), growth_by, CubicSpline(at, known.time[usable]))


def _root(x: Array, y: Array) -> float | None:
    """Return where y first rises through zero, by the cubic through the points about it."""
    rising = np.flatnonzero((y[:-1] < 0) & (y[1:] >= 0))
    if not rising.size:
        return None
    low = max(int(rising[0]) - 2, 0)
    own = slice(low, low + 6)
    roots = CubicSpline(x[own], y[own]).roots(extrapolate=False)
    inside = roots[(roots >= x[rising[0]]) & (roots <= x[rising[0] + 1])]
    return float(inside[0]) if inside.size else None


def settle(
    *,
    movement: DrivenMovement,
    arc_low: Radian,
    arc_high: Radian,
    width_high: Second,
    arcs: Count = 14,
    widths: Count = 14,
    exact: bool = True,
) -> Settled:
    """Return the settled swings of a driven movement and how they hang on the pulse width.

    Parameters
    ----------
    movement : DrivenMovement
        Movement, coil and circuit.
    arc_low : float
        Smallest arc looked at [rad].
    arc_high : float
        Widest arc looked at [rad].
    width_high : float
        Widest pulse looked at [s].
    arcs : int
        How many arcs the table has [1].
    widths : int
        How many widths the table has [1].
    exact : bool
        Whether swings beyond the clamp's knee are integrated one by one.

    Returns
    -------
    settled : Settled
        Settled swings, least width and turning point.

    Raises
    ------
    OutOfRangeError
        If the arcs or widths are not above zero and in order, or if a pulse lasts beyond the
        turning point.

    Notes
    -----
    By a table of swings, splines between them and a last step on swings about each settled one;
    held by test_both_engines_settle_alike.

    References
    ----------
    Fixed points of the map from turning point to turning point; common practice, no source.

    Examples
    --------
    >>> from calc.clamp_law import ClampLaw
    >>> from calc.follow import Trigger
    >>> from calc.linkage_curve import LinkageCurve
    >>> from calc.switch_law import SwitchLaw
    >>> x = np.linspace(-0.05, 0.05, 201)
    >>> u = x / 8e-3
    >>> bell = 1e-2 * np.exp(-(u**2) / 2)
    >>> curve = LinkageCurve(
    ...     path=x, node_flux=bell, node_slope=-u / 8e-3 * bell,
    ...     node_curvature=(u**2 - 1) / 8e-3**2 * bell,
    ... )
    >>> movement = DrivenMovement(
    ...     kind="pendulum", omega=4.0, inertia=0.2, radius=0.6, q_factor=800.0, linkage=curve,
    ...     v_supply=2.5, r_coil=45.0, l_coil=0.02, switch=SwitchLaw(v_constant=0.1),
    ...     clamp=ClampLaw(v_constant=0.7), pulse_width=0.02, trigger=Trigger(),
    ... )
    >>> found = settle(movement=movement, arc_low=0.02, arc_high=0.3, width_high=0.06)
    >>> round(found.held.arc, 5), round(found.width_least, 4)
    (0.19065, 0.016)
    """
    require((arc_low > 0) & (arc_high > arc_low), "settle: arc_high must exceed arc_low, above 0")
    if movement.kind == "pendulum":
        require(arc_high < 2.0, "settle: arc_high must stay below 2 rad; a pendulum turns over")
    require(movement.pulse_width > 0, "settle: pulse_width must be above zero")
    require(width_high > movement.pulse_width, "settle: width_high must exceed the pulse width")
    own = movement.pulse_width
    fewest = min(0.7 * own, width_high / 30)
    row = np.unique(np.append(np.geomspace(fewest, width_high, widths), own))
    table = _table(movement, np.geomspace(arc_low, arc_high, arcs), row)
    column = int(np.flatnonzero(row == own)[0])
    swings = tuple(_swing_at(movement, arc, exact=exact) for arc, _, _ in table.crossings(column))
    held = [
        (width, *stable[-1])
        for k, width in enumerate(row.tolist())
        if (stable := [c for c in table.crossings(k) if c[1]])
    ]
    columns = np.array([(width, arc, beat) for width, arc, _, beat in held]).reshape(-1, 3).T
    rates_held = _rate(movement, columns[2])
    return Settled(
        swings=swings, grows=bool(table.growth[-1, column] > 0),
        width_least=_least(movement, table, row, exact=exact),
        width_turning=_turning(movement, columns[0], columns[1], rates_held),
        widths_held=columns[0], arcs_held=columns[1], rates_held=rates_held,
    )  # fmt: skip


def settled_arcs(
    movement: DrivenMovement, arc_low: float, arc_high: float, count: int
) -> list[tuple[float, float]]:
    """Return arc and rate of every stable swing at the pulse width alone, from a short table."""
    arcs, widths = np.geomspace(arc_low, arc_high, count), np.array([movement.pulse_width])
    stable = [c for c in _table(movement, arcs, widths).crossings(0) if c[1]]
    return [(arc, movement.period / (2 * beat) - 1) for arc, _, beat in stable]


def settled_row(
    movement: DrivenMovement, arcs: Array, widths: Array
) -> list[tuple[float, float, float]]:
    """Return width, widest stable arc and rate there for every width that holds one."""
    table = _table(movement, arcs, widths)
    rows: list[tuple[float, float, float]] = []
    for k, width in enumerate(widths.tolist()):
        stable = [c for c in table.crossings(k) if c[1]]
        if stable:
            arc, _, beat = stable[-1]
            rows.append((width, arc, float(_rate(movement, np.array(beat)))))
    return rows


def _least(movement: DrivenMovement, table: _Table, row: Array, *, exact: bool) -> float | None:
    """Return the width from which some arc is held, sharpened on a narrow row of widths."""
    rough = _root(row, table.growth.max(axis=0))
    if rough is None or not exact:
        return rough
    near = rough * np.linspace(0.94, 1.06, 4)
    arcs = np.exp(np.linspace(table.at[0], table.at[-1], 10))
    fine = _table(replace(movement, pulse_width=float(near[-1])), arcs, near)
    sharper = _root(near, fine.growth.max(axis=0))
    return rough if sharper is None else sharper


def _turning(movement: DrivenMovement, row: Array, arcs: Array, rates: Array) -> float | None:
    """Return the width at which the settled rate stops falling, sharpened by its own slope."""
    if len(row) < 4:
        return None
    at = np.log(row)
    bend = CubicSpline(at, rates).derivative()
    fine = np.linspace(at[0], at[-1], 400)
    slope = bend(fine)
    rising = np.flatnonzero((slope[:-1] < 0) & (slope[1:] >= 0))
    if not rising.size:
        return None
    arc_at = CubicSpline(at, arcs)

    def at_width(width: float) -> float:
        near = replace(movement, pulse_width=width)
        return _swing_at(near, float(arc_at(np.log(width))), exact=False).slope

    width = float(np.exp(fine[int(rising[0])]))
    here = at_width(width)
    other = width * (1.02 if here < 0 else 0.98)
    there = at_width(other)
    found = width - here * (other - width) / (there - here)
    # A straight line through two slopes that lie close together must not lead far away.
    return found if abs(found / width - 1) < 0.1 else width
