"""What goes into a pulse and what comes out of it."""

from dataclasses import dataclass

from calc.clamp_law import ClampLaw
from calc.switch_law import SwitchLaw
from calc.units import (
    Ampere,
    AmpereCurve,
    Coulomb,
    Henry,
    Joule,
    Ohm,
    Ratio,
    Second,
    SecondCurve,
    Volt,
    VoltCurve,
    Watt,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseOutcome:
    """One pulse at one state of the supply; energies by who takes them.

    `t` is on the clock of the EMF (zero: magnet on the coil's axis) and `i` the current there.
    `t_decay` and `t_zero` count from switching off, to a twentieth and to a millionth.
    `e_supply` is what the supply gives to the coil's branch, `e_source` the share lost in the
    cells' own resistance. `q_beside` is the charge that a resistor across the coil takes
    while the switch is closed, `i_beside` its current when the coil's is greatest: no part of the
    coil's branch.
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
    v_switch_end: Volt
    v_switch_peak: Volt
    t_decay: Second
    t_zero: Second
    t: SecondCurve
    i: AmpereCurve
    q_beside: Coulomb = 0.0
    i_beside: Ampere = 0.0

    @property
    def balance_error(self) -> float:
        """Share of the supplied energy that the contributors leave unexplained [1]."""
        explained = (
            self.e_source + self.e_copper + self.e_switch + self.e_clamp + self.e_mechanical
            + self.e_stored_end
        )  # fmt: skip
        return (self.e_supply - explained) / self.e_supply


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseWidth:
    """The least width that gives the wanted energy, or the best there is if none does.

    `width_best` is the step of the search at which the energy is greatest, `e_best` its energy.
    """

    width: Second
    e_mechanical: Joule
    reached: bool
    width_best: Second
    e_best: Joule


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseCircuit:
    """The coil with its supply, switch and clamp; `duty` chops the supply faster than L / R.

    `t_emf` and `emf` sample the back EMF, positive where the coil's current does work.
    """

    v_supply: Volt
    r_source: Ohm
    r_coil: Ohm
    l_coil: Henry
    switch: SwitchLaw
    clamp: ClampLaw
    duty: Ratio
    p_base: Watt
    t_emf: SecondCurve
    emf: VoltCurve
