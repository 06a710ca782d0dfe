"""What a capture is: told by its columns, units and shape, with the reason in words."""

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError
from calc.fit_burst import burst_passes
from calc.fit_wave import even, is_sine, quiet_noise
from circuits.captures.capture import Capture, Channel
from circuits.captures.measured import Kind
from circuits.errors import DesignFileError
from circuits.format_quantity import show

Array = NDArray[np.float64]
WIDTH = re.compile(r"width|pulse|impuls|drive|log.?out", re.I)
CURRENT = re.compile(r"shunt|current|amp\b|i_?coil", re.I)
ANGLE = re.compile(r"\b(arc|angle|amplitude|swing|deflection|position|travel)\b", re.I)
WEATHER = ("K", "Pa")
SLOW = 0.4
"""Samples farther apart than this, in seconds, show no waveform of such a movement."""
LONGEST_EDGE = 0.35
"""A wave that leaps this share of its height between two samples was switched."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recognised:
    """The kind and why; `sure` is False where only the shape speaks for it."""

    kind: Kind
    why: str
    sure: bool = True


def signals(capture: Capture) -> list[Channel]:
    """Return the channels that hold a signal rather than weather; empty ones are left out."""
    return [
        channel
        for channel in capture.channels
        if channel.unit not in WEATHER and np.isfinite(channel.values).sum() >= 2
    ]


def _span(capture: Capture) -> float:
    return 0.0 if capture.time is None else float(np.nanmax(capture.time) - np.nanmin(capture.time))


def _step(capture: Capture) -> float:
    if capture.time is None or capture.time.size < 2:
        return 0.0
    return float(np.nanmedian(np.diff(capture.time)))


def switched(values: Array) -> bool:
    """Whether a wave leaps between levels, or flows one way only, as a driven coil's does."""
    clean = values[np.isfinite(values)]
    height = float(np.ptp(clean))
    if height <= 0:
        return False
    noise = quiet_noise(clean)
    leap = float(np.abs(np.diff(clean)).max())
    if leap > max(LONGEST_EDGE * height, 8 * noise):
        return True
    base = float(np.median(clean))
    up, down = float(clean.max()) - base, base - float(clean.min())
    return min(up, down) < max(0.04 * height, 5 * noise) and max(up, down) > 10 * noise


def recognise(capture: Capture) -> Recognised:
    """Return what a capture is.

    Parameters
    ----------
    capture : Capture
        As it was read.

    Returns
    -------
    recognised : Recognised

    Raises
    ------
    DesignFileError
        If nothing speaks for any kind.
    """
    if capture.sampling == "transitions":
        return _transitions(capture)
    found = signals(capture)
    if not found:
        return _times_only(capture)
    return _named(found) or _shaped(capture, found)


def _named(found: list[Channel]) -> Recognised | None:
    """Return what units and names of the columns say, None if they leave it open."""
    timed = [channel for channel in found if channel.unit == "s"]
    for channel in timed:
        if WIDTH.search(channel.name):
            return _log(f'the column "{channel.name}" holds times and is named as pulse widths')
    if timed:
        return _log(f'the column "{timed[0].name}" holds times, one a row: periods')
    for channel in found:
        if channel.unit == "rad" or (channel.unit in ("m", "") and ANGLE.search(channel.name)):
            return Recognised(kind="ringdown", why=f'"{channel.name}" is a position or an arc')
        if channel.unit == "A" or CURRENT.search(channel.name):
            return Recognised(kind="drive", why=f'"{channel.name}" is a current')
        if channel.unit == "s/day":
            return _log(f'"{channel.name}" is a rate')
    return None


def _shaped(capture: Capture, found: list[Channel]) -> Recognised:
    """Return what the samples themselves look like."""
    step, span = _step(capture), _span(capture)
    if step >= SLOW or span > 4 * 3600:
        return _log(f"a row each {show(step, 's')} over {show(span, 's')} shows no single swing")
    if any(switched(channel.values) for channel in found):
        return Recognised(
            kind="drive", sure=False, why="the wave leaps between levels, as a switched coil's does"
        )
    return _wave(capture, found[0])


def _times_only(capture: Capture) -> Recognised:
    if capture.time is None:
        raise _nothing(capture, "no column with figures")
    return Recognised(
        kind="ringdown", sure=False,
        why=f"{capture.rows} times that rise and nothing beside them: crossings of a sensor",
    )  # fmt: skip


def _log(why: str) -> Recognised:
    return Recognised(kind="log", why=why)


def _transitions(capture: Capture) -> Recognised:
    return Recognised(
        kind="ringdown", sure=False,
        why=f"{capture.rows} changes of a level: each pass of a sensor begins and ends",
    )  # fmt: skip


def _wave(capture: Capture, channel: Channel) -> Recognised:
    if capture.time is None:
        raise _nothing(capture, "columns without times")
    good = np.isfinite(channel.values) & np.isfinite(capture.time)
    if good.sum() < 32:
        raise _nothing(capture, f"{int(good.sum())} samples")
    try:
        t, wave = even(capture.time[good], channel.values[good])
    except OutOfRangeError as error:
        raise _nothing(capture, "samples with gaps longer than they are") from error
    if is_sine(t, wave):
        return Recognised(kind="ringdown", sure=False, why="the wave is a sine, as a position's is")
    try:
        passes = burst_passes(t=t, wave=wave)
    except OutOfRangeError:
        return Recognised(kind="emf", sure=False, why="bursts of both signs: a magnet passes")
    fallen = float(passes.size[-1] / passes.size[0])
    if passes.count >= 10 and fallen < 0.85:
        return Recognised(
            kind="ringdown", sure=False,
            why=f"{passes.count} passes, each smaller than the one before: a free swing",
        )  # fmt: skip
    return Recognised(
        kind="emf", sure=False, why="passes of like height, of both signs: a magnet over a coil"
    )


def _nothing(capture: Capture, found: str) -> DesignFileError:
    return DesignFileError(
        file=capture.file, found=f"{found}: nothing says what was captured",
        wanted="add --as ringdown, emf, drive or log, and --columns and --units where the file "
        "has no names",
    )  # fmt: skip
