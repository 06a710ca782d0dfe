"""Gain and phase margin of the sampled loop that trims the pulse width."""

import cmath
from collections.abc import Callable
from dataclasses import dataclass
from math import inf, log

import numpy as np
from numpy.typing import NDArray

from calc.calculator import require, routine
from calc.sign_change import sign_change
from calc.steering_plant import held_width
from calc.units import PerSecond, Radian, RadianPerSecond, Ratio, Second

Spectrum = NDArray[np.complex128]
_POINTS = 160


@dataclass(frozen=True, slots=True, kw_only=True)
class LoopMargins:
    """How far the loop stands from swinging by itself.

    `gain_margin` is the factor by which the loop may pull harder, `gain_margin_down` the one by
    which it must not fall; infinite and zero where there is no such point. `crossover` is where
    the loop's gain is one.
    """

    phase_margin: Radian
    gain_margin: Ratio
    gain_margin_down: Ratio
    crossover: RadianPerSecond


def open_loop(
    omega: NDArray[np.float64], *, slope: float, slope_prompt: float, time_constant: float,
    interval: float, kp: float, ki: float, delay: float,
) -> Spectrum:  # fmt: skip
    """Return the loop's frequency response, opened at the width; -1 is where it swings."""
    held = held_width(
        slope=slope, slope_prompt=slope_prompt, time_constant=time_constant, interval=interval
    )
    z = np.exp(1j * omega * interval)
    plant = (held.by_width + held.by_arc * (1 - held.fade) / (z - held.fade)) / (z - 1)
    response = (kp + ki * z / (z - 1)) * plant * np.exp(-1j * omega * delay)
    return np.asarray(response, dtype=np.complex128)


@routine
def loop_margins(
    *,
    slope: PerSecond,
    slope_prompt: PerSecond,
    time_constant: Second,
    interval: Second,
    kp: Ratio,
    ki: Ratio,
    delay: Second,
) -> LoopMargins:
    """Return gain and phase margin of the loop with a PI law.

    Parameters
    ----------
    slope : float
        Change of the rate with the width once the arc has settled [1/s].
    slope_prompt : float
        Change of the rate with the width before the arc follows [1/s].
    time_constant : float
        Time in which the arc settles to 1/e [s].
    interval : float
        Time from one correction to the next [s].
    kp : float
        Width for each second of lag [1].
    ki : float
        Width for each second of lag summed once an interval [1].
    delay : float
        Time from the measured event to the first pulse of the new width [s].

    Returns
    -------
    margins : LoopMargins
        The phase margin is the least over all crossings; a wrong sign makes it negative, and so
        does a gain that has not fallen to one by the highest frequency.

    Raises
    ------
    OutOfRangeError
        If a time is not above zero, delay is below zero, or the loop's gain is one nowhere.

    Notes
    -----
    By root finding on the frequency response; held by test_margins_agree_with_the_library.

    References
    ----------
    Nyquist's criterion for sampled loops; textbook matter, common practice, no source.

    Examples
    --------
    >>> found = loop_margins(
    ...     slope=-0.2, slope_prompt=-0.01, time_constant=400.0, interval=60.0, kp=-0.004623,
    ...     ki=-0.0001174, delay=2.0,
    ... )
    >>> round(found.phase_margin, 4), round(found.gain_margin, 3)
    (0.782, 78.089)
    """
    require(abs(slope) >= 0, "steering: slope must be a number")
    require(abs(kp) >= 0, "steering: kp must be a number")
    require(abs(ki) >= 0, "steering: ki must be a number")
    require(
        abs(kp) + abs(ki) > 0,
        "steering: kp and ki must not both be zero, nothing is corrected; leave them out",
    )
    require(delay >= 0, "steering: delay must not be below zero")
    own = {
        "slope": slope, "slope_prompt": slope_prompt, "time_constant": time_constant,
        "interval": interval, "kp": kp, "ki": ki, "delay": delay,
    }  # fmt: skip

    held = held_width(
        slope=slope, slope_prompt=slope_prompt, time_constant=time_constant, interval=interval
    )
    behind = held.by_arc * (1 - held.fade)

    def at(omega: float) -> complex:
        # The same as open_loop, for one frequency: root finding asks it often.
        z = cmath.exp(1j * omega * interval)
        plant = (held.by_width + behind / (z - held.fade)) / (z - 1)
        return (kp + ki * z / (z - 1)) * plant * cmath.exp(-1j * omega * delay)

    top = np.pi / interval
    # Where the gain is one for a slow loop: by kp alone, or by ki alone.
    slow = [w for w in (abs(slope * kp), np.sqrt(abs(slope * ki) / interval)) if w > 0]
    lowest = 0.03 * min(1 / time_constant, top, *slow)
    omega = np.geomspace(lowest, top * (1 - 1e-9), _POINTS)
    response = open_loop(omega, **own)
    magnitude, imaginary = np.log(np.abs(response)), response.imag
    crossings = _roots(omega, magnitude, lambda w: log(abs(at(w))))
    if not crossings:
        require(magnitude[-1] > 0, "steering: the loop's gain is one nowhere; raise kp")
        # Too much of everything: what it has at the highest frequency is no margin.
        crossings = [float(omega[-1])]
    phases = [(w, float(np.angle(-at(w)))) for w in crossings]
    crossover, phase = min(phases, key=lambda pair: pair[1])
    if magnitude[-1] > 0:
        phase = min(phase, -abs(phase))
    real = [at(w).real for w in _roots(omega, imaginary, lambda w: at(w).imag)]
    # The end of the band is real by itself where nothing delays.
    real += [response[-1].real] if abs(imaginary[-1]) < 1e-6 * abs(response[-1]) else []
    gains = [-1 / r for r in real if r < 0]
    return LoopMargins(
        phase_margin=phase,
        gain_margin=min((g for g in gains if g >= 1), default=inf),
        gain_margin_down=max((g for g in gains if g < 1), default=0.0),
        crossover=crossover,
    )


