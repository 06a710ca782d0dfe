"""Settled findings: what the settled arc, its rate and other widths mean for the maker."""

from math import degrees

from calc.follow import DrivenMovement
from calc.follow_beat import SettledSwing
from calc.follow_settle import Settled
from circuits.beats import beat_difference, beat_words
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.driven import Driven
from circuits.format_quantity import DAY, percent, show
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.stages.settled_record import SettledResult
from circuits.stages.stronger import stronger

SHORT = 0.9
"""Share of the wanted arc below which it is worth saying that it is not reached."""
FAR = 1.25
BRAKED = 0.05
"""Share of the losses from which electrical braking is worth minding."""
UNEVEN = 1e-3
"""s; beats that differ by more are worth minding when single beats are timed."""


def width_change(value: float) -> tuple[Change, ...]:
    """Return the change of the pulse width to a value."""
    return (Change(section="drive", key="pulse_width", text=f"{value * 1e3:.4g} ms"),)


def judge(
    design: Design, catalogue: Catalogue, ledger: Ledger, driven: Driven, system: DrivenMovement,
    result: SettledResult, high: float,
) -> None:  # fmt: skip
    """Judge where it settles, as far as `high`, and what that does to the rate."""
    held, fresh, wanted = result.held, result.fresh, driven.movement.arc
    there = "" if held is None else f" at {show(held.arc, 'rad')}, where it settles"
    ledger.at_most(
        "rate.braking", result.brake_share, BRAKED, "1",
        f"Pickup and clamp brake the free magnet by {percent(result.brake_share)} of its losses"
        f"{there}.",
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
            changes=[
                *([width_change(1.5 * least), width_change(2.5 * least)] if least else []),
                *_other_places(driven),
                *stronger(design, catalogue, driven.movement, 0.5),
            ],
        )  # fmt: skip
        return
    if held is None:
        ledger.say(
            "rate.settles", Severity.MIND,
            f"With fresh cells the arc still grows at {show(high, 'rad')}, more than twice "
            "the wanted one: it may strike the case.",
            remedy="Shorten the pulse or lower its duty while the cells are fresh.",
            changes=[width_change(0.7 * system.pulse_width)],
        )  # fmt: skip
        return
    _judge_arc(ledger, result, held, wanted)
    _judge_rate(design, ledger, result, held)
    _judge_turning(ledger, system, fresh, held)
    _judge_start(ledger, driven, fresh)
    _judge_beats(ledger, system, held)


def _other_places(driven: Driven) -> list[tuple[Change, ...]]:
    """Return the places of the pulse that turn most of the charge into motion."""
    choice = driven.choice
    if choice is None or choice.reachable is None:
        return []
    delay = choice.reachable.t_on - driven.filter.event_time
    width = width_change(1.1 * choice.reachable.width)
    text = f"{1e3 * max(delay, 0.0):.3g} ms"
    return [(Change(section="drive", key="pulse_delay", text=text), *width)]


def _judge_beats(ledger: Ledger, system: DrivenMovement, held: SettledSwing) -> None:
    found = beat_difference(system, held)
    if found is None:
        return
    if system.offset:
        ledger.value(
            "rate.beat_difference", found.difference, "s",
            words="how much longer the beat over the far side lasts, seen at the coil",
            basis=Basis.COMPUTED, rule="four times the swing's time from its middle to the coil",
            state="fresh",
        )  # fmt: skip
    ledger.value(
        "rate.swing_difference", found.swings, "s",
        words="how much longer the swing in the positive direction takes than the one back",
        basis=Basis.COMPUTED, rule="both swings followed through pulse and losses", state="fresh",
    )  # fmt: skip
    uneven = max(abs(found.difference), abs(found.swings)) > UNEVEN
    ledger.say(
        "rate.beats", Severity.MIND if uneven else Severity.GOOD, beat_words(system, found),
        remedy="Time whole periods, or move the coil under the middle of the swing."
        if uneven else "",
        value=found.difference if system.offset else found.swings, unit="s",
    )  # fmt: skip


def _judge_arc(ledger: Ledger, result: SettledResult, held: SettledSwing, wanted: float) -> None:
    spent = result.arc_spent
    text = f"It settles at {show(held.arc, 'rad')} with fresh cells"
    text += f" and at {show(spent, 'rad')} with spent ones" if spent else ""
    text += f", in {show(held.time_constant, 's')} to 1/e; wanted are {show(wanted, 'rad')}"
    others = result.fresh.at_quality
    if others and others[0] is None:
        text += "; with the lowest quality factor that may be, fresh cells hold no arc"
    elif len(others) > 1 and others[0] is not None and others[1] is not None:
        span = f"{show(others[0].arc, 'rad')} to {show(others[1].arc, 'rad')}"
        text += f"; the quality factor's range makes that {span}"
    remedy = ""
    if others and others[0] is None:
        remedy = "Measure the quality factor; until then allow for a wider pulse"
    elif held.arc > FAR * wanted:
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
        changes=(width_change(0.8 * turning),), soft=True,
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
