"""Steering: the loop that compares the swing with the crystal and trims the pulse width."""

from dataclasses import replace
from math import isfinite

from calc.calculator import OutOfRangeError
from calc.steering_gains import quickest_loop
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.driven import Driven
from circuits.format_quantity import DAY
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.stages.clamp import ClampResult
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult
from circuits.stages.emf import EmfResult
from circuits.stages.filter import FilterResult
from circuits.stages.firing import PassesResult
from circuits.stages.linkage import LinkageResult
from circuits.stages.movement import MovementResult
from circuits.stages.pulse import PulseResult
from circuits.stages.rails import Rails
from circuits.stages.rate import RateResult
from circuits.stages.settled import SettledResult
from circuits.stages.steering_judge import judge
from circuits.stages.steering_loop import CORRECTIONS, QUICK, SteeringResult, gain_to_set, planned
from circuits.stages.steering_reach import (
    Branch,
    Curves,
    branch_of,
    curves_of,
    limits_of,
    nut_words,
    side_of,
)
from circuits.stages.timing import TimingResult

ASKED = ("time_constant", "width_min", "width_max", "kp", "ki", "measured_slope")
"""Keys of [rate] that ask for a loop."""
GROUPS = (("kp", "ki"), ("time_constant",), ("width_min", "width_max"))
"""Keys of it that are left out together, where no loop can be planned with them."""


def size(
    design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails, coil: CoilResult,
    linkage: LinkageResult, movement: MovementResult, emf: EmfResult, drive: DriveResult,
    clamp: ClampResult, filter: FilterResult, pulse: PulseResult, timing: TimingResult,
    passes: PassesResult, rate: RateResult, settled: SettledResult | None,
) -> SteeringResult | None:  # fmt: skip
    """Plan the loop where the design file asks for one; None where it does not or nothing holds."""
    del catalogue
    if all(getattr(design.rate, key) is None for key in ASKED):
        return None
    driven = Driven(
        design=design, rails=rails, coil=coil, linkage=linkage, movement=movement, emf=emf,
        drive=drive, clamp=clamp, filter=filter, width=pulse.width, t_on=pulse.t_on,
        passes=passes,
    )  # fmt: skip
    return plan_loop(design, ledger, driven, rate, settled, timing.jitter)


def plan_loop(
    design: Design, ledger: Ledger, driven: Driven, rate: RateResult,
    settled: SettledResult | None, jitter: float,
) -> SteeringResult | None:  # fmt: skip
    """Plan the loop and enter it into the sheet; None where no plant is known."""
    movement = driven.movement
    held = settled.held if settled is not None else None
    try:
        curves = curves_of(design, driven, settled, held.slope_prompt if held else 0.0)
    except OutOfRangeError as error:
        refuse(design, ledger, error)
        return None
    if curves is None:
        ledger.say(
            "steering.plan", Severity.MEASURE,
            "No loop can be planned: it is not known where the movement settles, so no width moves "
            "its rate by a known amount.",
            remedy="First cure what rate.settles says; or let it settle at two widths and state "
            "measured_slope in [rate].",
        )  # fmt: skip
        return None
    low, high = limits_of(design, curves, settled, driven.width, movement.arc)
    fresh, spent = _branches(curves, low, high, movement.arc)
    if fresh is not None and spent is not None:
        # A limit that is left to us keeps off a turn.
        off = [(b.turned, b.turned <= 1.001 * b.low) for b in (fresh, spent) if b.turned]
        if design.rate.width_min is None:
            low = max([low, *(1.02 * at for at, below in off if below)])
        if design.rate.width_max is None:
            high = max(1.02 * low, min([high, *(0.98 * at for at, below in off if not below)]))
        fresh, spent = _branches(curves, low, high, movement.arc)
    if fresh is None or spent is None:
        state = "fresh" if fresh is None else "spent"
        ledger.say(
            "steering.plan", Severity.FAILS,
            f"Between {1e3 * low:.4g} and {1e3 * high:.4g} ms no width holds an arc with {state} "
            "cells: there is nothing to steer.",
            remedy="Move width_min and width_max to where an arc is held, see rate.width_least.",
        )  # fmt: skip
        return None
    try:
        result = planned(
            design, ledger, driven, rate, curves, (fresh, spent), (low, high), jitter
        )  # fmt: skip
    except OutOfRangeError as error:
        refuse(design, ledger, error)
        return None
    result = replace(result, shift=_shift(result, settled))
    if design.rate.kp is None or design.rate.ki is None:
        ledger.assume(
            "steering.damping", result.damping, "1",
            "of the sized gains: a step overshoots by a few per cent; common practice, no source",
        )  # fmt: skip
    _enter(design, ledger, movement, result)
    judge(design, ledger, movement, result, settled)
    return result


