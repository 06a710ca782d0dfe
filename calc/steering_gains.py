"""Gains of the loop that trims the pulse width, and the poles that they leave.

The law is a discrete PI on what the movement lags its reference: width = centre + kp * lag
+ ki * (sum of all lags, the present one among them), once an interval.
"""

from dataclasses import dataclass

import numpy as np

from calc.calculator import calculator, require, routine, sqrt
from calc.steering_plant import held_width
from calc.units import PerSecond, Ratio, Second


@dataclass(frozen=True, slots=True, kw_only=True)
class PiGains:
    """Width for each second of lag, and for each second of lag summed once an interval."""

    kp: Ratio
    ki: Ratio


def plant_response(
    z: complex, *, slope: float, slope_prompt: float, time_constant: float, interval: float
) -> complex:
    """Return phase error over width at z, the width being held between two corrections."""
    held = held_width(
        slope=slope, slope_prompt=slope_prompt, time_constant=time_constant, interval=interval
    )
    return (held.by_width + held.by_arc * (1 - held.fade) / (z - held.fade)) / (z - 1)


@routine
def pi_gains(
    *,
    slope: PerSecond,
    slope_prompt: PerSecond,
    time_constant: Second,
    interval: Second,
    wanted: Second,
    damping: Ratio,
) -> PiGains:
    """Return the gains that give the loop a wanted time constant and damping.

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
    wanted : float
        Time in which an error is to fall to 1/e [s].
    damping : float
        Damping ratio of the oscillating pair, between zero and one [1].

    Returns
    -------
    gains : PiGains
        With the sign of the slope; a third pole falls where it must, see loop_radius.

    Raises
    ------
    OutOfRangeError
        If a time is not above zero, slope is zero, or damping is not between zero and one.

    Notes
    -----
    By placing one pair of poles; held by test_the_placed_pair_stands_among_the_poles.

    References
    ----------
    Pole placement of textbooks on sampled control; derived here.

    Examples
    --------
    >>> gains = pi_gains(
    ...     slope=-0.2, slope_prompt=-0.01, time_constant=400.0, interval=60.0, wanted=1600.0,
    ...     damping=0.7,
    ... )
    >>> round(gains.kp, 6), round(gains.ki, 7)
    (-0.004623, -0.0001174)
    """
    require(abs(slope) > 0, "steering: slope must not be zero; no width would move the rate")
    require(wanted > 0, "steering: wanted must be above zero; time in which an error is to fall")
    require((damping > 0) & (damping < 1), "steering: damping must lie between zero and one; 0.7")
    turn = sqrt(1 - damping**2) / damping
    z = np.exp(complex(-1.0, turn) * interval / wanted)
    seen = plant_response(
        z, slope=slope, slope_prompt=slope_prompt, time_constant=time_constant, interval=interval
    )
    # 1 + (kp + ki z / (z - 1)) P(z) = 0, one complex equation for two real gains.
    needed, summed = -1 / seen, z / (z - 1)
    ki = float(needed.imag / summed.imag)
    return PiGains(kp=float(needed.real - ki * summed.real), ki=ki)


@routine
def loop_radius(
    *,
    slope: PerSecond,
    slope_prompt: PerSecond,
    time_constant: Second,
    interval: Second,
    kp: Ratio,
    ki: Ratio,
) -> Ratio:
    """Return the factor by which the slowest part of an error lives on from one correction.

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

    Returns
    -------
    radius : float
        Largest magnitude among the poles; from one on the loop swings wider and wider [1].

    Raises
    ------
    OutOfRangeError
        If a time is not above zero, or a slope or gain is not a number.

    Notes
    -----
    By the eigenvalues of one interval; held by test_the_placed_pair_stands_among_the_poles.

    References
    ----------
    Linear sampled loops, textbook matter; derived here.

    Examples
    --------
    >>> round(
    ...     loop_radius(
    ...         slope=-0.2, slope_prompt=-0.01, time_constant=400.0, interval=60.0, kp=-0.0046225,
    ...         ki=-0.00011737,
    ...     ), 4)
    0.9632
    """
    return float(np.abs(loop_poles(
        slope=slope, slope_prompt=slope_prompt, time_constant=time_constant, interval=interval,
        kp=kp, ki=ki,
    )).max())  # fmt: skip


def loop_poles(
    *, slope: float, slope_prompt: float, time_constant: float, interval: float, kp: float,
    ki: float,
) -> np.ndarray[tuple[int], np.dtype[np.complex128]]:  # fmt: skip
    """Return the poles of the closed loop: settled width, phase error and sum, one interval on."""
    require(abs(kp) >= 0, "steering: kp must be a number")
    require(abs(ki) >= 0, "steering: ki must be a number")
    held = held_width(
        slope=slope, slope_prompt=slope_prompt, time_constant=time_constant, interval=interval
    )
    fresh = 1 - held.fade
    # The lag is minus the phase error; the sum takes the present lag in before it counts.
    step = np.array(
        [
            [held.fade, -fresh * (kp + ki), fresh * ki],
            [held.by_arc, 1 - held.by_width * (kp + ki), held.by_width * ki],
            [0.0, -1.0, 1.0],
        ]
    )
    return np.asarray(np.linalg.eigvals(step), dtype=np.complex128)


@calculator
def quickest_loop(*, time_constant: Second) -> Second:
    """Return the least time constant whose third pole is no slower than the placed pair.

    Parameters
    ----------
    time_constant : float
        Time in which the arc settles to 1/e [s].

    Returns
    -------
    wanted : float
        Time constant of the loop; a quicker one is held up by the arc [s].

    Raises
    ------
    OutOfRangeError
        If time_constant is not above zero.

    Notes
    -----
    wanted = 3 * time_constant

    The poles of lag, integrator and PI add up to minus one over the lag, whatever the gains: with
    three equal parts each has a third of it. Corrections that are frequent against the lag, and
    no prompt effect.

    References
    ----------
    Sum of the roots of a cubic; derived here.

    Examples
    --------
    >>> quickest_loop(time_constant=400.0)
    1200.0
    """
    require(time_constant > 0, "steering: time_constant must be above zero; 2 Q / omega")
    return 3 * time_constant
