"""Long runs while supply and pulse width change slowly: tables of many swings at a time.

The map of one swing is composed with itself until it spans some minutes. Such a table is smooth in
supply and width too, so that a year takes some ten thousand looks into it.
"""

from bisect import bisect
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import exp, log

import numpy as np
from numpy.typing import NDArray

from calc.calculator import require
from calc.follow import DrivenMovement
from calc.follow_beat import beats
from calc.units import (
    Count,
    Joule,
    JouleCurve,
    Radian,
    RadianCurve,
    RatioCurve,
    Second,
    SecondCurve,
    Volt,
    VoltCurve,
)

Array = NDArray[np.float64]

_NODES = 240
_LEAST = 0.02
"""The table begins at this share of its widest arc; below it a movement counts as stopped."""
_EDGE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class SlowStep:
    """What one table's length of swings made of an arc; energies are sums over them.

    `stopped` where the arc fell below the table, `wide` where it grew beyond it.
    """

    arc: Radian
    time: Second
    e_supply: Joule
    e_mechanical: Joule
    stopped: bool
    wide: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SlowMap:
    """What `swings` swings make of an arc, against arc, supply voltage and pulse width.

    Made by `slow_map`. `after` takes one step; supply and width may change from step to step, and
    are held to the span of the tables. `period` is that of the smallest free swing.
    """

    swings: Count
    period: Second
    arc_low: Radian
    arc_high: Radian
    supplies: tuple[Volt, ...]
    widths: tuple[Second, ...]
    table: RatioCurve

    def after(self, arc: Radian, v_supply: Volt, width: Second) -> SlowStep:
        """Return where so many swings lead from an arc."""
        scale = _scale(self.arc_low, self.arc_high)
        place = min(max(log(arc / self.arc_low) * scale, 0.0), _NODES - 1.0)
        at = min(max(int(place) - 1, 0), _NODES - 4)
        s_first, by_supply = _weights(self.supplies, v_supply)
        w_first, by_width = _weights(self.widths, width)
        near = self.table[
            :, at : at + 4, s_first : s_first + len(by_supply), w_first : w_first + len(by_width)
        ]
        found = ((near @ by_width) @ by_supply) @ _lagrange((0.0, 1.0, 2.0, 3.0), place - at)
        new, time, supply, motion = found.tolist()
        new = min(max(new, 0.0), _NODES - 1.0)
        after = self.arc_low * exp(new / scale)
        return SlowStep(
            arc=after, time=time, e_supply=supply, e_mechanical=motion,
            stopped=new <= _EDGE, wide=new >= _NODES - 1 - _EDGE,
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class SlowRun:
    """A long run, step by step: moments, arcs there, and the means over the step that leads there.

    `rates` are against the smallest free swing. `e_supply` is what the supply gave to the coil,
    `e_mechanical` what that gave to the movement, each in the step. The first row is the start.
    """

    times: SecondCurve
    arcs: RadianCurve
    rates: RatioCurve
    e_supply: JouleCurve
    e_mechanical: JouleCurve
    stopped: bool
    wide: bool


def _scale(low: float, high: float) -> float:
    return (_NODES - 1) / log(high / low)


def _lagrange(nodes: tuple[float, ...], value: float) -> Array:
    """Return what each node weighs in the polynomial through all of them."""
    weights = [1.0] * len(nodes)
    for k, own in enumerate(nodes):
        for other in nodes:
            if other != own:
                weights[k] *= (value - other) / (own - other)
    return np.array(weights)


def _weights(nodes: tuple[float, ...], value: float) -> tuple[int, Array]:
    """Return the first of the four nodes about a value, and what they weigh."""
    value = min(max(value, nodes[0]), nodes[-1])
    count = min(4, len(nodes))
    first = min(max(bisect(nodes, value) - 2, 0), len(nodes) - count)
    return first, _lagrange(nodes[first : first + count], value)


def _looked(columns: Array, at: Array) -> Array:
    """Return each column at its own places, by the cubic through the four nodes about each."""
    first = np.clip(np.floor(at).astype(np.intp) - 1, 0, _NODES - 4)
    x = at - first
    weights = (
        -(x - 1) * (x - 2) * (x - 3) / 6, x * (x - 2) * (x - 3) / 2,
        -x * (x - 1) * (x - 3) / 2, x * (x - 1) * (x - 2) / 6,
    )  # fmt: skip
    total = np.zeros(columns.shape[:-2] + at.shape)
    own = np.arange(at.shape[1])
    for k, weight in enumerate(weights):
        total += weight * columns[..., first + k, own]
    return total


def _one(movement: DrivenMovement, arcs: Array, widths: Array, scale: float) -> tuple[Array, int]:
    """Return new place, time and energies of the shortest step, and how many swings it has."""
    once = beats(movement, arcs, widths, exact=False)
    # A swing that does not come to its turning point has stopped.
    after = np.where(np.isfinite(once.arc_after), once.arc_after, 1e-9 * arcs[:, None])
    place = np.clip(np.log(np.maximum(after, 1e-9 * arcs[0]) / arcs[0]) * scale, 0, _NODES - 1)
    time = np.where(np.isfinite(once.time), once.time, movement.period / 2) * once.beats
    energies = [np.nan_to_num(e) * once.beats for e in (once.e_supply, once.e_mechanical)]
    return np.stack([place, time, *energies]), once.beats


def slow_map(
    *,
    movements: Sequence[DrivenMovement],
    widths: SecondCurve,
    arc_low: Radian,
    arc_high: Radian,
    swings: Count = 512,
) -> SlowMap:
    """Return tables of many swings at once, against arc, supply voltage and pulse width.

    Parameters
    ----------
    movements : sequence of DrivenMovement
        One movement at several supplies, the voltage rising; whatever else sags with the supply
        (its resistance, the switch) may differ from one to the next. One alone: no sag.
        Five to nine serve for cells from fresh to spent.
    widths : numpy.ndarray
        Pulse widths, rising [s]. One alone: the width does not change. Steps of a tenth keep the
        rate to a few thousandths of a second a day; near the least width it takes smaller ones.
    arc_low : float
        Arc below which the movement counts as stopped [rad].
    arc_high : float
        Widest arc that is followed [rad].
    swings : int
        Swings of one look into the tables, a power of two [1]. Within them supply and width are
        taken as constant.

    Returns
    -------
    map : SlowMap
        The tables.

    Raises
    ------
    OutOfRangeError
        If arcs, voltages or widths are not above zero and rising, if swings is not a power of
        two or too few, or if a pendulum would turn over.

    Notes
    -----
    By the map of a swing composed with itself, cubic between near nodes;
    held by test_a_year_of_swings_follows_the_direct_engine.

    References
    ----------
    Poincare map of a driven oscillator; common practice, no source.

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
    >>> movements = [
    ...     DrivenMovement(
    ...         kind="pendulum", omega=4.0, inertia=0.2, radius=0.6, q_factor=800.0,
    ...         linkage=curve, v_supply=v, r_coil=45.0, l_coil=0.02,
    ...         switch=SwitchLaw(v_constant=0.1), clamp=ClampLaw(v_constant=0.7),
    ...         pulse_width=0.02, trigger=Trigger(),
    ...     )
    ...     for v in (2.4, 2.5, 2.6, 2.7)
    ... ]
    >>> found = slow_map(
    ...     movements=movements, widths=np.array([0.02]), arc_low=0.02, arc_high=0.4,
    ...     swings=4096,
    ... )
    >>> step = found.after(0.15, 2.5, 0.02)
    >>> round(step.arc, 4), round(step.time, 2)
    (0.1905, 3223.89)
    """
    require(len(movements) >= 1, "slow_map: there must be a movement")
    first = movements[0]
    supplies = np.array([movement.v_supply for movement in movements])
    widths = np.asarray(widths, dtype=np.float64)
    require(
        bool((np.diff(supplies) > 0).all()), "slow_map: the supplies' voltages must rise; sort them"
    )
    require(
        widths.size >= 1 and bool((widths > 0).all()) and bool((np.diff(widths) > 0).all()),
        "slow_map: widths must be above zero and rise",
    )
    require((arc_low > 0) & (arc_high > arc_low), "slow_map: arc_high must exceed arc_low, above 0")
    if first.kind == "pendulum":
        require(arc_high < 2.0, "slow_map: arc_high must stay below 2 rad; a pendulum turns over")
    doublings = int(swings).bit_length() - 1
    require(
        swings >= 2 and swings == 2**doublings, "slow_map: swings must be a power of two, 2 or more"
    )
    arcs, scale = np.geomspace(arc_low, arc_high, _NODES), _scale(arc_low, arc_high)
    parts = []
    for movement in movements:
        step, count = _one(replace(movement, pulse_width=float(widths[-1])), arcs, widths, scale)
        while count < swings:
            step = _twice(step)
            count *= 2
        parts.append(step)
    return SlowMap(
        swings=swings, period=first.period, arc_low=arc_low, arc_high=arc_high,
        supplies=tuple(supplies.tolist()), widths=tuple(widths.tolist()),
        table=np.stack(parts, axis=2),
    )  # fmt: skip


def _twice(step: Array) -> Array:
    """Return the map of twice as many swings: the second half starts where the first ends."""
    place, sums = step[0], step[1:]
    later = _looked(step, place)
    later[0] = np.clip(later[0], 0, _NODES - 1)
    # What has stopped or grown beyond the table stays there.
    later[0] = np.where(place <= _EDGE, 0.0, later[0])
    later[0] = np.where(place >= _NODES - 1 - _EDGE, _NODES - 1, later[0])
    return np.concatenate([later[:1], sums + later[1:]])


def run_slow(
    *,
    tables: SlowMap,
    arc: Radian,
    times: SecondCurve,
    v_supply: VoltCurve,
    width: SecondCurve,
    progress: Callable[[float, float], None] | None = None,
) -> SlowRun:
    """Return how the arc goes on while supply and width change slowly, up to the last time given.

    Parameters
    ----------
    tables : SlowMap
        Tables from `slow_map`, over the voltages and widths that occur.
    arc : float
        Arc at the first time [rad].
    times : numpy.ndarray
        Rising times at which supply and width are given; straight lines between them [s].
    v_supply : numpy.ndarray
        Voltage of the supply at each time [V].
    width : numpy.ndarray
        Pulse width at each time [s].
    progress : callable, optional
        Told the time reached and the arc after every thousandth of the whole.

    Returns
    -------
    run : SlowRun
        Moments, arcs, rates and energies.

    Raises
    ------
    OutOfRangeError
        If arc lies outside the tables, or the times do not rise.

    Notes
    -----
    By looks into tables of many swings;
    held by test_a_year_of_swings_follows_the_direct_engine.

    References
    ----------
    Poincare map of a driven oscillator; common practice, no source.

    Examples
    --------
    See `slow_map` for the tables.
    """
    times = np.asarray(times, dtype=np.float64)
    require(
        (arc > tables.arc_low) & (arc < tables.arc_high),
        "run_slow: arc must lie within the arcs of the tables",
    )
    require(
        times.size >= 2 and bool((np.diff(times) > 0).all()),
        "run_slow: two or more times, and they must rise",
    )
    require(
        np.shape(v_supply) == times.shape and np.shape(width) == times.shape,
        "run_slow: supply and width must be given at each time",
    )
    clock, last = float(times[0]), float(times[-1])
    half, told = 0.25 * tables.swings * tables.period, clock
    free = 0.5 * tables.swings * tables.period
    rows = [(clock, arc, 0.0, 0.0, 0.0)]
    stopped = wide = False
    while clock < last and not (stopped or wide):
        middle = clock + half
        step = tables.after(
            arc, float(np.interp(middle, times, v_supply)), float(np.interp(middle, times, width))
        )
        clock, arc, stopped, wide = clock + step.time, step.arc, step.stopped, step.wide
        rows.append((clock, arc, free / step.time - 1, step.e_supply, step.e_mechanical))
        if progress is not None and clock - told >= 1e-3 * (last - times[0]):
            progress(clock, arc)
            told = clock
    columns = np.array(rows).T
    if len(rows) > 1:
        columns[2, 0] = columns[2, 1]
    return SlowRun(
        times=columns[0], arcs=columns[1], rates=columns[2], e_supply=columns[3],
        e_mechanical=columns[4], stopped=stopped, wide=wide,
    )  # fmt: skip
