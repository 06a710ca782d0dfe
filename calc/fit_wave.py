"""Waveforms of a free swing: the arc and the crossing of each pass, from samples in time."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import require, routine
from calc.units import Count, RadianCurve, Ratio, Second, SecondCurve

Array = NDArray[np.float64]
NEAR = 0.4
"""A gap shorter than this share of the lobe beside it is a crossing, not the quiet of a swing."""
MOST_GAPS = 20
"""A wave whose gaps are so many times as long as its runs is none."""
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
    phase : numpy.ndarray
        Of a burst, how far beside mid-swing its lobes peak, in the swing's phase; else zero [rad].
    doubt : float
        Standard deviation of a loss by what `size` holds besides the arc, as a share of it [1].
    """

    t: SecondCurve
    beats: RadianCurve
    size: RadianCurve
    size_sigma: RadianCurve
    noise: float
    phase: RadianCurve
    doubt: Ratio = 0.0

    @property
    def count(self) -> Count:
        """How many passes or windows there are."""
        return int(self.t.size)


def even(t: Array, wave: Array) -> tuple[Array, Array]:
    """Return the wave at even steps; a copy by straight lines where the steps differ."""
    steps = np.diff(t)
    step = float(np.median(steps))
    require(step > 0, "wave: t must rise; check the order of the times")
    if np.all(np.abs(steps - step) < 1e-3 * step):
        return t, wave
    count = int(np.floor((t[-1] - t[0]) / step)) + 1
    require(count < MOST_GAPS * t.size, "wave: gaps must be shorter than the runs; cut the file")
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
        phase=np.zeros(size[keep].size),
    )  # fmt: skip


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
