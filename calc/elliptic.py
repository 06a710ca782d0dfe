"""The elliptic integrals of a pendulum's swing, without the cancellation of small arcs."""

from collections.abc import Callable
from typing import cast

from scipy.special import ellipk, elliprd

from calc.calculator import expm1, log1p, sin

_K = cast(Callable[[float], float], ellipk)
_RD = cast(Callable[[float, float, float], float], elliprd)

# The mean converges quadratically: six rounds settle 1 and cos(89.9 degrees) to the last bit.
_ROUNDS = 6


def mean_below_one(arc: float) -> float:
    """Return agm(1, cos(arc/2)) - 1, which is the circular error, to full relative precision."""
    above = 0.0 * arc
    below = -2 * sin(arc / 4) ** 2
    for _ in range(_ROUNDS):
        above, below = (above + below) / 2, expm1((log1p(above) + log1p(below)) / 2)
    return above


def complete_k(m: float) -> float:
    """Return the complete elliptic integral of the first kind for the parameter m."""
    return _K(m)


def complete_b(m: float) -> float:
    """Return (E - (1 - m) K) / m, the integral of cos^2 over the first kind's root."""
    return _K(m) - _RD(0.0, 1 - m, 1.0) / 3
