"""Free swing: angle, path and speed in time, exact for a pendulum at any arc."""

from dataclasses import dataclass
from typing import cast

import numpy as np
from scipy.special import ellipj, ellipk, ellipkinc

from calc.calculator import require
from calc.units import (
    Metre,
    MetreCurve,
    MetrePerSecondCurve,
    Radian,
    RadianCurve,
    RadianPerSecond,
    Second,
    SecondCurve,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """Free, undamped swing about the rest position; time zero is mid-swing going positive.

    A pendulum follows Jacobi's elliptic functions, a balance on a linear spring a sinusoid.

    Attributes
    ----------
    kind : str
        `pendulum` or `balance`.
    omega : float
        Angular frequency of the smallest swing [rad/s].
    arc : float
        Half the angle from turning point to turning point [rad].
    radius : float
        Distance of the magnet from the axis of rotation [m].
    """

    kind: str
    omega: RadianPerSecond
    arc: Radian
    radius: Metre

    def __post_init__(self) -> None:
        """Refuse what cannot swing."""
        require(self.kind in ("pendulum", "balance"), "swing: kind must be pendulum or balance")
        require(self.omega > 0, "swing: omega must be above zero")
        require(self.radius > 0, "swing: radius must be above zero")
        require(self.arc > 0, "swing: arc must be above zero")
        limit = np.pi if self.kind == "pendulum" else np.inf
        require(self.arc < limit, "swing: arc must stay below 180 degrees; a pendulum turns over")

    @property
    def modulus(self) -> float:
        """Sine of half the arc: the elliptic modulus of a pendulum."""
        return float(np.sin(self.arc / 2))

    @property
    def period(self) -> Second:
        """Time to and fro at this arc."""
        if self.kind == "balance":
            return float(2 * np.pi / self.omega)
        return float(4 * ellipk(self.modulus**2) / self.omega)

    @property
    def speed_at_centre(self) -> float:
        """Speed of the magnet at mid-swing [m/s], the highest of the swing."""
        if self.kind == "balance":
            return self.radius * self.omega * self.arc
        return 2 * self.radius * self.omega * self.modulus

    def angle(self, t: SecondCurve) -> RadianCurve:
        """Return the angle from the rest position at the given times."""
        if self.kind == "balance":
            return self.arc * np.sin(self.omega * t)
        sn = ellipj(self.omega * t, self.modulus**2)[0]
        return cast(RadianCurve, 2 * np.arcsin(self.modulus * sn))

    def path(self, t: SecondCurve) -> MetreCurve:
        """Return the magnet's way along its path from the rest position."""
        return self.radius * self.angle(t)

    def speed(self, t: SecondCurve) -> MetrePerSecondCurve:
        """Return the magnet's speed along its path, negative on the way back."""
        if self.kind == "balance":
            return self.speed_at_centre * np.cos(self.omega * t)
        cn = ellipj(self.omega * t, self.modulus**2)[1]
        return cast(MetrePerSecondCurve, self.speed_at_centre * cn)

    def time_at(self, path: MetreCurve) -> SecondCurve:
        """Return when the magnet passes these points of its path on the positive pass.

        Raises
        ------
        OutOfRangeError
            If a point lies beyond the turning points.
        """
        angle = np.asarray(path, dtype=np.float64) / self.radius
        require(np.abs(angle) <= self.arc, "swing: path must lie within the swing")
        if self.kind == "balance":
            return np.arcsin(angle / self.arc) / self.omega
        # At the turning point itself rounding may carry the ratio a hair past one.
        amplitude = np.arcsin(np.clip(np.sin(angle / 2) / self.modulus, -1, 1))
        return cast(SecondCurve, ellipkinc(amplitude, self.modulus**2) / self.omega)
