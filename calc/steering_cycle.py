"""The small to and fro that steps of the timer leave in a steered movement."""

from dataclasses import dataclass

import numpy as np

from calc.calculator import require, routine
from calc.steering_gains import loop_radius
from calc.steering_plant import held_width
from calc.units import Count, PerSecond, Ratio, Second


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitCycle:
    """Steady to and fro of the time error, from peak to peak; no width moves where it is zero.

    `period` is the mean time of one to and fro, zero where there is none.
    """

    phase_error: Second
    width: Second
    period: Second


@routine
def limit_cycle(
    *,
    slope: PerSecond,
    slope_prompt: PerSecond,
    time_constant: Second,
    interval: Second,
    kp: Ratio,
    ki: Ratio,
    width_step: Second,
    clock_step: Second,
    off_step: Ratio,
    corrections: Count = 3000,
) -> LimitCycle:
    """Return what the steps of width and clock leave when nothing else disturbs.

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
    width_step : float
        Step in which the width can be set [s].
    clock_step : float
        Step in which the lag is seen [s].
    off_step : float
        Where the width that is needed lies between two steps, a half for the worst [1].
    corrections : int
        How many corrections are followed; the last half is judged [1].

    Returns
    -------
    cycle : LimitCycle

    Raises
    ------
    OutOfRangeError
        If a time or step is not above zero, off_step is not between zero and one, or the loop
        swings wider and wider by itself.

    Notes
    -----
    By following the loop without noise; held by test_a_coarser_timer_swings_wider.

    References
    ----------
    Derived here.

    Examples
    --------
    >>> found = limit_cycle(
    ...     slope=-0.2, slope_prompt=-0.01, time_constant=400.0, interval=60.0, kp=-0.004623,
    ...     ki=-0.0001174, width_step=30e-6, clock_step=30e-6, off_step=0.5,
    ... )
    >>> round(found.phase_error, 6)
    0.000338
    """
    require(width_step > 0, "steering: width_step must be above zero; one tick of the timer")
    require(clock_step > 0, "steering: clock_step must be above zero; one tick of the timer")
    require((off_step >= 0) & (off_step <= 1), "steering: off_step must lie from zero to one")
    require(abs(kp) >= 0, "steering: kp must be a number")
    require(abs(ki) >= 0, "steering: ki must be a number")
    require(corrections >= 100, "steering: corrections must be at least a hundred")
    radius = loop_radius(
        slope=slope, slope_prompt=slope_prompt, time_constant=time_constant, interval=interval,
        kp=kp, ki=ki,
    )  # fmt: skip
    require(radius < 1, "steering: the loop must settle, it swings wider and wider; other gains")
    held = held_width(
        slope=slope, slope_prompt=slope_prompt, time_constant=time_constant, interval=interval
    )
    # The rate that a width off_step of a step beside zero would just balance.
    drift = -slope * off_step * width_step * interval
    fresh = 1 - held.fade
    arc, error, total = 0.0, 0.0, 0.0
    errors = np.empty(corrections)
    widths = np.empty(corrections)
    for k in range(corrections):
        lag = -clock_step * np.floor(error / clock_step + 0.5)
        total += lag
        width = width_step * float(np.floor((kp * lag + ki * total) / width_step + 0.5))
        error += held.by_width * width + held.by_arc * arc + drift
        arc = held.fade * arc + fresh * width
        errors[k], widths[k] = error, width
    settled, moved = errors[corrections // 2 :], widths[corrections // 2 :]
    middle = settled - settled.mean()
    rises = np.flatnonzero((middle[:-1] < 0) & (middle[1:] >= 0))
    period = float(np.diff(rises).mean()) * interval if len(rises) > 1 else 0.0
    return LimitCycle(phase_error=float(np.ptp(settled)), width=float(np.ptp(moved)), period=period)
