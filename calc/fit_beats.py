"""Crossing times of a free or driven swing: period, its dependence on the arc, jitter.

Times alone hold the arc in two ways. A pendulum's period shortens as the arc falls, and a
sensor beside the middle makes long and short beats whose difference grows as the arc falls.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import pi, require, routine
from calc.fit_least import least, linear
from calc.units import Count, RadianCurve, Ratio, RatioCurve, Second, SecondCurve

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeBeats:
    """What the crossing times of a free swing tell; `_sigma` are standard deviations.

    Attributes
    ----------
    period : float
        Time to and fro at the smallest arc [s].
    arc_squared : float
        Square of the arc at the first crossing, from the change of the period [1].
    unevenness : float
        Sensor's place beside the middle over the arc, at the first crossing [1].
    share : float
        Loss of arc in a period as a share of the arc: pi/Q [1].
    jitter : float
        Root mean square of what the model leaves over, of one crossing [s].
    beats : int
        Half periods from the first crossing to the last [1].
    """

    period: Second
    period_sigma: Second
    arc_squared: Ratio
    arc_squared_sigma: Ratio
    unevenness: Ratio
    unevenness_sigma: Ratio
    share: Ratio
    share_sigma: Ratio
    jitter: Second
    beats: Count

    @property
    def arc_seen(self) -> bool:
        """Whether the times show the arc at all: only then is the loss known."""
        sure = 4.0
        # What is smaller is the rounding of times that were written down.
        return self.share > sure * self.share_sigma and (
            self.arc_squared > max(sure * self.arc_squared_sigma, 2.5e-7)
            or abs(self.unevenness) > max(sure * self.unevenness_sigma, 1e-5)
        )


def _times(p: Array, k: Array, sign: Array) -> Array:
    """Return the crossing times: start, half period, arc squared, unevenness, share a period."""
    start, half, bend, uneven, share = p
    n = k / 2
    grown = np.where(
        np.abs(share * n) < 1e-9, n,
        -np.expm1(-2 * share * n) / (2 * share if abs(share) > 1e-300 else 1.0),
    )  # fmt: skip
    # The series of a pendulum's period to the fourth power of the arc.
    fourth = np.where(
        np.abs(share * n) < 1e-9, n,
        -np.expm1(-4 * share * n) / (4 * share if abs(share) > 1e-300 else 1.0),
    )  # fmt: skip
    circular = bend / 16 * grown + 11 * bend * abs(bend) / 3072 * fourth
    place = np.clip(uneven * np.exp(np.clip(share * n, -50.0, 50.0)), -0.999, 0.999)
    return np.asarray(start + 2 * half * (n + circular) + sign * half / pi * np.arcsin(place))


@routine
def fit_free_beats(*, times: SecondCurve, beats: RatioCurve) -> FreeBeats:
    """Return period, arc and loss of a free swing from the times of its crossings alone.

    Parameters
    ----------
    times : numpy.ndarray
        Time of each crossing of the sensor, in both directions [s].
    beats : numpy.ndarray
        Number of each crossing, counted in half periods from the first; gaps may be left out [1].

    Returns
    -------
    found : FreeBeats
        Period, arc, loss and jitter.

    Raises
    ------
    OutOfRangeError
        If there are fewer than ten crossings, or times or beats do not rise.

    Notes
    -----
    By least squares; held by test_arc_and_loss_from_times_alone.

    The period of a pendulum is taken to grow with the arc as a free one's does. A balance on a
    linear spring shows no arc in this way, and a suspension that is not a plain pivot another.

    References
    ----------
    Series of the pendulum's period, dT/T = arc^2/16 + 11 arc^4/3072; derived here.

    Examples
    --------
    >>> k = np.arange(0.0, 600.0)
    >>> arcs = 0.12 * np.exp(-np.pi * k / 2 / 300)
    >>> halves = 0.8 * (1 + arcs**2 / 16 + 11 * arcs**4 / 3072)
    >>> t = np.concatenate(([0.0], np.cumsum((halves[1:] + halves[:-1]) / 2)))
    >>> beside = (-1) ** k * 0.8 / np.pi * np.arcsin(0.0024 / arcs)
    >>> found = fit_free_beats(times=t + beside + 1e-5 * np.sin(k**2), beats=k)
    >>> round(found.period, 5), round(np.pi / found.share), round(found.arc_squared, 4)
    (1.6, 300, 0.0144)
    """
    require(times.size >= 10, "crossing times: times must number ten or more; record longer")
    require(times.size == beats.size, "crossing times: times and beats must match; check them")
    require(np.all(np.diff(times) > 0), "crossing times: times must rise; check the order")
    require(np.all(np.diff(beats) > 0), "crossing times: beats must rise; count each crossing")
    k = beats - beats[0]
    span = float(np.ptp(times))
    t = (times - times[0]) / span
    sign = np.where(np.mod(np.rint(k), 2) == 0, 1.0, -1.0)
    best: Array | None = None
    cost = np.inf
    for share in np.geomspace(0.02, 30.0, 36) / float(k[-1]) * 2:
        n = k / 2
        columns = np.stack([np.ones_like(n), n, -np.expm1(-2 * share * n) / (2 * share),
                            sign * np.exp(np.clip(share * n, None, 20.0))], axis=1)  # fmt: skip
        tried = linear(columns, t)
        if tried.cost < cost:
            cost, c = tried.cost, tried.values
            half = c[1] / 2
            best = np.array([c[0], half, 16 * c[2] / c[1], pi * c[3] / half, share])
    assert best is not None
    if abs(best[3]) > 0.9:
        best[3] = 0.0
    noise = max(float(np.sqrt(cost / t.size)), 1e-15)
    found = least(
        lambda p: (_times(p, k, sign) - t) / noise, best,
        scale=np.maximum(np.abs(best), [1e-3, 1e-9, 1e-6, 1e-6, 1e-9]),
    )  # fmt: skip
    sigma = found.sigmas
    p = found.values
    return FreeBeats(
        period=float(2 * p[1]) * span, period_sigma=float(2 * sigma[1]) * span,
        arc_squared=float(p[2]), arc_squared_sigma=float(sigma[2]),
        unevenness=float(p[3]), unevenness_sigma=float(sigma[3]),
        share=float(p[4]), share_sigma=float(sigma[4]),
        jitter=found.scatter * noise * span,
        beats=int(np.rint(k[-1])),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class PeriodOfArc:
    """The period as a line over the square of the arc; `_sigma` are standard deviations.

    Attributes
    ----------
    period : float
        Period at the smallest arc [s].
    bend : float
        Relative growth of the period with the arc's square; 1/16 for a pendulum alone [1].
    unevenness : float
        Sensor's place beside the middle over the first arc [1].
    jitter : float
        Root mean square of what is left of one crossing's time [s].
    """

    period: Second
    period_sigma: Second
    bend: Ratio
    bend_sigma: Ratio
    unevenness: Ratio
    jitter: Second


@routine
def period_of_arc(*, times: SecondCurve, beats: RatioCurve, arcs: RadianCurve) -> PeriodOfArc:
    """Return how the period depends on the arc, from crossings whose arcs are known.

    Parameters
    ----------
    times : numpy.ndarray
        Time of each crossing [s].
    beats : numpy.ndarray
        Its number in half periods [1].
    arcs : numpy.ndarray
        The arc then; in another unit than radians `bend` goes with it [rad].

    Returns
    -------
    line : PeriodOfArc
        Period at no arc and its growth.

    Raises
    ------
    OutOfRangeError
        If there are fewer than six crossings, an arc is not above zero, or the arcs are all alike.

    Notes
    -----
    By least squares; held by test_period_grows_with_a_sixteenth_of_the_square.

    The times themselves are fitted, since each error of a time enters two periods.

    References
    ----------
    Series of the pendulum's period; any textbook of mechanics.

    Examples
    --------
    >>> n = np.arange(200.0)
    >>> arcs = np.linspace(0.2, 0.05, 200)
    >>> periods = 1.2 * (1 + 0.08 * arcs**2)
    >>> t = np.concatenate(([0.0], np.cumsum((periods[1:] + periods[:-1]) / 2)))
    >>> line = period_of_arc(times=t + 1e-6 * np.sin(n**2), beats=2 * n, arcs=arcs)
    >>> round(line.period, 5), round(line.bend, 3)
    (1.2, 0.08)
    """
    require(times.size >= 6, "period: times must number six or more; record longer")
    require(times.size == arcs.size == beats.size, "period: the arrays must match; check them")
    require(np.all(arcs > 0), "period: arcs must be above zero; stop before it rests")
    require(float(np.ptp(arcs)) > 0, "period: arcs must differ; take a ring-down")
    largest = float(arcs.max())
    square = (arcs / largest) ** 2
    n = (beats - beats[0]) / 2
    grown = np.concatenate(([0.0], np.cumsum(np.diff(n) * (square[1:] + square[:-1]) / 2)))
    sign = np.where(np.mod(np.rint(beats), 2) == 0, 1.0, -1.0)
    span = float(np.ptp(times))
    columns = [np.ones_like(n), n, grown]
    if np.ptp(sign) > 0:
        columns.append(sign * largest / arcs)
    found = linear(np.stack(columns, axis=1), (times - times[0]) / span)
    period = float(found.values[1]) * span
    bend = float(found.values[2] / found.values[1])
    uneven = 2 * pi * float(found.values[3] / found.values[1]) if len(columns) > 3 else 0.0
    return PeriodOfArc(
        period=period, period_sigma=float(found.sigmas[1]) * span,
        bend=bend / largest**2,
        bend_sigma=float(found.sigmas[2] / found.values[1]) / largest**2,
        unevenness=uneven, jitter=found.scatter * span,
    )  # fmt: skip


@routine
def beat_numbers(*, times: SecondCurve, beat: Second) -> RatioCurve:
    """Return the number of each event in beats from the first, where some may be missing.

    Parameters
    ----------
    times : numpy.ndarray
        Times of the events [s].
    beat : float
        Typical time between two [s].

    Returns
    -------
    beats : numpy.ndarray
        Whole numbers from zero on [1].

    Raises
    ------
    OutOfRangeError
        If beat is not above zero or fewer than two events are given.

    Notes
    -----
    By rounding step by step; held by test_missing_crossings_are_counted.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> beat_numbers(times=np.array([0.0, 1.0, 2.1, 4.05]), beat=1.0).tolist()
    [0.0, 1.0, 2.0, 4.0]
    """
    require(beat > 0, "crossing times: beat must be above zero; half a period")
    require(times.size >= 2, "crossing times: times must number two or more; record longer")
    steps = np.rint(np.diff(times) / beat)
    return np.concatenate(([0.0], np.cumsum(np.maximum(steps, 1.0))))
