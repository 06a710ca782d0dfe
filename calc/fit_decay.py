"""Ring-down: which law the arcs of a free swing follow, and the quality factor in it.

The arc falls by (pi/Q) arc from drag that grows with speed, by a constant step from dry
friction, and by a share of its square from turbulent air, each in one whole period.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from calc.calculator import pi, require, routine
from calc.fit_least import Fitted, least, neighbours
from calc.units import Count, Radian, RadianCurve, Ratio, RatioCurve

Array = NDArray[np.float64]
Law = Literal["viscous", "dry", "square"]

SURE = 4.0
"""A second term of loss counts from so many standard deviations on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decay:
    """The fall of a free swing; `_sigma` are standard deviations.

    Attributes
    ----------
    law : str
        What falls besides the viscous share: `viscous` nothing, `dry` a constant step, `square`
        a share of the arc's square.
    share : float
        Viscous loss of arc in a period, as a share of the arc: pi/Q [1].
    step : float
        Loss of arc in a period by dry friction; an estimate also where it does not count [rad].
    square : float
        Loss of arc in a period over the arc's square [1/rad].
    arc_start : float
        Arc at period zero [rad].
    scatter : float
        Root mean square of what the law leaves over [rad].
    likeness : float
        Magnitude of the correlation of `share` with the second term, 1 for alike [1].
    structure : float
        Correlation of neighbouring residuals: near one, the law does not fit [1].
    samples : int
        Arcs used [1].
    """

    law: Law
    share: Ratio
    share_sigma: Ratio
    step: Radian
    step_sigma: Radian
    square: Ratio
    square_sigma: Ratio
    arc_start: Radian
    arc_start_sigma: Radian
    scatter: Radian
    likeness: Ratio
    structure: Ratio
    samples: Count

    def loss_share(self, arc: float) -> float:
        """Return the share of an arc that is lost in one period."""
        step = self.step if self.law == "dry" else 0.0
        square = self.square if self.law == "square" else 0.0
        return self.share + step / arc + square * arc

    def q_factor(self, arc: float) -> float:
        """Return the quality factor at an arc: pi over the share of it lost in one period."""
        return pi / self.loss_share(arc)

    def q_sigma(self, arc: float) -> float:
        """Return its standard deviation; the two terms are taken as fully correlated or not."""
        other = 0.0
        if self.law == "dry":
            other = self.step_sigma / arc
        elif self.law == "square":
            other = self.square_sigma * arc
        # Fitted terms of loss trade against each other: their correlation is close to -1.
        variance = self.share_sigma**2 + other**2 - 2 * self.likeness * self.share_sigma * other
        return self.q_factor(arc) ** 2 / pi * float(np.sqrt(max(variance, 0.0)))

    def arc(self, periods: Array) -> Array:
        """Return the arc after so many whole periods."""
        second = {"viscous": 0.0, "dry": self.step, "square": self.square}[self.law]
        return _arc(self.law, periods, self.arc_start, self.share, second)


def _grown(share: float, periods: Array) -> Array:
    """Return (1 - exp(-share n))/share, which is n for no share."""
    product = share * periods
    small = np.abs(product) < 1e-9
    safe = np.where(small, 1.0, product)
    return periods * np.where(small, 1.0 - product / 2, -np.expm1(-safe) / safe)


def _arc(law: Law, periods: Array, start: float, share: float, second: float) -> Array:
    falling = np.exp(-share * periods)
    if law == "dry":
        return start * falling - second * _grown(share, periods)
    if law == "square":
        return start * falling / (1 + second * start * _grown(share, periods))
    return start * falling


def _fitted(law: Law, periods: Array, arcs: Array, weights: Array, start: Array) -> Fitted:
    """Fit one law; arcs and periods come in units of their largest."""

    def residual(p: Array) -> Array:
        second = float(p[2]) if p.size > 2 else 0.0
        return weights * (_arc(law, periods, float(p[0]), float(p[1]), second) - arcs)

    # Drag never feeds a swing: two terms of opposite sign could bend after any last sample.
    low = np.array([-np.inf, 0.0 if start.size > 2 else -np.inf, -np.inf])[: start.size]
    return least(residual, start, scale=np.array([1.0, 1.0, 0.1])[: start.size], low=low)


