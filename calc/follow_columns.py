"""Cubic splines of many columns over one row of places: values, slopes and roots, all at once."""

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

Array = NDArray[np.float64]
Places = NDArray[np.intp]

_ROUNDS = 60
_CLOSE = 1e-13


class Columns:
    """A cubic spline through each column of values over the same places."""

    def __init__(self, places: Array, values: Array) -> None:
        self.places = places
        self._cubics = CubicSpline(places, values).c

    def rows(self, at: Array) -> Array:
        """Return a row of all columns for each place."""
        k, beyond = self._near(at)
        c, h = self._cubics[:, k], beyond[:, None]
        return np.asarray(((c[0] * h + c[1]) * h + c[2]) * h + c[3])

    def at(self, at: Array, column: Places) -> Array:
        """Return what each column holds at a place of its own."""
        return self._both(at, column)[0]

    def slope(self, at: Array, column: Places) -> Array:
        """Return how steep each column is at a place of its own."""
        return self._both(at, column)[1]

    def roots(self, low: Array, high: Array, column: Places) -> Array:
        """Return where columns change their signs between two places of their own.

        By Newton's method, halving where it would leave what is left of the two. Where a table
        and the spline disagree about a sign by rounding, the end next to it is the place.
        """
        at_low, at_high = self.at(low, column), self.at(high, column)
        share = np.abs(at_low) / np.maximum(np.abs(at_low) + np.abs(at_high), 1e-300)
        one_sign = at_low * at_high >= 0
        at = np.where(one_sign, np.where(share <= 0.5, low, high), low + share * (high - low))
        for _ in range(_ROUNDS):
            value, slope = self._both(at, column)
            below = (value > 0) == (at_low > 0)
            low, high = np.where(below, at, low), np.where(below, high, at)
            better = at - value / np.where(slope == 0, np.inf, slope)
            inside = (slope != 0) & (better >= low) & (better <= high)
            better = np.where(inside, better, (low + high) / 2)
            step = np.where(one_sign | (value == 0), 0.0, better - at)
            at = at + step
            if not at.size or np.abs(step).max() <= _CLOSE:
                break
        return at

    def _near(self, at: Array) -> tuple[Places, Array]:
        k = np.clip(np.searchsorted(self.places, at, side="right") - 1, 0, len(self.places) - 2)
        return k, at - self.places[k]

    def _both(self, at: Array, column: Places) -> tuple[Array, Array]:
        k, h = self._near(at)
        c = self._cubics[:, k, column]
        value = ((c[0] * h + c[1]) * h + c[2]) * h + c[3]
        return value, (3 * c[0] * h + 2 * c[1]) * h + c[2]
