"""What rounding, wrapping and saturating do to the firmware's constants."""

from math import floor, log2

from calc.regulator import ONE_TICK, RegulatorConstants
from calc.regulator_sizing import INT64, RegulatorMagnitudes
from circuits.format_quantity import DAY, percent, show, significant
from circuits.ledger import Ledger, Severity
from circuits.stage_pass import StagePass
from circuits.stages.steering_loop import SteeringResult

SHORT = 16
"""Bits of a small controller's timer."""
FEW_COUNTS = 5
FEW_STEPS = 20
GAIN_LOST = 0.01
SMALL = 0.01
"""s/day; what rounding may cost without a word where no error is allowed in numbers."""


def judge(
    ledger: Ledger, done: StagePass, loop: SteeringResult, of_loop: Ledger,
    regulator: RegulatorConstants, most: RegulatorMagnitudes,
) -> None:  # fmt: skip
    """Enter every finding on the constants."""
    for finding in of_loop.findings.values():
        if finding.severity is Severity.FAILS:
            ledger.findings[finding.id] = finding
    _counter(ledger, loop, regulator)
    _rounding(ledger, done, loop, regulator)
    _gains(ledger, loop, regulator)
    _saturation(ledger, loop, regulator)
    _threshold(ledger, done)
    bits = most.number.bit_length()
    ledger.say(
        "constants.overflow", Severity.GOOD,
        f"Whatever the timer counts, no number of a step needs more than {bits} of 63 bits.",
        value=float(INT64 / most.number), unit="1",
    )  # fmt: skip


def _counter(ledger: Ledger, loop: SteeringResult, regulator: RegulatorConstants) -> None:
    ticks = regulator.nominal / ONE_TICK
    wraps = (1 << SHORT) * loop.tick
    if ticks < 1 << SHORT:
        ledger.say(
            "constants.counter", Severity.GOOD,
            f"An interval of {ticks:.0f} ticks fits a counter of {SHORT} bits.",
        )  # fmt: skip
        return
    ledger.say(
        "constants.counter", Severity.MIND,
        f"An interval of {ticks:.0f} ticks needs {floor(log2(ticks)) + 1} bits: a counter of "
        f"{SHORT} bits goes round every {show(wraps, 's')}, one of 32 bits every "
        f"{show((1 << 32) * loop.tick, 's')}.",
        remedy="Count the timer's overflows, and hand 32 bits to steering_step; it takes "
        "differences that outlive the wrap.",
    )  # fmt: skip


def _rounding(
    ledger: Ledger, done: StagePass, loop: SteeringResult, regulator: RegulatorConstants
) -> None:
    exact = loop.interval / loop.tick
    whole = round(loop.beat / loop.tick) / (loop.beat / loop.tick) - 1
    kept = DAY * (regulator.nominal / ONE_TICK / exact - 1)
    allowed = done.design.rate.allowed_error
    ledger.at_most(
        "constants.rounding", abs(kept), 0.01 * allowed if allowed else SMALL, "s/day",
        f"Kept in 65536ths of a tick the interval costs {show(abs(kept), 's/day')}; a beat in "
        f"whole ticks would make it {'lose' if whole > 0 else 'gain'} "
        f"{show(abs(DAY * whole), 's/day')} for good.",
        remedy="A finer tick." if abs(kept) > 0 else "", soft=True,
    )  # fmt: skip


def _gains(ledger: Ledger, loop: SteeringResult, regulator: RegulatorConstants) -> None:
    scale = float(1 << regulator.shift)
    lost = max(
        abs(whole / scale / abs(gain) - 1)
        for whole, gain in ((regulator.kp, loop.kp), (regulator.ki, loop.ki)) if gain
    ) if loop.kp or loop.ki else 0.0  # fmt: skip
    ledger.at_most(
        "constants.gains", lost, GAIN_LOST, "1",
        f"In whole numbers of 2^-{regulator.shift} the gains are {percent(lost)} off.",
        remedy="Larger gains: fewer corrections, or a slope that is less steep.",
        soft=True,
    )  # fmt: skip


def _saturation(ledger: Ledger, loop: SteeringResult, regulator: RegulatorConstants) -> None:
    room = regulator.width_max - regulator.width_min
    ledger.at_least(
        "constants.steps", float(room), float(FEW_STEPS), "1",
        f"Between narrowest and widest pulse lie {room} ticks"
        + (": no loop can trim with them." if room < 2
           else ": the loop trims in few coarse steps." if room < FEW_STEPS else "."),
        remedy="A finer tick for the pulse, or limits farther apart.", soft=room >= 2,
    )  # fmt: skip
    side = min(
        regulator.width_max - regulator.width_centre, regulator.width_centre - regulator.width_min
    )
    if regulator.kp:
        error = side * loop.tick / (regulator.kp / (1 << regulator.shift))
        ledger.say(
            "constants.saturates", Severity.GOOD if side else Severity.MIND,
            f"From a time error of {show(error, 's')} on the width stands at a limit; the sum of "
            "the errors is then held, so that it comes off at once."
            if side else "Without a correction the width stands at a limit already.",
            remedy="" if side else "Set the movement faster or slower by its nut, see "
            "steering.set_rate.",
            value=error, unit="s",
        )  # fmt: skip


def _threshold(ledger: Ledger, done: StagePass) -> None:
    pickup = done.result("pickup")
    if pickup.pin is None:
        return
    counts = pickup.threshold * (1 << pickup.pin.n_bits) / pickup.pin.v_reference_fresh
    whole = max(floor(counts), 1)
    ledger.at_least(
        "constants.threshold", float(whole), float(FEW_COUNTS), "1",
        f"The threshold of {show(pickup.threshold, 'V')} is {significant(counts)} counts; "
        f"{whole} are kept.",
        remedy="A converter of more bits, a lower reference, or a stronger signal.", soft=True,
    )  # fmt: skip
