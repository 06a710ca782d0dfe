"""Log output: the pulse width as a voltage for a logger, by PWM through one or two RC sections."""

from dataclasses import dataclass
from math import floor, log2, log10

from calc.pwm import pwm_ripple, pwm_tau, pwm_two_sections, rc_settling
from circuits.catalogue import Catalogue
from circuits.design import Design, LogOutput
from circuits.format_quantity import percent, show, significant
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.preferred_values import next_higher
from circuits.stages.pulse import PulseResult
from circuits.stages.rails import Rails
from circuits.stages.steering_loop import SteeringResult

TIMER = 1e-6
"""s; one tick of a PWM timer on a clock of 1 MHz."""
R_LOGGER = 1e6
COUNTS = 256
"""Counts of a PWM period where its frequency is left out: eight bits."""
RIPPLE_SHARE = 0.005
"""Share of the full height that the ripple may have: about one step of eight bits."""
SETTLE_SHARE = 0.01
LOAD_SHARE = 0.02
R_LEFT_OUT = 10e3
BITS_LEAST = 7.0
SETTLE_MOST = 5.0
"""s; a logger that looks once in some seconds."""
ROOM = 1.25
"""Full scale over the widest pulse."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogOutputResult:
    """The filter behind the PWM; `scale` is the width for each volt at the logger's input."""

    r: float
    c: float
    poles: int
    f_pwm: float
    ripple: float
    settling: float
    bits: float
    gain: float
    full_scale: float
    v_fresh: float
    v_spent: float


def size(
    design: Design,
    catalogue: Catalogue,  # noqa: ARG001 - every stage is called alike
    ledger: Ledger,
    rails: Rails,
    pulse: PulseResult,
    steering: SteeringResult | None,
) -> LogOutputResult | None:
    """Size or check the output for a logger; None where the design has none."""
    keys = design.log_output
    if keys is None:
        return None
    tick = _tick(design, ledger)
    f_pwm = keys.pwm_frequency or 1 / (COUNTS * tick)
    poles = keys.poles or 1
    r, c = _parts(keys, poles, f_pwm)
    v_fresh, v_spent = _levels(design, rails)
    v_high = max(v_fresh, v_spent)
    ledger.assume(
        "log_output.r_logger", R_LOGGER, "ohm", "a logger's input; common practice, no source"
    )
    ripple, settling, gain = _behind(poles, r, c, f_pwm, v_high)
    widest = steering.width_max if steering is not None else pulse.width
    full = keys.full_scale or _rounded_up(ROOM * widest)
    result = LogOutputResult(
        r=r, c=c, poles=poles, f_pwm=f_pwm, ripple=ripple, settling=settling,
        bits=log2(max(1 / (f_pwm * tick), 1.0)), gain=gain, full_scale=full, v_fresh=v_fresh,
        v_spent=v_spent,
    )  # fmt: skip
    _enter(design, ledger, keys, result)
    _judge(ledger, keys, result, widest, tick)
    for number in range(poles):
        ledger.part(f"R{9 + number}", "log output, series resistor", show(r, "ohm"), "0.1 W")
        ledger.part(f"C{6 + number}", "log output, capacitor to ground", show(c, "F"))
    ledger.test_point(
        "log output", "running, settled at its arc", "the logger, or a voltmeter",
        f"{show(gain * v_fresh * min(pulse.width / full, 1.0), 'V')} at a pulse of "
        f"{show(pulse.width, 's')} with fresh cells",
        "a lower voltage means that the logger loads it: lower the resistor",
    )  # fmt: skip
    return result


def _tick(design: Design, ledger: Ledger) -> float:
    if design.controller.tick is not None and design.controller.tick <= 1e-5:
        return design.controller.tick
    ledger.assume(
        "log_output.timer", TIMER, "s",
        "a PWM timer on a clock of 1 MHz, not on the watch crystal; common practice, no source",
    )  # fmt: skip
    return TIMER


def _levels(design: Design, rails: Rails) -> tuple[float, float]:
    high = design.controller.pin_high
    if isinstance(high, float | int):
        return float(high), float(high)
    return rails.fresh.v_logic, rails.spent.v_logic


