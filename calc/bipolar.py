"""Bipolar switch: base resistor, its range, and what the pin must give."""

from math import inf

from calc.calculator import calculator, maximum, require
from calc.units import Ampere, Kelvin, Ohm, PerOhm, Ratio, Volt, VoltPerKelvin, Watt


@calculator
def base_resistor(
    *, v_pin: Volt, r_pin: Ohm, v_be_sat: Volt, i_c: Ampere, beta_forced: Ratio
) -> Ohm:
    """Return the largest base resistor that still saturates the switch.

    Parameters
    ----------
    v_pin : float
        Open-circuit high level of the pin [V].
    r_pin : float
        Resistance of the pin itself [Ω].
    v_be_sat : float
        Base-emitter voltage of the saturated switch, the highest [V].
    i_c : float
        Collector current [A].
    beta_forced : float
        Collector current over base current that saturation is specified at [1].

    Returns
    -------
    r_b : float
        Base resistance; fit the next lower preferred value [Ω].

    Raises
    ------
    OutOfRangeError
        If v_pin does not exceed v_be_sat, i_c or beta_forced is not above zero, or r_pin is
        below zero.

    Notes
    -----
    r_b = (v_pin - v_be_sat) * beta_forced / i_c - r_pin

    No base-emitter resistor; its current adds to the base current.

    References
    ----------
    Kirchhoff's voltage law on the base circuit; common practice, no source.

    Examples
    --------
    >>> base_resistor(v_pin=3.0, r_pin=100.0, v_be_sat=0.8, i_c=0.04, beta_forced=10.0)
    450.0
    """
    require(v_pin > v_be_sat, "base_resistor: v_pin must exceed v_be_sat; no base current flows")
    require(i_c > 0, "base_resistor: i_c must be above zero")
    require(beta_forced > 0, "base_resistor: beta_forced must be above zero")
    require(r_pin >= 0, "base_resistor: r_pin must not be below zero")
    return (v_pin - v_be_sat) * beta_forced / i_c - r_pin


@calculator
def base_resistor_for_current(
    *, v_pin: Volt, r_pin: Ohm, v_be: Volt, i_b: Ampere, g_pull_down: PerOhm
) -> Ohm:
    """Return the base resistor that gives a base current beside a pull-down at the base.

    Parameters
    ----------
    v_pin : float
        Open-circuit high level of the pin [V].
    r_pin : float
        Resistance of the pin itself [Ω].
    v_be : float
        Base-emitter voltage [V].
    i_b : float
        Base current [A].
    g_pull_down : float
        Conductance of the pull-down from base to ground, zero for none [S].

    Returns
    -------
    r_b : float
        Base resistance [Ω].

    Raises
    ------
    OutOfRangeError
        If v_pin does not exceed v_be, i_b is not above zero, or v_be, r_pin or g_pull_down is
        below zero.

    Notes
    -----
    r_b = (v_pin - v_be) / (i_b + v_be * g_pull_down) - r_pin

    References
    ----------
    Kirchhoff's laws on the base circuit; common practice, no source.

    Examples
    --------
    >>> r_b = base_resistor_for_current(
    ...     v_pin=3.0, r_pin=50.0, v_be=0.8, i_b=0.004, g_pull_down=1e-5
    ... )
    >>> round(r_b, 1)
    498.9
    """
    require(v_pin > v_be, "base_resistor_for_current: v_pin must exceed v_be; no current flows")
    require(i_b > 0, "base_resistor_for_current: i_b must be above zero")
    require(v_be >= 0, "base_resistor_for_current: v_be must not be below zero")
    require(r_pin >= 0, "base_resistor_for_current: r_pin must not be below zero")
    require(g_pull_down >= 0, "base_resistor_for_current: g_pull_down must not be below zero")
    return (v_pin - v_be) / (i_b + v_be * g_pull_down) - r_pin


