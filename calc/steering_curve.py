"""What each pulse width does: the arc and rate it settles to, how soon, and what comes at once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline, PPoly

from calc.calculator import require
from calc.follow import DrivenMovement
from calc.follow_beat import beats
from calc.sign_change import sign_change
from calc.units import (
    PerSecond,
    PerSecondCurve,
    Radian,
    RadianCurve,
    Ratio,
    RatioCurve,
    Second,
    SecondCurve,
)

_DENSE = 240
_FEWEST = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class WidthPoint:
    """One width once settled; rates are against the smallest free swing, slopes for the width."""

    width: Second
    arc: Radian
    rate: Ratio
    slope: PerSecond
    slope_prompt: PerSecond
    time_constant: Second


@dataclass(frozen=True, slots=True, kw_only=True)
class WidthCurve:
    """The widest stable swing over the widths that hold one, narrow to wide."""

    widths: SecondCurve
    arcs: RadianCurve
    rates: RatioCurve
    slopes_prompt: PerSecondCurve
    time_constants: SecondCurve

    def rate_spline(self) -> CubicSpline:
        """Return the settled rate against the logarithm of the width."""
        return CubicSpline(np.log(self.widths), self.rates)

    def arc_spline(self) -> CubicSpline:
        """Return the settled arc against the logarithm of the width."""
        return CubicSpline(np.log(self.widths), self.arcs)

    def at(self, width: float) -> WidthPoint:
        """Return the settled swing at a width within the curve."""
        x = float(np.log(width))
        rate = self.rate_spline()
        return WidthPoint(
            width=width, arc=float(self.arc_spline()(x)), rate=float(rate(x)),
            slope=float(rate(x, 1)) / width,
            slope_prompt=float(np.interp(x, np.log(self.widths), self.slopes_prompt)),
            time_constant=float(
                np.exp(np.interp(x, np.log(self.widths), np.log(self.time_constants)))
            ),
        )  # fmt: skip

    def fine(self, low: float, high: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return a dense row of widths within two ends and the rate at each."""
        row = np.geomspace(max(low, self.widths[0]), min(high, self.widths[-1]), _DENSE)
        return row, np.asarray(self.rate_spline()(np.log(row)))

    def width_of_arc(self, arc: float) -> float:
        """Return the narrowest width that holds an arc, the curve's nearest end where none does."""
        row = np.geomspace(self.widths[0], self.widths[-1], _DENSE)
        arcs = np.maximum.accumulate(self.arc_spline()(np.log(row)))
        return float(np.interp(arc, arcs, row))


def _root(growth: PPoly, low: float, high: float) -> float:
    return sign_change(lambda at: float(growth(at)), low, high, xtol=1e-13)


def width_curve(
    movement: DrivenMovement, arcs: NDArray[np.float64], widths: NDArray[np.float64]
) -> WidthCurve | None:
    """Return the settled swings over a row of widths, None where too few of them hold one.

    Parameters
    ----------
    movement : DrivenMovement
        Movement, coil and circuit; its own width does not count.
    arcs : numpy.ndarray
        Arcs to look at, in order [rad].
    widths : numpy.ndarray
        Widths to look at, in order [s].

    Returns
    -------
    curve : WidthCurve or None

    Raises
    ------
    OutOfRangeError
        If hardly any of the arcs reaches the trigger and its turning point.
    """
    known = beats(movement, arcs, widths, exact=False)
    usable = np.isfinite(known.arc_after).all(axis=1) & known.driven
    require(
        usable.sum() >= _FEWEST,
        "steering: some swings must reach the trigger and their turning point; swing wider, or "
        "start the pulse nearer the middle",
    )
    at = np.log(arcs[usable])
    growth = CubicSpline(at, np.log(known.arc_after[usable] / arcs[usable, None]))
    beat = CubicSpline(at, known.time[usable])
    fine = np.linspace(at[0], at[-1], _DENSE)
    grown = growth(fine)
    rows = []
    for k, width in enumerate(widths.tolist()):
        falls = np.flatnonzero((grown[:-1, k] > 0) & (grown[1:, k] <= 0))
        if not falls.size:
            continue
        own = PPoly(growth.c[:, :, k], growth.x)
        low, high = fine[falls[-1]], fine[falls[-1] + 1]
        x = _root(own, float(low), float(high))
        multiplier = 1 + float(own(x, 1))
        if not 0 < multiplier < 1:
            continue
        times = beat(x)
        rates = movement.period / (2 * times) - 1
        prompt = np.gradient(rates, widths)[k] if len(widths) > 2 else 0.0
        tau = -known.beats * times[k] / np.log(multiplier)
        rows.append((width, np.exp(x), rates[k], prompt, tau))
    if len(rows) < _FEWEST:
        return None
    columns = np.array(rows).T
    return WidthCurve(
        widths=columns[0], arcs=columns[1], rates=columns[2], slopes_prompt=columns[3],
        time_constants=columns[4],
    )  # fmt: skip