def _parts(keys: LogOutput, poles: int, f_pwm: float) -> tuple[float, float]:
    """Return resistor and capacitor: stated, or the least that bring the ripple down."""
    if poles == 1:
        wanted = pwm_tau(ripple_share=RIPPLE_SHARE, f_pwm=f_pwm)
    else:
        # Two sections let through about the square of what one does of the fundamental.
        wanted = (1 / (6.28 * f_pwm)) * (0.64 / RIPPLE_SHARE) ** 0.5
    if keys.resistor is not None and keys.capacitor is not None:
        return keys.resistor, keys.capacitor
    if keys.capacitor is not None:
        return next_higher(max(wanted / keys.capacitor, 1.0)), keys.capacitor
    r = keys.resistor or R_LEFT_OUT
    return r, next_higher(wanted / r, "E6")


def _behind(
    poles: int, r: float, c: float, f_pwm: float, v_high: float
) -> tuple[float, float, float]:
    """Return ripple, settling and gain, with the logger at the end."""
    if poles == 2:
        two = pwm_two_sections(
            v_high=v_high, duty=0.5, f_pwm=f_pwm, r=r, c=c, r_load=R_LOGGER, share=SETTLE_SHARE
        )
        return two.ripple, two.settling, two.gain
    gain = R_LOGGER / (R_LOGGER + r)
    tau = gain * r * c
    ripple = gain * pwm_ripple(v_high=v_high, duty=0.5, f_pwm=f_pwm, tau=tau)
    return ripple, rc_settling(tau=tau, share=SETTLE_SHARE), gain


def _rounded_up(width: float) -> float:
    """Return a width a logger's reader can divide by: one, two or five times a power of ten."""
    power = 10.0 ** floor(log10(width))
    return next(step * power for step in (1, 2, 5, 10) if step * power >= width)


def _enter(design: Design, ledger: Ledger, keys: LogOutput, result: LogOutputResult) -> None:
    sized, computed, stated = Basis.SIZED, Basis.COMPUTED, Basis.STATED
    slack = (design.tolerance.resistor or 0.0) + (design.tolerance.capacitor or 0.0)
    rule = "both exponentials joined over one PWM period, half the duty"
    rows: list[tuple[str, float | int, str | None, str, Basis, str]] = [
        ("r", result.r, "ohm", "series resistor", sized if keys.resistor is None else stated,
         "small beside the logger's input"),
        ("c", result.c, "F", "capacitor to ground", sized if keys.capacitor is None else stated,
         f"ripple of {percent(RIPPLE_SHARE)} of the height"),
        ("poles", result.poles, "1", "RC sections", sized if keys.poles is None else stated, "1"),
        ("f_pwm", result.f_pwm, "Hz", "frequency of the PWM",
         sized if keys.pwm_frequency is None else stated, f"{COUNTS} counts of the timer"),
        ("settling", result.settling, "s", "time to come within a hundredth of a step", computed,
         "the slower exponential"),
        ("bits", result.bits, "1", "bits of resolution", computed, "log2(PWM period / timer tick)"),
        ("loading", 1 - result.gain, "1", "share of the voltage that the logger takes", computed,
         "series resistance over the logger's input"),
        ("full_scale", result.full_scale, "s", "pulse width at full duty",
         sized if keys.full_scale is None else stated, "above the widest pulse"),
        ("scale", result.full_scale / (result.gain * result.v_fresh), "s/V",
         "pulse width for each volt at the logger", computed, "full scale / (gain x pin level)"),
        ("ripple_width", result.ripple / (result.gain * result.v_fresh) * result.full_scale, "s",
         "the ripple as a pulse width", computed, "ripple x scale"),
    ]  # fmt: skip
    for name, value, unit, words, basis, why in rows:
        ledger.value(
            f"log_output.{name}", value, unit, words=words, basis=basis, rule=why,
            state="fresh" if name == "scale" and result.v_fresh != result.v_spent else "",
        )  # fmt: skip
    ledger.value(
        "log_output.ripple", result.ripple, "V", words="ripple at the logger, from peak to peak",
        basis=computed, rule=rule,
        low=result.ripple / (1 + slack) ** result.poles if slack else None,
        high=result.ripple / (1 - min(slack, 0.9)) ** result.poles if slack else None,
    )  # fmt: skip


