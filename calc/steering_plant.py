"""What the pulse width does to the time: at once, and as the arc follows.

Rates are shares of time; a positive rate gains. The phase error is what the movement has gained
on its reference; it adds the rate up.
"""

from dataclasses import dataclass

from calc.calculator import calculator, exp, log1p, pi, require
from calc.units import PerSecond, Ratio, Second


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldWidth:
    """What one interval with a constant width does.

    `fade` is the share of an earlier width that the arc still shows afterwards; `by_width` and
    `by_arc` are the phase error for each second of the held width and of the width to which the
    arc had settled before.
    """

    fade: Ratio
    by_width: Ratio
    by_arc: Ratio


@calculator
def held_width(
    *, slope: PerSecond, slope_prompt: PerSecond, time_constant: Second, interval: Second
) -> HeldWidth:
    """Return what arc and phase error do while the width is held between two corrections.

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

    Returns
    -------
    held : HeldWidth
        Exact for a linear plant: the width stands still between two corrections.

    Raises
    ------
    OutOfRangeError
        If time_constant or interval is not above zero, or a slope is not a number.

    Notes
    -----
    fade = exp(-interval / time_constant)
    by_arc = (slope - slope_prompt) * time_constant * (1 - fade)
    by_width = slope * interval - by_arc

    References
    ----------
    First-order lag and integrator behind a hold; derived here.

    Examples
    --------
    >>> held = held_width(slope=-0.2, slope_prompt=-0.01, time_constant=400.0, interval=50.0)
    >>> round(held.fade, 5), round(held.by_width, 4), round(held.by_arc, 4)
    (0.8825, -1.0698, -8.9302)
    """
    require(time_constant > 0, "steering: time_constant must be above zero; 2 Q / omega")
    require(interval > 0, "steering: interval must be above zero; time between two corrections")
    require(abs(slope) >= 0, "steering: slope must be a number")
    require(abs(slope_prompt) >= 0, "steering: slope_prompt must be a number")
    fade = exp(-interval / time_constant)
    by_arc = (slope - slope_prompt) * time_constant * (1 - fade)
    return HeldWidth(fade=fade, by_width=slope * interval - by_arc, by_arc=by_arc)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reversal:
    """How long, and by how much at most, a corrected rate first goes the wrong way."""

    time: Second
    phase_error: Ratio


@calculator
def reversal(
    *, slope: PerSecond, slope_prompt: PerSecond, time_constant: Second
) -> Reversal:  # fmt: skip
    """Return how long a wider pulse moves the rate the wrong way before the arc follows.

    Parameters
    ----------
    slope : float
        Change of the rate with the width once the arc has settled [1/s].
    slope_prompt : float
        Change of the rate with the width before the arc follows, of the other sign [1/s].
    time_constant : float
        Time in which the arc settles to 1/e [s].

    Returns
    -------
    reversal : Reversal
        Until the rate is back where it was, and what the movement has gone wrong by then, for
        each second of width.

    Raises
    ------
    OutOfRangeError
        If the two slopes do not oppose each other, or time_constant is not above zero.

    Notes
    -----
    time = time_constant * log1p(-slope_prompt / slope)
    phase_error = slope * time + time_constant * slope_prompt

    References
    ----------
    Step response of a lag with a direct part; derived here.

    Examples
    --------
    >>> found = reversal(slope=-0.2, slope_prompt=0.04, time_constant=400.0)
    >>> round(found.time, 2), round(found.phase_error, 4)
    (72.93, 1.4143)
    """
    require(time_constant > 0, "steering: time_constant must be above zero; 2 Q / omega")
    require(
        slope_prompt * slope < 0, "steering: the slopes must oppose; alike there is no reversal"
    )
    time = time_constant * log1p(-slope_prompt / slope)
    return Reversal(time=time, phase_error=slope * time + time_constant * slope_prompt)


@calculator
def daily_error(
    *,
    rate_swing: Ratio,
    period: Second,
    gain: Ratio,
) -> Second:
    """Return the largest time error that a rate wandering to and fro leaves.

    Parameters
    ----------
    rate_swing : float
        Half of the rate's way from its least to its greatest [1].
    period : float
        Time of one wander, a day for the weather [s].
    gain : float
        Share of the free error that the loop leaves at that period; one without a loop [1].

    Returns
    -------
    error : float
        Largest time error to either side [s].

    Raises
    ------
    OutOfRangeError
        If period is not above zero, gain is below zero, or rate_swing is not a number.

    Notes
    -----
    error = abs(rate_swing) * period / (2 * pi) * gain

    The integral of a sine.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> round(daily_error(rate_swing=1e-5, period=86400.0, gain=0.1), 5)
    0.01375
    """
    require(abs(rate_swing) >= 0, "steering: rate_swing must be a number")
    require(period > 0, "steering: period must be above zero; a day for the weather")
    require(gain >= 0, "steering: gain must not be below zero")
    return abs(rate_swing) * period / (2 * pi) * gain
