"""What poles do to a waveform: the filtered signal, its peaks and when it crosses a level."""

from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from calc.calculator import OutOfRangeError, require, routine
from calc.units import (
    Count,
    Ratio,
    Second,
    SecondCurve,
    Volt,
    VoltCurve,
    VoltPerSecond,
    VoltPerSecondCurve,
)

Array = NDArray[np.float64]

# Below this step in time constants the recursion for the powers loses digits to cancellation.
_SMALL_STEP = 1.5
_TERMS = np.arange(26)
# Of the series in the step there: 1 / ((k + 1) (k + 2) ... (k + 1 + j)).
_SERIES = 1 / np.cumprod(np.arange(1, 5)[:, None] + _TERMS, axis=1)
_ROUNDING = 1e-18


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FilteredWave:
    """A filtered waveform with its slope, on the times of the original."""

    wave: VoltCurve
    slope: VoltPerSecondCurve


def _weights(step: Array) -> Array:
    """Integrals of step exp(-step (1 - x)) x**k over x from 0 to 1, for k = 0 to 3."""
    rows = np.empty((4, step.size))
    fine = step < _SMALL_STEP
    z = step[fine]
    if z.size:
        terms = int(np.searchsorted(-(np.float64(z.max()) ** _TERMS) * _SERIES[0], -_ROUNDING)) + 1
        powers = np.empty((min(terms, len(_TERMS)), z.size))
        powers[0], powers[1:] = z, -z
        rows[:, fine] = _SERIES[:, : len(powers)] @ np.multiply.accumulate(powers)
    z = step[~fine]
    rows[0, ~fine] = -np.expm1(-z)
    for k in range(1, 4):
        rows[k, ~fine] = 1.0 - k / z * rows[k - 1, ~fine]
    return rows


def scan(decay: Array, drive: Array, start: float) -> Array:
    """Solve y[n+1] = decay[n] y[n] + drive[n] from y[0] = start by doubling."""
    kept = np.concatenate([[0.0], decay])
    total = np.concatenate([[start], drive])
    reach = 1
    while reach < total.size:
        total[reach:] += kept[reach:] * total[:-reach]
        kept[reach:] = kept[reach:] * kept[:-reach]
        reach *= 2
        if not kept[reach:].any():
            break
    return total


def _one_pole(t: Array, wave: Array, slope: Array, tau: float) -> Array:
    """Low-pass a waveform that is a cubic between its samples; it starts settled."""
    length = np.diff(t)
    even = float(np.ptp(length)) < 1e-9 * float(length.max())
    weights = _weights(length[:1] / tau if even else length / tau)
    rise, first, last = np.diff(wave), slope[:-1] * length, slope[1:] * length
    drive = wave[:-1] * weights[0] + first * weights[1]
    drive += (3 * rise - 2 * first - last) * weights[2]
    drive += (first + last - 2 * rise) * weights[3]
    return scan(np.exp(-length / tau), drive, float(wave[0]))


@routine
def filtered_wave(
    *,
    t: SecondCurve,
    wave: VoltCurve,
    gain: Ratio,
    tau_high: Second,
    tau_slow: Second,
    tau_fast: Second,
) -> FilteredWave:
    """Return a waveform after a high-pass and two low-passes, each settled at the start.

    Parameters
    ----------
    t : numpy.ndarray
        Rising times of the samples [s].
    wave : numpy.ndarray
        The waveform before the filter [V].
    gain : float
        Gain of the pass band [1].
    tau_high : float
        Time constant of the high-pass, infinite for none [s].
    tau_slow : float
        Time constant of the slower low-pass, zero for none [s].
    tau_fast : float
        Time constant of the faster low-pass, zero for none [s].

    Returns
    -------
    filtered : FilteredWave
        The filtered waveform and its slope.

    Raises
    ------
    OutOfRangeError
        If a time constant is negative, tau_high is zero, the times do not rise, or a sample is
        not finite.

    Notes
    -----
    By exact solution of each pole for the cubics through samples and slopes.
    Held by test_ramp_through_two_poles_lags_by_both.

    References
    ----------
    Variation of constants; textbook mathematics, no source needed.

    Examples
    --------
    >>> t = np.linspace(0.0, 0.1, 101)
    >>> found = filtered_wave(t=t, wave=2.0 * t, gain=0.5, tau_high=float("inf"),
    ...                       tau_slow=0.01, tau_fast=0.0)
    >>> round(found.wave[-1].item(), 6)
    0.09
    """
    require(abs(gain) >= 0, "filtered_wave: gain must be a number; give the gain")
    require(tau_high > 0, "filtered_wave: tau_high must be above zero; infinite stands for none")
    require(tau_slow >= 0, "filtered_wave: tau_slow must not be negative; zero stands for none")
    require(tau_fast >= 0, "filtered_wave: tau_fast must not be negative; zero stands for none")
    require(t.size > 3, "filtered_wave: t must hold four samples; sample the whole pass")
    require(np.diff(t) > 0, "filtered_wave: t must rise from sample to sample")
    require(np.isfinite(wave), "filtered_wave: wave must be finite; check the samples")
    signal = gain * wave
    slope: Array = gain * CubicSpline(t, wave)(t, 1)
    if np.isfinite(tau_high):
        passed = _one_pole(t, signal, slope, tau_high)
        slope = slope - (signal - passed) / tau_high
        signal = signal - passed
    for tau in (tau_fast, tau_slow):
        if tau > 0:
            # What a pole passes on has a slope that its own equation tells.
            passed = _one_pole(t, signal, slope, tau)
            slope = (signal - passed) / tau
            signal = passed
    return FilteredWave(wave=signal, slope=slope)


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelCrossing:
    """When a waveform passes a level, and how steeply."""

    t: Second
    slope: VoltPerSecond


