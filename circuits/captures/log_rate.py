"""A logged rate: its mean, what weather does to it, its stability, its answer to a step."""

import numpy as np
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError
from calc.fit_log import Regression, regress
from calc.fit_step import Step, fit_step
from circuits.captures.log_columns import LogColumns
from circuits.captures.measured import SPAN, Asked, Curve, Measured, Panel
from circuits.format_quantity import DAY, percent, show, show_range, significant

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
ALIKE = 0.95
CLOCK = 1.0 / DAY
"""A watch's crystal: about a second a day, where nobody says better."""


def enter_rate(
    measured: Measured, columns: LogColumns, used: Mask, asked: Asked, *, stepped: bool
) -> Regression | None:
    """Enter mean rate, drift and weather; None where the log holds a step."""
    assert columns.rates is not None
    rates, t = columns.rates[used], columns.t[used]
    clock = asked.clock_error
    if clock is None:
        measured.ledger.assume(
            "measured.clock_error", CLOCK * DAY, "s/day",
            "a watch crystal is about a second a day wrong; common practice, no source",
        )  # fmt: skip
        measured.unknown(
            "rate.clock",
            "The logger's own clock error is not said, and every rate is a rate against that "
            "clock: a watch's crystal may be a second a day wrong.",
            'Compare the logger with a time signal for a week and say --clock-error "0.3 s/day".',
        )
    else:
        measured.good(
            "rate.clock", f"The logger's own clock, {show(clock * DAY, 's/day')}, is in the span "
            "of the rate.",
        )  # fmt: skip
    span = CLOCK if clock is None else clock
    others = {name: column[used] for name, column in columns.weather.items()}
    others = {name: column for name, column in others.items() if np.ptp(column) > 0}
    found: Regression | None = None
    if columns.timed and not stepped and t.size >= 8 + len(others):
        found = regress(t, rates, others)
        mean, sigma = found.mean, found.mean_sigma
    else:
        mean, sigma = float(rates.mean()), float(rates.std(ddof=1) / np.sqrt(rates.size))
    if stepped:
        return None
    enter_mean(measured, mean, sigma, span, "mean of the log")
    if found is not None:
        _enter_influences(measured, found, others)
    return found


def enter_mean(measured: Measured, mean: float, sigma: float, clock: float, how: str) -> None:
    """Enter a rate with the logger's own clock error in its span."""
    whole = float(np.hypot(SPAN * sigma, clock))
    measured.figure(
        "rate.rate", DAY * mean, "s/day", "rate against the target; positive gains",
        f"{how}; the logger's own clock error is in the span",
        low=DAY * (mean - whole), high=DAY * (mean + whole),
    )  # fmt: skip


UNITS = {"temperature": ("s/day/K", "kelvin"), "pressure": ("s/day/Pa", "pascal")}


def _enter_influences(measured: Measured, found: Regression, others: dict[str, Array]) -> None:
    drift = found.drift
    measured.figure(
        "measured.drift", DAY * DAY * drift.coefficient, "s/day/day", "drift of the rate",
        "straight line over the log, weather told apart", sigma=DAY * DAY * drift.sigma,
    )  # fmt: skip
    if drift.seen:
        measured.mind(
            "rate.drift",
            f"The rate drifts by {significant(DAY * DAY * drift.coefficient, 2)} s/day each day.",
            "Cells, oil or a settling suspension: log on until it ends.",
        )
    for influence in found.influences:
        unit, each = UNITS[influence.name]
        low = DAY * (influence.coefficient - SPAN * influence.sigma)
        high = DAY * (influence.coefficient + SPAN * influence.sigma)
        measured.figure(
            f"rate.{influence.name}_slope", DAY * influence.coefficient, unit,
            f"change of the rate with {influence.name}",
            "least squares with drift and the other columns", low=low, high=high,
        )  # fmt: skip
        size = float(np.ptp(others[influence.name]))
        factor = 1.0 if influence.name == "temperature" else 100.0
        each = each if factor == 1.0 else "hectopascal"
        text = (
            f"Each {each} more moves the rate by {show_range(low * factor, high * factor, 's/day')}"
            f"; the log spans {significant(size / factor)} {each}s."
        )
        if influence.seen:
            measured.mind(f"rate.{influence.name}", text)
        else:
            measured.good(f"rate.{influence.name}", f"{text} That is no more than the scatter.")
    if found.likeness > ALIKE:
        one, other = found.alike
        measured.mind(
            "rate.alike",
            f"{one} and {other} went together in this log (correlation "
            f"{significant(found.likeness, 2)}): what each does cannot be told apart.",
            "Log on until they part: other weather, another season.",
        )


