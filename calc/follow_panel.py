"""Collocation over one stretch of time: integration matrices and the Legendre series behind."""

from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import roots_jacobi

Array = NDArray[np.float64]

LOOKS = np.linspace(0.0, 1.0, 25)
"""Shares of a stretch at which events are looked for."""

_CLENSHAW = [((2 * k + 1) / (k + 1), (k + 1) / (k + 2)) for k in range(40, 0, -1)]
"""What each term passes on, the highest first."""


def legendre(share: ArrayLike, count: int) -> Array:
    """Return the first Legendre polynomials at shares of the stretch, the last axis counting."""
    x = 2 * np.asarray(share, dtype=np.float64) - 1
    rows = np.empty((max(count, 2), *x.shape))
    rows[0], rows[1] = 1.0, x
    for k in range(1, count - 1):
        up, _ = _CLENSHAW[-k]
        rows[k + 1] = up * x * rows[k] - k / (k + 1) * rows[k - 1]
    return np.moveaxis(rows[:count], 0, -1)


def chebyshev(share: Array, count: int) -> Array:
    """Return the first Chebyshev polynomials at shares of the stretch, the first axis counting.

    Each doubling of the order takes one step for all shares, and they hold beyond the stretch's
    ends too: the short way where many places of one series are wanted.
    """
    x = 2 * share - 1
    rows = np.empty((count, *x.shape))
    rows[0], rows[1] = 1.0, x
    known = 1
    while known < count - 1:
        more = min(known, count - 1 - known)
        new = rows[known + 1 : known + 1 + more]
        np.multiply(rows[1 : more + 1], 2 * rows[known], out=new)
        new -= rows[known - more : known][::-1]
        known += more
    return rows


def _as_chebyshev(series: Array, count: int) -> Array:
    """Return Legendre series as Chebyshev series, with zeros up to a number of terms."""
    terms = len(series)
    places = (1 + np.cos(np.pi * (np.arange(terms) + 0.5) / terms)) / 2
    turned = np.linalg.solve(chebyshev(places, terms).T, legendre(places, terms))
    padded = np.zeros((count, series.shape[1]))
    padded[:terms] = turned @ series
    return padded


def _running(count: int) -> Array:
    """Return the matrix from a Legendre series to the series of its integral from the start."""
    matrix = np.zeros((count + 1, count))
    matrix[0, 0] = matrix[1, 0] = 0.5
    for k in range(1, count):
        matrix[k + 1, k] = 0.5 / (2 * k + 1)
        matrix[k - 1, k] = -0.5 / (2 * k + 1)
    return matrix


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """Right Radau points on the unit stretch; the last point is its end.

    `once` and `twice` integrate from the start to each point, `weights` over the whole stretch,
    `series` turns values at the points into Legendre coefficients, `series_once` and
    `series_twice` into those of the integrals; `look`, `look_once` and `look_twice` into values at
    the places where events are looked for. `waves` holds `series_twice`, `series_once` and
    `series` for Chebyshev coefficients, all with as many terms.
    """

    points: Array
    identity: Array
    once: Array
    twice: Array
    weights: Array
    series: Array
    series_once: Array
    series_twice: Array
    look: Array
    look_once: Array
    look_twice: Array
    waves: Array


@lru_cache(maxsize=8)
def rule(count: int) -> Rule:
    """Return the rule with this number of points."""
    inner = roots_jacobi(count - 1, 1.0, 0.0)[0]
    points = np.append((np.sort(inner) + 1) / 2, 1.0)
    series = np.asarray(np.linalg.inv(legendre(points, count)), dtype=np.float64)
    series_once = _running(count) @ series
    series_twice = _running(count + 1) @ series_once
    once = legendre(points, count + 1) @ series_once
    return Rule(
        points=points,
        identity=np.eye(count),
        once=once,
        twice=legendre(points, count + 2) @ series_twice,
        weights=once[-1],
        series=series,
        series_once=series_once,
        series_twice=series_twice,
        look=legendre(LOOKS, count) @ series,
        look_once=legendre(LOOKS, count + 1) @ series_once,
        look_twice=legendre(LOOKS, count + 2) @ series_twice,
        waves=np.stack(
            [_as_chebyshev(one, count + 2) for one in (series_twice, series_once, series)]
        ),
    )


def unresolved(values: Array, by: Rule, scale: float) -> float:
    """Return what the last two terms of the series hold, as a share of a scale."""
    one, two = (by.series[-2:] @ values).tolist()
    return float(max(abs(one), abs(two)) / scale)


def series_at(coefficients: list[float], share: float) -> float:
    """Return a Legendre series at one share, by Clenshaw's recurrence.

    An event takes a dozen such values one after another, for which arrays are slow.
    """
    x, one, two = 2 * share - 1, 0.0, 0.0
    above = coefficients[:0:-1]
    for value, (up, down) in zip(above, _CLENSHAW[len(_CLENSHAW) - len(above) :], strict=True):
        one, two = value + up * x * one - down * two, one
    return coefficients[0] + x * one - two / 2


class State(NamedTuple):
    """Where the system stands at a moment."""

    t: float
    angle: float
    speed: float
    current: float


@dataclass(slots=True)
class Panel:
    """One stretch of time as it was solved."""

    by: Rule
    start: State
    length: float
    acceleration: Array
    current: Array
    emf: Array
    speed: Array
    powers: Array = field(default_factory=lambda: np.zeros((0, 0)))
    _series: list[list[float]] | None = None

    def at(self, share: float) -> State:
        """Return the state within the stretch."""
        h, first = self.length, self.start
        if self._series is None:
            by = self.by
            self._series = [
                (by.series_once @ self.acceleration).tolist(),
                (by.series_twice @ self.acceleration).tolist(),
                (by.series @ self.current).tolist() if self.current.any() else [0.0],
            ]
        once, twice, current = self._series
        return State(
            first.t + share * h,
            first.angle + share * h * first.speed + h * h * series_at(twice, share),
            first.speed + h * series_at(once, share),
            series_at(current, share),
        )

    def looked(self) -> tuple[Array, Array]:
        """Return angles and speeds on a fine row of shares."""
        by, h, first = self.by, self.length, self.start
        speed = first.speed + h * (by.look_once @ self.acceleration)
        turned = (h * h) * (by.look_twice @ self.acceleration)
        return first.angle + (h * first.speed) * LOOKS + turned, speed

    def energies(self, share: float) -> Array:
        """Return the energies up to a share of the stretch."""
        if share == 1:
            return self.length * (self.powers @ self.by.weights)
        terms = legendre(share, len(self.by.points) + 1)
        return self.length * (self.powers @ (terms @ self.by.series_once))
