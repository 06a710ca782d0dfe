"""The EMF of a free swing: size and crossing of each pass of the magnet.

The height of a lobe goes with the speed where the lobe's peak is. That place lies beside the
middle and hardly moves, so the height falls faster than the arc: of a speed
omega sqrt(A^2 - x^2) the logarithm changes by dA/A over the square of the cosine of the phase.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import pi, require, routine
from calc.fit_wave import Passes, bursts, quiet_noise
from calc.units import RadianCurve, Second, SecondCurve

Array = NDArray[np.float64]
LOPSIDED = 1.6
"""One lobe larger than the other by this is the middle one of three."""
LOUD = 10.0
"""A lobe must stand so many times above the noise, or its peak is one of the noise's own."""
TOP = 0.5
"""Half width of a lobe's top, over the time from the crossing to its peak."""
LAW = 3e-4
"""Share of the loss that the law of the heights leaves open, and `BESIDE` of a coil as far beside
the middle as its lobes peak: what it misses on records without noise, halved."""
BESIDE = 4e-3


@dataclass(frozen=True, slots=True)
class _Burst:
    """One pass as first seen: its crossing, its lobes' places and heights, its length.

    `reach` is the time over which a lobe's top is to be fitted to both sides.
    """

    t: float
    places: tuple[float, ...]
    heights: tuple[float, ...]
    reach: float
    length: float


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
        One entry for each burst; `size` goes with the speed at mid-swing.

    Raises
    ------
    OutOfRangeError
        If hush is negative, or fewer than three bursts stand out of the noise.

    Notes
    -----
    By search and least squares; held by test_bursts_of_a_ring_down.

    References
    ----------
    The law of the lobes' height is derived here.

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
    level = max(4 * noise, 0.04 * top)
    spans = bursts(t, centred, level, hush)
    # A pass that the record cuts off at either end has no size.
    cut = [bool(np.abs(centred[end]).max() > level) for end in (slice(0, 3), slice(-3, None))]
    spans = spans[int(cut[0]) : len(spans) - int(cut[1])]
    found = [
        one for first, last in spans
        if last - first >= 5 and (one := _burst(t[first:last], centred[first:last]))
    ]  # fmt: skip
    require(len(found) >= 3, "bursts: passes must number three or more; record longer")
    found = _first_good(found, [min(map(abs, one.heights)) > LOUD * noise for one in found])
    # Past a coil beside the middle, long and short beats take turns.
    early = np.array([one.t for one in found[: max(len(found) // 2, 3)]])
    beat = float(np.median(early[2:] - early[:-2])) / 2
    # A burst that fills half the beat is of a swing that hardly leaves the coil.
    found = _first_good(found, [one.length < 0.9 * beat for one in found])
    times = np.array([one.t for one in found])
    steps = np.maximum(np.rint(np.diff(times) / beat), 1.0)
    beats = np.concatenate(([0.0], np.cumsum(steps)))
    heights, shares = _fitted(t, centred, found)
    square = _squared_sine(times, found, beat)
    slope, bend = _smooth_square(square, heights)
    # The integral of sin^2 = slope/h^2 + bend/h^4 over the logarithm of the height.
    size = heights * np.exp(slope / heights**2 / 2 + bend / heights**4 / 4)
    sine = np.clip(slope / heights**2 + bend / heights**4, 0.0, 0.98)
    inside = sine < 0.61
    keep = slice(0, max(int(np.argmin(inside)) if not inside.all() else inside.size, 3))
    sigma = max(noise, 1e-15 * top) * shares * (1 - sine) * size / heights
    return Passes(
        t=times[keep], beats=beats[keep], size=size[keep], size_sigma=sigma[keep], noise=noise,
        phase=np.arcsin(np.sqrt(sine))[keep], doubt=LAW + BESIDE * _beside(times, beat, sine[0]),
    )  # fmt: skip


def _first_good(found: list[_Burst], good: list[bool]) -> list[_Burst]:
    """Return the good passes, up to the first two in a row that are not."""
    last = next((k for k in range(len(good) - 1) if not good[k] and not good[k + 1]), len(good))
    kept = [one for one, is_good in zip(found[:last], good[:last], strict=True) if is_good]
    return kept if len(kept) >= 3 else found[: max(last, 3)]


def _burst(t: Array, part: Array) -> _Burst | None:
    """Return a pass as its own samples show it."""
    smooth = _smooth(part, max(1, part.size // 60))
    high, low = int(np.argmax(smooth)), int(np.argmin(smooth))
    up, down = float(smooth[high]), -float(smooth[low])
    length = float(t[-1] - t[0])
    if min(up, down) <= 0 or max(up, down) > LOPSIDED * min(up, down):
        main = high if up > down else low
        wide = np.flatnonzero(np.sign(smooth[main]) * smooth < 0.7 * abs(float(smooth[main])))
        before, after = wide[wide < main], wide[wide > main]
        if not before.size or not after.size:
            return None
        reach = float(t[after[0]] - t[before[-1]]) / 2
        return _Burst(float(t[main]), (float(t[main]),), (float(smooth[main]),), reach, length)
    a, b = sorted((high, low))
    return _Burst(
        _crossing(t, part, a, b), (float(t[a]), float(t[b])),
        (float(smooth[a]), float(smooth[b])), TOP * float(t[b] - t[a]) / 2, length,
    )  # fmt: skip


def _smooth(wave: Array, width: int) -> Array:
    if width < 2:
        return wave
    kernel = np.ones(width) / width
    return np.convolve(wave, kernel, mode="same")


def _fitted(t: Array, wave: Array, found: list[_Burst]) -> tuple[Array, Array]:
    """Fit the lobes' tops anew; return the sums of heights, and their noise over a sample's.

    The tops that are fitted are alike in all passes: as wide as the magnet's way over one part of
    the coil takes. So what a polynomial rounds off is the same share of each height.
    """
    first = np.array([sum(map(abs, one.heights)) for one in found])
    # The time over a part of the coil goes with one over the speed, the height with the speed.
    reach = float(np.median([one.reach * size for one, size in zip(found, first, strict=True)]))
    heights, shares = first.copy(), np.ones(len(found))
    for k, one in enumerate(found):
        tops = [
            _top(t, wave, place, height, reach / first[k])
            for place, height in zip(one.places, one.heights, strict=True)
        ]
        if None not in tops:
            heights[k] = sum(abs(top[0]) for top in tops if top)
            shares[k] = np.sqrt(sum(top[2] ** 2 for top in tops if top))
            found[k] = _Burst(one.t, tuple(top[1] for top in tops if top), one.heights, one.reach,
                              one.length)  # fmt: skip
    return heights, shares


def _top(
    t: Array, wave: Array, place: float, height: float, reach: float
) -> tuple[float, float, float] | None:
    """Return height, place and noise share of a polynomial's peak; None of too few samples."""
    noise = 1.0
    for _ in range(2):
        low, high = np.searchsorted(t, [place - reach, place + reach])
        if high - low < 8:
            return None
        u = (t[low:high] - place) / reach
        # A lobe is steeper towards the crossing: a parabola would put its peak too far out.
        columns = np.vander(u, 5)
        terms, *_ = np.linalg.lstsq(columns, wave[low:high], rcond=None)
        fine = np.linspace(-0.7, 0.7, 281)
        curve = np.polyval(terms, fine) * np.sign(height)
        best = int(np.argmax(curve))
        if not 0 < best < fine.size - 1:
            return None
        a, b, c = curve[best - 1 : best + 2]
        at = float(fine[best] + 0.5 * (a - c) / (a - 2 * b + c) * (fine[1] - fine[0]))
        row = np.vander([at], 5)[0]
        peak = float(row @ terms)
        noise = float(np.sqrt(row @ np.linalg.pinv(columns.T @ columns) @ row))
        place += at * reach
    return peak, place, noise


def _squared_sine(times: Array, found: list[_Burst], beat: float) -> Array:
    """Return the square of the sine of the phase at each pass's lobes, of two their mean.

    Crossings of a coil beside the middle are early and late in turn; mid-swing lies between.
    """
    middle = times.copy()
    alike = np.abs(np.diff(times, 2)) < 0.2 * beat
    mean = (times[:-2] + 2 * times[1:-1] + times[2:]) / 4
    middle[1:-1] = np.where(alike, mean, times[1:-1])
    if times.size > 3 and alike[0] and alike[-1]:
        middle[0] = times[0] + (times[1] - middle[1])
        middle[-1] = times[-1] + (times[-2] - middle[-2])
    square = np.zeros(times.size)
    for k, one in enumerate(found):
        if len(one.places) == 2:
            phases = pi * (np.array(one.places) - middle[k]) / beat
            square[k] = float(np.mean(np.sin(np.clip(phases, -1.5, 1.5)) ** 2))
    return square


def _beside(times: Array, beat: float, square: float) -> float:
    """Return the square of a coil's place beside the middle over that of its lobes' peaks."""
    uneven = np.abs(np.diff(times, 2))
    early = uneven[uneven < beat][: max(times.size // 4, 3)]
    if not early.size or square <= 0:
        return 0.0
    place = float(np.sin(pi * min(float(np.median(early)) / 4 / beat, 0.5)))
    return min(place**2 / square, 1.0)


def _smooth_square(square: Array, heights: Array) -> tuple[float, float]:
    """Return the two terms of the squared sine in even powers of one over the height."""
    if not square.any():
        return 0.0, 0.0
    u = (heights.max() / heights) ** 2
    columns = np.stack([u, u**2], axis=1) if np.ptp(u) > 0.3 else u[:, None]
    # Times of quiet lobes are the less certain.
    weights = heights / heights.max()
    for _ in range(3):
        terms, *_ = np.linalg.lstsq(columns * weights[:, None], square * weights, rcond=None)
        apart = np.abs(columns @ terms - square) * heights / heights.max()
        # A pass at the end of the record may have lost a lobe.
        weights = np.where(apart > 5 * np.median(apart) + 1e-12, 0.0, heights / heights.max())
    slope = float(terms[0]) * float(heights.max()) ** 2
    bend = float(terms[1]) * float(heights.max()) ** 4 if terms.size > 1 else 0.0
    return slope, bend


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
