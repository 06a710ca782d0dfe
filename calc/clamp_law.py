"""How much voltage a clamp sets against the coil's current while it is released."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.units import Ampere, AmpereCurve, Ohm, Volt, VoltCurve


@dataclass(frozen=True, slots=True, kw_only=True)
class Junction:
    """A junction's logarithm: v_log * ln(1 + i / i_log)."""

    v_log: Volt
    i_log: Ampere


@dataclass(frozen=True, slots=True, kw_only=True)
class ClampLaw:
    """Voltage across a clamp: a constant, junctions and a resistance in series.

    `from_supply` marks a clamp across the switch: the supply goes on feeding the coil during
    the release, so that what opposes the current is the clamp's voltage less the supply's.
    """

    v_constant: Volt = 0.0
    junctions: tuple[Junction, ...] = ()
    resistance: Ohm = 0.0
    from_supply: bool = False

    @property
    def beside(self) -> float:
        """Resistance that also draws current while the switch is closed [Ω]; infinite for none."""
        plain = not self.junctions and self.v_constant == 0 and not self.from_supply
        return self.resistance if plain and self.resistance > 0 else float("inf")

    def voltage(self, i: float | AmpereCurve) -> VoltCurve:
        """Return the voltage across the clamp at current i [V]; it conducts one way only."""
        current = np.asarray(i)
        total = self.v_constant + self.resistance * current
        for junction in self.junctions:
            forward = np.maximum(current, 0) / junction.i_log
            backward = np.minimum(current, 0) / junction.i_log
            total = total + junction.v_log * (np.log1p(forward) + backward)
        return total

    def slope(self, i: float | AmpereCurve) -> NDArray[np.float64]:
        """Return the rise of the voltage with current [Ω]."""
        current = np.asarray(i)
        total = np.full_like(current, self.resistance, dtype=np.float64)
        for junction in self.junctions:
            total = total + junction.v_log / (junction.i_log + np.maximum(current, 0))
        return total

    def opposing(self, i: float | AmpereCurve, v_supply: float) -> VoltCurve:
        """Return the voltage that opposes the coil's current during the release [V]."""
        return self.voltage(i) - (v_supply if self.from_supply else 0.0)

    def switch_voltage(self, i: float, v_supply: float) -> float:
        """Return the voltage at the open switch while current i is released [V]."""
        return float(self.voltage(i)) + (0.0 if self.from_supply else v_supply)
