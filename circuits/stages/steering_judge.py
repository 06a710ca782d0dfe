"""What the planned loop is worth: sign, reach, margins, steps of the timer, and where it turns."""

from math import isfinite, log2, radians

import numpy as np

from calc.steering_curve import WidthPoint
from calc.steering_gains import quickest_loop
from calc.steering_plant import reversal
from circuits.design import Design
from circuits.format_quantity import DAY, percent, show, show_range, significant
from circuits.ledger import Change, Ledger, Severity
from circuits.stages.movement import MovementResult
from circuits.stages.settled import SettledResult
from circuits.stages.steering_loop import SteeringResult, curves_point, gain_to_set
from circuits.stages.steering_reach import BEFORE_TURN, KEEP_OFF, nut_words

LEAST_PHASE = radians(30.0)
LEAST_GAIN = 2.0
GAIN_SPAN = 3.0
ASIDE = 0.15
"""Share of the range by which a setting may be off its middle."""
TICK_SHARE = 1.0 / DAY
"""A tick of the width that moves the rate by more than a second a day is worth minding."""
COUNTER = 16
"""Bits of the timer that a small controller has."""


def judge(
    design: Design, ledger: Ledger, movement: MovementResult, result: SteeringResult,
    settled: SettledResult | None,
) -> None:  # fmt: skip
    """Enter every finding on the loop."""
    _sign(design, ledger, result)
    _reach(design, ledger, movement, result)
    _setting(design, ledger, movement, result)
    _ends(design, ledger, result, settled)
    _margins(design, ledger, result)
    _opposed(ledger, result)
    _quick(design, ledger, result)
    _steps(design, ledger, result)


def _rate(value: float) -> str:
    return show(abs(DAY * value), "s/day")


def _moves(value: float) -> str:
    return f"{'gains' if value > 0 else 'loses'} {_rate(value)}"


def _leave_out(*keys: str) -> tuple[Change, ...]:
    return tuple(Change(section="rate", key=key, text="") for key in keys)


def _milliseconds(key: str, width: float) -> Change:
    return Change(section="rate", key=key, text=f"{1e3 * width:.4g} ms")


def _sign(design: Design, ledger: Ledger, result: SteeringResult) -> None:
    """Judge the sign: a loop of the wrong one runs away to a limit of the width."""
    slope = result.fresh.slope
    basis = "as measured" if result.curves.measured else "as computed, not measured"
    text = (
        f"Where the loop works a pulse 1 ms wider {_moves(1e-3 * slope)} once settled ({basis}): "
        f"a movement that lags needs a {'wider' if slope > 0 else 'narrower'} pulse"
    )
    wrong = [
        key for key, gain in (("kp", design.rate.kp), ("ki", design.rate.ki))
        if gain is not None and gain * slope < 0
    ]  # fmt: skip
    if wrong:
        turned = tuple(
            Change(section="rate", key=key, text=f"{-getattr(design.rate, key):g}") for key in wrong
        )
        ledger.say(
            "steering.sign", Severity.FAILS,
            f"{text}, but {' and '.join(wrong)} {'has' if len(wrong) == 1 else 'have'} the other "
            "sign: the loop runs away to a limit of the width.",
            remedy="Turn the sign round, or state the measured slope if it is the other one.",
            changes=(turned, _leave_out(*wrong)),
        )  # fmt: skip
        return
    turned_by_haste = [
        key for key, gain in (("kp", result.kp), ("ki", result.ki))
        if getattr(design.rate, key) is None and gain * slope < 0
    ]  # fmt: skip
    if turned_by_haste:
        wanted = f"{4 * result.time_constant:.3g} s"
        longer = Change(section="rate", key="time_constant", text=wanted)
        ledger.say(
            "steering.sign", Severity.FAILS,
            f"{text}, but for a time constant of {show(result.time_constant, 's')} "
            f"{' and '.join(turned_by_haste)} would need the other sign: what a width does at once "
            "is over before the arc follows, and the loop would work on that alone.",
            remedy="Allow the loop more time, or measure the slope again.",
            changes=(_leave_out("time_constant"), (longer,)),
        )  # fmt: skip
        return
    if result.spent.slope * slope < 0:
        ledger.say(
            "steering.sign", Severity.FAILS,
            f"With fresh cells a pulse 1 ms wider {_moves(1e-3 * slope)}, with spent ones it "
            f"{_moves(1e-3 * result.spent.slope)}: no loop of fixed sign holds over their life.",
            remedy="Work at widths on one side of the turn, see 'follow --map', or feed "
            "the coil from a regulated rail.",
        )  # fmt: skip
        return
    ledger.say(
        "steering.sign", Severity.GOOD, f"{text}; kp and ki have that sign.",
        value=DAY * slope, unit="s/day/s",
    )  # fmt: skip


