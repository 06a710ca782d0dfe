"""Collocation over one stretch of time: integration matrices and the Legendre series behind."""

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import roots_jacobi

Array = NDArray[np.float64]

LOOKS = np.linspace(0.0, 1.0, 25)
"""Shares of a stretch at which events are looked for."""


def legendre(share: ArrayLike, count: int) -> Array:
    """Return the first Legendre polynomials at shares of the stretch, the last axis counting."""
    x = 2 * np.asarray(share, dtype=np.float64) - 1
    rows = [np.ones_like(x), x]
    for k in range(1, count - 1):
        rows.append(((2 * k + 1) * x * rows[k] - k * rows[k - 1]) / (k + 1))
    return np.stack(rows[:count], axis=-1)


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
    `series_twice` into those of the integrals.
    """

    points: Array
    once: Array
    twice: Array
    weights: Array
    series: Array
    series_once: Array
    series_twice: Array


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
        once=once,
        twice=legendre(points, count + 2) @ series_twice,
        weights=once[-1],
        series=series,
        series_once=series_once,
        series_twice=series_twice,
    )


def unresolved(values: Array, by: Rule, scale: float) -> float:
    """Return what the last two terms of the series hold, as a share of a scale."""
    coefficients = by.series @ values
    return float(np.abs(coefficients[-2:]).max() / scale)


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
    powers: Array

    def at(self, share: float) -> State:
        """Return the state within the stretch."""
        by, h, first = self.by, self.length, self.start
        terms = legendre(share, len(by.points) + 2)
        n = len(by.points)
        speed = first.speed + h * float(terms[: n + 1] @ (by.series_once @ self.acceleration))
        angle = (
            first.angle + share * h * first.speed
            + h * h * float(terms @ (by.series_twice @ self.acceleration))
        )  # fmt: skip
        current = float(terms[:n] @ (by.series @ self.current)) if self.current.any() else 0.0
        return State(first.t + share * h, angle, speed, current)

    def looked(self) -> tuple[Array, Array]:
        """Return angles and speeds on a fine row of shares."""
        by, h, first = self.by, self.length, self.start
        n = len(by.points)
        terms = legendre(LOOKS, n + 2)
        speed = first.speed + h * (terms[:, : n + 1] @ (by.series_once @ self.acceleration))
        angle = (
            first.angle + LOOKS * h * first.speed
            + h * h * (terms @ (by.series_twice @ self.acceleration))
        )  # fmt: skip
        return angle, speed

    def energies(self, share: float) -> Array:
        """Return the energies up to a share of the stretch."""
        if share == 1:
            return self.length * (self.powers @ self.by.weights)
        terms = legendre(share, len(self.by.points) + 1)
        return self.length * (self.powers @ (terms @ self.by.series_once))
