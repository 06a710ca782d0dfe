"""Settled: the arc that the drive holds, the rate there, and what a wider pulse does to both."""

from dataclasses import dataclass
from math import degrees

import numpy as np

from calc.calculator import OutOfRangeError
from calc.follow import DrivenMovement
from calc.follow_beat import SettledSwing
from calc.follow_free import clamp_braking
from calc.follow_settle import Settled, settle, settled_arcs
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.driven import Driven
from circuits.format_quantity import DAY, percent, show
from circuits.ledger import Basis, Change, Ledger, Severity
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

WIDEST_ARC = 1.2
"""rad; beyond it nobody lets a pendulum with a coil under it swing."""
WIDTHS = 9
REACHES = ((2.2, 10), (5.0, 18), (12.0, 30))
"""How far beyond the wanted arc to look, in turn, and with how many arcs."""
SHORT = 0.9
"""Share of the wanted arc below which it is worth saying that it is not reached."""
FAR = 1.25
BRAKED = 0.05
"""Share of the losses from which electrical braking is worth minding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SettledResult:
    """Settled swings with fresh cells, and the arc with spent ones; None where none is held."""

    fresh: Settled
    held: SettledSwing | None
    arc_spent: float | None
    rate_spent: float | None
    brake_share: float


def size(
    design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails, coil: CoilResult,
    linkage: LinkageResult, movement: MovementResult, emf: EmfResult, drive: DriveResult,
    clamp: ClampResult, pickup: PickupResult, filter: FilterResult, pulse: PulseResult,
    passes: PassesResult,
) -> SettledResult | None:  # fmt: skip
    """Find where the movement settles and enter it into the sheet; None if it is not found."""
    del catalogue
    driven = Driven(
        design=design, rails=rails, coil=coil, linkage=linkage, movement=movement, emf=emf,
        drive=drive, clamp=clamp, filter=filter, width=pulse.width, t_on=pulse.t_on,
        passes=passes,
    )  # fmt: skip
    if _beyond_the_turn(ledger, movement, pulse):
        return None
    arc = driven.movement.arc
    low = arc / 6
    most = max(WIDEST_ARC, 1.2 * arc) if movement.kind == "pendulum" else np.inf
    room = 0.23 * movement.period - max(pulse.t_on, 0.0)
    useful = max(pulse.width, pulse.best.width if pulse.best else 0.0)
    widest = min(2.5 * useful, max(room, 1.05 * pulse.width))
    try:
        system, weak = driven.system(), driven.system(spent=True)
        # Most designs settle near the wanted arc; only one that outgrows it is followed further.
        for reach, arcs in REACHES:
            high = min(reach * arc, most)
            fresh = settle(
                movement=system, arc_low=low, arc_high=high, width_high=widest, arcs=arcs,
                widths=WIDTHS, exact=False,
            )  # fmt: skip
            if fresh.held is not None or not fresh.grows or high >= most:
                break
        spent = None
        if weak != system:
            spent = settled_arcs(weak, low, high, arcs)
    except OutOfRangeError as error:
        reason, _, repair = str(error).partition(";")
        ledger.say(
            "rate.settles", Severity.MIND,
            f"Where it settles could not be found: {reason.partition(':')[2].strip()}.",
            remedy=f"First cure what fails; {repair.strip() or 'then look again'}.",
        )  # fmt: skip
        return None
    arc_spent, rate_spent = None, None
    if spent:
        arc_spent, rate_spent = spent[-1]
    elif spent is None and fresh.held is not None:
        arc_spent, rate_spent = fresh.held.arc, fresh.held.rate
    share = _braking(driven, emf, pickup, fresh.held)
    result = SettledResult(
        fresh=fresh, held=fresh.held, arc_spent=arc_spent, rate_spent=rate_spent,
        brake_share=share,
    )  # fmt: skip
    _enter(ledger, design, result)
    _judge(design, ledger, driven, system, result, high)
    return result


def _beyond_the_turn(ledger: Ledger, movement: MovementResult, pulse: PulseResult) -> bool:
    """Judge a pulse that is still on when the magnet turns round."""
    turn = movement.swing.period / 4 - movement.offset / movement.speed
    if pulse.t_on + pulse.width < turn:
        return False
    ledger.say(
        "rate.settles", Severity.FAILS,
        f"The pulse ends {show(pulse.t_on + pulse.width, 's')} after the middle, but the magnet "
        f"turns round after {show(turn, 's')}: where it settles is not followed.",
        remedy="Shorten the pulse: what it gives on the way out it takes back on the way in.",
        changes=(_width(0.3 * turn),),
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
            ledger.value(
                f"rate.{name}", value, unit, words=words, basis=computed, rule=rule, state="fresh"
            )
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
        rule="EMF squared over the load, and the clamp's current beyond its knee",
    )  # fmt: skip


def _width(value: float) -> tuple[Change, ...]:
    return (Change(section="drive", key="pulse_width", text=f"{value * 1e3:.4g} ms"),)


def _judge(
    design: Design, ledger: Ledger, driven: Driven, system: DrivenMovement, result: SettledResult,
    high: float,
) -> None:  # fmt: skip
    held, fresh, wanted = result.held, result.fresh, driven.movement.arc
    ledger.at_most(
        "rate.braking", result.brake_share, BRAKED, "1",
        f"Pickup and clamp brake the free magnet by {percent(result.brake_share)} of its losses.",
        remedy="Larger divider resistors, or a clamp whose knee the EMF does not reach."
        if result.brake_share > 0.9 * BRAKED else "",
        soft=True,
    )  # fmt: skip
    if held is None and not fresh.grows:
        least = fresh.width_least
        would = f"below {show(least, 's')} none does" if least else "no width looked at does"
        ledger.say(
            "rate.settles", Severity.FAILS,
            f"A pulse of {show(system.pulse_width, 's')} holds no arc at all, even with fresh "
            f"cells; {would}.",
            remedy="Widen or move the pulse, thin the gap, or lower the losses.",
            changes=[_width(1.5 * least), _width(2.5 * least)] if least else [],
        )  # fmt: skip
        return
    if held is None:
        ledger.say(
            "rate.settles", Severity.MIND,
            f"With fresh cells the arc still grows at {show(high, 'rad')}, more than twice "
            "the wanted one: it may strike the case.",
            remedy="Shorten the pulse or lower its duty while the cells are fresh.",
            changes=[_width(0.7 * system.pulse_width)],
        )  # fmt: skip
        return
    _judge_arc(ledger, result, held, wanted)
    _judge_rate(design, ledger, result, held)
    _judge_turning(ledger, system, fresh, held)
    _judge_start(ledger, driven, fresh)


def _judge_arc(ledger: Ledger, result: SettledResult, held: SettledSwing, wanted: float) -> None:
    spent = result.arc_spent
    text = f"It settles at {show(held.arc, 'rad')} with fresh cells"
    text += f" and at {show(spent, 'rad')} with spent ones" if spent else ""
    text += f", in {show(held.time_constant, 's')} to 1/e; wanted are {show(wanted, 'rad')}"
    remedy = ""
    if held.arc > FAR * wanted:
        remedy = "Let the steering narrow the pulse while the cells are fresh, or regulate the rail"
    elif spent is None:
        remedy = "With spent cells no arc is held: widen the pulse"
    elif spent < SHORT * wanted:
        remedy = "Widen the pulse, or be content with this arc"
    ledger.say(
        "rate.settles", Severity.MIND if remedy else Severity.GOOD, f"{text}.",
        remedy=f"{remedy}." if remedy else "", value=held.arc, unit="rad",
    )  # fmt: skip


def _judge_rate(design: Design, ledger: Ledger, result: SettledResult, held: SettledSwing) -> None:
    late = "after" if held.impulse < 0 else "before"
    text = (
        f"At that arc it {_moves(held.rate)} against its smallest swing: {_moves(held.circular)} "
        f"by the arc, {_moves(held.impulse)} by the impulse, which falls mostly {late} the middle. "
        f"With a pulse 1 ms wider it {_moves(1e-3 * held.slope)} more once settled and "
        f"{_moves(1e-3 * held.slope_prompt)} more at once."
    )
    opposed = held.slope * held.slope_prompt < 0
    ledger.say(
        "rate.settled", Severity.MIND if opposed else Severity.GOOD, text,
        remedy="At first the rate goes the other way: let the steering wait for the arc, some "
        f"{show(2 * held.time_constant, 's')}." if opposed else "",
        value=DAY * held.rate, unit="s/day",
    )  # fmt: skip
    if result.rate_spent is None:
        return
    sag = DAY * (result.rate_spent - held.rate)
    allowed = design.rate.allowed_error
    said = (
        f"From fresh to spent cells it {_moves(sag / DAY)} more, since the arc changes from "
        f"{show(held.arc, 'rad')} to {show(result.arc_spent or 0.0, 'rad')}."
    )
    cure = "Steer the pulse width, or feed the coil from a regulated rail."
    if allowed:
        ledger.at_most("rate.supply", abs(sag), allowed, "s/day", said, remedy=cure, soft=True)
    elif abs(sag) > 1:
        ledger.say("rate.supply", Severity.MIND, said, remedy=cure, value=sag, unit="s/day")


def _moves(rate: float) -> str:
    return f"{'gains' if rate > 0 else 'loses'} {show(abs(DAY * rate), 's/day')}"


def _judge_turning(
    ledger: Ledger, system: DrivenMovement, fresh: Settled, held: SettledSwing
) -> None:
    turning = fresh.width_turning
    if turning is None:
        return
    width = system.pulse_width
    beyond = held.slope > 0
    text = (
        f"Up to {show(turning, 's')} a wider pulse makes it lose, beyond that it gains: at "
        f"{show(width, 's')} it {'gains' if beyond else 'loses'}."
    )
    ledger.at_most(
        "rate.turning", width, turning, "s", text,
        remedy="A loop of fixed sign runs away beyond the turning point: keep width_max in [rate] "
        f"below {show(turning, 's')}." if width > 0.9 * turning else "",
        changes=(_width(0.8 * turning),), soft=True,
    )  # fmt: skip


def _judge_start(ledger: Ledger, driven: Driven, fresh: Settled) -> None:
    trigger, radius = driven.trigger(), driven.movement.radius
    start = fresh.least_start
    least = max(start.arc if start is not None else 0.0, trigger.arc_least)
    if trigger.kind == "place":
        least = max(least, trigger.lead / radius)
    if not least:
        ledger.say(
            "rate.start", Severity.GOOD,
            "Every arc looked at below the settled one grows: a small push by hand starts it.",
        )  # fmt: skip
        return
    ledger.say(
        "rate.start", Severity.MIND,
        f"Below {show(least, 'rad')} it dies away: to start it, push it to more than "
        f"{degrees(1.2 * least):.2g} degrees, {show(1.2 * least * radius, 'm')} at the magnet.",
        remedy="Start it by hand beyond that arc; after a stop it does not start by itself.",
        value=least, unit="rad",
    )  # fmt: skip