def enter_stability(measured: Measured, columns: LogColumns, used: Mask) -> None:
    """Enter the Allan deviation of the rate, where rows are evenly spaced."""
    assert columns.rates is not None
    t, rates = columns.t[used], columns.rates[used]
    steps = np.diff(t)
    step = float(np.median(steps))
    if t.size < 16 or step <= 0 or not columns.timed:
        return
    gaps = float(np.mean(np.abs(steps - step) > 0.05 * step))
    if gaps > 0.02:
        measured.good(
            "rate.allan", f"The rows are unevenly spaced ({percent(gaps)} of the steps), so no "
            "Allan deviation is given.",
        )  # fmt: skip
        return
    import allantools  # noqa: PLC0415 - only logs wait for it

    taus, deviations, errors, _ = allantools.oadev(
        rates, rate=1 / step, data_type="freq", taus="octave"
    )
    if not np.all(deviations > 0):
        measured.good(
            "rate.allan", "The rate does not move at all, so no Allan deviation is given."
        )
        return
    best = int(np.argmin(deviations))
    shown = sorted({0, best, len(taus) - 1})
    for index in shown:
        name = "" if index == best else ("_first" if index == 0 else "_last")
        deviation, tau = float(deviations[index]), float(taus[index])
        sigma = float(errors[index])
        measured.figure(
            f"measured.allan{name}", deviation, "1",
            f"Allan deviation of the rate over {show(tau, 's')}", "overlapping estimate",
            sigma=sigma,
        )  # fmt: skip
    measured.figure("measured.allan_time", float(taus[best]), "s",
                    "time over which the rate is steadiest", "least Allan deviation")  # fmt: skip
    measured.good(
        "rate.allan",
        f"The rate is steadiest over {show(float(taus[best]), 's')}: its Allan deviation there is "
        f"{significant(float(deviations[best]), 2)}, "
        f"{show(DAY * float(deviations[best]), 's/day', 2)}.",
    )
    measured.panels.append(
        Panel(title="Allan deviation of the rate", x_label="log10 of the time (s)",
              y_label="log10 of the deviation",
              curves=(Curve(x=np.log10(taus), y=np.log10(deviations), style="points"),))
    )  # fmt: skip


def enter_step(
    measured: Measured, columns: LogColumns, used: Mask, t_step: float, clock: float | None
) -> Step | None:
    """Enter what the rate answers to a step of the width."""
    assert columns.widths is not None
    assert columns.rates is not None
    t, widths, rates = columns.t[used], columns.widths[used], columns.rates[used]
    try:
        found = fit_step(t=t, values=rates, t_step=t_step)
    except OutOfRangeError as error:
        reason, _, repair = str(error).partition(";")
        measured.unknown("rate.step", f"The step cannot be used: {reason.strip()}.",
                         repair.strip() or "Log longer.")  # fmt: skip
        return None
    later = t > t_step
    apart = float(np.median(widths[later]) - np.median(widths[~later]))
    gain = (found.after - found.before) / apart
    sigma = float(np.hypot(found.after_sigma, found.before_sigma)) / abs(apart)
    measured.figure("measured.width_step", apart, "s", "step of the pulse width",
                    "median after less median before")  # fmt: skip
    measured.figure(
        "rate.slope", DAY * gain, "s/day/s", "change of the rate with the pulse width, settled",
        "step response fitted", sigma=DAY * sigma,
    )  # fmt: skip
    measured.figure("movement.time_constant", found.tau, "s", "time constant of the answer",
                    "step response fitted", sigma=found.tau_sigma)  # fmt: skip
    measured.figure("measured.overshoot", found.overshoot, "1", "overshoot of the answer",
                    "farthest beyond the new level, over the step")  # fmt: skip
    measured.figure("measured.settling", found.settling, "s",
                    "time until the answer stays within a twentieth", "fitted answer")  # fmt: skip
    enter_mean(measured, found.after, found.after_sigma, CLOCK if clock is None else clock,
               "level after the step")  # fmt: skip
    waited = float(t[-1] - t_step)
    if abs(gain) < 4 * sigma:
        measured.unknown(
            "rate.slope", "The rate's answer to the step does not stand out of its scatter.",
            "Give a larger step, or log longer on both sides.",
        )  # fmt: skip
        return found
    measured.good(
        "rate.slope",
        f"A pulse 1 ms wider {'gains' if gain > 0 else 'loses'} "
        f"{show(abs(DAY * gain) * 1e-3, 's/day')} once settled; the answer's time constant is "
        f"{show(found.tau, 's')}, its overshoot {percent(found.overshoot)}.",
    )
    if waited < 3 * found.tau:
        measured.mind(
            "rate.waited",
            f"The log ends {show(waited, 's')} after the step, less than three time constants: "
            "gain and time constant go together.",
            "Log on until the rate is level.",
        )
    measured.change("rate", "measured_slope", f"{DAY * gain:.4g} 1/day")
    _suggest_gains(measured, gain, found, columns, used)
    return found


def _suggest_gains(
    measured: Measured, gain: float, found: Step, columns: LogColumns, used: Mask
) -> None:
    from calc.steering_gains import pi_gains, quickest_loop  # noqa: PLC0415 - only steps need it

    interval = float(np.median(np.diff(columns.t[used])))
    wanted = max(quickest_loop(time_constant=found.tau), 4 * interval)
    try:
        gains = pi_gains(
            slope=gain, slope_prompt=0.0, time_constant=found.tau, interval=interval,
            wanted=wanted, damping=0.7,
        )  # fmt: skip
    except OutOfRangeError:
        return
    measured.figure("steering.kp", gains.kp, "1", "suggested gain: width for each second of lag",
                    f"a loop that settles in {show(wanted, 's')}, damping 0.7")  # fmt: skip
    measured.figure("steering.ki", gains.ki, "1",
                    "suggested gain: width for each second of lag, summed once a row's interval",
                    f"corrections each {show(interval, 's')}")  # fmt: skip
    measured.good(
        "steering.gains",
        f"For a loop that settles in {show(wanted, 's')} with corrections each "
        f"{show(interval, 's')}: {significant(gains.kp)} s of width for a second of lag, and "
        f"{significant(gains.ki)} for a second summed. The log shows no prompt effect apart from "
        "the settled one; `steer` plans with both.",
    )
