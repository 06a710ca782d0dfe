"""MOSFET switch: gate voltage that the pin gives, on-resistance and gate charge."""

from calc.calculator import calculator, require
from calc.units import Ampere, Coulomb, Hertz, Ohm, PerOhm, Volt


@calculator
def gate_voltage(*, v_pin: Volt, r_pin: Ohm, r_g: Ohm, g_pull_down: PerOhm) -> Volt:
    """Return the voltage that a pin leaves on a gate with a pull-down at the gate.

    Parameters
    ----------
    v_pin : float
        Open-circuit high level of the pin [V].
    r_pin : float
        Resistance of the pin itself [Ω].
    r_g : float
        Gate resistor [Ω].
    g_pull_down : float
        Conductance of the pull-down from gate to ground, zero for none [S].

    Returns
    -------
    v_gs : float
        Gate-source voltage [V].

    Raises
    ------
    OutOfRangeError
        If v_pin is not above zero, or a resistance or the conductance is below zero.

    Notes
    -----
    v_gs = v_pin / (1 + (r_pin + r_g) * g_pull_down)

    References
    ----------
    Voltage divider; common practice, no source.

    Examples
    --------
    >>> round(gate_voltage(v_pin=3.3, r_pin=50.0, r_g=100.0, g_pull_down=1e-5), 5)
    3.29506
    """
    require(v_pin > 0, "gate_voltage: v_pin must be above zero")
    require(r_pin >= 0, "gate_voltage: r_pin must not be below zero")
    require(r_g >= 0, "gate_voltage: r_g must not be below zero")
    require(g_pull_down >= 0, "gate_voltage: g_pull_down must not be below zero")
    return v_pin / (1 + (r_pin + r_g) * g_pull_down)


@calculator
def on_resistance_guess(*, r_ds_on: Ohm, v_gs_test: Volt, v_gs_th: Volt, v_gs: Volt) -> Ohm:
    """Return a guess of the on-resistance below the lowest gate voltage it is specified at.

    Parameters
    ----------
    r_ds_on : float
        On-resistance at the test's gate voltage [Ω].
    v_gs_test : float
        Gate voltage of the test [V].
    v_gs_th : float
        Threshold voltage, the highest [V].
    v_gs : float
        Gate voltage that the pin gives [V].

    Returns
    -------
    r_guess : float
        On-resistance by the channel's linear law; nobody guarantees it [Ω].

    Raises
    ------
    OutOfRangeError
        If r_ds_on or v_gs_th is not above zero, or a gate voltage does not exceed the threshold.

    Notes
    -----
    r_guess = r_ds_on * (v_gs_test - v_gs_th) / (v_gs - v_gs_th)

    References
    ----------
    Linear region of the long-channel square law, conductance proportional to the gate's
    overdrive; from memory.

    Examples
    --------
    >>> round(on_resistance_guess(r_ds_on=0.035, v_gs_test=4.0, v_gs_th=2.0, v_gs=3.3), 5)
    0.05385
    """
    require(r_ds_on > 0, "on_resistance_guess: r_ds_on must be above zero")
    require(v_gs_th > 0, "on_resistance_guess: v_gs_th must be above zero")
    require(v_gs_test > v_gs_th, "on_resistance_guess: v_gs_test must exceed v_gs_th")
    require(v_gs > v_gs_th, "on_resistance_guess: v_gs must exceed v_gs_th; the switch may be off")
    return r_ds_on * (v_gs_test - v_gs_th) / (v_gs - v_gs_th)


@calculator
def on_drop(*, i_d: Ampere, r_ds_on: Ohm) -> Volt:
    """Return the drop of a closed MOSFET.

    Parameters
    ----------
    i_d : float
        Drain current [A].
    r_ds_on : float
        On-resistance at the gate voltage that the pin gives [Ω].

    Returns
    -------
    v_on : float
        Drop between drain and source [V].

    Raises
    ------
    OutOfRangeError
        If a value is below zero.

    Notes
    -----
    v_on = i_d * r_ds_on

    References
    ----------
    Ohm's law; common practice, no source.

    Examples
    --------
    >>> round(on_drop(i_d=0.1, r_ds_on=0.25), 6)
    0.025
    """
    require(i_d >= 0, "on_drop: i_d must not be below zero")
    require(r_ds_on >= 0, "on_drop: r_ds_on must not be below zero")
    return i_d * r_ds_on


@calculator
def gate_current(*, q_g: Coulomb, rate: Hertz) -> Ampere:
    """Return the mean current that charging the gate costs.

    Parameters
    ----------
    q_g : float
        Gate charge at the pin's voltage [C].
    rate : float
        Times a second that the gate is charged [Hz].

    Returns
    -------
    i_gate : float
        Mean current [A].

    Raises
    ------
    OutOfRangeError
        If a value is below zero.

    Notes
    -----
    i_gate = q_g * rate

    References
    ----------
    Charge over time; common practice, no source.

    Examples
    --------
    >>> gate_current(q_g=7e-9, rate=2.0)
    1.4e-08
    """
    require(q_g >= 0, "gate_current: q_g must not be below zero")
    require(rate >= 0, "gate_current: rate must not be below zero")
    return q_g * rate
