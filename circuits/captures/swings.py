"""From a capture of a free swing to its passes: when each was, and how large the arc then."""

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.fit_beats import beat_numbers
from calc.fit_burst import burst_passes
from calc.fit_wave import Passes, even, is_sine, sine_passes, wave_period
from circuits.captures.capture import Capture, Channel
from circuits.captures.kinds import ANGLE, signals
from circuits.captures.measured import Against, Asked
from circuits.errors import DesignFileError

Array = NDArray[np.float64]
COUNT = re.compile(r"^(n|no\.?|count|number|periods?|beats?|swings?|cycles?)\b", re.I)
ARCS = re.compile(r"arc|amplitude", re.I)
NOTED = "arcs as they were written down"
CLEAR = 8.0
"""A pass whose size is below so many standard deviations is left to the noise."""
UNKNOWN_ARC = 5e-4
"""A speed falls by arc^2/12 less than its arc: of a swing within ten degrees, by so much in the
mean of a record, where no design tells the arc."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Swings:
    """The passes of a free swing.

    `sizes` are in proportion to the arc and None where times alone are known; `unit` is rad where
    they are the arc itself. `certain` says that beats and periods cannot be mixed up here. `doubt`
    is the standard deviation of a loss by what the sizes hold besides the arc, as a share of it.
    """

    how: str
    times: Array | None
    beats: Array
    sizes: Array | None
    weights: Array | None
    unit: str
    certain: bool
    noise: float = 0.0
    doubt: float = 0.0
    wave: tuple[Array, Array] | None = None


def _refuse(capture: Capture, found: str, wanted: str) -> DesignFileError:
    return DesignFileError(file=capture.file, found=found, wanted=wanted)


def swings_of(capture: Capture, asked: Asked, against: Against | None) -> Swings:
    """Return the passes of a free swing.

    Parameters
    ----------
    capture : Capture
        Crossing times, a list of level changes, of arcs, or a waveform.
    asked : Asked
        Whether events are beats or periods.
    against : Against or None
        The design, whose period tells beats from periods where the file does not.

    Returns
    -------
    swings : Swings

    Raises
    ------
    DesignFileError
        Where the capture holds no such thing.
    """
    if capture.sampling == "transitions":
        return _gate(capture, asked, against)
    found = signals(capture)
    if not found:
        return _crossings(capture, asked, against)
    channel = next((c for c in found if ARCS.search(c.name) or c.unit == "rad"), None)
    channel = channel or next((c for c in found if ANGLE.search(c.name)), found[0])
    listed = _listed(capture, found, channel, asked, against)
    return listed or _waveform(capture, channel, asked, against)


def events_are(times: Array, asked: Asked, against: Against | None) -> tuple[float, bool]:
    """Return how many beats lie between two events, and whether that is certain."""
    if asked.count is not None:
        return (1.0 if asked.count == "beats" else 2.0), True
    if against is not None:
        period = against.done.ledger.values.get("movement.period")
        if period is not None and not isinstance(period.value, str):
            share = 2 * float(np.median(np.diff(times))) / period.value
            for beats in (1.0, 2.0):
                if abs(share / beats - 1) < 0.2:
                    return beats, True
    return 1.0, False


def _numbered(times: Array, each: float) -> Array:
    # Of a sensor beside the middle, long and short beats alternate.
    pairs = times[2:] - times[:-2]
    one = float(np.median(pairs)) / 2 if pairs.size else float(np.median(np.diff(times)))
    return each * beat_numbers(times=times, beat=one)


def _crossings(capture: Capture, asked: Asked, against: Against | None) -> Swings:
    times = np.empty(0) if capture.time is None else capture.time[np.isfinite(capture.time)]
    if times.size < 10 or not np.all(np.diff(times) > 0):
        raise _refuse(
            capture, f"{times.size} crossing times" if times.size < 10 else "times that go back",
            "give ten crossings or more, in their order",
        )  # fmt: skip
    each, certain = events_are(times, asked, against)
    return Swings(
        how="crossing times", times=times, beats=_numbered(times, each), sizes=None, weights=None,
        unit="", certain=certain,
    )  # fmt: skip


def _gate(capture: Capture, asked: Asked, against: Against | None) -> Swings:
    """Return passes of a light gate: the flag covers it the longer, the slower it passes."""
    found = signals(capture)
    if capture.time is None or not found:
        raise _refuse(capture, "changes of a level without times", "give a time for each change")
    level = found[0].values
    good = np.isfinite(level) & np.isfinite(capture.time)
    t, high = capture.time[good], level[good] > np.nanmean(level[good])
    ups = t[1:][high[1:] & ~high[:-1]]
    downs = t[1:][~high[1:] & high[:-1]]
    if ups.size < 6 or downs.size < 6:
        raise _refuse(capture, f"{ups.size} passes of the sensor", "record six passes or more")
    downs = downs[downs > ups[0]]
    count = min(ups.size, downs.size)
    covered, open_ = downs[:count] - ups[:count], ups[1:count] - downs[: count - 1]
    if np.median(covered) > np.median(open_):
        # The gate is high while free: the flag covers it in the gaps.
        begins, ends = downs[: count - 1], ups[1:count]
    else:
        begins, ends = ups[:count], downs[:count]
    times, width = (begins + ends) / 2, ends - begins
    each, certain = events_are(times, asked, against)
    beats = _numbered(times, each)
    period = 2 * float((times[-1] - times[0]) / beats[-1])
    sizes = 1 / np.sin(np.minimum(np.pi * width / period, np.pi / 2))
    return Swings(
        how="the time that a flag covers the gate: the slower the pass, the longer",
        times=times, beats=beats, sizes=sizes, weights=1 / sizes**2, unit="", certain=certain,
    )  # fmt: skip


def _listed(
    capture: Capture, found: list[Channel], channel: Channel, asked: Asked,
    against: Against | None,
) -> Swings | None:  # fmt: skip
    """Return a list of arcs that somebody wrote down, None if the column swings."""
    values = channel.values
    good = np.isfinite(values)
    arcs = values[good]
    turns = np.diff(np.sign(np.diff(arcs)))
    swings_about = np.count_nonzero(turns) > 0.3 * arcs.size and np.ptp(arcs) > 0.5 * arcs.max()
    if arcs.size < 5 or np.any(arcs <= 0) or swings_about or arcs[0] <= arcs[-1]:
        return None
    if arcs.size > 500 and not ARCS.search(channel.name):
        return None
    counted = next((c for c in found if c is not channel and COUNT.search(c.name)), None)
    times = None if capture.time is None else capture.time[good]
    if counted is not None:
        beats = counted.values[good] * (1.0 if _counts_beats(counted.name, asked) else 2.0)
        certain = asked.count is not None or bool(re.search(r"period|beat|cycle", counted.name))
        times = None
    elif times is not None:
        period = _period(against)
        if period is None:
            raise _refuse(
                capture, "arcs against time, and no period to count by",
                "add --design FILE, or a column that counts periods",
            )  # fmt: skip
        beats, certain = 2 * times / period, True
        times = None
    else:
        beats = np.arange(arcs.size, dtype=np.float64) * (1.0 if asked.count == "beats" else 2.0)
        certain = asked.count is not None
    return Swings(
        how=NOTED, times=times, beats=beats, sizes=arcs,
        weights=np.ones_like(arcs), unit="rad" if channel.unit == "rad" else "", certain=certain,
    )  # fmt: skip


def _counts_beats(name: str, asked: Asked) -> bool:
    if asked.count is not None:
        return asked.count == "beats"
    return bool(re.search(r"beat", name, re.I))


def _period(against: Against | None) -> float | None:
    if against is None:
        return None
    value = against.done.ledger.values.get("movement.period")
    return None if value is None or isinstance(value.value, str) else float(value.value)


def _waveform(capture: Capture, channel: Channel, asked: Asked, against: Against | None) -> Swings:
    if capture.time is None:
        raise _refuse(
            capture, "a waveform without times", "name the time column with --columns and --units"
        )
    good = np.isfinite(channel.values) & np.isfinite(capture.time)
    t, wave = even(capture.time[good], channel.values[good])
    if t.size < 64 or not np.all(np.diff(t) > 0):
        raise _refuse(capture, "no steady run of samples", "give one stretch of the free swing")
    if is_sine(t, wave):
        period = wave_period(t, wave)
        if period <= 0:
            raise _refuse(capture, "a wave without a period", "record three periods or more")
        passes = sine_passes(t=t, wave=wave, period=period)
        how = "a sine fitted to each stretch of the wave"
        unit = "rad" if channel.unit == "rad" else ""
    else:
        passes = burst_passes(t=t, wave=wave)
        how = "the height of each pass, which goes with the speed"
        unit = ""
    sizes, doubt = passes.size, passes.doubt
    if passes.phase.any() or how.startswith("the height"):
        sizes, doubt = _arcs(passes, asked, against)
    clear = passes.size > CLEAR * passes.size_sigma
    last = int(np.argmin(clear)) if not clear.all() else clear.size
    keep = slice(0, max(last, 5))
    times = passes.t
    if capture.crossings is not None:
        times = _sharper(times, passes.beats, capture.crossings)
    return Swings(
        how=how, times=times[keep], beats=passes.beats[keep], sizes=sizes[keep],
        weights=1 / passes.size_sigma[keep], unit=unit, certain=True, noise=passes.noise,
        doubt=doubt, wave=(t, wave),
    )  # fmt: skip


def _sharper(times: Array, beats: Array, known: Array) -> Array:
    """Return the crossings that are known better, where one is next to each.

    A level beside the middle of a sine makes them early and late in turn; the mean of one and its
    neighbours is not. Between the passes of a coil there are no such neighbours.
    """
    if known.size < 3 or times.size < 2:
        return times
    beat = float((times[-1] - times[0]) / (beats[-1] - beats[0]))
    before, after = known[1:-1] - known[:-2], known[2:] - known[1:-1]
    in_turn = np.abs(before + after - 2 * beat) < 0.2 * beat
    in_turn &= np.abs(before - after) < beat
    better = known.copy()
    better[1:-1] += np.where(in_turn, (after - before) / 4, 0.0)
    place = np.clip(np.searchsorted(better, times), 1, better.size - 1)
    low, high = better[place - 1], better[place]
    nearest = np.where(times - low < high - times, low, high)
    return np.where(np.abs(nearest - times) < 0.25 * beat, nearest, times)


def _arcs(passes: Passes, asked: Asked, against: Against | None) -> tuple[Array, float]:
    """Return sizes in proportion to the arc instead of the speed at mid-swing, and their doubt.

    A pendulum's speed goes with the sine of half the arc. The design's coil tells the arc: its
    lobes peak at a known place, and at a measured phase.
    """
    if against is None:
        return passes.size, float(np.hypot(passes.doubt, UNKNOWN_ARC))
    if against.design.movement.kind == "balance":
        return passes.size, passes.doubt
    linkage, swing = against.done.result("linkage"), against.done.result("movement").swing
    curve = linkage.pickup if asked.winding == "pickup" and linkage.pickup else linkage.drive
    phase = float(passes.phase[0])
    arc = float(curve.path_peak) / (swing.radius * np.sin(phase)) if phase > 0 else swing.arc
    if not 0 < arc < 1:
        return passes.size, float(np.hypot(passes.doubt, UNKNOWN_ARC))
    sines = np.sin(arc / 2) * passes.size / passes.size[0]
    return passes.size[0] * 2 * np.arcsin(np.minimum(sines, 0.999)) / arc, passes.doubt
