"""A step in a log: gain, time constant, overshoot and settling of what answers it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import require, routine
from calc.fit_least import Fitted, least
from calc.units import Hertz, Ratio, RatioCurve, Second, SecondCurve

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A step response; `_sigma` are standard deviations.

    Attributes
    ----------
    t_step : float
        When the step was given [s].
    before, after : float
        The level before it and the one it settles at, in the log's unit [1].
    tau : float
        Time constant of the way from one to the other [s].
    ringing : float
        Frequency at which it swings about the new level, zero for none [Hz].
    overshoot : float
        Farthest beyond the new level, as a share of the step [1].
    settling : float
        Time after which it stays within a twentieth of the step, or within the noise [s].
    """

    t_step: Second
    before: Ratio
    before_sigma: Ratio
    after: Ratio
    after_sigma: Ratio
    tau: Second
    tau_sigma: Second
    ringing: Hertz
    overshoot: Ratio
    settling: Second
    scatter: Ratio


def _response(p: Array, u: Array, ringing: bool) -> Array:
    before, after, log_tau, begin = p[:4]
    late = np.maximum(u - begin, 0.0) / np.exp(log_tau)
    falling = np.exp(-late)
    if ringing:
        turn = np.exp(p[4]) * np.maximum(u - begin, 0.0)
        falling = falling * (np.cos(turn) + np.sin(turn) / np.exp(p[4] + log_tau))
    return np.asarray(after + (before - after) * falling)


@routine
def fit_step(*, t: SecondCurve, values: RatioCurve, t_step: Second) -> Step:
    """Return gain and time constant of a figure's answer to a step.

    Parameters
    ----------
    t : numpy.ndarray
        Times [s].
    values : numpy.ndarray
        The figure that answers [1].
    t_step : float
        When the step was given [s].

    Returns
    -------
    step : Step
        First order, or second order where it swings about the new level.

    Raises
    ------
    OutOfRangeError
        If there are fewer than four samples before or eight after, or t_step is outside.

    Notes
    -----
    By least squares; held by test_step_of_first_and_second_order.

    References
    ----------
    Answers of first- and second-order systems; any textbook of control.

    Examples
    --------
    >>> t = np.arange(0.0, 4000.0, 20.0)
    >>> values = 3.0 + np.where(t > 800, -2.0 * -np.expm1(-(t - 800) / 500), 0.0)
    >>> noise = 0.01 * np.sin(np.arange(200.0) ** 2)
    >>> step = fit_step(t=t, values=values + noise, t_step=800.0)
    >>> round(step.before, 2), round(step.after, 2), round(step.tau / 100, 1)
    (3.0, 1.0, 5.0)
    """
    require((t_step > t[0]) & (t_step < t[-1]), "step: t_step must lie inside the log")
    first, later = t <= t_step, t > t_step
    require(first.sum() >= 4, "step: four samples must come before it; begin to log earlier")
    require(later.sum() >= 8, "step: eight samples must come after it; log longer")
    span = float(t[-1] - t_step)
    u = (t - t_step) / span
    before, after = float(np.median(values[first])), float(np.median(values[later][-5:]))
    size = max(float(np.ptp(values)), 1e-300)

    def fit(start: Array, ringing: bool) -> Fitted:
        low = np.array([-1e3, -1e3, -9.0, -1e-9, 0.0])[: start.size]
        high = np.array([1e3, 1e3, 3.0, 1e-9, 9.0])[: start.size]
        scaled = values / size
        return least(
            lambda p: _response(p, u, ringing) - scaled, start,
            scale=np.array([1.0, 1.0, 0.5, 1.0, 0.5])[: start.size], low=low, high=high,
        )  # fmt: skip

    levels = np.array([before / size, after / size])
    simple = min(
        (fit(np.concatenate((levels, [np.log(tau), 0.0])), False) for tau in (0.05, 0.2, 0.7)),
        key=lambda one: one.cost,
    )
    swinging = min(
        (
            fit(np.concatenate((levels, [np.log(tau), 0.0, np.log(turn)])), True)
            for tau in (0.1, 0.4)
            for turn in (6.0, 15.0, 40.0)
        ),
        key=lambda one: one.cost,
    )
    turns = float(np.exp(swinging.values[4] + swinging.values[2]))
    # A second order has one value more; it must earn it, and swing visibly.
    better = swinging.cost < simple.cost * (1 - 16.0 / t.size) - 1e-18 * t.size
    ringing = better and turns > 0.5 and swinging.values[2] < 1.5
    chosen = swinging if ringing else simple
    p = chosen.values
    rise = float(p[1] - p[0])
    fine = np.linspace(0.0, 1.0, 2001)
    curve = (_response(p, fine, ringing) - p[1]) / (rise if rise else 1.0)
    near = max(0.05, 2 * chosen.scatter / abs(rise) if rise else 0.05)
    outside = np.flatnonzero(np.abs(curve) > near)
    settled = float(fine[min(outside[-1] + 1, 2000)]) if outside.size else 0.0
    return Step(
        t_step=t_step, before=float(p[0]) * size, before_sigma=float(chosen.sigmas[0]) * size,
        after=float(p[1]) * size, after_sigma=float(chosen.sigmas[1]) * size,
        tau=float(np.exp(p[2])) * span, tau_sigma=float(np.exp(p[2]) * chosen.sigmas[2]) * span,
        ringing=float(np.exp(p[4])) / (2 * np.pi * span) if ringing else 0.0,
        overshoot=max(float(curve.max()), 0.0), settling=settled * span,
        scatter=chosen.scatter * size,
    )  # fmt: skip


def find_step(t: Array, values: Array) -> float | None:
    """Return when a figure jumps from one steady level to another, None if it does not.

    Parameters
    ----------
    t, values : numpy.ndarray
        The log of what was set, such as the pulse width.

    Returns
    -------
    t_step : float or None
        The time just before the jump.
    """
    if t.size < 16:
        return None
    total = np.concatenate(([0.0], np.cumsum(values)))
    squares = np.concatenate(([0.0], np.cumsum(values**2)))
    count = np.arange(4, t.size - 4)
    rest = t.size - count
    left = squares[count] - total[count] ** 2 / count
    right = squares[-1] - squares[count] - (total[-1] - total[count]) ** 2 / rest
    best = int(count[np.argmin(left + right)])
    apart = abs(float(values[best:].mean() - values[:best].mean()))
    about = np.concatenate(
        (values[:best] - values[:best].mean(), values[best:] - values[best:].mean())
    )
    noise = float(np.sqrt(np.mean(about**2)))
    # A slope looks like a step of 3.5 times what it leaves over: a real one is far larger.
    return float(t[best - 1]) if apart > 6 * max(noise, 1e-12 * abs(total[-1]) / t.size) else None
