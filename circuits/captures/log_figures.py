"""Log: rate, stability, what weather does, answer to a step, drift, life left."""

import numpy as np
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError
from calc.fit_log import Regression, mean_period, outliers, regress, time_to_limit
from calc.fit_step import Step, find_step
from circuits.captures.log_columns import LogColumns, log_columns
from circuits.captures.log_rate import enter_rate, enter_stability, enter_step
from circuits.captures.log_steered import enter_steered
from circuits.captures.measured import SPAN, Against, Asked, Curve, Measured, Note, Panel
from circuits.errors import DesignFileError
from circuits.format_quantity import DAY, show, show_range, significant

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
WINDOW = 11


def read_log(measured: Measured, asked: Asked, against: Against | None) -> None:
    """Enter what a log tells.

    Parameters
    ----------
    measured : Measured
        The capture, and what it has told.
    asked : Asked
        Beats or periods, the target period, the logger's own clock error.
    against : Against or None
        The design.

    Raises
    ------
    DesignFileError
        Where no column can be used.
    """
    columns = log_columns(measured.capture, asked, against)
    measured.text("measured.how", columns.told, "what was logged", "told by the columns")
    if not columns.certain:
        measured.unknown(
            "log.count", "The file does not say whether its times are beats or whole periods; they "
            "are taken as beats, two of which make a period.",
            "Say --beats or --periods.",
        )  # fmt: skip
    main = _main(columns)
    good = np.isfinite(main) & np.isfinite(columns.t)
    if good.sum() < 8:
        raise DesignFileError(
            file=measured.capture.file, found=f"{int(good.sum())} rows with figures",
            wanted="log eight rows or more",
        )  # fmt: skip
    odd = np.zeros(main.size, dtype=bool)
    if good.sum() > 2 * WINDOW:
        odd[good] = outliers(values=main[good], window=WINDOW) > 0
    _say_odd(measured, odd)
    used = good & ~odd
    step = _step_of(columns, used)
    if columns.periods is not None:
        _enter_periods(measured, columns, used, asked)
    fitted = None
    if columns.rates is not None:
        fitted = enter_rate(measured, columns, used, asked, stepped=step is not None)
        if step is None:
            enter_stability(measured, columns, used)
    elif columns.periods is not None:
        measured.unknown(
            "rate.target", "No target period is known, so no rate follows.",
            'Say --target "2 s", or state target_period in [movement] of --design FILE.',
        )  # fmt: skip
    answer = None
    if step is not None and columns.widths is not None:
        answer = enter_step(measured, columns, used, step, asked.clock_error)
    if columns.widths is not None and step is None:
        _enter_widths(measured, columns, used, against)
    _draw(measured, columns, good, odd, fitted, answer)


def _main(columns: LogColumns) -> Array:
    for column in (columns.rates, columns.periods, columns.widths):
        if column is not None:
            return column
    raise AssertionError("a log has one of the three")


def _say_odd(measured: Measured, odd: Mask) -> None:
    count = int(odd.sum())
    measured.figure("measured.outliers", count, "1", "rows far from their neighbours",
                    "six standard deviations from the running median")  # fmt: skip
    if not count:
        return
    rows = np.flatnonzero(odd)
    places = ", ".join(str(int(row) + 1) for row in rows[:6])
    more = f" and {count - 6} more" if count > 6 else ""
    measured.mind(
        "log.outliers",
        f"{count} of {odd.size} rows lie far from their neighbours (row {places}{more} of the "
        "data): they are marked in the picture and left out of the fits, and stay in the file.",
        "Look whether a pass was missed or counted twice there.",
    )


def _step_of(columns: LogColumns, used: Mask) -> float | None:
    if columns.widths is None or columns.rates is None or not columns.timed:
        return None
    return find_step(columns.t[used], columns.widths[used])


def _enter_periods(measured: Measured, columns: LogColumns, used: Mask, asked: Asked) -> None:
    assert columns.periods is not None
    mean = mean_period(periods=columns.periods[used])
    clock = asked.clock_error or 0.0
    sigma = float(np.hypot(mean.period_sigma, clock * mean.period / SPAN))
    measured.figure("movement.period_at_arc", mean.period, "s", "mean period, to and fro",
                    "mean of the rows, its spread from ten stretches", sigma=sigma)  # fmt: skip
    measured.figure("measured.jitter", mean.jitter, "s", "scatter of the periods",
                    "root mean square about the mean")  # fmt: skip
    measured.good(
        "log.jitter",
        f"The periods scatter by {show(mean.jitter, 's')}, "
        f"{significant(mean.jitter / mean.period, 2)} of themselves: this is jitter. No quality "
        "factor follows from it, whatever width is taken of it: record a ring-down for that.",
    )


