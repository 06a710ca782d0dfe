"""A captured pass: hum, noise, and the linkage model fitted to its EMF.

The EMF of a pass shows two things well, its height and its length in time. Remanence, gap and
speed are three: each pair of them is found with the third held, never all three at once.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import require, routine
from calc.fit_least import Fitted, least, linear
from calc.linkage_curve import LinkageCurve
from calc.swing import Swing
from calc.units import Hertz, RadianCurve, SecondCurve

Array = NDArray[np.float64]
ALIKE = 0.95
"""Two values whose correlation exceeds this cannot be told apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hum:
    """Mains hum: its frequency, its amplitude in the wave's unit, and the noise beside it."""

    frequency: Hertz
    frequency_sigma: Hertz
    amplitude: float
    amplitude_sigma: float
    cosine: float
    sine: float
    noise: float

    def wave(self, t: Array) -> Array:
        """Return the hum at some times."""
        turn = 2 * np.pi * self.frequency * t
        return np.asarray(self.cosine * np.cos(turn) + self.sine * np.sin(turn))

    @property
    def seen(self) -> bool:
        """Whether it stands out of the noise."""
        return self.amplitude > 5 * self.amplitude_sigma


def _hum_columns(t: Array, frequency: float) -> Array:
    turn = 2 * np.pi * frequency * t
    middle = float(t.mean())
    return np.stack([np.cos(turn), np.sin(turn), np.ones_like(t), t - middle], axis=1)


