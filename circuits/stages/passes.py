"""Passes: what the firmware sees of the magnet at other arcs than the wanted one."""

from math import degrees

import numpy as np
from numpy.typing import NDArray

from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.format_quantity import show
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.stages.clamp import ClampResult
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult
from circuits.stages.emf import EmfResult
from circuits.stages.filter import FilterResult
from circuits.stages.firing import PassesResult
from circuits.stages.movement import MovementResult
from circuits.stages.pickup import PickupResult
from circuits.stages.pulse import PulseResult
from circuits.stages.rails import Rails
from circuits.stages.timing import TimingResult
from circuits.stages.watch import SHARES, Watch

Array = NDArray[np.float64]

LATE = 0.5
"""Share of the wanted arc above which a push by hand may well go unseen."""


def size(
    design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails, coil: CoilResult,
    movement: MovementResult, emf: EmfResult, drive: DriveResult, clamp: ClampResult,
    pickup: PickupResult, filter: FilterResult, pulse: PulseResult, timing: TimingResult,
) -> PassesResult:  # fmt: skip
    """Let the firmware look at passes of several arcs, and enter what it misses or sees twice."""
    del catalogue
    watch = Watch(rails, coil, movement, emf, drive, clamp, pickup, filter)
    wait = pulse.t_on - filter.event_time
    arcs: list[float] = []
    events: list[float] = []
    again: tuple[float, float] | None = None
    early: tuple[float, float] | None = None
    seen = watch.least(movement.arc)
    looked = [share * movement.arc for share in SHARES]
    if seen:
        looked = [1.01 * seen, *(arc for arc in looked if arc > 1.05 * seen)]
    for arc in looked:
        if movement.kind == "pendulum" and arc > 1.2:
            break
        one = watch.at(arc)
        event = watch.event(one)
        if event is None:
            continue
        arcs.append(arc)
        events.append(event)
        t_on = event + (wait if drive.trigger != "previous_pass" else 0.0)
        if drive.trigger == "previous_pass":
            t_on = pulse.t_on
        found = watch.firings(one)
        before = [t for t in found if t < event - 2e-3 * movement.period]
        after = watch.firings(one, after=max(t_on + timing.deaf_until, event))
        after = tuple(t for t in after if t > event + 1e-3 * movement.period)
        if before:
            early = (arc, before[0])
        if after:
            again = (arc, after[0])
    result = PassesResult(arc_seen=seen, arcs=tuple(arcs), events=tuple(events))
    _enter(ledger, movement, result)
    _judge(design, ledger, movement, timing, watch, early, again)
    return result


def _enter(ledger: Ledger, movement: MovementResult, result: PassesResult) -> None:
    seen = result.arc_seen
    if not seen:
        ledger.say(
            "timing.seen", Severity.GOOD,
            f"The firmware sees every pass looked at, down to {show(0.1 * movement.arc, 'rad')}.",
        )  # fmt: skip
        return
    ledger.value(
        "timing.arc_seen", seen, "rad", words="least arc whose passes the firmware sees",
        basis=Basis.COMPUTED, rule="the signal at the pin reaches the threshold",
    )  # fmt: skip
    late = seen > LATE * movement.arc
    ledger.say(
        "timing.seen", Severity.MIND if late else Severity.GOOD,
        f"The firmware sees passes from an arc of {show(seen, 'rad')} on: push by hand to more "
        f"than {degrees(seen):.2g} degrees, {show(seen * movement.radius, 'm')} at the magnet; a "
        "smaller swing triggers nothing.",
        remedy="A lower threshold, so that a smaller push is seen." if late else "",
        value=seen, unit="rad",
    )  # fmt: skip


def _judge(
    design: Design, ledger: Ledger, movement: MovementResult, timing: TimingResult, watch: Watch,
    early: tuple[float, float] | None, again: tuple[float, float] | None,
) -> None:  # fmt: skip
    if early is None and again is None:
        ledger.say(
            "timing.double", Severity.GOOD,
            f"With a deaf time of {show(timing.deaf_until, 's')} no pass up to "
            f"{show(max(watch.movement.arc * SHARES[-1], 0), 'rad')} triggers twice.",
        )  # fmt: skip
        return
    changes: tuple[tuple[Change, ...], ...] = ()
    if again is not None:
        height = watch.outer(again[0], again[1] - 0.05 * movement.period)
        higher = float(f"{1.3 * height:.2e}")
        if higher < 0.9 * float(watch.at(movement.arc).signal.max()):
            text = f"{'-' if (design.pickup.threshold or 0) < 0 else ''}{higher:g} V"
            changes = ((Change(section="pickup", key="threshold", text=text),),)
        ledger.say(
            "timing.double", Severity.MIND,
            f"At an arc of {show(again[0], 'rad')} the same pass triggers again "
            f"{show(again[1], 's')} after the middle, when the deaf time of "
            f"{show(timing.deaf_until, 's')} has ended.",
            remedy="A higher threshold, or let the firmware stay deaf until the pass is over.",
            changes=changes, value=again[1], unit="s",
        )  # fmt: skip
        return
    assert early is not None
    ledger.say(
        "timing.double", Severity.MIND,
        f"At an arc of {show(early[0], 'rad')} an outer lobe triggers already "
        f"{show(-early[1], 's')} before the middle, ahead of the lobe that is meant.",
        remedy="A threshold above the outer lobe.", value=early[1], unit="s",
    )  # fmt: skip