@calculator
def base_resistor_least(*, v_pin: Volt, r_pin: Ohm, v_be_min: Volt, i_pin_max: Ampere) -> Ohm:
    """Return the least base resistor that the pin's current limit allows.

    Parameters
    ----------
    v_pin : float
        Open-circuit high level of the pin, the highest [V].
    r_pin : float
        Resistance of the pin itself [Ω].
    v_be_min : float
        Base-emitter voltage, the lowest [V].
    i_pin_max : float
        Current that the pin may give [A].

    Returns
    -------
    r_b_min : float
        Base resistance; zero where the pin's own resistance is enough [Ω].

    Raises
    ------
    OutOfRangeError
        If i_pin_max is not above zero, v_pin does not exceed v_be_min, or r_pin is below zero.

    Notes
    -----
    r_b_min = maximum((v_pin - v_be_min) / i_pin_max - r_pin, 0)

    References
    ----------
    Ohm's law; common practice, no source.

    Examples
    --------
    >>> round(base_resistor_least(v_pin=3.2, r_pin=50.0, v_be_min=0.6, i_pin_max=0.02), 3)
    80.0
    """
    require(i_pin_max > 0, "base_resistor_least: i_pin_max must be above zero")
    require(v_pin > v_be_min, "base_resistor_least: v_pin must exceed v_be_min")
    require(r_pin >= 0, "base_resistor_least: r_pin must not be below zero")
    return maximum((v_pin - v_be_min) / i_pin_max - r_pin, 0)


@calculator
def pin_current(*, v_pin: Volt, r_pin: Ohm, r_b: Ohm, v_be: Volt) -> Ampere:
    """Return the current that the pin gives into a base resistor.

    Parameters
    ----------
    v_pin : float
        Open-circuit high level of the pin [V].
    r_pin : float
        Resistance of the pin itself [Ω].
    r_b : float
        Base resistor [Ω].
    v_be : float
        Base-emitter voltage [V].

    Returns
    -------
    i_pin : float
        Current out of the pin [A].

    Raises
    ------
    OutOfRangeError
        If v_pin does not exceed v_be, or r_pin and r_b are not together above zero.

    Notes
    -----
    i_pin = (v_pin - v_be) / (r_pin + r_b)

    References
    ----------
    Ohm's law; common practice, no source.

    Examples
    --------
    >>> pin_current(v_pin=3.0, r_pin=100.0, r_b=450.0, v_be=0.8)
    0.004
    """
    require(v_pin > v_be, "pin_current: v_pin must exceed v_be; the switch stays off")
    require(r_pin >= 0, "pin_current: r_pin must not be below zero")
    require(r_pin + r_b > 0, "pin_current: r_pin + r_b must be above zero")
    return (v_pin - v_be) / (r_pin + r_b)


@calculator
def base_current(*, v_pin: Volt, r_pin: Ohm, r_b: Ohm, v_be: Volt, g_pull_down: PerOhm) -> Ampere:
    """Return the base current that a pin gives through its resistor, beside a pull-down.

    Parameters
    ----------
    v_pin : float
        Open-circuit high level of the pin [V].
    r_pin : float
        Resistance of the pin itself [Ω].
    r_b : float
        Base resistor [Ω].
    v_be : float
        Base-emitter voltage [V].
    g_pull_down : float
        Conductance of the pull-down from base to ground, zero for none [S].

    Returns
    -------
    i_b : float
        Base current [A].

    Raises
    ------
    OutOfRangeError
        If no base current is left, or a resistance or conductance is below zero.

    Notes
    -----
    i_b = (v_pin - v_be) / (r_pin + r_b) - v_be * g_pull_down

    References
    ----------
    Kirchhoff's current law at the base; common practice, no source.

    Examples
    --------
    >>> round(base_current(v_pin=3.0, r_pin=100.0, r_b=450.0, v_be=0.8, g_pull_down=1e-4), 6)
    0.00392
    """
    require(r_pin >= 0, "base_current: r_pin must not be below zero")
    require(r_pin + r_b > 0, "base_current: r_pin + r_b must be above zero")
    require(g_pull_down >= 0, "base_current: g_pull_down must not be below zero")
    i_b = (v_pin - v_be) / (r_pin + r_b) - v_be * g_pull_down
    require(i_b > 0, "base_current: the base current must be above zero; the switch stays off")
    return i_b