def _causes(result: SteeringResult) -> str:
    ranked = sorted(result.disturbances, key=lambda cause: -cause.span)
    return ", ".join(f"{cause.words} {_rate(cause.span)}" for cause in ranked)


def _wider(result: SteeringResult) -> list[tuple[Change, ...]]:
    """Return other limits of the width, as far as the curves go and no turning is passed."""
    fresh, spent = result.curves.fresh, result.curves.spent
    low = KEEP_OFF * float(fresh.widths[0])
    high = float(min(fresh.widths[-1], spent.widths[-1]))
    for branch in (result.branch_fresh, result.branch_spent):
        if branch.turned is not None:
            high = min(high, branch.high)
    found: list[tuple[Change, ...]] = []
    if low < 0.98 * result.width_min:
        found.append((_milliseconds("width_min", low),))
    if high > 1.02 * result.width_max:
        found.append((_milliseconds("width_max", high),))
    if len(found) == 2:
        found.append((found[0][0], found[1][0]))
    return found[::-1]


def _reach(
    design: Design, ledger: Ledger, movement: MovementResult, result: SteeringResult
) -> None:
    fresh, spent = result.branch_fresh, result.branch_spent
    sag = _sag(result)
    if result.authority <= 0:
        ledger.say(
            "steering.sag", Severity.FAILS,
            f"From {show_range(result.width_min, result.width_max, 's')} fresh cells settle "
            f"{_span(fresh.rate_low, fresh.rate_high)} from the smallest swing, spent ones "
            f"{_span(spent.rate_low, spent.rate_high)}: no rate is reached by both, so the loop "
            "loses its hold while the cells run down.",
            remedy="Widen the range of widths, or feed the coil from a regulated rail.",
            changes=_wider(result), value=DAY * result.authority, unit="s/day",
        )  # fmt: skip
    elif result.curves.known and result.curves.fresh is not result.curves.spent:
        ledger.say(
            "steering.sag", Severity.GOOD,
            f"The loop follows the cells from fresh to spent with "
            f"{show(result.fresh.width, 's')} to {show(result.spent.width, 's')} at an arc of "
            f"{show(result.fresh.arc, 'rad')}{sag}.",
            value=result.spent.width - result.fresh.width, unit="s",
        )  # fmt: skip
    elif not result.curves.known:
        ledger.say(
            "steering.sag", Severity.MEASURE,
            "Only the slope was measured, and where it settles could not be found: what the "
            "cells' running down does to the rate is not known.",
            remedy="Note the rate at one width with fresh cells and with spent ones.",
        )  # fmt: skip
    lacking = result.authority < result.needed
    rod = design.movement.rod_expansion
    changes = _wider(result) if lacking else []
    if lacking and rod is not None and rod > 2e-6:
        changes.append((Change(section="movement", key="rod_expansion", text="1e-6 1/K"),))
    hold = "does not cover" if lacking else "covers"
    ledger.at_least(
        "steering.authority", DAY * result.authority, DAY * result.needed, "s/day",
        f"With fresh and with spent cells the widths move the rate over "
        f"{show(max(DAY * result.authority, 0.0), 's/day')}, which {hold} the "
        f"{_rate(result.needed)} asked for: {_causes(result)}.",
        remedy="Widen the range of widths, keep the temperature or the rod steadier, or set the "
        "rate again after a move." if lacking else "",
        changes=changes[:4],
    )  # fmt: skip
    if movement.kind == "pendulum" and not design.movement.rod_expansion:
        ledger.say(
            "steering.rod", Severity.MIND,
            "What the rod's growth asks of the loop is not counted: rod_expansion in [movement] "
            "is not stated.",
            remedy="State rod_expansion, and the temperature span in [tolerance].",
        )  # fmt: skip


def _sag(result: SteeringResult) -> str:
    if not result.shift:
        return ""
    return f"; unsteered, at {show(result.width_now, 's')}, it {_moves(result.shift)} more by then"


def _span(one: float, other: float) -> str:
    low, high = sorted((DAY * one, DAY * other))
    return f"{significant(low)} to {significant(high)} s/day"


