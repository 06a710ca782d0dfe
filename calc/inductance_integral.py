"""The integral over cylinder waves behind self and mutual inductance."""

import numpy as np
from numpy.typing import NDArray
from scipy import special

from calc.linkage_parts import WindingShape
from calc.linkage_spectrum import TURN, panelled, thickness_moment

Array = NDArray[np.float64]

HIGHEST = 200.0
"""Wave number times the smaller winding's outer radius at which the tail's formula takes over."""
FADED = 40.0
"""Wave number times the clear distance beyond which nothing is left."""


def _axial(k: Array, one: WindingShape, other: WindingShape, rise: float) -> Array:
    """Integral of exp(-k |z - z'|) over the heights of both windings."""

    def piece(distance: float) -> Array:
        u = k * abs(distance)
        return np.asarray((u + np.expm1(-u)) / k**2, dtype=np.float64)

    low, high = rise, rise + other.height
    return piece(one.height - low) + piece(high) - piece(one.height - high) - piece(low)


def _exponential(order: int, z: complex) -> complex:
    """Exponential integral of the given order by its continued fraction, off the real axis."""
    fraction = 0j
    for term in range(120, 0, -1):
        fraction = term * (order + term - 1) / (z + order + 2 * term - fraction)
    return complex(np.exp(-z) / (z + order - fraction))


def _waves(power: int, rate: float, start: float) -> complex:
    """Integral of k**-power exp(i rate k) from `start` on."""
    if abs(rate) * start < 1e-9:
        return start ** (1 - power) / (power - 1)
    return start ** (1 - power) * _exponential(power, -1j * rate * start)


def _tail(one: WindingShape, other: WindingShape, rise: float, start: float) -> float:
    """Return what lies beyond `start`, from the leading term of each winding's moment."""
    low, high = rise, rise + other.height
    scale = 1e-9 * (one.height + other.height)
    overlap = max(0.0, min(one.height, high) - max(0.0, low))
    level = sum(abs(gap) < scale for gap in (one.height - high, low))
    touching = sum(abs(gap) < scale for gap in (one.height - low, high))
    total = 0.0
    for a, sign_a in ((one.r_inner, 1), (one.r_outer, -1)):
        for b, sign_b in ((other.r_inner, 1), (other.r_outer, -1)):
            parts = [
                _waves(power, a - b, start).real + _waves(power, a + b, start).imag
                for power in (4, 5)
            ]
            weight = 2 * overlap * parts[0] - (level - touching) * parts[1]
            total += sign_a * sign_b * float(np.sqrt(a * b)) / np.pi * weight
    return total


def coupled(
    one: WindingShape, other: WindingShape, *, rise: float, position: float, mu_0: float
) -> float:
    """Return the mutual inductance of two windings, or the self-inductance of one with itself.

    Parameters
    ----------
    one, other : WindingShape
        The windings.
    rise : float
        Distance of the second winding's face from the first one's, into the winding [m].
    position : float
        Distance of the axes [m].
    mu_0 : float
        Magnetic constant [H/m].
    """
    clear = max(0.0, rise - one.height, -rise - other.height)
    highest = HIGHEST / min(one.r_outer, other.r_outer)
    faded = clear * highest > FADED
    if faded:
        highest = FADED / clear
    span = one.r_outer + other.r_outer + abs(position)
    k, weight = panelled(0.0, highest, int(np.ceil(highest * span / TURN)))
    first = thickness_moment(k, one)
    moments = first * (first if other == one else thickness_moment(k, other))
    total = float(weight @ (moments * _axial(k, one, other, rise) * special.j0(k * position)))
    if not faded and position == 0:
        total += _tail(one, other, rise, highest)
    density = one.n_turns / ((one.r_outer - one.r_inner) * one.height)
    density *= other.n_turns / ((other.r_outer - other.r_inner) * other.height)
    return float(mu_0 * np.pi * density * total)