def _shift(result: SteeringResult, settled: SettledResult | None) -> float | None:
    """Return what the cells' running down does unsteered: as the sheet settles it, if it does."""
    curves = result.curves
    if not curves.known:
        return None
    if settled is not None and not curves.measured:
        held, rate_spent = settled.held, settled.rate_spent
        if held is not None and rate_spent is not None:
            return rate_spent - held.rate
    width = result.width_now
    ends = [curve.widths[k] for curve in (curves.fresh, curves.spent) for k in (0, -1)]
    if not max(ends[0], ends[2]) <= width <= min(ends[1], ends[3]):
        return None
    return curves.spent.at(width).rate - curves.fresh.at(width).rate


def refuse(design: Design, ledger: Ledger, error: OutOfRangeError) -> None:
    """Say in words why there is no loop: figures of which nothing follows are no bad file."""
    reason, _, repair = str(error).partition(";")
    reason = reason.removeprefix("steering: ").removeprefix("regulator: ").strip()
    stated = [key for key in ASKED if getattr(design.rate, key) is not None]
    groups = [[key for key in keys if key in stated] for keys in GROUPS]
    repair = repair.strip()
    ledger.say(
        "steering.plan", Severity.FAILS, f"No loop can be planned: {reason}.",
        remedy=f"{repair[:1].upper()}{repair[1:]}." if repair
        else "Leave kp, ki, time_constant and the widths out, and look at what is sized.",
        changes=tuple(
            tuple(Change(section="rate", key=key, text="") for key in keys)
            for keys in [*groups, stated] if keys
        ),
    )  # fmt: skip


def _branches(
    curves: Curves, low: float, high: float, arc: float
) -> tuple[Branch | None, Branch | None]:
    """Return the widths of both states over which the rate goes one way, and the same way."""
    fresh, spent = (
        branch_of(curve, low, high, curve.width_of_arc(arc))
        for curve in (curves.fresh, curves.spent)
    )
    if fresh is not None and spent is not None and fresh.falls != spent.falls:
        # The design's own width is sized for spent cells: their side of a turn decides.
        fresh = side_of(curves.fresh, low, high, spent.falls) or fresh
    return fresh, spent


