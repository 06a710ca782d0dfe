"""All steps of one stiff scalar differential equation at once, by collocation and Newton."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_banded

from calc.calculator import OutOfRangeError

Array = NDArray[np.float64]

_ROOT_6 = float(np.sqrt(6.0))
_NODES = np.array([(4 - _ROOT_6) / 10, (4 + _ROOT_6) / 10, 1.0])
_COUPLING = np.array(
    [
        [(88 - 7 * _ROOT_6) / 360, (296 - 169 * _ROOT_6) / 1800, (-2 + 3 * _ROOT_6) / 225],
        [(296 + 169 * _ROOT_6) / 1800, (88 + 7 * _ROOT_6) / 360, (-2 - 3 * _ROOT_6) / 225],
        [(16 - _ROOT_6) / 36, (16 + _ROOT_6) / 36, 1 / 9],
    ]
)
_WEIGHTS = _COUPLING[2]
_ITERATIONS = 60
_SETTLED = 1e-13


@dataclass(frozen=True, slots=True, kw_only=True)
class Trajectory:
    """Values at the three nodes of each step, and the steps' edges."""

    edges: Array
    nodes: Array
    values: Array

    def integral(self, integrand: Array) -> float:
        """Return the integral over all steps of a quantity given at the nodes."""
        return float(np.sum(np.diff(self.edges) * (integrand @ _WEIGHTS)))

    def running(self, integrand: Array) -> Array:
        """Return the integral from the start to each edge, the first being zero."""
        parts = np.diff(self.edges) * (integrand @ _WEIGHTS)
        return np.concatenate(([0.0], np.cumsum(parts)))

    def at_edges(self, start: float) -> Array:
        """Return the values at the edges."""
        return np.concatenate(([start], self.values[:, 2]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Equation:
    """dy/dt = rate(t, y), with the rate's slope in y."""

    rate: Callable[[Array, Array], Array]
    slope: Callable[[Array, Array], Array]


def step_nodes(edges: Array) -> Array:
    """Return the times of the three nodes of each step between the edges."""
    nodes: Array = edges[:-1, None] + np.diff(edges)[:, None] * _NODES
    return nodes


def solve_steps(
    equation: Equation, edges: Array, guess: Array, *, start: float, scale: float
) -> Trajectory:
    """Return the trajectory from the first edge by the three-stage Radau IIA collocation.

    Fifth order and stiffly accurate: a step longer than the circuit's own time constant is
    damped, not merely stable. All steps are one banded system, so Newton's method runs without
    a loop over steps.
    """
    step = np.diff(edges)[:, None]
    nodes = step_nodes(edges)
    count = len(step)
    values = guess.copy()
    bands = np.zeros((6, 3 * count))
    coupling = step[:, :, None] * _COUPLING
    for _ in range(_ITERATIONS):
        slope = equation.slope(nodes, values)
        before = np.concatenate(([start], values[:-1, 2]))[:, None]
        residual = values - before - step * (equation.rate(nodes, values) @ _COUPLING.T)
        matrix = -coupling * slope[:, None, :]
        bands[3:, 2:-1:3] = -1.0
        for row in range(3):
            for column in range(3):
                entry = matrix[:, row, column] + (1.0 if row == column else 0.0)
                bands[2 + row - column, column::3] = entry
        change = solve_banded((3, 2), bands, residual.ravel(), check_finite=False)
        values -= change.reshape(count, 3)
        if not np.isfinite(values).all():
            break
        if np.abs(change).max() <= _SETTLED * scale:
            return Trajectory(edges=edges, nodes=nodes, values=values)
    raise OutOfRangeError("coil_pulse: the current does not converge; check resistance and EMF")