def _setting(
    design: Design, ledger: Ledger, movement: MovementResult, result: SteeringResult
) -> None:
    """Say how far to set the movement fast or slow, so that the loop has room to both sides."""
    gain = gain_to_set(design, movement, result)
    off = abs(gain) > ASIDE * max(result.authority, result.needed)
    nut = nut_words(design, movement, gain)
    how = f": {nut[1]}" if nut else ": by the spring or the timing masses"
    stand = (
        "From where target_period and period put it"
        if design.movement.target_period is not None
        else "From a movement that is on time unsteered"
    )
    text = (
        f"Unsteered, with fresh cells and a pulse of {show(result.width_now, 's')}, set it so that "
        f"it {_moves(result.set_rate)}: then the loop works from the middle of its range. {stand}, "
        f"make it {'gain' if gain > 0 else 'lose'} {_rate(gain)}{how}."
    )
    ledger.say(
        "steering.setting", Severity.MIND if off else Severity.GOOD, text,
        remedy="Half of it first, then count again." if off else "", value=DAY * gain,
        unit="s/day",
    )  # fmt: skip


def _ends(
    design: Design, ledger: Ledger, result: SteeringResult, settled: SettledResult | None
) -> None:
    turning = settled.fresh.width_turning if settled is not None else None
    if turning is not None:
        ledger.at_most(
            "steering.turning", result.width_max, turning, "s",
            f"width_max is {show(result.width_max, 's')}; beyond {show(turning, 's')} a wider "
            "pulse moves the rate the other way and the loop runs away.",
            remedy="Keep width_max below it." if result.width_max > BEFORE_TURN * turning else "",
            changes=((_milliseconds("width_max", BEFORE_TURN * turning),),),
        )  # fmt: skip
    for state, branch in (("fresh", result.branch_fresh), ("spent", result.branch_spent)):
        if branch.turned is None:
            continue
        stated = design.rate.width_min is not None or design.rate.width_max is not None
        key, inside = ("width_max", 0.98)
        if branch.turned <= branch.low * 1.001:
            key, inside = ("width_min", 1.02)
        ledger.say(
            f"steering.turned_{state}", Severity.FAILS if stated else Severity.MIND,
            f"With {state} cells the rate turns round at {show(branch.turned, 's')}: on the other "
            "side a wider pulse moves it the other way, and a loop of fixed sign runs away.",
            remedy=f"Keep {key} on this side of it.",
            changes=((_milliseconds(key, branch.turned * inside),),),
            value=branch.turned, unit="s",
        )  # fmt: skip
    least = float(result.curves.spent.widths[0])
    if result.curves.known and result.width_min < 0.99 * least:
        ledger.say(
            "steering.least", Severity.MIND,
            f"With spent cells no width below about {show(least, 's')} holds an arc, while "
            f"width_min is {show(result.width_min, 's')}: a loop that narrows so far late in the "
            "cells' life lets it stop.",
            remedy="Let the firmware keep the width above the least that holds the arc at the "
            "supply it measures, or change the cells earlier.",
            value=result.width_min, unit="s",
        )  # fmt: skip
    slopes = np.abs([p.slope for p in _points(result)])
    span = float(slopes.max() / slopes.min()) if slopes.min() else np.inf
    if isfinite(span):
        ledger.at_most(
            "steering.gain_span", span, GAIN_SPAN, "1",
            f"Over widths and cells the loop's gain changes {significant(span)}-fold, from "
            f"{show_range(DAY * float(slopes.min()), DAY * float(slopes.max()), 's/day/s')}.",
            remedy="Narrow the range of widths, or let the firmware hold the gains to the width."
            if span > 0.9 * GAIN_SPAN else "",
            soft=True,
        )  # fmt: skip


def _points(result: SteeringResult) -> list[WidthPoint]:
    ends = [
        curves_point(branch, width)
        for branch in (result.branch_fresh, result.branch_spent)
        for width in (branch.low, branch.high)
    ]
    return [result.fresh, result.spent, *ends]


def _margins(design: Design, ledger: Ledger, result: SteeringResult) -> None:
    margins = result.margins
    stated = [k for k in ("kp", "ki", "time_constant") if getattr(design.rate, k) is not None]
    names = f"Other {' and '.join(stated)}" if stated else "A longer time_constant"
    ledger.at_least(
        "steering.phase_margin", margins.phase_margin, LEAST_PHASE, "rad",
        f"The loop keeps a phase margin of {show(margins.phase_margin, 'rad')}, at its "
        f"least with {result.margins_at}.",
        remedy=f"{names}, or a narrower range of widths."
        if margins.phase_margin < 1.1 * LEAST_PHASE else "",
        changes=(_leave_out(*stated),) if stated else (),
    )  # fmt: skip
    if isfinite(margins.gain_margin):
        ledger.at_least(
            "steering.gain_margin", margins.gain_margin, LEAST_GAIN, "1",
            f"It could pull {significant(margins.gain_margin)} times as hard before it swings by "
            "itself.",
            remedy=f"{names}." if margins.gain_margin < 1.1 * LEAST_GAIN else "",
            changes=(_leave_out(*stated),) if stated else (),
        )  # fmt: skip


