"""A beat or a period as a map of the arc, and the swing near an arc that reproduces itself."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.follow import DrivenMovement
from calc.follow_batch import many_swings
from calc.pendulum import circular_error
from calc.units import Joule, PerSecond, Radian, Ratio, Second

Array = NDArray[np.float64]

_NEAR = 1e-3
"""Relative step of the differences about a settled swing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beats:
    """What a row of arcs becomes after a beat, or after a period where the beats differ.

    A row for each arc and a column for each width; `time` and energies are those of the mean
    beat, `difference` how much longer the swing there takes than the swing back, `beats` how many
    beats `arc_after` lies later.
    """

    arcs: Array
    widths: Array
    arc_after: Array
    time: Array
    e_mechanical: Array
    e_supply: Array
    difference: Array
    beats: int
    driven: NDArray[np.bool_]

    @property
    def usable(self) -> NDArray[np.bool_]:
        """Whether an arc is driven and with every width still swings to its turning points."""
        # An arc of nothing is finite too, but no swing.
        swings = (self.arc_after > 0) & np.isfinite(self.arc_after) & np.isfinite(self.time)
        return np.asarray(swings.all(axis=1) & self.driven)


@dataclass(frozen=True, slots=True, kw_only=True)
class SettledSwing:
    """A swing that reproduces itself.

    `rate` is against the period of the smallest free swing; `circular` the part that the arc
    makes, `impulse` the rest. `slope` and `slope_prompt` tell how the rate changes with the pulse
    width, once the arc has followed and before it does. Energies are those of the mean beat;
    `difference` is how much longer a swing in the positive direction takes than one back.
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
    difference: Second = 0.0


def beats(movement: DrivenMovement, arcs: Array, widths: Array, *, exact: bool) -> Beats:
    """Return what arcs become; over a period where the two directions differ."""
    there = many_swings(movement, arcs, widths, 1, exact=exact)
    if movement.both_ways and movement.offset == 0:
        return Beats(
            arcs=arcs, widths=widths, arc_after=there.arc_end, time=there.time,
            e_mechanical=there.e_mechanical, e_supply=there.e_supply, beats=1,
            difference=np.zeros_like(there.time), driven=there.driven,
        )  # fmt: skip
    given, supplied = np.zeros_like(there.time), np.zeros_like(there.time)
    # A swing that never ends has none after it, and must not spoil the others.
    ended = np.isfinite(there.arc_end)
    between = np.where(ended, there.arc_end, arcs[:, None])
    if not movement.driven(-1):
        back = many_swings(movement, between.ravel(), widths[:1], -1, exact=exact)
        arc, time = back.arc_end.reshape(between.shape), back.time.reshape(between.shape)
    else:
        own = np.broadcast_to(widths, between.shape).ravel()
        back = many_swings(movement, between.ravel(), own, -1, exact=exact, paired=True)
        arc, time, given, supplied = (
            np.where(ended, column.reshape(between.shape), np.nan)
            for column in (back.arc_end, back.time, back.e_mechanical, back.e_supply)
        )
    return Beats(
        arcs=arcs, widths=widths, arc_after=arc, time=(there.time + time) / 2,
        e_mechanical=(there.e_mechanical + given) / 2,
        e_supply=(there.e_supply + supplied) / 2, difference=there.time - time, beats=2,
        driven=there.driven,
    )  # fmt: skip


def rate_of(movement: DrivenMovement, beat: Array) -> Array:
    """Return the rate of a mean beat against the smallest free swing."""
    return np.asarray(movement.period / (2 * beat) - 1)


def swing_at(movement: DrivenMovement, arc: float, *, exact: bool) -> SettledSwing:
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

    rates = rate_of(movement, near.time)
    settled_arc = arc + step
    by_arc = (rates[2, 1] - rates[0, 1]) / (2 * arc * _NEAR)
    by_arc += at * (rates[2, 1] - 2 * rates[1, 1] + rates[0, 1]) / (arc * _NEAR)
    width_step = 2 * movement.pulse_width * _NEAR
    prompt = (along(rates[:, 2]) - along(rates[:, 0])) / width_step
    arc_by_width = (along(near.arc_after[:, 2]) - along(near.arc_after[:, 0])) / width_step
    arc_slope = arc_by_width / (1 - multiplier)
    beat = along(near.time[:, 1])
    rate = float(rate_of(movement, np.array(beat)))
    circular = circular_error(arc=settled_arc) if movement.kind == "pendulum" else 0.0
    # Below zero the arc overshoots in every beat, and what it overshoots by fades alike.
    fade = np.log(abs(multiplier)) if multiplier else np.nan
    return SettledSwing(
        arc=settled_arc, stable=bool(abs(multiplier) < 1), period=2 * beat, rate=rate,
        circular=circular, impulse=rate - circular, multiplier=float(multiplier),
        time_constant=float(-near.beats * beat / fade), slope=float(prompt + by_arc * arc_slope),
        slope_prompt=float(prompt), arc_slope=float(arc_slope),
        e_mechanical=along(near.e_mechanical[:, 1]), e_supply=along(near.e_supply[:, 1]),
        difference=along(near.difference[:, 1]),
    )  # fmt: skip