def _roots(
    x: NDArray[np.float64], y: NDArray[np.float64], of: Callable[[float], float]
) -> list[float]:
    signs = np.flatnonzero(y[:-1] * y[1:] < 0)
    return [sign_change(of, float(x[k]), float(x[k + 1]), rtol=1e-12, xtol=1e-300) for k in signs]


@routine
def error_gain(
    *,
    slope: PerSecond,
    slope_prompt: PerSecond,
    time_constant: Second,
    interval: Second,
    kp: Ratio,
    ki: Ratio,
    period: Second,
) -> Ratio:
    """Return the share of a slow to and fro of the time error that the loop leaves.

    Parameters
    ----------
    slope : float
        Change of the rate with the width once the arc has settled [1/s].
    slope_prompt : float
        Change of the rate with the width before the arc follows [1/s].
    time_constant : float
        Time in which the arc settles to 1/e [s].
    interval : float
        Time from one correction to the next [s].
    kp : float
        Width for each second of lag [1].
    ki : float
        Width for each second of lag summed once an interval [1].
    period : float
        Time of one to and fro, a day for the weather [s].

    Returns
    -------
    gain : float
        Error with the loop over error without it [1].

    Raises
    ------
    OutOfRangeError
        If a time is not above zero, or the period is shorter than two intervals.

    Notes
    -----
    By the frequency response; held by test_a_slow_wander_is_held_as_the_steps_say.

    References
    ----------
    Sensitivity of a loop; textbook matter, common practice, no source.

    Examples
    --------
    >>> round(
    ...     error_gain(
    ...         slope=-0.2, slope_prompt=-0.01, time_constant=400.0, interval=60.0, kp=-0.004623,
    ...         ki=-0.0001174, period=86400.0,
    ...     ), 5)
    0.0135
    """
    require(period > 2 * interval, "steering: period must exceed two intervals")
    require(abs(kp) >= 0, "steering: kp must be a number")
    require(abs(ki) >= 0, "steering: ki must be a number")
    omega = np.array([2 * np.pi / period])
    response = open_loop(
        omega, slope=slope, slope_prompt=slope_prompt, time_constant=time_constant,
        interval=interval, kp=kp, ki=ki, delay=0.0,
    )  # fmt: skip
    return float(1 / np.abs(1 + response[0]))