def _opposed(ledger: Ledger, result: SteeringResult) -> None:
    """Non-minimum phase: a correction first makes it worse."""
    for state, point in (("fresh", result.fresh), ("spent", result.spent)):
        if point.slope * point.slope_prompt >= 0:
            continue
        found = reversal(
            slope=point.slope, slope_prompt=point.slope_prompt, time_constant=point.time_constant
        )
        ledger.say(
            f"steering.opposed_{state}", Severity.MIND,
            f"With {state} cells a correction first moves the rate the wrong way, for "
            f"{show(found.time, 's')}, and is up to {show(abs(found.phase_error) * 1e-3, 's')} "
            "behind for each millisecond of width, before the arc follows.",
            remedy="The planned gains wait for it; do not make the loop quicker.",
            value=found.time, unit="s",
        )  # fmt: skip


def _quick(design: Design, ledger: Ledger, result: SteeringResult) -> None:
    slowest = max(result.fresh.time_constant, result.spent.time_constant)
    least = quickest_loop(time_constant=slowest)
    stated = design.rate.time_constant is not None
    gains = design.rate.kp is not None or design.rate.ki is not None
    ledger.at_least(
        "steering.time_constant", result.time_constant, least, "s",
        f"The loop brings an error to 1/e in {show(result.time_constant, 's')}; the arc follows in "
        f"{show(slowest, 's')}, so nothing below {show(least, 's')} is to be had without "
        "swinging.",
        remedy="Allow the loop more time, or lower the quality factor."
        if result.time_constant < 1.1 * least else "",
        changes=((Change(section="rate", key="time_constant", text=f"{1.2 * least:.3g} s"),),)
        if stated and not gains else (),
        soft=True,
    )  # fmt: skip


def _steps(design: Design, ledger: Ledger, result: SteeringResult) -> None:
    tick, beat = result.tick, result.beat
    allowed = design.rate.allowed_error
    one = abs(result.fresh.slope) * tick
    limit = TICK_SHARE * DAY if allowed is None else allowed
    ledger.at_most(
        "steering.width_tick", DAY * one, limit, "s/day",
        f"One tick of {show(tick, 's')} on the width moves the rate by {_rate(one)}: the loop "
        f"works between two widths that lie so far apart.",
        remedy="A finer tick for the pulse, or a narrower slope: fewer turns or a lower duty."
        if DAY * one > 0.9 * limit else "",
        soft=True,
    )  # fmt: skip
    ticks = beat / tick
    lost = abs(round(ticks) / ticks - 1)
    parts = abs(round(result.interval / tick * 65536) / 65536 / (result.interval / tick) - 1)
    ledger.say(
        "steering.rounding",
        Severity.MIND if DAY * lost > (0.1 if allowed is None else 0.1 * allowed)
        else Severity.GOOD,
        f"A beat is {ticks:.3f} ticks: kept in whole ticks it costs {_rate(lost)} for good, kept "
        f"for the whole interval in 65536ths of a tick {_rate(parts)}.",
        remedy="Keep the nominal interval with a fraction, as the written constants do.",
        value=DAY * lost, unit="s/day",
    )  # fmt: skip
    bits = log2(result.interval / tick)
    wraps = 2**COUNTER * tick
    ledger.say(
        "steering.counter", Severity.MIND if bits > COUNTER else Severity.GOOD,
        f"An interval of {result.beats_per_correction} beats is {result.interval / tick:.0f} "
        f"ticks: a counter of {COUNTER} bits wraps every {show(wraps, 's')}"
        + (", so its overflows must be counted, else a difference is taken of what has wrapped."
           if bits > COUNTER else " and holds it."),
        remedy="Extend the timer in its overflow interrupt to 32 bits, and take differences "
        "without sign." if bits > COUNTER else "",
    )  # fmt: skip
    if allowed is not None and result.jitter > 0:
        ledger.say(
            "steering.jitter", Severity.GOOD,
            f"The event's jitter of {show(result.jitter, 's')} moves the width by "
            f"{show(abs(result.kp) * result.jitter, 's')} from one correction to the next, "
            f"{percent(abs(result.kp) * result.jitter / result.fresh.width)} of it.",
        )  # fmt: skip
