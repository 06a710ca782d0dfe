"""Waveforms of a free swing: the arc and the crossing of each pass, from samples in time."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import require, routine
from calc.units import Count, RadianCurve, Second, SecondCurve

Array = NDArray[np.float64]
NEAR = 0.4
"""A gap shorter than this share of the lobe beside it is a crossing, not the quiet of a swing."""
SINE = 0.55
"""A sine's root mean square is 0.71 of its peak, that of a wave of short bursts far less."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Passes:
    """What each pass or each window shows, in the order of time.

    Attributes
    ----------
    t : numpy.ndarray
        Time of a crossing of the middle [s].
    beats : numpy.ndarray
        Half periods from the first [1].
    size : numpy.ndarray
        What is in proportion to the arc, in the wave's unit [1].
    size_sigma : numpy.ndarray
        Its standard deviation from the noise [1].
    noise : float
        Root mean square of what lies between and about the passes, in the wave's unit [1].
    """

    t: SecondCurve
    beats: RadianCurve
    size: RadianCurve
    size_sigma: RadianCurve
    noise: float

    @property
    def count(self) -> Count:
        """How many passes or windows there are."""
        return int(self.t.size)


def even(t: Array, wave: Array) -> tuple[Array, Array]:
    """Return the wave at even steps; a copy by straight lines where the steps differ."""
    steps = np.diff(t)
    step = float(np.median(steps))
    if np.all(np.abs(steps - step) < 1e-3 * step):
        return t, wave
    count = int(np.floor((t[-1] - t[0]) / step)) + 1
    grid = t[0] + step * np.arange(count)
    return grid, np.interp(grid, t, wave)


def wave_period(t: Array, wave: Array) -> float:
    """Return the strongest period of an even wave, 0 if none stands out.

    The transform is refined by a parabola through the logarithms beside its peak.
    """
    centred = (wave - wave.mean()) * np.hanning(wave.size)
    power = np.abs(np.fft.rfft(centred, n=2 * centred.size))
    power[:3] = 0.0
    peak = int(np.argmax(power))
    if peak < 4 or peak >= power.size - 1 or power[peak] <= 0:
        return 0.0
    a, b, c = np.log(np.maximum(power[peak - 1 : peak + 2], 1e-300))
    bend = a - 2 * b + c
    shift = 0.5 * (a - c) / bend if bend < 0 else 0.0
    return float(2 * centred.size * (t[1] - t[0]) / (peak + shift))


