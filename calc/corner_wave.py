"""Waveforms with corners and steps behind one or two poles."""

import numpy as np
from numpy.typing import NDArray

from calc.calculator import require, routine
from calc.crossing import FilteredWave, scan
from calc.units import Ratio, Second, SecondCurve, VoltCurve

Array = NDArray[np.float64]

_SMALL_STEP = 1e-3


def _one_pole(t: Array, wave: Array, tau: float) -> Array:
    """Low-pass a waveform that is straight between its samples; it starts settled."""
    z = np.diff(t) / tau
    whole = -np.expm1(-z)
    # Below a thousandth the quotient would lose its digits to a difference of equal figures.
    late = np.where(z < _SMALL_STEP, z / 2 - z**2 / 6, 1.0 - whole / z)
    return scan(np.exp(-z), wave[:-1] * (whole - late) + wave[1:] * late, float(wave[0]))


@routine
def cornered_wave(
    *,
    t: SecondCurve,
    wave: VoltCurve,
    gain: Ratio,
    tau_high: Second,
    tau_slow: Second,
    tau_fast: Second,
) -> FilteredWave:
    """Return a waveform of straight pieces behind coupling capacitor and low-pass, and its slope.

    Parameters
    ----------
    t : numpy.ndarray
        Rising times of the samples; a step takes two samples close together [s].
    wave : numpy.ndarray
        The waveform before the filter [V].
    gain : float
        Gain of the pass band [1].
    tau_high : float
        Time constant of a coupling capacitor, infinite for none [s].
    tau_slow : float
        Time constant of the slower low-pass, zero for none [s].
    tau_fast : float
        Time constant of the faster low-pass, zero for none [s].

    Returns
    -------
    filtered : FilteredWave
        Waveform and slope at the same times; it starts settled.

    Raises
    ------
    OutOfRangeError
        If tau_high is not above zero, tau_slow or tau_fast is negative, t does not rise or the
        waveform is not finite.

    Notes
    -----
    By exact solution of each pole for the straight pieces between the samples.
    Held by test_a_step_through_two_poles_takes_its_exponentials.

    References
    ----------
    Variation of constants; textbook mathematics, no source needed.

    Examples
    --------
    >>> t = np.array([0.0, 1e-9, 0.01, 0.02, 0.03])
    >>> found = cornered_wave(t=t, wave=np.array([0.0, 1.0, 1.0, 1.0, 1.0]), gain=1.0,
    ...                       tau_high=float("inf"), tau_slow=0.01, tau_fast=0.0)
    >>> found.wave.round(6).tolist()
    [0.0, 0.0, 0.632121, 0.864665, 0.950213]
    """
    require(abs(gain) >= 0, "cornered_wave: gain must be a number; give the gain")
    require(tau_high > 0, "cornered_wave: tau_high must be above zero; infinite stands for none")
    require(tau_slow >= 0, "cornered_wave: tau_slow must not be negative; zero stands for none")
    require(tau_fast >= 0, "cornered_wave: tau_fast must not be negative; zero stands for none")
    require(t.size > 3, "cornered_wave: t must hold four samples; sample the whole pass")
    require(np.diff(t) > 0, "cornered_wave: t must rise from sample to sample")
    require(np.isfinite(wave), "cornered_wave: wave must be finite; check the samples")
    signal = gain * wave
    if np.isfinite(tau_high):
        signal = signal - _one_pole(t, signal, tau_high)
    slope = np.gradient(signal, t)
    for tau in (tau_fast, tau_slow):
        if tau > 0:
            passed = _one_pole(t, signal, tau)
            slope = (signal - passed) / tau
            signal = passed
    return FilteredWave(wave=signal, slope=slope)
