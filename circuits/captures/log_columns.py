"""The columns of a log: periods or rates, pulse widths, weather; and what they are judged by."""

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuits.captures.capture import Capture, Channel
from circuits.captures.kinds import CURRENT, WIDTH, signals
from circuits.captures.measured import Against, Asked
from circuits.captures.swings import events_are
from circuits.errors import DesignFileError
from circuits.format_quantity import DAY, show

Array = NDArray[np.float64]
TEMPERATURE = re.compile(r"temp|therm", re.I)
PRESSURE = re.compile(r"press|baro", re.I)


@dataclass(frozen=True, slots=True, kw_only=True)
class LogColumns:
    """A log's columns in SI; rates are ratios, positive gains. None where a column is lacking.

    `target` is the period that the rate is judged by. `widths` from volts are those at fresh cells;
    at spent ones they are `stretch` times as wide.
    """

    t: Array
    timed: bool
    periods: Array | None
    rates: Array | None
    widths: Array | None
    weather: dict[str, Array]
    target: float | None
    certain: bool
    told: str
    stretch: float = 1.0


def log_columns(capture: Capture, asked: Asked, against: Against | None) -> LogColumns:
    """Return the columns of a log.

    Parameters
    ----------
    capture : Capture
        As it was read.
    asked : Asked
        Beats or periods, and the target period.
    against : Against or None
        The design: its target period, and the scale of its log output.

    Returns
    -------
    columns : LogColumns

    Raises
    ------
    DesignFileError
        Where there is neither a period, a rate nor a width.
    """
    weather = {
        name: channel.values
        for name, unit, words in (("temperature", "K", TEMPERATURE), ("pressure", "Pa", PRESSURE))
        if (channel := _weather(capture, unit, words)) is not None
    }
    found = [c for c in signals(capture) if not (TEMPERATURE.search(c.name)
                                                 or PRESSURE.search(c.name))]  # fmt: skip
    width = next((c for c in found if c.unit == "s" and WIDTH.search(c.name)), None)
    period = next((c for c in found if c.unit == "s" and c is not width), None)
    rate = next((c for c in found if c.unit == "s/day"), None)
    widths, stretch = None if width is None else width.values, 1.0
    told = "widths" if width is not None else ""
    if width is None:
        volts = next((c for c in found if c.unit in ("V", "") and not CURRENT.search(c.name)), None)
        if (volts is not None and period is None and rate is None) or (
            volts is not None and WIDTH.search(volts.name)
        ):  # fmt: skip
            scale, stretch = _scale(capture, volts, against)
            widths = volts.values * scale
            told = "volts of the log output"
    if period is None and rate is None and widths is None:
        raise DesignFileError(
            file=capture.file, found="no column of periods, rates or widths",
            wanted='say --columns and --units, such as --columns "time,period" --units "s,s"',
        )  # fmt: skip
    periods, certain = None, True
    if period is not None:
        clean = period.values[np.isfinite(period.values)]
        if not np.all(clean > 0):
            raise DesignFileError(
                file=capture.file, found=f'a time of zero or less in "{period.name}"',
                wanted="give times above zero, or leave the cell empty",
            )  # fmt: skip
        each, certain = events_are(np.cumsum(clean), asked, against)
        if asked.count is None and not certain:
            # A column that is called a period is one, until somebody says otherwise.
            named = bool(re.search(r"period", period.name, re.I))
            each, certain = (2.0, True) if named else (each, False)
        periods = period.values * 2 / each
    rows = capture.rows
    if capture.time is not None:
        t, timed = capture.time, True
    elif period is not None:
        t = np.concatenate(([0.0], np.cumsum(np.nan_to_num(period.values))))[:rows]
        timed = True
    else:
        t, timed = np.arange(rows, dtype=np.float64), False
    target = _target(asked, against)
    rates = None
    if rate is not None:
        rates = rate.values / DAY
    elif periods is not None and target is not None:
        rates = target / periods - 1
    names = [name for name, has in (("periods", periods is not None), ("rates", rate is not None),
                                    (told, bool(told))) if has]  # fmt: skip
    return LogColumns(
        t=t, timed=timed, periods=periods, rates=rates, widths=widths, weather=weather,
        target=target, certain=certain, told=", ".join([*names, *weather]),
        stretch=stretch,
    )  # fmt: skip


def _weather(capture: Capture, unit: str, words: re.Pattern[str]) -> Channel | None:
    for channel in capture.channels:
        named = channel.unit in ("", unit) and words.search(channel.name)
        if (channel.unit == unit or named) and np.isfinite(channel.values).all():
            return channel
    return None


def _target(asked: Asked, against: Against | None) -> float | None:
    if asked.target is not None:
        return asked.target
    if against is None:
        return None
    return against.design.movement.target_period


def _scale(capture: Capture, volts: Channel, against: Against | None) -> tuple[float, float]:
    """Return the width for each volt at fresh cells, and how much wider it is at spent ones.

    The pin's high level is the rail's: as the cells empty, the same width gives fewer volts.
    """
    output = None if against is None else against.done.result("log_output")
    if output is None or against is None or against.design.log_output is None or (
        against.design.log_output.full_scale is None
    ):  # fmt: skip
        raise DesignFileError(
            file=capture.file, found=f'the column "{volts.name}" in volts, and no scale for it',
            wanted="add --design FILE with full_scale in [log_output], or --units ms for widths",
        )  # fmt: skip
    rail = max(output.v_fresh, output.v_spent)
    if float(np.nanmax(volts.values)) > 1.02 * rail:
        raise DesignFileError(
            file=capture.file,
            found=f'{show(float(np.nanmax(volts.values)), "V")} in "{volts.name}", above the rail '
            f"of {show(rail, 'V')}",
            wanted="check the unit of that column with --units",
        )  # fmt: skip
    scale = float(output.full_scale / (output.gain * rail))
    return scale, float(rail / min(output.v_fresh, output.v_spent))
