"""How much voltage a closed switch keeps for itself at a given current."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import calculator, log, require
from calc.units import Ampere, AmpereCurve, Ohm, Ratio, Volt, VoltCurve

_EDGE = 1e-9
"""Share of the limit, short of it, from where the logarithm goes on as its tangent."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchLaw:
    """Drop of a closed switch: a constant, a saturated bipolar's logarithm and a resistance.

    With `v_thermal` zero there is no bipolar part: a MOSFET is its resistance alone. A current
    that flows backwards meets the same resistance, until a junction, the MOSFET's own diode or
    the bipolar's collector, takes it over: `v_reverse` is the most that it leaves across.
    """

    v_constant: Volt = 0.0
    v_thermal: Volt = 0.0
    beta_f: Ratio = 1.0
    beta_r: Ratio = 1.0
    i_b: Ampere = 0.0
    resistance: Ohm = 0.0
    v_reverse: Volt = 0.7

    @property
    def i_limit(self) -> float:
        """Current beyond which the switch leaves saturation [A]; infinite where there is none."""
        return self.beta_f * self.i_b if self.v_thermal > 0 else float("inf")

    def drop(self, i: float | AmpereCurve) -> VoltCurve:
        """Return the drop at current i [V]; past the limit it takes whatever is left."""
        forward, backward = np.maximum(i, 0), np.minimum(i, 0)
        ohmic: VoltCurve = self.v_constant + self.resistance * forward
        if np.any(backward):
            ohmic = ohmic + self.v_reverse * np.expm1(self._steepest * backward / self.v_reverse)
        if self.v_thermal <= 0:
            return ohmic
        short = 1 - forward / self.i_limit
        inside = np.maximum(short, _EDGE)
        reverse = np.log((1 + (forward / self.i_b + 1) / self.beta_r) / inside)
        beyond = (inside - short) / _EDGE
        drop: VoltCurve = ohmic + self.v_thermal * (reverse + beyond)
        return drop

    @property
    def _steepest(self) -> float:
        return float(self.slope(0.0))

    def slope(self, i: float | AmpereCurve) -> NDArray[np.float64]:
        """Return the rise of the drop with current [Ω]."""
        current, backward = np.maximum(i, 0), np.minimum(i, 0)
        rise = np.full_like(current, self.resistance, dtype=np.float64)
        if self.v_thermal > 0:
            inside = np.maximum(1 - current / self.i_limit, _EDGE)
            reverse = 1 / (self.i_b * (self.beta_r + 1) + current)
            rise = rise + self.v_thermal * (reverse + 1 / (self.i_limit * inside))
        if np.any(backward):
            rise = rise * np.exp(self._steepest * backward / self.v_reverse)
        return rise


@calculator
def saturation_drop(
    *, i_c: Ampere, i_b: Ampere, beta_f: Ratio, beta_r: Ratio, v_thermal: Volt, r_series: Ohm
) -> Volt:
    """Return the collector-emitter drop of a saturated bipolar switch.

    Parameters
    ----------
    i_c : float
        Collector current [A].
    i_b : float
        Base current [A].
    beta_f : float
        Forward current gain [1].
    beta_r : float
        Reverse current gain [1].
    v_thermal : float
        Thermal voltage k T / q, 25.9 mV at 300 K [V].
    r_series : float
        Resistance of collector and emitter leads and bulk [Ω].

    Returns
    -------
    v_ce_sat : float
        Drop between collector and emitter [V].

    Raises
    ------
    OutOfRangeError
        If a value is not above zero (r_series: below zero), or if i_c reaches beta_f * i_b,
        where the switch is no longer saturated.

    Notes
    -----
    v_ce_sat = v_thermal * log((1 + (i_c / i_b + 1) / beta_r) / (1 - i_c / (beta_f * i_b)))
        + r_series * i_c

    References
    ----------
    J. J. Ebers and J. L. Moll, Large-signal behavior of junction transistors,
    Proc. IRE 42 (1954) 1761-1772 (equation from memory).

    Examples
    --------
    >>> v = saturation_drop(
    ...     i_c=0.1, i_b=0.005, beta_f=120.0, beta_r=4.0, v_thermal=0.02585, r_series=0.8
    ... )
    >>> round(v, 4)
    0.1321
    """
    require(i_c > 0, "saturation_drop: i_c must be above zero")
    require(i_b > 0, "saturation_drop: i_b must be above zero; without it the switch is off")
    require(beta_f > 0, "saturation_drop: beta_f must be above zero")
    require(beta_r > 0, "saturation_drop: beta_r must be above zero")
    require(v_thermal > 0, "saturation_drop: v_thermal must be above zero")
    require(r_series >= 0, "saturation_drop: r_series must not be below zero")
    require(
        i_c < beta_f * i_b,
        "saturation_drop: i_c must stay below beta_f * i_b; beyond it the switch is not saturated",
    )
    return (
        v_thermal * log((1 + (i_c / i_b + 1) / beta_r) / (1 - i_c / (beta_f * i_b)))
        + r_series * i_c
    )
