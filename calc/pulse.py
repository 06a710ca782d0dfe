"""The pulse: the coil's current from switching on until the clamp has taken it to zero."""

from dataclasses import dataclass

from calc.units import Ampere, AmpereCurve, Coulomb, Joule, Ratio, Second, SecondCurve, Volt


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseOutcome:
    """One pulse at one state of the supply; energies by who takes them.

    `t` is on the clock of the EMF (zero: magnet on the coil's axis) and `i` the current there.
    `t_decay` and `t_zero` count from switching off, to a twentieth and to a millionth.
    `e_supply` is what the supply gives to the coil's branch, `e_source` the share lost in the
    cells' own resistance, `e_shunt` what a resistor across the coil draws beside it.
    """

    i_peak: Ampere
    i_off: Ampere
    q_supply: Coulomb
    e_supply: Joule
    e_source: Joule
    e_copper: Joule
    e_switch: Joule
    e_clamp: Joule
    e_mechanical: Joule
    e_stored_end: Joule
    e_base: Joule
    e_shunt: Joule
    v_switch_end: Volt
    v_switch_peak: Volt
    t_decay: Second
    t_zero: Second
    balance_error: Ratio
    t: SecondCurve
    i: AmpereCurve
