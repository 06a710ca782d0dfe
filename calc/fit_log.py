"""A log over hours and months: outliers, trend, what weather does, mean period, life left."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import require, routine
from calc.fit_least import Fitted, linear, neighbours
from calc.units import Count, Hertz, Ratio, RatioCurve, Second, SecondCurve

Array = NDArray[np.float64]
MAD_TO_SIGMA = 1.4826
FAR = 6.0
"""A sample this many standard deviations from its neighbours is marked."""


@routine
def outliers(*, values: RatioCurve, window: Count) -> RatioCurve:
    """Return which samples lie far from their neighbours: one for those, zero for the others.

    Parameters
    ----------
    values : numpy.ndarray
        The samples [1].
    window : int
        How many neighbours are looked at, an odd number [1].

    Returns
    -------
    marks : numpy.ndarray
        One for an outlier; nothing is deleted [1].

    Raises
    ------
    OutOfRangeError
        If window is below five or there are fewer samples than that.

    Notes
    -----
    By running median; held by test_outliers_are_marked_and_a_step_is_not.

    Six standard deviations of the rest, as the median of the distances has it, are far.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> values = np.sin(np.arange(200.0) / 7)
    >>> values[50] += 9.0
    >>> np.flatnonzero(outliers(values=values, window=9)).tolist()
    [50]
    """
    require(window >= 5, "outliers: window must be five or more; an odd number")
    require(values.size > window, "outliers: values must number more than window; log longer")
    half = window // 2
    padded = np.concatenate((values[half:0:-1], values, values[-2 : -half - 2 : -1]))
    running = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1), axis=1)
    apart = np.abs(values - running)
    sigma = MAD_TO_SIGMA * float(np.median(apart[apart > 0])) if np.any(apart > 0) else 0.0
    return np.asarray(apart > FAR * max(sigma, 1e-12 * float(np.abs(values).max())), np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Influence:
    """How much one thing moves the logged figure, with its standard deviation."""

    name: str
    coefficient: float
    sigma: float

    @property
    def seen(self) -> bool:
        """Whether it stands out of the scatter."""
        sure = 4.0
        return abs(self.coefficient) > sure * self.sigma


@dataclass(frozen=True, slots=True, kw_only=True)
class Regression:
    """A logged figure as a mean, a drift and the influences given; `likeness` is the largest
    correlation between two of these, with the names of the two.
    """  # noqa: D205

    mean: float
    mean_sigma: float
    drift: Influence
    influences: tuple[Influence, ...]
    scatter: float
    likeness: float
    alike: tuple[str, str]
    fitted: Array


def regress(t: Array, values: Array, others: dict[str, Array]) -> Regression:
    """Return what a logged figure owes to time and to each of the other columns.

    Parameters
    ----------
    t : numpy.ndarray
        Times [s].
    values : numpy.ndarray
        The figure.
    others : dict
        Columns such as temperature and pressure, by name.

    Returns
    -------
    found : Regression
        Coefficients about the middle of the log, their spread widened where the rest of the
        log wanders.

    Notes
    -----
    Held by test_temperature_and_pressure_are_told_apart.
    """
    require(t.size >= 8 + len(others), "log: rows must number eight or more; log longer")
    names = ["drift", *others]
    columns = [t - t.mean(), *(column - column.mean() for column in others.values())]
    matrix = np.stack([np.ones_like(t), *columns], axis=1)
    found: Fitted = linear(matrix, values)
    worst, pair = 0.0, ("", "")
    for one in range(len(names)):
        for other in range(one):
            alike = abs(found.likeness(one + 1, other + 1))
            if alike > worst:
                worst, pair = alike, (names[other], names[one])
    made = [
        Influence(name=name, coefficient=float(value), sigma=float(sigma))
        for name, value, sigma in zip(names, found.values[1:], found.sigmas[1:], strict=True)
    ]
    return Regression(
        mean=float(found.values[0]), mean_sigma=float(found.sigmas[0]), drift=made[0],
        influences=tuple(made[1:]), scatter=found.scatter, likeness=worst, alike=pair,
        fitted=np.asarray(np.dot(matrix, found.values)),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """When a rising figure reaches its limit: the time from the end of the log, and its span."""

    at: Second
    low: Second
    high: Second


@routine
def time_to_limit(*, level: Ratio, slope: Hertz, slope_sigma: Hertz, limit: Ratio) -> Trend:
    """Return in how long a figure that drifts reaches its limit.

    Parameters
    ----------
    level : float
        The figure at the end of the log, over any size of it [1].
    slope : float
        Its drift, over the same size [Hz].
    slope_sigma : float
        The drift's standard deviation [Hz].
    limit : float
        The limit, over the same size [1].

    Returns
    -------
    trend : Trend
        The time, and what two standard deviations of the drift make of it.

    Raises
    ------
    OutOfRangeError
        If the drift does not lead towards the limit by two standard deviations.

    Notes
    -----
    By division; held by test_life_left_from_the_trend.

    The drift is taken to go on as it is: near the end cells fall faster.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> time_to_limit(level=12.0, slope=0.5, slope_sigma=0.05, limit=20.0).at
    16.0
    """
    require(slope_sigma >= 0, "trend: slope_sigma must not be negative; a standard deviation")
    way = limit - level
    towards = way * slope
    require(towards > 0, "trend: the figure must drift towards its limit; it does not")
    require(abs(slope) > 2 * slope_sigma, "trend: the drift must stand out; log longer")
    size = abs(slope)
    return Trend(
        at=abs(way) / size,
        low=abs(way) / (size + 2 * slope_sigma),
        high=abs(way) / (size - 2 * slope_sigma),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanRate:
    """Mean period of a run of beats, with a spread that holds for wandering beats too."""

    period: Second
    period_sigma: Second
    jitter: Second
    likeness: Ratio


@routine
def mean_period(*, periods: SecondCurve) -> MeanRate:
    """Return the mean of logged periods with an honest spread.

    Parameters
    ----------
    periods : numpy.ndarray
        Periods in the order of time, of neighbouring beats or spread over the log [s].

    Returns
    -------
    mean : MeanRate
        `jitter` is their root mean square scatter: timing noise, which tells nothing of the
        quality factor.

    Raises
    ------
    OutOfRangeError
        If there are fewer than five or one is not above zero.

    Notes
    -----
    By averaging in blocks; held by test_mean_of_wandering_periods.

    The spread is that of the means of ten stretches, widened where they follow each other; of
    fewer than sixteen periods that of the periods, if it is larger. A wander that is slower than a
    tenth of the record shows itself in part only.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> mean = mean_period(periods=1.5 + 1e-4 * np.sin(np.arange(400.0)))
    >>> round(mean.period, 5)
    1.5
    """
    require(periods.size >= 5, "log: periods must number five or more; log longer")
    require(np.all(periods > 0), "log: periods must be above zero; check the column")
    mean = float(periods.mean())
    left = periods - mean
    jitter = float(np.sqrt(np.mean(left**2)))
    plain = jitter / np.sqrt(periods.size)
    blocks = np.array([part.mean() for part in np.array_split(left, min(10, periods.size // 2))])
    # Ten numbers seem less alike than they are, by one in ten.
    follow = min(max(neighbours(blocks) + 1 / blocks.size, 0.0), 0.9) if blocks.size >= 8 else 0.0
    blocked = float(blocks.std(ddof=1)) * np.sqrt((1 + follow) / (1 - follow) / blocks.size)
    # Errors of single crossings cancel in neighbouring periods: blocks may scatter less.
    sigma = blocked if blocks.size >= 8 else max(blocked, float(plain))
    return MeanRate(
        period=mean, period_sigma=float(sigma), jitter=jitter, likeness=neighbours(left)
    )
