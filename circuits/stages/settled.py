"""Settled: the arc that the drive holds, the rate there, and what a wider pulse does to both."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError
from calc.follow import DrivenMovement
from calc.follow_beat import SettledSwing, beats
from calc.follow_free import clamp_braking
from calc.follow_settle import settled_arcs
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.driven import Driven
from circuits.format_quantity import DAY, show
from circuits.ledger import Basis, Ledger, Severity
from circuits.settling import LOWEST, settle_wide, widest_useful
from circuits.stages.clamp import ClampResult
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult
from circuits.stages.emf import EmfResult
from circuits.stages.filter import FilterResult
from circuits.stages.firing import PassesResult
from circuits.stages.linkage import LinkageResult
from circuits.stages.movement import MovementResult
from circuits.stages.pickup import PickupResult
from circuits.stages.pulse import PulseResult
from circuits.stages.rails import Rails
from circuits.stages.settled_findings import judge, width_change
from circuits.stages.settled_record import Drawn, SettledResult

__all__ = ["SettledResult", "size"]

WIDTHS = 9
_NEARER = 6
_STEP = 2e-3
"""Relative step of the arcs about a settled one."""


def size(
    design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails, coil: CoilResult,
    linkage: LinkageResult, movement: MovementResult, emf: EmfResult, drive: DriveResult,
    clamp: ClampResult, pickup: PickupResult, filter: FilterResult, pulse: PulseResult,
    passes: PassesResult,
) -> SettledResult | None:  # fmt: skip
    """Find where the movement settles and enter it into the sheet; None if it is not found."""
    driven = Driven(
        design=design, rails=rails, coil=coil, linkage=linkage, movement=movement, emf=emf,
        drive=drive, clamp=clamp, filter=filter, width=pulse.width, t_on=pulse.t_on,
        passes=passes, choice=pulse.choice,
    )  # fmt: skip
    if _beyond_the_turn(ledger, movement, pulse):
        return None
    arc = driven.movement.arc
    low = arc / LOWEST
    widest = widest_useful(
        pulse_width=pulse.width, best=pulse.best.width if pulse.best else 0.0,
        period=movement.period, t_on=pulse.t_on,
    )  # fmt: skip
    losses = (movement.q_low, movement.q_high) if movement.q_low < movement.q_high else ()
    try:
        system, weak = driven.system(), driven.system(spent=True)
        found = settle_wide(
            system, wanted=arc, arc_low=low, width_high=widest, widths=WIDTHS, q_factors=losses
        )
        fresh = found.settled
        spent = None
        if weak != system:
            spent = settled_arcs(weak, low, found.arc_high, found.arcs)
    except OutOfRangeError as error:
        reason, _, repair = str(error).partition(";")
        ledger.say(
            "rate.settles", Severity.MIND,
            f"Where it settles could not be found: {reason.partition(':')[2].strip()}.",
            remedy=f"First cure what fails; {repair.strip() or 'then look again'}.",
        )  # fmt: skip
        return None
    arc_spent, rate_spent, drawn_spent = None, None, None
    if spent:
        arc_spent, rate_spent = spent[-1]
        close = _closer(weak, arc_spent)
        if close is not None:
            arc_spent, drawn_spent = close
            rate_spent = weak.period / (2 * drawn_spent.time) - 1
    elif spent is None and fresh.held is not None:
        arc_spent, rate_spent = fresh.held.arc, fresh.held.rate
        drawn_spent = _drawn(fresh.held)
    share = _braking(driven, emf, pickup, fresh.held)
    result = SettledResult(
        fresh=fresh, held=fresh.held, arc_spent=arc_spent, rate_spent=rate_spent,
        brake_share=share, drawn=_drawn(fresh.held),
        drawn_spent=drawn_spent,
        i_pulse_middle=_middle(system, weak, fresh.held, arc_spent) if spent else None,
    )  # fmt: skip
    _enter(ledger, design, result)
    judge(design, catalogue, ledger, driven, system, result, found.arc_high)
    return result


def _drawn(held: SettledSwing | None) -> Drawn | None:
    if held is None:
        return None
    return Drawn(time=held.period / 2, e_supply=held.e_supply, e_mechanical=held.e_mechanical)


def _closer(system: DrivenMovement, arc: float) -> tuple[float, Drawn] | None:
    """Return the arc that is held near one read off a table, and what the pulses draw there."""
    arcs = arc * (1 + np.array([-_STEP, 0.0, _STEP]))
    beat = beats(system, arcs, np.array([system.pulse_width]), exact=False)
    growth = beat.arc_after[:, 0] - arcs
    if not np.isfinite(growth).all() or not growth[0] > growth[2]:
        return None
    step = _STEP * (growth[0] + growth[2]) / (growth[0] - growth[2])
    held = arc * (1 + float(np.clip(step, -0.1, 0.1)))

    def there(values: NDArray[np.float64]) -> float:
        return float(np.polynomial.Polynomial.fit(arcs, values[:, 0], 2)(held))

    return held, Drawn(
        time=there(beat.time), e_supply=there(beat.e_supply),
        e_mechanical=there(beat.e_mechanical),
    )  # fmt: skip


def _middle(
    system: DrivenMovement, weak: DrivenMovement, held: SettledSwing | None, arc: float | None
) -> float | None:
    """Return the pulses' mean current half-way between fresh and spent cells."""
    if held is None or arc is None or not system.v_supply > weak.v_supply:
        return None
    v = (system.v_supply + weak.v_supply) / 2
    drawn: list[float] = []
    near = (held.arc + arc) / 2
    # Between the switch's two laws, which differ by little.
    for law in (system.switch, weak.switch):
        middle = replace(
            system, v_supply=v, r_source=(system.r_source + weak.r_source) / 2, switch=law
        )
        for _ in range(_NEARER):
            close = _closer(middle, near)
            if close is None:
                return None
            step, near = abs(close[0] / near - 1), close[0]
            if step < _STEP:
                drawn.append(close[1].e_supply / v / close[1].time)
                break
    return sum(drawn) / 2 if len(drawn) == 2 else None


