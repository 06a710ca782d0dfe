"""What each pulse width does: the arc and rate it settles to, how soon, and what comes at once."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from calc.calculator import require
from calc.follow import DrivenMovement
from calc.follow_beat import beats
from calc.follow_columns import Columns
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
    _splines: dict[str, CubicSpline] = field(
        init=False, repr=False, compare=False, default_factory=dict
    )

    def rate_spline(self) -> CubicSpline:
        """Return the settled rate against the logarithm of the width."""
        return self._spline("rates")

    def arc_spline(self) -> CubicSpline:
        """Return the settled arc against the logarithm of the width."""
        return self._spline("arcs")

    def _spline(self, name: str) -> CubicSpline:
        # The planning of a loop asks some forty times for points of the same curve.
        if name not in self._splines:
            self._splines[name] = CubicSpline(np.log(self.widths), getattr(self, name))
        return self._splines[name]

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
    usable = known.usable
    require(
        usable.sum() >= _FEWEST,
        "steering: some swings must reach the trigger and their turning point; swing wider, or "
        "start the pulse nearer the middle",
    )
    at, count = np.log(arcs[usable]), len(widths)
    growth = np.log(known.arc_after[usable] / arcs[usable, None])
    by_arc = Columns(at, np.concatenate((growth, known.time[usable]), axis=1))
    fine = np.linspace(at[0], at[-1], _DENSE)
    grown = by_arc.rows(fine)[:, :count]
    falls = (grown[:-1] > 0) & (grown[1:] <= 0)
    column = np.flatnonzero(falls.any(axis=0))
    # The widest stable swing of each width is the last at which its growth falls through zero.
    last = len(falls) - 1 - np.argmax(falls[::-1, column], axis=0)
    place = by_arc.roots(fine[last], fine[last + 1], column)
    multiplier = 1 + by_arc.slope(place, column)
    stable = (multiplier > 0) & (multiplier < 1)
    column, place, multiplier = column[stable], place[stable], multiplier[stable]
    if column.size < _FEWEST:
        return None
    times = by_arc.rows(place)[:, count:]
    rates, own = movement.period / (2 * times) - 1, np.arange(column.size)
    prompt = np.gradient(rates, widths, axis=1) if count > 2 else np.zeros_like(rates)
    return WidthCurve(
        widths=widths[column], arcs=np.exp(place), rates=rates[own, column],
        slopes_prompt=prompt[own, column],
        time_constants=-known.beats * times[own, column] / np.log(multiplier),
    )  # fmt: skip
