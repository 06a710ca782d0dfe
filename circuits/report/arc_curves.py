"""What arcs become after a beat, and the settled rate over the pulse width."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError
from calc.follow import DrivenMovement
from calc.follow_beat import SettledSwing, beats
from calc.follow_settle import settled_row
from circuits.driven import Driven
from circuits.report.states import States, states_of
from circuits.stage_pass import StagePass
from circuits.stages.pulse import PulseResult
from circuits.stages.settled_record import SettledResult

Array = NDArray[np.float64]

ARCS, WIDTHS = 48, 26
WIDEST = 1.9
"""rad; wider a pendulum is not followed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ArcChange:
    """How much an arc grows in a beat, over arcs, at one state of the cells [rad]."""

    arcs: Array
    growth: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class RateRow:
    """Settled arc and rate (a ratio) over the pulse width."""

    widths: Array
    arcs: Array
    rates: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class ArcCurves:
    """Growth and settled swings at the pulse there is; what other widths would do."""

    wanted: float
    width: float
    radius: float
    arc_seen: float
    states: States
    fresh: ArcChange
    spent: ArcChange
    held: SettledSwing | None
    start: SettledSwing | None
    turning: float | None
    least: float | None
    rate_fresh: RateRow | None
    rate_spent: RateRow | None


def driven_from(done: StagePass) -> Driven:
    """Return the moving system of a design whose stages have run."""
    names = ("rails", "coil", "linkage", "movement", "emf", "drive", "clamp", "filter", "passes")
    pulse: PulseResult = done.result("pulse")
    return Driven(
        design=done.design, width=pulse.width, t_on=pulse.t_on,
        **{name: done.result(name) for name in names},
    )  # fmt: skip


def _change(system: DrivenMovement, arcs: Array, width: float) -> ArcChange:
    after = beats(system, arcs, np.array([width]), exact=False)
    growth = (after.arc_after[:, 0] - arcs) / after.beats
    good = np.isfinite(growth)
    return ArcChange(arcs=arcs[good], growth=growth[good])


def _row(system: DrivenMovement, arcs: Array, widths: Array) -> RateRow | None:
    try:
        found = settled_row(system, arcs, widths)
    except OutOfRangeError:
        return None
    if len(found) < 3:
        return None
    columns = np.array(found).T
    return RateRow(widths=columns[0], arcs=columns[1], rates=columns[2])


def arc_curves(done: StagePass) -> ArcCurves | None:
    """Return the curves; None where the stages say already that it cannot be followed."""
    settled: SettledResult | None = done.result("settled")
    if settled is None:
        return None
    driven = driven_from(done)
    movement, width = driven.movement, driven.width
    held = settled.held
    reach = 1.3 * max(movement.arc, held.arc if held is not None else 0.0)
    most = min(reach, WIDEST) if movement.kind == "pendulum" else reach
    arcs = np.linspace(0.04 * most, most, ARCS)
    system, weak = driven.system(), driven.system(spent=True)
    fresh, spent = (_change(one, arcs, width) for one in (system, weak))
    high = min(3 * max(movement.arc, held.arc if held else 0.0), WIDEST)
    if movement.kind == "balance":
        high = 3 * max(movement.arc, held.arc if held else 0.0)
    table = np.geomspace(movement.arc / 6, high, 16)
    room = 0.22 * movement.period - max(driven.t_on, 0.0)
    turning = settled.fresh.width_turning
    widest = min(max(2.4 * width, 1.4 * turning if turning else 0.0), max(room, 1.2 * width))
    widths = np.geomspace(0.4 * width, widest, WIDTHS)
    return ArcCurves(
        wanted=movement.arc, width=width, radius=movement.radius,
        arc_seen=driven.passes.arc_seen if driven.passes is not None else 0.0,
        states=states_of(done), fresh=fresh, spent=spent, held=held,
        start=settled.fresh.least_start, turning=turning,
        least=settled.fresh.width_least, rate_fresh=_row(system, table, widths),
        rate_spent=_row(weak, table, widths),
    )  # fmt: skip
