"""The pulse: the coil's current from switching on until the clamp has taken it to zero."""

import numpy as np

from calc.calculator import require, routine
from calc.clamp_law import ClampLaw
from calc.pulse_outcome import PulseCircuit, PulseOutcome, PulseWidth
from calc.pulse_solver import Solver
from calc.switch_law import SwitchLaw
from calc.units import Joule, Second

__all__ = [
    "ClampLaw", "PulseCircuit", "PulseOutcome", "PulseWidth", "SwitchLaw", "coil_pulse",
    "least_pulse_width", "np",
]  # fmt: skip
"""The docstrings' examples run in this module: they need the laws and NumPy."""


def _check(circuit: PulseCircuit, t_on: float) -> None:
    require(circuit.v_supply > 0, "coil_pulse: v_supply must be above zero")
    require(circuit.r_coil > 0, "coil_pulse: r_coil must be above zero")
    require(circuit.l_coil > 0, "coil_pulse: l_coil must be above zero")
    require(circuit.r_source >= 0, "coil_pulse: r_source must not be below zero")
    require(circuit.p_base >= 0, "coil_pulse: p_base must not be below zero")
    require(
        (circuit.duty > 0) & (circuit.duty <= 1),
        "coil_pulse: duty must lie above 0 and up to 1; it is the share of the pulse that is on",
    )
    require(
        len(circuit.t_emf) == len(circuit.emf) and len(circuit.t_emf) >= 4,
        "coil_pulse: t_emf and emf must have the same number of samples, four or more",
    )
    require(
        (t_on >= circuit.t_emf[0]) & (t_on <= circuit.t_emf[-1]),
        "coil_pulse: t_on must lie within the samples of the EMF; sample a longer pass",
    )


@routine
def coil_pulse(*, circuit: PulseCircuit, t_on: Second, pulse_width: Second) -> PulseOutcome:
    """Return current, energies and release of one pulse.

    Parameters
    ----------
    circuit : PulseCircuit
        Supply, coil, switch, clamp and back EMF.
    t_on : float
        Moment of switching on, on the clock of the EMF [s].
    pulse_width : float
        How long the switch stays closed [s].

    Returns
    -------
    outcome : PulseOutcome
        The pulse with its release.

    Raises
    ------
    OutOfRangeError
        If a value of the circuit is not above zero (r_source, p_base: below zero), the duty lies
        outside 0 to 1, the EMF has too few samples or does not cover t_on, or pulse_width is
        not above zero.

    Notes
    -----
    By collocation of v = i r + l di/dt + e + v_switch(i), then by quadrature of the release;
    held by test_balance_of_the_pulse_closes.

    References
    ----------
    E. Hairer and G. Wanner, Solving Ordinary Differential Equations II, 2nd ed., section IV.5
    (Radau IIA methods; coefficients checked by their own order conditions).

    Examples
    --------
    >>> still = np.zeros(5)
    >>> circuit = PulseCircuit(
    ...     v_supply=3.0, r_source=0.0, r_coil=30.0, l_coil=0.012, duty=1.0, p_base=0.0,
    ...     switch=SwitchLaw(), clamp=ClampLaw(v_constant=0.7),
    ...     t_emf=np.linspace(0.0, 0.02, 5), emf=still,
    ... )
    >>> outcome = coil_pulse(circuit=circuit, t_on=0.0, pulse_width=0.01)
    >>> round(outcome.i_off, 6), round(outcome.t_zero * 1e3, 4)
    (0.1, 0.666)
    """
    _check(circuit, t_on)
    require(pulse_width > 0, "coil_pulse: pulse_width must be above zero")
    return Solver(circuit, t_on).outcome(pulse_width)


@routine
def least_pulse_width(
    *, circuit: PulseCircuit, t_on: Second, e_wanted: Joule, width_max: Second
) -> PulseWidth:
    """Return the least pulse width whose mechanical energy reaches what a beat loses.

    Parameters
    ----------
    circuit : PulseCircuit
        Supply, coil, switch, clamp and back EMF.
    t_on : float
        Moment of switching on, on the clock of the EMF [s].
    e_wanted : float
        Mechanical energy that the pulse must give [J].
    width_max : float
        Widest pulse that may be considered [s].

    Returns
    -------
    found : PulseWidth
        The width; with `reached` false, the width that gives the most.

    Raises
    ------
    OutOfRangeError
        As for the pulse itself, and if e_wanted or width_max is not above zero.

    Notes
    -----
    By root finding on one driven trajectory with its releases; held by
    test_least_width_gives_the_wanted_energy.

    References
    ----------
    Energy balance of a sustained oscillation; common practice, no source.

    Examples
    --------
    >>> t = np.linspace(0.0, 0.04, 41)
    >>> circuit = PulseCircuit(
    ...     v_supply=3.0, r_source=0.0, r_coil=30.0, l_coil=0.012, duty=1.0, p_base=0.0,
    ...     switch=SwitchLaw(), clamp=ClampLaw(v_constant=0.7), t_emf=t, emf=5.0 * t,
    ... )
    >>> found = least_pulse_width(circuit=circuit, t_on=0.0, e_wanted=5e-5, width_max=0.03)
    >>> round(found.width * 1e3, 3), found.reached
    (14.026, True)
    """
    _check(circuit, t_on)
    require(e_wanted > 0, "least_pulse_width: e_wanted must be above zero")
    require(width_max > 0, "least_pulse_width: width_max must be above zero")
    return Solver(circuit, t_on).least_width(e_wanted, width_max)
