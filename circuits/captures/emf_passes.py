"""The passes of a magnet in a coil's captured voltage: hum, noise, lobes, peaks, crossings."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError
from calc.emf import LOBE_SHARE
from calc.fit_pass import Hum, fit_hum
from calc.fit_wave import bursts, even, quiet_noise
from circuits.captures.capture import Capture, Channel
from circuits.errors import DesignFileError

Array = NDArray[np.float64]
MAINS = (40.0, 70.0)
MOST_SAMPLES = 400_000
"""Longer captures are thinned before they are searched, never below what a pass needs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EmfPass:
    """One pass: its samples without hum, its lobes in order, and its crossing.

    `heights` and `times` are of the lobes above a twentieth of the greatest; `crossing` is where
    the wave turns from one of the two greatest to the other, or the peak of the middle of three.
    """

    t: Array
    wave: Array
    heights: tuple[float, ...]
    times: tuple[float, ...]
    crossing: float

    @property
    def peak(self) -> float:
        """The greatest height, whatever its sign."""
        return max(abs(height) for height in self.heights)

    @property
    def spacing(self) -> float:
        """Time from the first lobe's peak to the last's."""
        return self.times[-1] - self.times[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class EmfCapture:
    """The whole capture: the wave without hum about its baseline, and its passes."""

    t: Array
    wave: Array
    baseline: float
    noise: float
    hum: Hum | None
    passes: tuple[EmfPass, ...]


def _clean(capture: Capture, channel: Channel) -> tuple[Array, Array]:
    if capture.time is None:
        raise DesignFileError(
            file=capture.file, found="a wave without times",
            wanted="name the time column with --columns and its unit with --units",
        )  # fmt: skip
    good = np.isfinite(channel.values) & np.isfinite(capture.time)
    t, wave = capture.time[good], channel.values[good]
    if t.size < 32 or not np.all(np.diff(t) > 0):
        raise DesignFileError(
            file=capture.file, found="no steady run of samples", wanted="give one whole capture"
        )
    t, wave = even(t, wave)
    thin = max(1, t.size // MOST_SAMPLES)
    if thin > 1:
        count = t.size // thin
        t = t[: count * thin].reshape(count, thin).mean(axis=1)
        wave = wave[: count * thin].reshape(count, thin).mean(axis=1)
    return t, wave


def _passes(t: Array, about: Array, spans: list[tuple[int, int]], noise: float) -> list[EmfPass]:
    return [one for first, last in spans if (one := _pass(t, about, first, last, noise))]


def _hum_of(t: Array, wave: Array, quiet: NDArray[np.bool_]) -> Hum | None:
    step = float(t[1] - t[0])
    if quiet.sum() < 24 or step > 1 / (2.5 * MAINS[1]) or quiet.sum() * step < 1.5 / MAINS[0]:
        return None
    try:
        first = fit_hum(t=t[quiet], wave=wave[quiet], lowest=MAINS[0], highest=MAINS[1])
        # A mean over one cycle holds the tails of the passes and none of the hum.
        width = 2 * round(0.5 / (first.frequency * step)) + 1
        sharp = wave - _smooth(wave, width)
        inner = quiet.copy()
        inner[:width] = inner[-width:] = False
        if inner.sum() < 24:
            return first
        return fit_hum(t=t[inner], wave=sharp[inner], lowest=MAINS[0], highest=MAINS[1])
    except OutOfRangeError:
        return None


def _smooth(wave: Array, width: int) -> Array:
    if width < 2:
        return wave
    padded = np.pad(wave, width // 2, mode="edge")
    summed = np.cumsum(np.concatenate(([0.0], padded)))
    return np.asarray((summed[width:] - summed[:-width])[: wave.size] / width)


def emf_capture(capture: Capture, channel: Channel) -> EmfCapture:
    """Return the passes of a capture.

    Parameters
    ----------
    capture : Capture
        As it was read.
    channel : Channel
        The coil's voltage.

    Returns
    -------
    found : EmfCapture

    Raises
    ------
    DesignFileError
        If there is no wave, or no pass stands out of the noise.
    """
    t, wave = _clean(capture, channel)
    baseline = float(np.median(wave))
    about = wave - baseline
    noise = quiet_noise(about)
    spans = _spans(t, about, noise)
    quiet = _quiet(t.size, spans)
    hum = _hum_of(t, wave, quiet)
    if hum is not None:
        noise = hum.noise
        if hum.seen:
            about = wave - hum.wave(t)
            baseline = float(np.median(about[quiet]))
            about = about - baseline
            spans = _spans(t, about, noise)
        else:
            hum = None
    elif quiet.sum() >= 16:
        baseline = float(np.median(wave[quiet]))
        about = wave - baseline
    passes = _passes(t, about, spans, noise)
    if len(passes) > 1:
        # From crossing to crossing the flux comes back to what it was: the mean is the baseline.
        between = (t >= passes[0].crossing) & (t <= passes[-1].crossing)
        shift = float(about[between].mean())
        about, baseline = about - shift, baseline + shift
        passes = _passes(t, about, spans, noise)
    if not passes:
        raise DesignFileError(
            file=capture.file, found="no pass of a magnet that stands out of the noise",
            wanted="capture while it swings, with a finer volts setting; or say --as what it is",
        )  # fmt: skip
    return EmfCapture(
        t=t, wave=about, baseline=baseline, noise=noise, hum=hum, passes=tuple(passes)
    )


def _quiet(size: int, spans: list[tuple[int, int]]) -> NDArray[np.bool_]:
    """Return the samples between the passes, as far from them as the capture allows.

    The tails of a pass reach farther than it is loud.
    """
    quiet = np.ones(size, dtype=bool)
    for share in (1.0, 0.6, 0.3, 0.0):
        quiet[:] = True
        for first, last in spans:
            margin = int(share * (last - first))
            quiet[max(first - margin, 0) : last + margin] = False
        if quiet.sum() > 0.12 * size:
            break
    return quiet


def _spans(t: Array, about: Array, noise: float) -> list[tuple[int, int]]:
    top = float(np.abs(about).max())
    if top < 5 * noise or top == 0:
        return []
    level = max(4 * noise, 0.04 * top)
    spans = bursts(t, about, level, 0.0)
    heights = [float(np.abs(about[a:b]).max()) for a, b in spans]
    return [span for span, height in zip(spans, heights, strict=True) if height > 0.3 * top]


def _pass(t: Array, about: Array, first: int, last: int, noise: float) -> EmfPass | None:
    """Return one pass; None where the record cuts it off."""
    size = last - first
    if size < 8:
        return None
    # A window three times as long holds the slopes on both sides.
    part, times = about[first:last], t[first:last]
    top = float(np.abs(part).max())
    edge = max(5 * noise, 0.25 * top)
    if (first == 0 and abs(part[0]) > edge) or (last == t.size and abs(part[-1]) > edge):
        return None
    width = max(1, size // 60) if noise > 2e-3 * top else 1
    smooth = _smooth(part, width)
    lobes = _lobes(times, part, smooth, max(LOBE_SHARE * top, 4 * noise / np.sqrt(width)))
    if not lobes:
        return None
    heights = tuple(height for _, height in lobes)
    places = tuple(place for place, _ in lobes)
    return EmfPass(
        t=times, wave=part, heights=heights, times=places,
        crossing=_crossing(times, part, places, heights),
    )  # fmt: skip


def _lobes(t: Array, raw: Array, wave: Array, level: float) -> list[tuple[float, float]]:
    """Return time and height of the extreme of each lobe above a level, in order.

    `wave` is smoothed, to count lobes by; the heights are of the samples as they are.
    """
    lobes: list[tuple[int, int]] = []
    loud = np.flatnonzero(np.abs(wave) > level)
    for index in loud.tolist():
        if lobes and (wave[index] > 0) == (wave[lobes[-1][1]] > 0):
            lobes[-1] = (lobes[-1][0], index)
        else:
            lobes.append((index, index))
    found = []
    for a, b in lobes:
        best = a + int(np.argmax(np.abs(wave[a : b + 1])))
        # The lobe's top: as far as it is higher than four fifths of its peak.
        lower = np.flatnonzero(np.abs(wave[a : b + 1]) < 0.8 * abs(float(wave[best]))) + a
        before, after = lower[lower < best], lower[lower > best]
        low = int(before[-1]) + 1 if before.size else a
        high = int(after[0]) if after.size else b + 1
        if high - low < 7:
            found.append((float(t[best]), float(wave[best])))
            continue
        middle, scale = float(t[best]), float(t[high - 1] - t[low]) / 2
        # A lobe is steeper towards the crossing: a parabola would put its peak too far out.
        terms = np.polyfit((t[low:high] - middle) / scale, raw[low:high], 4)
        fine = np.linspace(-0.6, 0.6, 1201)
        heights = np.polyval(terms, fine)
        top = int(np.argmax(np.abs(heights)))
        found.append((middle + scale * float(fine[top]), float(heights[top])))
    return found


def _crossing(
    t: Array, wave: Array, places: tuple[float, ...], heights: tuple[float, ...]
) -> float:
    """Return where the wave crosses between its greatest neighbours, by a straight line."""
    if len(places) == 1:
        return places[0]
    sizes = [abs(height) for height in heights]
    if len(places) >= 3:
        tallest = int(np.argmax(sizes))
        inner = 0 < tallest < len(places) - 1
        if inner and sizes[tallest] > 1.3 * max(sizes[tallest - 1], sizes[tallest + 1]):
            return places[tallest]
    pair = int(np.argmax([sizes[k] + sizes[k + 1] for k in range(len(places) - 1)]))
    inside = (t >= places[pair]) & (t <= places[pair + 1])
    flank, times = wave[inside], t[inside]
    if flank.size < 4:
        return (places[pair] + places[pair + 1]) / 2
    near = np.abs(flank) <= 0.5 * min(sizes[pair], sizes[pair + 1])
    if near.sum() < 3:
        near = np.ones(flank.size, dtype=bool)
    about = float(times[near].mean())
    scale = float(np.ptp(times[near])) or 1.0
    slope, offset = (float(c) for c in np.polyfit((times[near] - about) / scale, flank[near], 1))
    crossing = about - scale * offset / slope if slope else about
    return min(max(crossing, places[pair]), places[pair + 1])
