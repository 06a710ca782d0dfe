"""Where a driven movement settles: arcs, rates, and what a wider pulse does to both."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.polynomial import Polynomial
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.special import ellipe, ellipk

from calc.calculator import OutOfRangeError, require
from calc.follow import DrivenMovement
from calc.follow_beat import SettledSwing, beats, rate_of, swing_at
from calc.follow_columns import Columns
from calc.units import Count, Radian, RadianCurve, Ratio, RatioCurve, Second, SecondCurve

Array = NDArray[np.float64]

_DENSE = 320
_LEAST = 4
"""Arcs that a table must have."""
_ABOVE = 1e-6
"""How far above the smallest arc that reaches the trigger to look, as a share of it."""
_ASIDE = 0.25
"""Share of the steps of a table within which one arc takes another's place."""
_CLOSER = 2
"""How often a table is laid closer where the trigger is reached by its widest arcs alone."""
_ABOUT = np.array([0.92, 0.96, 1.0, 1.04, 1.08])
"""Widths about a turning point, as shares of it, that sharpen it."""
_CLOSE = 6
"""Arcs that bridge the settled arcs of those widths."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldArc:
    """An arc that is held, and the rate there."""

    arc: Radian
    rate: Ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """All settled swings at the pulse width, the smallest first, and what other widths would do.

    `width_least` is the width below which no arc is held, `width_turning` that beyond which the
    settled rate rises with the width; None where the widths looked at hold no such point.
    `grows` where even the widest arc still grows. `widths_held`, `arcs_held` and
    `rates_held` follow the widest stable arc over those widths that hold one. `at_quality` is
    the widest stable arc with each other quality factor asked for, None where none is held.
    """

    swings: tuple[SettledSwing, ...]
    grows: bool
    width_least: Second | None
    width_turning: Second | None
    widths_held: SecondCurve
    arcs_held: RadianCurve
    rates_held: RatioCurve
    at_quality: tuple["HeldArc | None", ...] = ()

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


@dataclass(frozen=True, slots=True)
class _Crossing:
    """An arc at which the growth changes its sign, and the beat there."""

    arc: float
    stable: bool
    beat: float


@dataclass(frozen=True, slots=True)
class _Table:
    """Growth in a beat or period against the logarithm of the arc, by width.

    `by_arc` holds the growth of each width and then the beat of each; `crossings` the settled
    swings of each width, the smallest first.
    """

    at: Array
    growth: Array
    by_arc: Columns
    beats: int
    crossings: tuple[tuple["_Crossing", ...], ...]

    def held(self, widths: Array) -> list[tuple[float, float, float]]:
        """Return width, widest stable arc and beat there for every width that holds one."""
        stable = [[one for one in row if one.stable] for row in self.crossings]
        return [
            (width, row[-1].arc, row[-1].beat)
            for width, row in zip(widths.tolist(), stable, strict=True)
            if row
        ]

    def held_with(self, movement: DrivenMovement, column: int, q_factor: float) -> HeldArc | None:
        """Return the widest stable arc with another quality factor; None where there is none.

        The push hardly knows of the losses: growth falls by what the viscous loss takes more.
        """
        more = self.beats * (1 / q_factor - 1 / movement.q_factor)
        growth = self.growth[:, column] - more * _loss_share(movement, np.exp(self.at))
        falls = np.flatnonzero((growth[:-1] > 0) & (growth[1:] <= 0))
        if not falls.size:
            return None
        k = int(falls[-1])
        share = growth[k] / (growth[k] - growth[k + 1])
        at = float(self.at[k] + share * (self.at[k + 1] - self.at[k]))
        of_beat = np.array([self.growth.shape[1] + column])
        beat = self.by_arc.at(np.array([at]), of_beat)
        return HeldArc(arc=float(np.exp(at)), rate=float(rate_of(movement, beat)[0]))


def _loss_share(movement: DrivenMovement, arcs: Array) -> Array:
    """Return by how much a swing's viscous loss lowers the arc's logarithm, times Q."""
    if movement.kind == "balance":
        return np.full(arcs.shape, np.pi / 2)
    m = np.sin(arcs / 2) ** 2
    return np.asarray(8 * (ellipe(m) - (1 - m) * ellipk(m)) / (arcs * np.sin(arcs)))


class _UndrivenError(OutOfRangeError):
    """No swing reaches its trigger: every arc dies away."""


def _table(
    movement: DrivenMovement, arcs: Array, widths: Array, *, closer: int = _CLOSER
) -> _Table:
    known = beats(movement, arcs, widths, exact=False)
    # Below the smallest arc that reaches the trigger there is nothing to hold it.
    usable = known.usable
    few = int(known.driven.sum())
    if few < min(_LEAST, len(arcs)) and known.driven[-1] and closer:
        between = np.linspace(arcs[-few - 1], arcs[-1], len(arcs))
        return _table(movement, between, widths, closer=closer - 1)
    if few < _LEAST and not known.driven[: len(arcs) - few].any():
        raise _UndrivenError("settle: no swing must be left without its trigger; swing wider")
    require(
        usable.sum() >= _LEAST,
        "settle: some swings must reach the trigger and their turning point; swing wider, or "
        "start the pulse nearer the middle",
    )
    growth = np.log(known.arc_after[usable] / arcs[usable, None])
    at = np.log(arcs[usable])
    by_arc = Columns(at, np.concatenate((growth, known.time[usable]), axis=1))
    fine, count = np.linspace(at[0], at[-1], _DENSE), len(widths)
    grown = by_arc.rows(fine)[:, :count]
    column, k = np.nonzero((grown[:-1] * grown[1:] < 0).T)
    place = by_arc.roots(fine[k], fine[k + 1], column)
    beat = by_arc.at(place, column + count)
    found: list[list[_Crossing]] = [[] for _ in range(count)]
    for own, *rest in zip(column, np.exp(place), grown[k, column] > 0, beat, strict=True):
        arc, stable, time = rest
        found[own].append(_Crossing(float(arc), bool(stable), float(time)))
    return _Table(fine, grown, by_arc, known.beats, tuple(tuple(row) for row in found))


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
    q_factors: tuple[Ratio, ...] = (),
    least_from: Radian = 0.0,
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
    q_factors : tuple of float
        Other quality factors whose arcs are wanted too [1].
    least_from : float
        Smallest arc that the least width must hold, where it is above arc_low [rad].

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
    try:
        table = _table(movement, arcs_from_least(movement, arc_low, arc_high, arcs), row)
    except _UndrivenError:
        none = np.zeros(0)
        return Settled(
            swings=(), grows=False, width_least=None, width_turning=None, widths_held=none,
            arcs_held=none, rates_held=none, at_quality=(None,) * len(q_factors),
        )  # fmt: skip
    column = int(np.flatnonzero(row == own)[0])
    near = (swing_at(movement, one.arc, exact=exact) for one in table.crossings[column])
    # Beside the arc from which the trigger is reached the table may cross where no swing is.
    swings = tuple(swing for swing in near if np.isfinite(swing.period))
    columns = np.array(table.held(row)).reshape(-1, 3).T
    rates_held = rate_of(movement, columns[2])
    return Settled(
        swings=swings, grows=bool(table.growth[-1, column] > 0),
        width_least=_least(table, row, least_from),
        width_turning=_turning(movement, columns[0], columns[1], rates_held),
        widths_held=columns[0], arcs_held=columns[1], rates_held=rates_held,
        at_quality=tuple(table.held_with(movement, column, q) for q in q_factors),
    )  # fmt: skip


def settled_arcs(
    movement: DrivenMovement, arc_low: float, arc_high: float, count: int
) -> list[tuple[float, float]]:
    """Return arc and rate of every stable swing at the pulse width alone, from a short table."""
    arcs, widths = np.geomspace(arc_low, arc_high, count), np.array([movement.pulse_width])
    try:
        stable = [one for one in _table(movement, arcs, widths).crossings[0] if one.stable]
    except _UndrivenError:
        return []
    return [(one.arc, movement.period / (2 * one.beat) - 1) for one in stable]


def settled_row(
    movement: DrivenMovement, arcs: Array, widths: Array
) -> list[tuple[float, float, float]]:
    """Return width, widest stable arc and rate there for every width that holds one."""
    held = _table(movement, arcs, widths).held(widths)
    return [(width, arc, float(rate_of(movement, np.array(beat)))) for width, arc, beat in held]


def arcs_from_least(movement: DrivenMovement, low: float, high: float, count: int) -> Array:
    """Return evenly spread arcs, and the smallest that reaches the trigger among them.

    It is the last that a narrow pulse holds: without it the least width hangs on the table.
    """
    arcs = np.geomspace(low, high, count)
    least = movement.trigger.arc_least * (1 + _ABOVE)
    if not low < least < arcs[-_LEAST]:
        return arcs
    nearest = int(np.argmin(np.abs(np.log(arcs / least))))
    if abs(np.log(arcs[nearest] / least)) < _ASIDE * np.log(arcs[1] / arcs[0]):
        arcs[nearest] = least
        return arcs
    return np.sort(np.append(arcs, least))


def _least(table: _Table, row: Array, arc: float) -> float | None:
    """Return the width from which some arc from a given one on is held."""
    own = table.at >= np.log(arc) if arc > 0 else np.ones(len(table.at), dtype=bool)
    return _root(row, table.growth[own].max(axis=0)) if own.any() else None


def _turning(movement: DrivenMovement, row: Array, arcs: Array, rates: Array) -> float | None:
    """Return the width at which the settled rate stops falling, sharpened on widths near it."""
    if len(row) < 4:
        return None
    at = np.log(row)
    bend = CubicSpline(at, rates).derivative()
    fine = np.linspace(at[0], at[-1], 400)
    slope = bend(fine)
    rising = np.flatnonzero((slope[:-1] < 0) & (slope[1:] >= 0))
    if not rising.size:
        return None
    rough = float(np.exp(fine[int(rising[0])]))
    near = rough * _ABOUT
    about = CubicSpline(at, arcs)(np.log(np.clip(near, row[0], row[-1])))
    close = np.linspace(0.97 * about.min(), 1.03 * about.max(), _CLOSE)
    try:
        table = _table(replace(movement, pulse_width=float(near[-1])), close, near)
    except OutOfRangeError:
        return rough
    held = table.held(near)
    if len(held) < len(near):
        return rough
    # The rate against five widths is a quartic; its least is where the sign turns.
    beat = np.array([beat for _, _, beat in held])
    curve = Polynomial.fit(near, rate_of(movement, beat), len(near) - 1)
    least = [
        float(root.real) for root in curve.deriv().roots()
        if abs(root.imag) < 1e-9 * rough and curve.deriv(2)(root.real) > 0
    ]  # fmt: skip
    found = min(least, key=lambda width: abs(width - rough), default=rough)
    return found if near[0] <= found <= near[-1] else rough