def _enter(
    design: Design, ledger: Ledger, movement: MovementResult, result: SteeringResult
) -> None:
    sized, computed, stated = Basis.SIZED, Basis.COMPUTED, Basis.STATED
    own, rate = design.rate, "rates once settled over the widths, fresh and spent cells"
    sign = 1 if result.direction > 0 else -1
    ends = {-1: result.reach_low, 1: result.reach_high}
    rows: list[tuple[str, float | int | str, str | None, str, Basis, str]] = [
        ("kp", result.kp, "1", "width for each second that the movement lags",
         sized if own.kp is None else stated, "one pair of poles placed, damping 0.7"),
        ("ki", result.ki, "1", "width for each second of lag, summed once a correction",
         sized if own.ki is None else stated, "one pair of poles placed, damping 0.7"),
        ("time_constant", result.time_constant, "s", "time in which the loop brings an error to "
         "1/e", sized if own.time_constant is None else stated,
         f"{QUICK:g} time constants of the arc, longer where the margin asks for it"),
        ("interval", result.interval, "s", "time between two corrections", sized,
         f"about a {CORRECTIONS}th of the time constant, an even number of beats"),
        ("beats_per_correction", result.beats_per_correction, "1", "beats between two corrections",
         sized, "even, so that a difference of to and fro does not count"),
        ("direction", "wider gains" if result.direction > 0 else "wider loses", None,
         "which way a wider pulse moves the rate",
         Basis.MEASURED if result.curves.measured else computed,
         "measured_slope" if result.curves.measured else "sign of the settled slope"),
        ("slope", DAY * result.fresh.slope, "s/day/s", "settled slope where the loop works",
         computed, rate),
        ("arc_settling", result.fresh.time_constant, "s", "time constant of the arc there",
         computed, "from the growth of neighbouring arcs"),
        ("width_min", result.width_min, "s", "narrowest pulse of the loop",
         sized if own.width_min is None else stated, "above the least that holds an arc"),
        ("width_max", result.width_max, "s", "widest pulse of the loop",
         sized if own.width_max is None else stated, "below the turning point"),
        ("width_fresh", result.fresh.width, "s", "width on time with fresh cells", computed, rate),
        ("width_spent", result.spent.width, "s", "width on time with spent cells", computed, rate),
        ("arc", result.fresh.arc, "rad", "arc at which it is on time", computed, rate),
        ("authority", DAY * result.authority, "s/day",
         "span of the rate that the widths reach with fresh and with spent cells", computed, rate),
        ("authority_at_width_min", DAY * (ends[-sign] - result.rate_target), "s/day",
         "change of the rate at width_min; negative loses", computed, rate),
        ("authority_at_width_max", DAY * (ends[sign] - result.rate_target), "s/day",
         "change of the rate at width_max; negative loses", computed, rate),
        ("needed", DAY * result.needed, "s/day", "span of the rate that the disturbances need",
         computed, "sum of the causes, from their least to their greatest"),
        ("phase_margin", result.margins.phase_margin, "rad", "phase margin, at its least",
         computed, f"frequency response of the sampled loop, {result.margins_at}"),
        ("width_tick", DAY * abs(result.fresh.slope) * result.tick, "s/day",
         "what one tick of the timer on the width does to the rate", computed, "slope x tick"),
        ("set_rate", DAY * result.set_rate, "s/day",
         "rate to set by nut or spring, unsteered, fresh cells, at the design's own width",
         computed, "then the loop works from the middle of its range"),
        ("quickest", quickest_loop(time_constant=result.fresh.time_constant), "s",
         "time constant below which the arc is too slow for the loop", computed,
         "three time constants of the arc"),
    ]  # fmt: skip
    if isfinite(result.margins.gain_margin):
        rows.append(("gain_margin", result.margins.gain_margin, "1",
                     "factor by which the loop may pull harder", computed,
                     "frequency response of the sampled loop"))  # fmt: skip
    for name, value, unit, words, basis, rule in rows:
        ledger.value(f"steering.{name}", value, unit, words=words, basis=basis, rule=rule)
    _enter_nut(design, ledger, movement, result)
    for cause in result.disturbances:
        ledger.value(
            f"steering.by_{cause.name}", DAY * cause.span, "s/day",
            words=f"span of the rate by {cause.words}", basis=computed, rule=cause.rule,
        )  # fmt: skip


def _enter_nut(
    design: Design, ledger: Ledger, movement: MovementResult, result: SteeringResult
) -> None:
    found = nut_words(design, movement, gain_to_set(design, movement, result))
    if found is None:
        return
    change, _ = found
    start = "from the target period" if design.movement.target_period else (
        "from a movement that is on time unsteered at the design's own width"
    )  # fmt: skip
    ledger.value(
        "steering.length_change", change, "m",
        words="change of length for the middle of the range; positive lowers the bob",
        basis=Basis.COMPUTED, rule=f"effective length ((1 + rate)^2 - 1), {start}",
    )  # fmt: skip
    if design.movement.nut_pitch is not None:
        ledger.value(
            "steering.nut_turns", change / design.movement.nut_pitch, "1",
            words="turns of the rating nut for it; positive lowers the bob",
            basis=Basis.COMPUTED, rule="change of length / nut_pitch",
        )  # fmt: skip
