"""Pickup through a capacitor, and pickup on a bobbin that carries the drive as well."""

from dataclasses import dataclass

import numpy as np

from calc.calculator import calculator, exp, log, maximum, minimum, require, routine
from calc.units import Farad, Henry, Ohm, Ratio, Second, Volt


@dataclass(frozen=True, slots=True, kw_only=True)
class CoupledLadder:
    """A coupling capacitor, a bias divider and a low-pass of one or two poles."""

    gain: Ratio
    tau_high: Second
    tau_slow: Second
    tau_fast: Second


@routine
def coupled_ladder(
    *,
    r_source: Ohm,
    c_coupling: Farad,
    r_bias: Ohm,
    r_3: Ohm,
    c_1: Farad,
    r_4: Ohm,
    c_2: Farad,
    r_load: Ohm,
    l_source: Henry,
) -> CoupledLadder:
    """Return gain and time constants of a pickup that is coupled through a capacitor.

    Parameters
    ----------
    r_source : float
        Resistance of the source, such as the coil [ohm].
    c_coupling : float
        Coupling capacitor [F].
    r_bias : float
        Both bias resistors in parallel [ohm].
    r_3 : float
        First series resistor of the filter [ohm].
    c_1 : float
        First capacitor to ground [F].
    r_4 : float
        Second series resistor, zero for one pole [ohm].
    c_2 : float
        Second capacitor to ground, zero for one pole [F].
    r_load : float
        Resistance of the load, infinite for none [ohm].
    l_source : float
        Inductance of the source, zero where it does not count [H].

    Returns
    -------
    ladder : CoupledLadder
        Gain in the pass band, the time constant of the high-pass and those of the low-pass.

    Raises
    ------
    OutOfRangeError
        If a resistance, capacitance or inductance is negative, one that must stand is zero, or
        the source's inductance rings with the capacitors.

    Notes
    -----
    By root finding: the time constants are those of the network's own polynomial, so that every
    part loads every other. Held by test_coupled_ladder_solves_its_own_nodes. An inductance adds
    a pole far above the filter's; with two poles of the filter its terms up to the third order
    are kept.

    References
    ----------
    Nodal analysis of the ladder; textbook circuit theory, no source needed.

    Examples
    --------
    >>> found = coupled_ladder(l_source=0.0, r_source=35.0, c_coupling=10e-6, r_bias=50e3, r_3=10e3,
    ...                        c_1=100e-9, r_4=0.0, c_2=0.0, r_load=float("inf"))
    >>> round(found.tau_high, 4), round(found.tau_slow, 6), round(found.gain, 4)
    (0.5054, 0.000994, 0.9894)
    """
    require(r_source >= 0, "coupled_ladder: r_source must not be negative; give the winding")
    require(c_coupling > 0, "coupled_ladder: c_coupling must be above zero; give the capacitor")
    require(r_bias > 0, "coupled_ladder: r_bias must be above zero; give the bias resistors")
    require(r_3 >= 0, "coupled_ladder: r_3 must not be negative; give the series resistor")
    require(c_1 > 0, "coupled_ladder: c_1 must be above zero; give the first capacitor")
    require(r_4 >= 0, "coupled_ladder: r_4 must not be negative; zero stands for one pole")
    require(c_2 >= 0, "coupled_ladder: c_2 must not be negative; zero stands for one pole")
    require(r_load > 0, "coupled_ladder: r_load must be above zero; infinite stands for none")
    require(l_source >= 0, "coupled_ladder: l_source must not be negative; zero neglects it")
    require(r_source + r_3 > 0, "coupled_ladder: some resistance must precede c_1")
    # Polynomials in s, lowest first; time in units of the bias so that the roots stay of order one.
    scale = r_bias * c_coupling
    load = np.array([1 / r_load, c_2 / scale])
    v_1 = np.polynomial.polynomial.polyadd([1.0], r_4 * load)
    i_1 = np.polynomial.polynomial.polyadd(
        np.polynomial.polynomial.polymul([0.0, c_1 / scale], v_1), load
    )
    v_b = np.polynomial.polynomial.polyadd(v_1, r_3 * i_1)
    i_b = np.polynomial.polynomial.polyadd(v_b / r_bias, i_1)
    s_c = c_coupling / scale
    branch = [1.0, r_source * s_c, l_source * s_c / scale]
    whole = np.polynomial.polynomial.polyadd(
        np.polynomial.polynomial.polymul([0.0, s_c], v_b),
        np.polynomial.polynomial.polymul(branch, i_b),
    )
    whole = np.trim_zeros(whole, "b")[:4]
    roots = np.polynomial.polynomial.polyroots(whole)
    require(
        bool(np.all(np.abs(roots.imag) <= 1e-6 * np.abs(roots))),
        "coupled_ladder: the source's inductance rings with the capacitors; "
        "put more resistance before c_1",
    )
    taus = np.sort((-1 / roots).real)[::-1] * scale
    return CoupledLadder(
        gain=float(c_coupling / whole[0] / taus[0]),
        tau_high=float(taus[0]),
        tau_slow=float(taus[1]),
        tau_fast=float(taus[2]) if taus.size > 2 else 0.0,
    )