def is_sine(t: Array, wave: Array) -> bool:
    """Whether an even wave that may decay looks like a sine rather than a train of short bursts."""
    period = wave_period(t, wave)
    cycles = float(t[-1] - t[0]) / period if period > 0 else 0.0
    if cycles < 3:
        return False
    # Each piece must hold whole cycles, or a part of a burst fills it as a sine does.
    count = int(min(max(cycles // 3, 1), 8))
    pieces = [part - np.median(part) for part in np.array_split(wave, count)]
    shares = [
        float(np.sqrt(np.mean(part**2)) / top)
        for part in pieces
        if (top := float(np.abs(part).max())) > 0
    ]
    return bool(shares) and max(shares[: max(len(shares) // 2, 1)]) > SINE


@routine
def sine_passes(*, t: SecondCurve, wave: RadianCurve, period: Second) -> Passes:
    """Return amplitude and crossing of a decaying sine, window by window.

    Parameters
    ----------
    t : numpy.ndarray
        Times at even steps [s].
    wave : numpy.ndarray
        A position: an angle, a way or a voltage in proportion [1].
    period : float
        Time to and fro, roughly [s].

    Returns
    -------
    passes : Passes
        One entry for each window of whole periods.

    Raises
    ------
    OutOfRangeError
        If period is not above zero, or holds fewer than eight samples, or three do not fit in.

    Notes
    -----
    By least squares; held by test_decaying_sine_window_by_window.

    Each window is fitted with a sine whose amplitude runs linearly, a sloping middle, and the
    second and third harmonic, so that neither decay nor drift nor a bent sensor counts as arc.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> t = np.arange(0.0, 60.0, 0.01)
    >>> wave = 0.3 + 0.1 * np.exp(-t / 80) * np.sin(2 * np.pi * t / 1.5)
    >>> found = sine_passes(t=t, wave=wave, period=1.5)
    >>> round(float(found.size[4] / np.exp(-found.t[4] / 80)), 4)
    0.1
    """
    require(period > 0, "sine: period must be above zero; to and fro")
    step = float(t[1] - t[0])
    require(period >= 8 * step, "sine: period must hold eight samples; sample faster")
    require(t[-1] - t[0] > 3 * period, "sine: t must span three periods; record longer")
    total = (t[-1] - t[0]) / period
    # Some two hundred windows are plenty, and wide ones are less noisy.
    cycles = max(1 if total < 16 else 2, int(total // 200))
    width = round(cycles * period / step)
    omega = 2 * np.pi / period
    rows = []
    left: list[float] = []
    for first in range(0, wave.size - width + 1, width):
        piece = slice(first, first + width)
        middle = float(t[piece].mean())
        u = t[piece] - middle
        c, s, scaled = np.cos(omega * u), np.sin(omega * u), u / period
        columns = np.stack(
            [s, c, scaled * s, scaled * c, np.ones_like(u), scaled, np.sin(2 * omega * u),
             np.cos(2 * omega * u), np.sin(3 * omega * u), np.cos(3 * omega * u)], axis=1,
        )  # fmt: skip
        if cycles == 1:
            columns = columns[:, :6]
        solved, *_ = np.linalg.lstsq(columns, wave[piece], rcond=None)
        residual = wave[piece] - columns @ solved
        left.append(float(residual @ residual) / max(width - columns.shape[1], 1))
        # The amplitude is taken at the crossing itself, which lies within half a period.
        late = -float(np.arctan2(solved[1], solved[0])) / omega
        there = solved[:2] + solved[2:4] * late / period
        rows.append((middle + late, float(np.hypot(*there))))
    noise = float(np.sqrt(np.mean(left)))
    crossing = np.array([row[0] for row in rows])
    size = np.array([row[1] for row in rows])
    steps = np.maximum(np.rint(np.diff(crossing) / period), 1.0)
    beats = 2 * np.concatenate(([0.0], np.cumsum(steps)))
    loud = size > 5 * noise * np.sqrt(2 / width)
    last = int(np.argmin(loud)) if not loud.all() else loud.size
    keep = slice(0, max(last, min(3, size.size)))
    return Passes(
        t=crossing[keep], beats=beats[keep], size=size[keep],
        size_sigma=np.full(size[keep].size, noise * np.sqrt(2 / width)), noise=noise,
    )  # fmt: skip


def _smooth(wave: Array, width: int) -> Array:
    if width < 2:
        return wave
    kernel = np.ones(width) / width
    return np.convolve(wave, kernel, mode="same")


@routine
def burst_passes(*, t: SecondCurve, wave: RadianCurve, hush: Second = 0.0) -> Passes:
    """Return size and crossing of each burst of a wave that is quiet between passes.

    Parameters
    ----------
    t : numpy.ndarray
        Times at even steps [s].
    wave : numpy.ndarray
        The coil's voltage: two lobes of opposite sign or three in each pass [1].
    hush : float
        Least time between two passes; zero to let the wave tell [s].

    Returns
    -------
    passes : Passes
        One entry for each burst; `size` is from the highest to the lowest point.

    Raises
    ------
    OutOfRangeError
        If hush is negative, or fewer than three bursts stand out of the noise.

    Notes
    -----
    By search; held by test_bursts_of_a_ring_down.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> t = np.arange(0.0, 8.0, 0.001)
    >>> wave = sum(-(t - c) / 0.02 * np.exp(-(((t - c) / 0.02) ** 2)) * (5 - c / 4)
    ...            for c in np.arange(0.5, 8.0, 0.8))
    >>> found = burst_passes(t=t, wave=wave)
    >>> found.count, np.round(found.t[:3], 4).tolist()
    (10, [0.5, 1.3, 2.1])
    """
    require(hush >= 0, "bursts: hush must not be negative; zero lets the wave tell")
    centred = wave - np.median(wave)
    noise = quiet_noise(centred)
    top = float(np.abs(centred).max())
    require(top > 6 * noise, "bursts: wave must stand out of its noise; take a larger signal")
    level = max(4 * noise, 0.02 * top)
    spans = bursts(t, centred, level, hush)
    # A pass that the record cuts off at either end has no size.
    cut = [bool(np.abs(centred[end]).max() > level) for end in (slice(0, 3), slice(-3, None))]
    spans = spans[int(cut[0]) : len(spans) - int(cut[1])]
    found = [
        one for first, last in spans
        if last - first >= 5 and (one := _burst(t[first:last], centred[first:last]))
    ]  # fmt: skip
    require(len(found) >= 3, "bursts: passes must number three or more; record longer")
    times = np.array([one.t for one in found])
    beat = float(np.median(np.diff(times)))
    steps = np.maximum(np.rint(np.diff(times) / beat), 1.0)
    # The lobe's peak lies beside the middle, where the swing is slower already.
    phase = np.array([np.pi * one.apart / (2 * beat) for one in found])
    size = np.array([one.size for one in found]) / np.cos(np.minimum(phase, 1.4))
    # A burst that fills half the beat is of a swing that hardly leaves the coil.
    inside = (phase < 0.9) & (np.array([one.length for one in found]) < 0.9 * beat)
    keep = slice(0, max(int(np.argmin(inside)) if not inside.all() else inside.size, 3))
    width = max(1, int(np.median([one.width for one in found])))
    return Passes(
        t=times[keep], beats=np.concatenate(([0.0], np.cumsum(steps)))[keep], size=size[keep],
        size_sigma=np.full(size[keep].size, max(noise, 1e-15 * top) * np.sqrt(2 / width)),
        noise=noise,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Burst:
    """One pass: its crossing, size, time between the two lobes, length and smoothing width."""

    t: float
    size: float
    apart: float
    length: float
    width: int


LOPSIDED = 1.6
"""One lobe larger than the other by this is the middle one of three."""


def _burst(t: Array, part: Array) -> _Burst | None:
    width = max(1, part.size // 60)
    smooth = _smooth(part, width)
    high, low = int(np.argmax(smooth)), int(np.argmin(smooth))
    up, down = float(smooth[high]), -float(smooth[low])
    if min(up, down) <= 0 or max(up, down) > LOPSIDED * min(up, down):
        main = high if up > down else low
        about = slice(max(main - 3 * width, 0), main + 3 * width + 1)
        top = _top(t[about], part[about])
        if top is None:
            return None
        return _Burst(top[0], abs(top[1]), 0.0, float(t[-1] - t[0]), 6 * width)
    a, b = sorted((high, low))
    return _Burst(
        _crossing(t, part, a, b), up + down, float(t[b] - t[a]), float(t[-1] - t[0]), width
    )


def _top(t: Array, part: Array) -> tuple[float, float] | None:
    """Return time and height of the parabola through an extreme."""
    if t.size < 4:
        return None
    middle, scale = float(t.mean()), float(np.ptp(t)) / 2
    u = (t - middle) / scale
    bend, slope, level = np.polyfit(u, part, 2)
    at = float(np.clip(-slope / (2 * bend), -1, 1)) if bend else 0.0
    return middle + scale * at, float(level + slope * at + bend * at * at)


def _crossing(t: Array, part: Array, a: int, b: int) -> float:
    """Return where the flank between the two lobes crosses the middle, by a straight line."""
    if b - a < 2:
        return float((t[a] + t[b]) / 2)
    flank, times = part[a : b + 1], t[a : b + 1]
    level = 0.5 * max(abs(float(flank[0])), abs(float(flank[-1])))
    near = np.abs(flank) <= level
    if near.sum() < 3:
        near = np.ones_like(near)
    about = float(times[near].mean())
    slope, offset = np.polyfit(times[near] - about, flank[near], 1)
    if slope == 0:
        return about
    return float(min(max(about - float(offset) / float(slope), float(times[0])), float(times[-1])))


def quiet_noise(wave: Array, block: int = 16) -> float:
    """Return the root mean square of a wave in its quietest stretches, hum and all.

    Blocks of several lengths are tried: short ones may miss hum, long ones may hold a pass.
    """
    found = []
    for size in (block, 4 * block, 16 * block):
        count = wave.size // size
        if count < 12:
            break
        parts = wave[: count * size].reshape(count, size)
        x = np.arange(size) - (size - 1) / 2
        slopes = parts @ x / float(x @ x)
        flat = parts - parts.mean(axis=1, keepdims=True) - slopes[:, None] * x
        found.append(float(np.quantile(flat.std(axis=1), 0.2)))
    if not found:
        steps = np.diff(wave, n=2)
        return float(np.median(np.abs(steps)) / (0.6745 * np.sqrt(6)))
    # Hum raises the longer blocks by up to what it is; a pass raises them by far more.
    noise = found[0]
    for longer in found[1:]:
        if longer < 4 * noise or longer < 0.02 * float(np.ptp(wave)):
            noise = max(noise, longer)
    return noise


def bursts(t: Array, centred: Array, level: float, hush: float) -> list[tuple[int, int]]:
    """Return first and last index of each stretch that is louder than a level.

    Lobes of one pass are joined: the gap at a crossing is shorter than the lobes beside it.
    """
    loud = np.flatnonzero(np.abs(centred) > level)
    if loud.size == 0:
        return []
    step = float(np.median(np.diff(t)))
    breaks = np.flatnonzero(np.diff(loud) > 2)
    firsts = loud[np.concatenate(([0], breaks + 1))]
    lasts = loud[np.concatenate((breaks, [loud.size - 1]))]
    joined: list[list[int]] = []
    lobe = 0.0
    for a, b in zip(firsts.tolist(), lasts.tolist(), strict=True):
        length = float(t[b] - t[a])
        if joined:
            gap = t[a] - t[joined[-1][1]]
            if gap < max(NEAR * max(length, lobe, 3 * step), hush):
                joined[-1][1] = b
                lobe = max(length, 0.5 * lobe)
                continue
        joined.append([a, b])
        lobe = length
    long = float(np.quantile([b - a + 1 for a, b in joined], 0.9))
    kept = [(a, b) for a, b in joined if b - a + 1 >= 0.25 * long]
    spans = []
    for index, (a, b) in enumerate(kept):
        margin = max(3, (b - a) // 4)
        low = kept[index - 1][1] if index else 0
        high = kept[index + 1][0] if index + 1 < len(kept) else centred.size
        spans.append((max(a - margin, low), min(b + 1 + margin, high)))
    return spans