@routine
def fit_hum(*, t: SecondCurve, wave: RadianCurve, lowest: Hertz, highest: Hertz) -> Hum:
    """Return the hum in the quiet part of a wave.

    Parameters
    ----------
    t : numpy.ndarray
        Times, not necessarily at even steps, such as those between passes [s].
    wave : numpy.ndarray
        The wave at these times [1].
    lowest : float
        Where to begin to look [Hz].
    highest : float
        Where to end [Hz].

    Returns
    -------
    hum : Hum
        Frequency, amplitude, noise.

    Raises
    ------
    OutOfRangeError
        If lowest is not above zero, highest not above lowest, or there are fewer than 24 samples.

    Notes
    -----
    By least squares; held by test_hum_between_the_passes.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> t = np.arange(0.0, 0.5, 0.001)
    >>> wave = 0.02 * np.sin(315.0 * t + 0.7) + 1e-4 * np.sin(np.arange(500.0) ** 2)
    >>> hum = fit_hum(t=t, wave=wave, lowest=40.0, highest=70.0)
    >>> round(hum.frequency, 2), round(hum.amplitude, 4)
    (50.13, 0.02)
    """
    require(lowest > 0, "hum: lowest must be above zero; mains is 50 or 60 Hz")
    require(highest > lowest, "hum: highest must exceed lowest; mains is 50 or 60 Hz")
    require(t.size >= 24, "hum: t must hold 24 samples; record more of the quiet part")
    # A coarse look needs four samples a cycle and no more than some thousands in all.
    pace = float(np.median(np.diff(t)))
    thin = slice(None, None, max(1, min(t.size // 3000, int(0.25 / (highest * pace)))))
    step = 0.25 / max(float(np.ptp(t)), 1 / lowest)
    grid = np.linspace(lowest, highest, int(min(max((highest - lowest) / step, 8), 400)))
    about, values = t[thin], wave[thin]
    costs = [linear(_hum_columns(about, float(f)), values).cost for f in grid]
    first = float(grid[int(np.argmin(costs))])
    start = linear(_hum_columns(t, first), wave)
    size = max(float(np.ptp(wave)), 1e-300)
    middle = float(t.mean())
    scaled = np.concatenate((start.values[:3], [start.values[3]])) / size
    span = max(float(np.ptp(t)), 1e-300)

    def residual(p: Array) -> Array:
        turn = 2 * np.pi * (first + p[4] / span) * t
        line = p[2] + p[3] * (t - middle)
        return np.asarray(p[0] * np.cos(turn) + p[1] * np.sin(turn) + line - wave / size)

    found = least(residual, np.append(scaled, 0.0), scale=np.array([1.0, 1.0, 1.0, 1 / span, 0.1]))
    cosine, sine = found.values[:2] * size
    amplitude = float(np.hypot(cosine, sine))
    return Hum(
        frequency=first + float(found.values[4]) / span,
        frequency_sigma=float(found.sigmas[4]) / span,
        amplitude=amplitude,
        amplitude_sigma=float(np.max(found.sigmas[:2])) * size,
        cosine=float(cosine), sine=float(sine), noise=found.scatter * size,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class PassFit:
    """The linkage model laid over one pass.

    `strength` multiplies the slope of the linkage (remanence over the assumed one), `gap` [m],
    `speed` [m/s] at the coil's axis; those held have a standard deviation of zero. `sign` is -1
    where the wave stands the other way up than the rate of change of the linkage.
    """

    strength: float
    strength_sigma: float
    gap: float
    gap_sigma: float
    speed: float
    speed_sigma: float
    crossing: float
    baseline: float
    sign: float
    likeness: float
    scatter: float
    share_left: float
    model: Array


def _speed_wave(t: Array, curve: LinkageCurve, swing: Swing | None, speed: float) -> Array:
    """Return the rate of change of the linkage, the magnet on the axis at time zero."""
    if swing is None:
        return np.asarray(speed * curve.slope(speed * t), dtype=np.float64)
    # The swing whose speed at the middle is this one: same period, other arc.
    share = speed / swing.speed_at_centre
    if swing.kind == "balance":
        arc = swing.arc * share
    else:
        arc = 2 * float(np.arcsin(min(np.sin(swing.arc / 2) * share, 0.999)))
    there = Swing(kind=swing.kind, omega=swing.omega, arc=arc, radius=swing.radius)
    return np.asarray(there.speed(t) * curve.slope(there.path(t)), dtype=np.float64)


def fit_pass(
    t: Array,
    wave: Array,
    curve_at: Callable[[float], LinkageCurve],
    *,
    gap: float,
    speed: float,
    crossing: float,
    free: tuple[str, str],
    swing: Swing | None = None,
) -> PassFit:
    """Fit the linkage model to one pass with two of its three unknowns free.

    Parameters
    ----------
    t : numpy.ndarray
        Times of the pass [s].
    wave : numpy.ndarray
        The EMF, its hum taken away [V].
    curve_at : callable
        Gives the linkage curve at a gap.
    gap, speed : float
        Where to begin, or what is held [m], [m/s].
    crossing : float
        Roughly when the magnet is on the axis [s].
    free : tuple of str
        Two of `strength`, `gap` and `speed`.
    swing : Swing, optional
        The free swing, whose speed falls beside the middle; a constant speed if left out.

    Returns
    -------
    found : PassFit

    Raises
    ------
    OutOfRangeError
        If there are fewer than sixteen samples or speed or gap is not above zero.

    Notes
    -----
    Held by test_known_pass_is_found_again. Time of the crossing and baseline are always free.
    """
    require(t.size >= 16, "pass: t must hold sixteen samples; sample faster")
    require(gap > 0, "pass: gap must be above zero; magnet face to winding face")
    require(speed > 0, "pass: speed must be above zero; the magnet moves")
    height = float(np.abs(wave - np.median(wave)).max())
    require(height > 0, "pass: wave must not be flat; nothing is induced")
    length = float(np.ptp(t))
    fixed = curve_at(gap)
    rough = _speed_wave(t - crossing, fixed, swing, speed)
    about = wave - float(np.median(wave))
    sign = 1.0 if float(np.dot(rough, about)) >= 0 else -1.0
    names, measured = free, wave

    def parts(p: Array) -> tuple[float, float, float]:
        values = {"strength": 1.0, "gap": gap, "speed": speed}
        for name, share in zip(names, p[:2], strict=True):
            values[name] *= float(np.exp(np.clip(share, -2.5, 2.5)))
        return values["strength"], values["gap"], values["speed"]

    def model(p: Array) -> Array:
        strength, there, fast = parts(p)
        curve = fixed if there == gap else curve_at(there)
        shifted = t - crossing - p[2] * length
        wave = sign * strength * _speed_wave(shifted, curve, swing, fast)
        return np.asarray(wave + p[3] * height, dtype=np.float64)

    first = np.zeros(4)
    # The height fixes one of the two at once; the other one begins where it is believed to be.
    top = float(np.abs(rough).max())
    if "strength" in names and top > 0:
        first[names.index("strength")] = np.clip(np.log(height / top), -2.0, 2.0)
    found: Fitted = least(
        lambda p: (model(p) - measured) / height, first, scale=np.array([0.1, 0.1, 0.02, 0.02]),
        low=np.array([-2.4, -2.4, -0.6, -1.0]), high=np.array([2.4, 2.4, 0.6, 1.0]), tolerance=1e-9,
    )  # fmt: skip
    strength, there, fast = parts(found.values)
    sigma = dict(zip(names, found.sigmas[:2].tolist(), strict=True))
    fitted = model(found.values)
    return PassFit(
        strength=strength, strength_sigma=strength * sigma.get("strength", 0.0),
        gap=there, gap_sigma=there * sigma.get("gap", 0.0),
        speed=fast, speed_sigma=fast * sigma.get("speed", 0.0),
        crossing=crossing + float(found.values[2]) * length,
        baseline=float(found.values[3]) * height, sign=sign,
        likeness=found.likeness(0, 1), scatter=found.scatter * height,
        share_left=found.scatter * height / height, model=fitted,
    )  # fmt: skip


def three_alike(
    t: Array,
    wave: Array,
    curve_at: Callable[[float], LinkageCurve],
    found: PassFit,
    swing: Swing | None = None,
) -> tuple[float, float]:
    """Return how alike remanence and gap are, and the gap's spread, were all three free.

    Parameters
    ----------
    t, wave : numpy.ndarray
        The pass [s], [V].
    curve_at : callable
        Gives the linkage curve at a gap.
    found : PassFit
        A fit with two of the three free.
    swing : Swing, optional
        As for `fit_pass`.

    Returns
    -------
    likeness : float
        Correlation of remanence and gap; near one they cannot be told apart.
    gap_sigma : float
        Standard deviation of the gap with all three free, as a share of it.
    """
    height = float(np.abs(wave - found.baseline).max())
    length = float(np.ptp(t))

    def model(p: Array) -> Array:
        curve = curve_at(found.gap * float(np.exp(p[1])))
        shifted = t - found.crossing - p[3] * length
        rate = _speed_wave(shifted, curve, swing, found.speed * float(np.exp(p[2])))
        size = found.sign * found.strength * float(np.exp(p[0]))
        return np.asarray(size * rate + p[4] * height, dtype=np.float64)

    step = 1e-4
    zero = np.zeros(5)
    columns = np.stack(
        [(model(zero + step * e) - model(zero - step * e)) / (2 * step) for e in np.eye(5)], axis=1
    )
    # The linkage model itself is good to a part in a hundred: no noise is smaller than that.
    noise = max(found.scatter, 0.003 * height)
    size = np.linalg.norm(columns, axis=0)
    scaled = columns / size
    spread = np.linalg.pinv(np.dot(scaled.T, scaled), rcond=1e-12)
    likeness = float(spread[0, 1] / np.sqrt(spread[0, 0] * spread[1, 1]))
    return likeness, float(np.sqrt(spread[1, 1]) / size[1]) * noise