def _beyond_the_turn(ledger: Ledger, movement: MovementResult, pulse: PulseResult) -> bool:
    """Judge a pulse that is still on when the magnet turns round."""
    at_axis = float(movement.swing.time_at(np.array([movement.offset]))[0])
    turn = movement.swing.period / 4 - at_axis
    if pulse.t_on + pulse.width < turn:
        return False
    ledger.say(
        "rate.settles", Severity.FAILS,
        f"The pulse ends {show(pulse.t_on + pulse.width, 's')} after the magnet has passed the "
        f"coil's axis, but it turns round after {show(turn, 's')}: where it settles is not "
        "followed.",
        remedy="Shorten the pulse: what it gives on the way out it takes back on the way in.",
        changes=(width_change(0.3 * turn),),
    )  # fmt: skip
    return True


def _braking(
    driven: Driven, emf: EmfResult, pickup: PickupResult, held: SettledSwing | None
) -> float:
    """Return what pickup and clamp brake without a pulse, as a share of the mechanical loss."""
    wanted = driven.movement.arc
    arc = wanted if held is None else held.arc
    wave = emf.flux_rate if emf.flux_rate_pickup is None else emf.flux_rate_pickup
    load = {
        "at_switch": pickup.r_winding + pickup.r_upper + pickup.r_lower,
        "through_capacitor": pickup.r_winding + pickup.r_source_divider,
    }.get(pickup.arrangement, np.inf)
    # The EMF's square over a pass that is the shorter the faster it is: as the arc.
    listened = float(np.trapezoid(wave**2, emf.t)) / load * arc / wanted
    clamped = clamp_braking(driven.system(), arc, 1)
    return (listened + clamped) / (driven.movement.loss_typ * (arc / wanted) ** 2)


def _span(result: SettledResult, name: str) -> tuple[float | None, float | None]:
    """Return what the range of the quality factor makes of arc and rate, if each holds an arc."""
    others = [other for other in result.fresh.at_quality if other is not None]
    held = result.held
    if held is None or name not in ("arc_settled", "rate") or len(others) < 2:
        return None, None
    if name == "arc_settled":
        values = [held.arc, *(other.arc for other in others)]
    else:
        values = [DAY * rate for rate in (held.rate, *(other.rate for other in others))]
    return min(values), max(values)


def _enter(ledger: Ledger, design: Design, result: SettledResult) -> None:
    held, fresh = result.held, result.fresh
    computed = Basis.COMPUTED
    rule = "swing followed through pulse and losses until it repeats itself"
    if held is not None:
        for name, value, unit, words in (
            ("arc_settled", held.arc, "rad", "arc that is held"),
            ("rate", DAY * held.rate, "s/day",
             "rate there against the smallest free swing; negative loses"),
            ("impulse", DAY * held.impulse, "s/day", "share of it that the impulse makes"),
            ("settling", held.time_constant, "s", "time constant with which the arc settles"),
            ("slope_prompt", DAY * held.slope_prompt, "s/day/s",
             "change of the rate with the pulse width before the arc follows"),
        ):  # fmt: skip
            low, high = _span(result, name)
            ledger.value(
                f"rate.{name}", value, unit, words=words, basis=computed, rule=rule,
                state="fresh", low=low, high=high,
            )  # fmt: skip
        measured = design.rate.measured_slope
        ledger.value(
            "rate.slope", DAY * held.slope if measured is None else measured, "s/day/s",
            words="change of the rate with the pulse width once settled",
            basis=computed if measured is None else Basis.MEASURED,
            rule=rule if measured is None else "measured_slope", state="fresh",
        )  # fmt: skip
    if fresh.width_least is not None:
        ledger.value(
            "rate.width_least", fresh.width_least, "s",
            words="pulse width below which no arc is held", basis=computed, rule=rule,
            state="fresh",
        )  # fmt: skip
    if fresh.width_turning is not None:
        ledger.value(
            "rate.width_turning", fresh.width_turning, "s",
            words="pulse width beyond which a wider pulse makes it gain again", basis=computed,
            rule="least settled rate over the widths", state="fresh",
        )  # fmt: skip
    if result.arc_spent is not None and result.rate_spent is not None:
        ledger.value(
            "rate.arc_settled_spent", result.arc_spent, "rad", words="arc that is held",
            basis=computed, rule=rule, state="spent",
        )  # fmt: skip
        ledger.value(
            "rate.rate_spent", DAY * result.rate_spent, "s/day",
            words="rate there against the smallest free swing; negative loses",
            basis=computed, rule=rule, state="spent",
        )  # fmt: skip
    start = fresh.least_start
    if start is not None:
        ledger.value(
            "rate.arc_unstable", start.arc, "rad", words="arc below which it dies away",
            basis=computed, rule=rule, state="fresh",
        )  # fmt: skip
    ledger.value(
        "rate.brake_share", result.brake_share, "1",
        words="braking by pickup and clamp, as a share of the losses", basis=computed,
        rule="EMF squared over the load, and what the clamp's current takes",
    )  # fmt: skip