@routine
def level_crossings(
    *, t: SecondCurve, wave: VoltCurve, slope: VoltPerSecondCurve, level: Volt, direction: Count
) -> tuple[LevelCrossing, ...]:
    """Return every moment at which a waveform passes a level in one direction.

    Parameters
    ----------
    t : numpy.ndarray
        Rising times of the samples [s].
    wave : numpy.ndarray
        The waveform [V].
    slope : numpy.ndarray
        Its slope at the samples [V/s].
    level : float
        The level [V].
    direction : int
        1 for rising through the level, -1 for falling [1].

    Returns
    -------
    crossings : tuple of LevelCrossing
        In the order of time; empty if there is none.

    Raises
    ------
    OutOfRangeError
        If level is not a number or direction is neither 1 nor -1.

    Notes
    -----
    By root finding on the cubic through both samples and slopes beside the crossing.
    Held by test_sine_crosses_where_it_must.

    References
    ----------
    Hermite interpolation; textbook mathematics, no source needed.

    Examples
    --------
    >>> t = np.linspace(0.0, 1.0, 11)
    >>> found = level_crossings(
    ...     t=t, wave=t**2, slope=2 * t, level=0.5, direction=1)
    >>> round(found[0].t, 9)
    0.707106781
    """
    require(abs(level) >= 0, "level_crossings: level must be a number; give the level")
    require(abs(direction) == 1, "level_crossings: direction must be 1 (rising) or -1 (falling)")
    above = direction * (wave - level) > 0
    starts = np.flatnonzero(~above[:-1] & above[1:])
    found = []
    for i in starts.tolist():
        length = float(t[i + 1] - t[i])
        y_0, y_1 = float(wave[i] - level), float(wave[i + 1] - level)
        m_0, m_1 = float(slope[i]) * length, float(slope[i + 1]) * length
        cubic = (2 * y_0 - 2 * y_1 + m_0 + m_1, -3 * y_0 + 3 * y_1 - 2 * m_0 - m_1, m_0, y_0)
        low, high, x = 0.0, 1.0, y_0 / (y_0 - y_1)
        for _ in range(60):
            value = ((cubic[0] * x + cubic[1]) * x + cubic[2]) * x + cubic[3]
            steep = (3 * cubic[0] * x + 2 * cubic[1]) * x + cubic[2]
            low, high = (x, high) if direction * value <= 0 else (low, x)
            step = x - value / steep if steep else 0.5 * (low + high)
            last, x = x, step if low <= step <= high else 0.5 * (low + high)
            if abs(x - last) < 1e-14:
                break
        steep = (3 * cubic[0] * x + 2 * cubic[1]) * x + cubic[2]
        found.append(LevelCrossing(t=float(t[i]) + x * length, slope=steep / length))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """An extreme of a waveform."""

    t: Second
    height: Volt