@calculator
def capacitor_residual(
    *,
    v_step: Volt,
    v_bias: Volt,
    v_clamp: Volt,
    r_clamp: Ohm,
    t_clamp: Second,
    width: Second,
    r_bias: Ohm,
    c_coupling: Farad,
    elapsed: Second,
) -> Volt:
    """Return what is left at a coupled pin when the next pass comes.

    Parameters
    ----------
    v_step : float
        How far the pulse pulls the node down [V].
    v_bias : float
        Rest level of the pin above ground [V].
    v_clamp : float
        Voltage below ground at which the pin's clamp conducts [V].
    r_clamp : float
        Resistance between the capacitor and the clamp, such as the filter's [ohm].
    t_clamp : float
        Time for which the filter's own capacitor keeps the clamp from conducting [s].
    width : float
        Time for which the node stays down [s].
    r_bias : float
        Resistance through which the capacitor recovers [ohm].
    c_coupling : float
        Coupling capacitor [F].
    elapsed : float
        Time from the end of the pulse to the next pass [s].

    Returns
    -------
    v_residual : float
        Shift of the pin's rest level at the next pass, upward [V].

    Raises
    ------
    OutOfRangeError
        If v_step, r_bias, r_clamp, c_coupling or elapsed is not above zero, or another argument is
        negative.

    Notes
    -----
    over = maximum(v_step - v_bias - v_clamp, 0)
    tau = r_bias * c_coupling
    r_both = 1 / (1 / r_bias + 1 / r_clamp)
    tau_both = r_both * c_coupling
    v_end = r_both * (v_step / r_bias + over / r_clamp)
    t_long = tau_both * log(v_end / (v_end - over))
    t_charge = minimum(maximum(width - t_clamp, 0), t_long)
    v_charge = v_end * (1 - exp(-t_charge / tau_both))
    v_residual = (v_step - (v_step - v_charge) * exp(-(width - t_charge) / tau)) * exp(
        -elapsed / tau)

    The clamp charges the capacitor through r_clamp until nothing exceeds it any more, and the
    bias resistors go on charging it while the node stays down; only they take it out again.

    References
    ----------
    Textbook relation (charge of a capacitor); no source needed.

    Examples
    --------
    >>> round(capacitor_residual(v_step=5.0, v_bias=2.5, v_clamp=0.65, r_clamp=1.0, t_clamp=0.0,
    ...                          width=1e-3, r_bias=50e3, c_coupling=10e-6, elapsed=1.0), 3)
    0.251
    """
    require(r_bias > 0, "capacitor_residual: r_bias must be above zero; give the bias resistors")
    require(c_coupling > 0, "capacitor_residual: c_coupling must be above zero; give it")
    require(elapsed > 0, "capacitor_residual: elapsed must be above zero; the pass comes later")
    require(width >= 0, "capacitor_residual: width must not be negative; give the pulse")
    require(v_clamp >= 0, "capacitor_residual: v_clamp must not be negative; give its magnitude")
    require(v_bias >= 0, "capacitor_residual: v_bias must not be negative; give the rest level")
    require(v_step > 0, "capacitor_residual: v_step must be above zero; give its magnitude")
    require(r_clamp > 0, "capacitor_residual: r_clamp must be above zero; give the filter's")
    require(t_clamp >= 0, "capacitor_residual: t_clamp must not be negative; zero for no filter")
    over = maximum(v_step - v_bias - v_clamp, 0.0)
    tau = r_bias * c_coupling
    r_both = 1 / (1 / r_bias + 1 / r_clamp)
    tau_both = r_both * c_coupling
    v_end = r_both * (v_step / r_bias + over / r_clamp)
    t_long = tau_both * log(v_end / (v_end - over))
    t_charge = minimum(maximum(width - t_clamp, 0.0), t_long)
    v_charge = v_end * (1 - exp(-t_charge / tau_both))
    return (v_step - (v_step - v_charge) * exp(-(width - t_charge) / tau)) * exp(-elapsed / tau)


@dataclass(frozen=True, slots=True, kw_only=True)
class MutualKick:
    """What the drive winding couples into a listening one."""

    v_pulse: Volt
    v_kick: Volt


@calculator
def mutual_kick(*, mutual: Henry, l_coil: Henry, v_drive: Volt, v_clamp: Volt) -> MutualKick:
    """Return the voltages that the drive pulse induces in a second winding.

    Parameters
    ----------
    mutual : float
        Mutual inductance of the two windings [H].
    l_coil : float
        Inductance of the drive winding [H].
    v_drive : float
        Voltage across the drive winding at switching on [V].
    v_clamp : float
        Voltage of the clamp across the drive winding [V].

    Returns
    -------
    kick : MutualKick
        Peak at switching on, and at release with the current at its limit v_drive / R.

    Raises
    ------
    OutOfRangeError
        If l_coil is not above zero, or another argument is not a number.

    Notes
    -----
    v_pulse = mutual * v_drive / l_coil
    v_kick = mutual * (v_drive + v_clamp) / l_coil

    References
    ----------
    Law of induction, M di/dt with di/dt = v / L at each edge; no source needed.

    Examples
    --------
    >>> found = mutual_kick(mutual=0.027, l_coil=0.01, v_drive=6.0, v_clamp=0.7)
    >>> round(found.v_pulse, 2), round(found.v_kick, 2)
    (16.2, 18.09)
    """
    require(l_coil > 0, "mutual_kick: l_coil must be above zero; give the drive's inductance")
    require(abs(mutual) >= 0, "mutual_kick: mutual must be a number; give the mutual inductance")
    require(abs(v_drive) >= 0, "mutual_kick: v_drive must be a number; give the coil's voltage")
    require(abs(v_clamp) >= 0, "mutual_kick: v_clamp must be a number; give the clamp's voltage")
    return MutualKick(
        v_pulse=mutual * v_drive / l_coil, v_kick=mutual * (v_drive + v_clamp) / l_coil
    )