def _enter_widths(
    measured: Measured, columns: LogColumns, used: Mask, against: Against | None
) -> None:
    """Enter the trend of the width and, against the widest that is allowed, the life left."""
    assert columns.widths is not None
    t, widths = columns.t[used], columns.widths[used]
    others = {name: column[used] for name, column in columns.weather.items()}
    others = {name: column for name, column in others.items() if np.ptp(column) > 0}
    found = regress(t, widths, others)
    low, high = found.mean - SPAN * found.mean_sigma, found.mean + SPAN * found.mean_sigma
    measured.figure("drive.pulse_width", found.mean, "s", "mean pulse width", "mean of the log",
                    low=low, high=columns.stretch * high)  # fmt: skip
    enter_steered(measured, found.mean, (low, columns.stretch * high), against)
    if not columns.timed:
        return
    drift = found.drift
    # At the most the rail falls from fresh to spent within the log, and of a fall at once in its
    # middle a straight line makes one and a half times as much.
    first = found.mean - min(drift.coefficient, 0.0) * float(np.ptp(t)) / 2
    sagged = 1.5 * (columns.stretch - 1) * first / float(np.ptp(t))
    least = drift.coefficient - SPAN * drift.sigma
    most = columns.stretch * (drift.coefficient + SPAN * drift.sigma) + sagged
    measured.figure(
        "measured.width_drift", DAY * drift.coefficient, "s/day", "drift of the pulse width",
        "straight line over the log", low=DAY * least,
        high=DAY * max(most, drift.coefficient + SPAN * drift.sigma),
    )  # fmt: skip
    if columns.stretch > 1:
        measured.mind(
            "log.rail",
            "The volts are taken as those at fresh cells. At spent ones the pin's high level is "
            f"lower, and the same volts mean a pulse {significant(columns.stretch, 3)} times as "
            "wide: the spans of width, drift and life left hold both ends.",
            "Log the rail beside it, or the width itself; or state pin_high in [controller] where "
            "it is regulated.",
        )
    for influence in found.influences:
        measured.figure(
            f"measured.width_{influence.name}", influence.coefficient,
            "s/K" if influence.name == "temperature" else "s/Pa",
            f"change of the width with {influence.name}", "least squares with drift",
            sigma=influence.sigma,
        )  # fmt: skip
    widest = None if against is None else against.design.rate.width_max
    if widest is None:
        measured.unknown(
            "log.life", "The widest pulse that is allowed is not stated, so no life left follows "
            "from the drift of the width.",
            "State width_max in [rate] of --design FILE.",
        )  # fmt: skip
        return
    level = float(found.mean + drift.coefficient * (t[-1] - t.mean()))
    try:
        trend = time_to_limit(
            level=level, slope=drift.coefficient, slope_sigma=drift.sigma, limit=widest
        )
    except OutOfRangeError:
        measured.good(
            "log.life", f"The width does not drift towards its limit of {show(widest, 's')} by "
            "more than its scatter: no end is in sight.",
        )  # fmt: skip
        return
    if drift.coefficient < 0:
        measured.good("log.life", "The width falls: no end of the cells is in sight.")
        return
    low = trend.low
    if columns.stretch > 1:
        low = min(low, max(widest - columns.stretch * level, 0.0) / most)
    measured.figure("measured.life_left", trend.at, "s", "time until the widest pulse is reached",
                    "drift of the width carried on", low=low, high=trend.high)  # fmt: skip
    measured.mind(
        "log.life",
        f"At this drift the width reaches {show(widest, 's')} in "
        f"{show_range(low, trend.high, 's')}; near their end cells fall faster, so count on "
        "the shorter.",
        "Have new cells ready.",
    )


def _draw(
    measured: Measured, columns: LogColumns, good: Mask, odd: Mask, fitted: Regression | None,
    answer: Step | None,
) -> None:  # fmt: skip
    unit, size = ("days", DAY) if np.ptp(columns.t[good]) > 2 * DAY else ("h", 3600.0)
    if not columns.timed:
        unit, size = "row", 1.0
    x = columns.t / size
    label = f"time ({unit})" if columns.timed else "row"
    rows = (
        (columns.rates, "Rate against the target", "rate (s/day)", DAY),
        (columns.periods if columns.rates is None else None, "Period", "period (ms)", 1e3),
        (columns.widths, "Pulse width", "width (ms)", 1e3),
    )
    panels = []
    for values, title, y_label, factor in rows:
        if values is None:
            continue
        curves = [Curve(x=x[good], y=values[good] * factor, style="points")]
        if odd.any() and values is _main(columns):
            curves.append(Curve(x=x[odd], y=values[odd] * factor, style="odd", label="marked"))
        notes: tuple[Note, ...] = ()
        if values is columns.rates and fitted is not None:
            used = good & ~odd
            curves.append(Curve(x=x[used], y=fitted.fitted * factor, style="fit",
                                label="drift and weather"))  # fmt: skip
        if answer is not None:
            notes = (Note(x=answer.t_step / size, y=None, text="step"),)
        panels.append(Panel(title=title, x_label=label, y_label=y_label, curves=tuple(curves),
                            notes=notes))  # fmt: skip
    measured.panels[:0] = panels