@calculator
def forced_gain(*, i_c: Ampere, i_b: Ampere) -> Ratio:
    """Return the forced gain of a saturated switch.

    Parameters
    ----------
    i_c : float
        Collector current, set by the load [A].
    i_b : float
        Base current [A].

    Returns
    -------
    beta_forced : float
        Collector current over base current [1].

    Raises
    ------
    OutOfRangeError
        If i_c or i_b is not above zero.

    Notes
    -----
    beta_forced = i_c / i_b

    References
    ----------
    Definition; common practice, no source.

    Examples
    --------
    >>> forced_gain(i_c=0.1, i_b=0.0125)
    8.0
    """
    require(i_c > 0, "forced_gain: i_c must be above zero")
    require(i_b > 0, "forced_gain: i_b must be above zero")
    return i_c / i_b


@calculator
def base_emitter_voltage(
    *, v_be: Volt, alpha_v_be: VoltPerKelvin, temperature: Kelvin, temperature_ref: Kelvin
) -> Volt:
    """Return the base-emitter voltage at another temperature.

    Parameters
    ----------
    v_be : float
        Base-emitter voltage at the reference temperature [V].
    alpha_v_be : float
        Change with temperature, about -2 mV/K [V/K].
    temperature : float
        Temperature wanted [K].
    temperature_ref : float
        Temperature of the catalogue's figure [K].

    Returns
    -------
    v_be_there : float
        Base-emitter voltage there [V].

    Raises
    ------
    OutOfRangeError
        If a temperature or v_be is not above zero, or alpha_v_be is not a number.

    Notes
    -----
    v_be_there = v_be + alpha_v_be * (temperature - temperature_ref)

    References
    ----------
    P. Horowitz and W. Hill, The Art of Electronics, 2nd ed., section 2.10 (from memory).

    Examples
    --------
    >>> v = base_emitter_voltage(
    ...     v_be=0.85, alpha_v_be=-0.002, temperature=273.15, temperature_ref=298.15
    ... )
    >>> round(v, 6)
    0.9
    """
    require(v_be > 0, "base_emitter_voltage: v_be must be above zero")
    require(temperature > 0, "base_emitter_voltage: temperature must be above zero")
    require(temperature_ref > 0, "base_emitter_voltage: temperature_ref must be above zero")
    require(alpha_v_be > -inf, "base_emitter_voltage: alpha_v_be must be a finite number")
    return v_be + alpha_v_be * (temperature - temperature_ref)


@calculator
def switch_dissipation(
    *, v_ce_sat: Volt, i_c: Ampere, v_be: Volt, i_b: Ampere, duty: Ratio
) -> Watt:
    """Return the mean power that a pulsed bipolar switch turns into heat.

    Parameters
    ----------
    v_ce_sat : float
        Collector-emitter drop [V].
    i_c : float
        Collector current [A].
    v_be : float
        Base-emitter voltage [V].
    i_b : float
        Base current [A].
    duty : float
        Share of the time that the switch is closed [1].

    Returns
    -------
    p_switch : float
        Mean dissipation [W].

    Raises
    ------
    OutOfRangeError
        If a value is below zero or duty is above one.

    Notes
    -----
    p_switch = (v_ce_sat * i_c + v_be * i_b) * duty

    References
    ----------
    Joule's law; common practice, no source.

    Examples
    --------
    >>> round(switch_dissipation(v_ce_sat=0.2, i_c=0.1, v_be=0.85, i_b=0.01, duty=0.02), 6)
    0.00057
    """
    require(v_ce_sat >= 0, "switch_dissipation: v_ce_sat must not be below zero")
    require(i_c >= 0, "switch_dissipation: i_c must not be below zero")
    require(v_be >= 0, "switch_dissipation: v_be must not be below zero")
    require(i_b >= 0, "switch_dissipation: i_b must not be below zero")
    require((duty >= 0) & (duty <= 1), "switch_dissipation: duty must lie in 0 to 1")
    return (v_ce_sat * i_c + v_be * i_b) * duty