@routine
def wave_peak(
    *, t: SecondCurve, wave: VoltCurve, after: Second, before: Second, direction: Count
) -> Peak:
    """Return the highest or lowest point of a waveform within a span of time.

    Parameters
    ----------
    t : numpy.ndarray
        Rising times of the samples [s].
    wave : numpy.ndarray
        The waveform [V].
    after : float
        Start of the span [s].
    before : float
        End of the span [s].
    direction : int
        1 for the highest point, -1 for the lowest [1].

    Returns
    -------
    peak : Peak
        When and how high, refined between the samples.

    Raises
    ------
    OutOfRangeError
        If the span holds no sample or direction is neither 1 nor -1.

    Notes
    -----
    By the parabola through the extreme sample and its neighbours.
    Held by test_peak_of_a_sine_stands_between_samples.

    References
    ----------
    Textbook mathematics (three-point parabola); no source needed.

    Examples
    --------
    >>> t = np.linspace(0.0, 1.0, 11)
    >>> found = wave_peak(
    ...     t=t, wave=t * (0.9 - t), after=0.0, before=1.0, direction=1)
    >>> round(found.t, 6), round(found.height, 6)
    (0.45, 0.2025)
    """
    require(abs(direction) == 1, "wave_peak: direction must be 1 (highest) or -1 (lowest)")
    require(after < before, "wave_peak: after must come earlier than before")
    inside = np.flatnonzero((t >= after) & (t <= before))
    require(inside.size > 0, "wave_peak: the span must hold a sample; sample the whole pass")
    i = int(inside[np.argmax(direction * wave[inside])])
    if not 0 < i < t.size - 1:
        return Peak(t=float(t[i]), height=float(wave[i]))
    x, y = t[i - 1 : i + 2] - t[i], wave[i - 1 : i + 2]
    left, right = (y[0] - y[1]) / x[0], (y[2] - y[1]) / x[2]
    bend = (right - left) / (x[2] - x[0])
    tilt = left - bend * x[0]
    top = -tilt / (2 * bend) if bend else 0.0
    if not x[0] <= top <= x[2]:
        top = 0.0
    return Peak(t=float(t[i] + top), height=float(y[1] + (tilt + bend * top) * top))


@routine
def settled_after(
    *,
    t_edges: SecondCurve,
    v_steps: VoltCurve,
    gain: Ratio,
    tau_slow: Second,
    tau_fast: Second,
    level: Volt,
) -> Second:
    """Return when the filter has forgotten a sequence of steps to within a level.

    Parameters
    ----------
    t_edges : numpy.ndarray
        Times of the steps [s].
    v_steps : numpy.ndarray
        Steps of the voltage before the filter; they add to zero [V].
    gain : float
        Gain of the pass band [1].
    tau_slow : float
        Time constant of the slower low-pass [s].
    tau_fast : float
        Time constant of the faster low-pass, zero for none [s].
    level : float
        Magnitude within which the signal must stay [V].

    Returns
    -------
    t_settled : float
        Last moment at which the level is passed; the last step if it is not passed later [s].

    Raises
    ------
    OutOfRangeError
        If tau_slow or level is not above zero, tau_fast is negative, or gain is not a number.

    Notes
    -----
    By root finding on the sum of the two poles' step responses after the last step.
    Held by test_recovery_from_a_step_takes_its_logarithm.

    References
    ----------
    Step response of two poles; textbook mathematics, no source needed.

    Examples
    --------
    >>> found = settled_after(t_edges=np.array([0.0, 0.018]), v_steps=np.array([-3.0, 3.0]),
    ...                       gain=0.5, tau_slow=0.01, tau_fast=0.0, level=0.05)
    >>> round(found, 5)
    0.05021
    """
    require(abs(gain) >= 0, "settled_after: gain must be a number; give the gain")
    require(tau_slow > 0, "settled_after: tau_slow must be above zero; give the filter's pole")
    require(tau_fast >= 0, "settled_after: tau_fast must not be negative; zero stands for none")
    require(level > 0, "settled_after: level must be above zero; a decay never ends at zero")
    end = float(t_edges.max())

    def left(t: Array) -> Array:
        since = t[:, None] - t_edges
        slow, fast = np.exp(-since / tau_slow), np.zeros_like(since)
        share = 1.0
        if tau_fast > 0:
            share = tau_slow / (tau_slow - tau_fast)
            fast = np.exp(-since / tau_fast)
        rest = share * slow - (share - 1.0) * fast
        return cast(Array, np.abs(gain * (v_steps * (1.0 - rest)).sum(axis=1)))

    most = abs(gain) * float(np.abs(v_steps).sum()) * 4.0
    reach = tau_slow * (np.log(max(most / level, 1.0)) + 2.0)
    span = (end, end + reach)
    for _ in range(4):
        t = np.linspace(*span, 201)
        beyond = np.flatnonzero(left(t) > level)
        if not beyond.size:
            return span[0]
        last = int(beyond[-1])
        if last == t.size - 1:
            raise OutOfRangeError("settled_after: the steps must add to zero; none settles else")
        span = (float(t[last]), float(t[last + 1]))
    return float(0.5 * (span[0] + span[1]))