@routine
def fit_decay(*, periods: RatioCurve, arcs: RadianCurve, weights: RatioCurve) -> Decay:
    """Return the law by which the arcs of a free swing fall.

    Parameters
    ----------
    periods : numpy.ndarray
        Whole periods since the start, half the number of beats, for each arc [1].
    arcs : numpy.ndarray
        Arc at each; any quantity that is in proportion to it does [rad].
    weights : numpy.ndarray
        Relative weight of each arc: one over its standard deviation, in any unit [1].

    Returns
    -------
    decay : Decay
        The simplest law that the arcs do not contradict.

    Raises
    ------
    OutOfRangeError
        If there are fewer than five arcs, they do not fall, or the arrays do not match.

    Notes
    -----
    By least squares; held by test_each_law_of_loss_is_found_again.

    A term besides the viscous one counts if it is positive by four standard deviations. Of two
    that count, the one that leaves less over is taken.

    References
    ----------
    Definition of the logarithmic decrement; the laws with a second term are integrated here.

    Examples
    --------
    >>> n = np.arange(0.0, 200.0, 4.0)
    >>> found = fit_decay(periods=n, arcs=0.08 * np.exp(-np.pi * n / 700), weights=np.ones(50))
    >>> found.law, round(found.q_factor(0.05), 3)
    ('viscous', 700.0)
    """
    require(arcs.size >= 5, "ring-down: arcs must number five or more; record longer")
    require(arcs.size == periods.size == weights.size, "ring-down: the arrays must match; check")
    require(np.all(np.isfinite(arcs)), "ring-down: arcs must be numbers; leave gaps out")
    require(np.all(arcs > 0), "ring-down: arcs must be above zero; stop before it rests")
    span = float(np.ptp(periods))
    require(span > 0, "ring-down: periods must rise; give one count for each arc")
    largest = float(arcs.max())
    first = float(periods.min())
    n, a = (periods - first) / span, arcs / largest
    w = weights / float(weights.max())
    line = np.polyfit(n, np.log(a), 1, w=a * w)
    require(line[0] < 0, "ring-down: arcs must fall; take the swing without drive")
    start = np.array([np.exp(line[1]), -line[0]])
    fits: dict[Law, Fitted] = {"viscous": _fitted("viscous", n, a, w, start)}
    best: Law = "viscous"
    seconds: tuple[Law, ...] = ("dry", "square") if arcs.size >= 8 else ()
    for law in seconds:
        fits[law] = fit = _fitted(law, n, a, w, np.append(start, 0.0))
        counts = fit.values[2] > SURE * fit.sigmas[2]
        # Beyond rounding alone nothing is significant.
        real = fit.cost < fits["viscous"].cost - 1e-18 * a.size
        if counts and real and fit.cost < fits[best].cost:
            best = law
    chosen = fits[best]
    dry, square = fits.get("dry"), fits.get("square")
    back = float(_arc(best, np.array([-first / span]), *_three(chosen))[0])
    return Decay(
        law=best,
        share=float(chosen.values[1]) / span,
        share_sigma=float(chosen.sigmas[1]) / span,
        step=float(dry.values[2]) * largest / span if dry else 0.0,
        step_sigma=float(dry.sigmas[2]) * largest / span if dry else 0.0,
        square=float(square.values[2]) / (largest * span) if square else 0.0,
        square_sigma=float(square.sigmas[2]) / (largest * span) if square else 0.0,
        arc_start=back * largest,
        arc_start_sigma=float(chosen.sigmas[0]) * largest,
        scatter=float(np.sqrt(np.mean((chosen.residual / w) ** 2))) * largest,
        likeness=abs(chosen.likeness(1, 2)) if chosen.values.size > 2 else 0.0,
        structure=neighbours(chosen.residual),
        samples=int(arcs.size),
    )


def _three(fit: Fitted) -> tuple[float, float, float]:
    second = float(fit.values[2]) if fit.values.size > 2 else 0.0
    return float(fit.values[0]), float(fit.values[1]), second
