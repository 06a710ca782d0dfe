"""A closed switch that a resistor across the coil loads too."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError
from calc.clamp_law import ClampLaw
from calc.switch_law import SwitchLaw
from calc.units import AmpereCurve, Ohm, Volt, VoltCurve

_ROUNDS = 80
_SETTLED = 1e-14


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedSwitch:
    """What the coil's current meets where the switch also carries that of a resistor.

    The resistor stands from the rail, behind the cells' own resistance, to the switch. A switch
    that cannot carry both leaves saturation, and the node rises until the resistor yields what
    the coil takes: so the current beside the coil's is part of the answer.
    """

    switch: SwitchLaw
    r_beside: Ohm
    v_supply: Volt
    r_source: Ohm = 0.0

    def total(self, i: float | AmpereCurve) -> NDArray[np.float64]:
        """Return the current of switch and cells while the coil carries i [A]."""
        switch, r = self.switch, self.r_beside
        wanted = np.asarray(i, dtype=np.float64) + self.v_supply / r
        share = 1 + self.r_source / r
        low = np.minimum((wanted - switch.v_constant / r) / share, 0.0)
        high = np.maximum(wanted / share, 0.0)
        x = np.minimum(high, switch.i_limit)
        for _ in range(_ROUNDS):
            over = share * x + switch.drop(x) / r - wanted
            high = np.where(over >= 0, x, high)
            low = np.where(over <= 0, x, low)
            new = x - over / (share + switch.slope(x) / r)
            outside = (new < low) | (new > high)
            new = np.where(outside, (low + high) / 2, new)
            moved, x = np.abs(new - x), new
            if (moved <= _SETTLED * np.abs(x) + _SETTLED * self.v_supply / r).all():
                return np.asarray(x)
        raise OutOfRangeError("loaded switch: the currents do not settle; check switch and clamp")

    def node(self, i: float | AmpereCurve) -> VoltCurve:
        """Return the voltage across the switch while the coil carries i [V]."""
        return self._node(i, self.total(i))

    def _node(self, i: float | AmpereCurve, x: AmpereCurve) -> VoltCurve:
        across = self.r_beside + self.r_source
        by_resistors = self.v_supply + self.r_beside * np.asarray(i) - across * x
        # Each way of telling it is good where it is the less steep one.
        steep = self.switch.slope(x) > across
        return np.where(steep, by_resistors, self.switch.drop(x))

    def drop(self, i: float | AmpereCurve) -> VoltCurve:
        """Return the node's voltage with what the resistor's current loses in the cells [V]."""
        x = self.total(i)
        return np.asarray(self._node(i, x) + self.r_source * (x - np.asarray(i)))

    def beside(self, i: float | AmpereCurve) -> NDArray[np.float64]:
        """Return the resistor's current [A]."""
        return np.asarray(self.total(i) - np.asarray(i))

    def slope(self, i: float | AmpereCurve) -> NDArray[np.float64]:
        """Return the rise of the drop with the coil's current [Ω]."""
        steep = self.switch.slope(self.total(i))
        follows = 1 / (1 + (self.r_source + steep) / self.r_beside)
        return np.asarray(steep * follows + self.r_source * (follows - 1))

    @property
    def i_limit(self) -> float:
        """Current that the supply cannot exceed in the coil [A]; the resistor then has none."""
        return self.switch.i_limit

    @property
    def resistance(self) -> float:
        """Resistance of the closed switch alone [Ω]."""
        return self.switch.resistance


def loaded(
    switch: SwitchLaw, clamp: ClampLaw, *, v_supply: Volt, r_source: Ohm
) -> SwitchLaw | LoadedSwitch:
    """Return the switch as the coil's current meets it beside this clamp."""
    if clamp.beside == float("inf"):
        return switch
    return LoadedSwitch(switch=switch, r_beside=clamp.beside, v_supply=v_supply, r_source=r_source)


def node_voltage(switch: SwitchLaw | LoadedSwitch, i: float | AmpereCurve) -> VoltCurve:
    """Return the voltage across the switch while the coil carries i [V]."""
    return switch.node(i) if isinstance(switch, LoadedSwitch) else switch.drop(i)


def current_beside(switch: SwitchLaw | LoadedSwitch, i: float | AmpereCurve) -> NDArray[np.float64]:
    """Return the current that the switch carries beside the coil's [A]."""
    if isinstance(switch, LoadedSwitch):
        return switch.beside(i)
    return np.zeros_like(np.asarray(i, dtype=np.float64))