def _change(key: str, text: str) -> tuple[Change, ...]:
    return (Change(section="log_output", key=key, text=text),)


def _judge(
    ledger: Ledger, keys: LogOutput, result: LogOutputResult, widest: float,
    tick: float,
) -> None:  # fmt: skip
    height = result.gain * max(result.v_fresh, result.v_spent)
    limit = 2 * RIPPLE_SHARE * height
    larger = next_higher(result.c * max(result.ripple / (0.5 * limit), 1.0), "E6")
    poor = result.ripple > 0.9 * limit
    ledger.at_most(
        "log_output.ripple", result.ripple, limit, "V",
        f"The PWM of {show(result.f_pwm, 'Hz')} leaves a ripple of {show(result.ripple, 'V')} at "
        f"the logger, {percent(result.ripple / height)} of its height.",
        remedy="A larger capacitor, two sections, or a higher frequency." if poor else "",
        changes=(_change("capacitor", show(larger, "F")),
                 _change("poles", "2")) if poor else (),
    )  # fmt: skip
    ledger.at_most(
        "log_output.settling", result.settling, SETTLE_MOST, "s",
        f"A change of the width shows within a hundredth after {show(result.settling, 's')}.",
        remedy="A smaller capacitor, or a higher frequency and then a smaller one."
        if result.settling > 0.9 * SETTLE_MOST else "",
        soft=True,
    )  # fmt: skip
    ledger.at_least(
        "log_output.bits", result.bits, BITS_LEAST, "1",
        f"At {show(result.f_pwm, 'Hz')} the timer of {show(tick, 's')} gives "
        f"{significant(result.bits)} bits, so the logger sees the width in steps of "
        f"{show(result.full_scale * result.f_pwm * tick, 's')}.",
        remedy="A lower PWM frequency or a quicker timer." if result.bits < 7.7 else "",
        changes=(_change("pwm_frequency", f"{1 / (COUNTS * tick):.4g} Hz"),)
        if keys.pwm_frequency is not None else (),
        soft=keys.pwm_frequency is None,
    )  # fmt: skip
    ledger.at_most(
        "log_output.loading", 1 - result.gain, LOAD_SHARE, "1",
        f"A logger of {show(R_LOGGER, 'ohm')} takes {percent(1 - result.gain)} of the voltage; the "
        "scale counts it.",
        remedy="A smaller resistor, and a larger capacitor with it."
        if 1 - result.gain > 0.9 * LOAD_SHARE else "",
        soft=True,
    )  # fmt: skip
    ledger.at_most(
        "log_output.full_scale", widest, result.full_scale, "s",
        f"Full duty stands for {show(result.full_scale, 's')}, the widest pulse is "
        f"{show(widest, 's')}.",
        remedy="A wider full_scale, or the log saturates." if widest > 0.9 * result.full_scale
        else "",
        changes=(_change("full_scale", f"{1e3 * _rounded_up(ROOM * widest):g} ms"),),
    )  # fmt: skip
    scale = result.full_scale / result.gain
    if result.v_fresh != result.v_spent:
        drift = result.v_spent / result.v_fresh - 1
        ledger.say(
            "log_output.scale", Severity.MIND,
            f"One volt at the logger is {show(scale / result.v_fresh, 's')} of width with fresh "
            f"cells and {show(scale / result.v_spent, 's')} with spent ones: the pin's high level "
            f"sags by {percent(abs(drift))} and looks like a narrower pulse.",
            remedy="Log the supply as well and divide, or feed the controller from a regulator.",
        )  # fmt: skip
    else:
        ledger.say(
            "log_output.scale", Severity.GOOD,
            f"One volt at the logger is {show(scale / result.v_fresh, 's')} of pulse width.",
        )  # fmt: skip
