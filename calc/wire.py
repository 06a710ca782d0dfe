"""Round copper wire: gauge numbers, resistance at temperature and mass."""

from calc.calculator import calculator, exp, log, pi, require, sqrt
from calc.units import (
    Count,
    Kelvin,
    Kilogram,
    KilogramPerCubicMetre,
    Metre,
    Ohm,
    OhmMetre,
    OhmPerMetre,
    PerKelvin,
    Ratio,
)


@calculator
def awg_diameter(*, awg: Count, d_36: Metre = 0.127e-3) -> Metre:
    """Return the bare diameter of an American wire gauge number.

    Parameters
    ----------
    awg : int
        Gauge number; 00, 000 and 0000 are -1, -2 and -3 [1].
    d_36 : float
        Diameter of gauge 36, 0.005 in by definition [m].

    Returns
    -------
    d_wire : float
        Bare diameter [m].

    Raises
    ------
    OutOfRangeError
        If awg lies outside -3 to 60, or d_36 is not above zero.

    Notes
    -----
    d_wire = d_36 * 92 ** ((36 - awg) / 39)

    The gauge defines 0000 as 0.46 in and 36 as 0.005 in, with 39 equal ratios between.

    References
    ----------
    ASTM B258, standard nominal diameters of round wires in the American wire gauge, from memory.

    Examples
    --------
    >>> round(awg_diameter(awg=30) * 1e3, 4)
    0.2546
    """
    require((awg >= -3) & (awg <= 60), "wire gauge: awg must lie between -3 (0000) and 60")
    require(d_36 > 0, "wire gauge: d_36 must be above zero")
    return d_36 * exp(log(92) * (36 - awg) / 39)


@calculator
def awg_number(*, d_wire: Metre, d_36: Metre = 0.127e-3) -> Ratio:
    """Return the American wire gauge number of a bare diameter, with its fraction.

    Parameters
    ----------
    d_wire : float
        Bare diameter [m].
    d_36 : float
        Diameter of gauge 36, 0.005 in by definition [m].

    Returns
    -------
    awg : float
        Gauge number; a whole number is a standard size [1].

    Raises
    ------
    OutOfRangeError
        If a diameter is not above zero.

    Notes
    -----
    awg = 36 + 39 * log(d_36 / d_wire) / log(92)

    References
    ----------
    ASTM B258, standard nominal diameters of round wires in the American wire gauge, from memory.

    Examples
    --------
    >>> round(awg_number(d_wire=0.2e-3), 2)
    32.08
    """
    require(d_wire > 0, "wire gauge: d_wire must be above zero")
    require(d_36 > 0, "wire gauge: d_36 must be above zero")
    return 36 + 39 * log(d_36 / d_wire) / log(92)


@calculator
def copper_resistance_per_metre(
    *,
    d_wire: Metre,
    temperature: Kelvin,
    rho: OhmMetre = 1 / 58e6,
    alpha: PerKelvin = 0.00393,
    t_reference: Kelvin = 293.15,
) -> OhmPerMetre:
    """Return the resistance of one metre of round copper wire at a temperature.

    Parameters
    ----------
    d_wire : float
        Bare diameter [m].
    temperature : float
        Temperature of the copper [K].
    rho : float
        Resistivity at the reference temperature [Ω*m].
    alpha : float
        Temperature coefficient of resistance at the reference temperature [1/K].
    t_reference : float
        Temperature at which rho and alpha hold [K].

    Returns
    -------
    r_per_metre : float
        Resistance per metre [Ω/m].

    Raises
    ------
    OutOfRangeError
        If d_wire, rho or the temperature is not above zero, or the resistance would not be.

    Notes
    -----
    r_per_metre = 4 * rho / (pi * d_wire**2) * (1 + alpha * (temperature - t_reference))

    Wire makers quote fine wire about 1 % lower, with 1/58.5 Ω·mm²/m instead of 1/58.

    References
    ----------
    IEC 60028: 1/58 Ω·mm²/m and 0.00393 per kelvin at 20 degrees Celsius, from memory.

    Examples
    --------
    >>> round(copper_resistance_per_metre(d_wire=0.2e-3, temperature=293.15), 5)
    0.54881
    """
    scale = 1 + alpha * (temperature - t_reference)
    require(d_wire > 0, "copper wire: d_wire must be above zero")
    require(rho > 0, "copper wire: rho must be above zero")
    require(temperature > 0, "copper wire: temperature must be above absolute zero")
    require(scale > 0, "copper wire: the linear law must stay above zero; raise the temperature")
    return 4 * rho / (pi * d_wire**2) * scale


@calculator
def copper_wire_diameter(
    *,
    r_per_metre: OhmPerMetre,
    temperature: Kelvin,
    rho: OhmMetre = 1 / 58e6,
    alpha: PerKelvin = 0.00393,
    t_reference: Kelvin = 293.15,
) -> Metre:
    """Return the bare diameter of copper wire that has a given resistance per metre.

    Parameters
    ----------
    r_per_metre : float
        Resistance per metre at the temperature [Ω/m].
    temperature : float
        Temperature of the copper [K].
    rho : float
        Resistivity at the reference temperature [Ω*m].
    alpha : float
        Temperature coefficient of resistance at the reference temperature [1/K].
    t_reference : float
        Temperature at which rho and alpha hold [K].

    Returns
    -------
    d_wire : float
        Bare diameter [m].

    Raises
    ------
    OutOfRangeError
        If r_per_metre, rho or the temperature is not above zero.

    Notes
    -----
    d_wire = sqrt(4 * rho * (1 + alpha * (temperature - t_reference)) / (pi * r_per_metre))

    References
    ----------
    IEC 60028: 1/58 Ω·mm²/m and 0.00393 per kelvin at 20 degrees Celsius, from memory.

    Examples
    --------
    >>> round(copper_wire_diameter(r_per_metre=0.54881, temperature=293.15) * 1e3, 4)
    0.2
    """
    scale = 1 + alpha * (temperature - t_reference)
    require(r_per_metre > 0, "copper wire: r_per_metre must be above zero")
    require(rho > 0, "copper wire: rho must be above zero")
    require(temperature > 0, "copper wire: temperature must be above absolute zero")
    require(scale > 0, "copper wire: the linear law must stay above zero; raise the temperature")
    return sqrt(4 * rho * scale / (pi * r_per_metre))


@calculator
def resistance_at_temperature(
    *,
    r: Ohm,
    t_from: Kelvin,
    t_to: Kelvin,
    alpha: PerKelvin = 0.00393,
    t_reference: Kelvin = 293.15,
) -> Ohm:
    """Return a copper winding's resistance at another temperature.

    Parameters
    ----------
    r : float
        Resistance at t_from [Ω].
    t_from : float
        Temperature at which r holds [K].
    t_to : float
        Temperature wanted [K].
    alpha : float
        Temperature coefficient of resistance at the reference temperature [1/K].
    t_reference : float
        Temperature at which alpha holds [K].

    Returns
    -------
    r_coil : float
        Resistance at t_to [Ω].

    Raises
    ------
    OutOfRangeError
        If r or a temperature is not above zero, or the linear law falls to zero.

    Notes
    -----
    r_coil = r * (1 + alpha * (t_to - t_reference)) / (1 + alpha * (t_from - t_reference))

    References
    ----------
    IEC 60028: 0.00393 per kelvin at 20 degrees Celsius, from memory.

    Examples
    --------
    >>> resistance_at_temperature(r=100.0, t_from=293.15, t_to=333.15)
    115.72
    """
    above = 1 + alpha * (t_to - t_reference)
    below = 1 + alpha * (t_from - t_reference)
    require(r > 0, "winding: r must be above zero")
    require((t_from > 0) & (t_to > 0), "winding: temperatures must be above absolute zero")
    require((above > 0) & (below > 0), "winding: the linear law must stay above zero")
    return r * above / below


@calculator
def winding_temperature(
    *,
    r: Ohm,
    r_cold: Ohm,
    t_cold: Kelvin,
    alpha: PerKelvin = 0.00393,
    t_reference: Kelvin = 293.15,
) -> Kelvin:
    """Return how warm a copper winding is from what a meter shows across it.

    Parameters
    ----------
    r : float
        Resistance now [Ω].
    r_cold : float
        Resistance at t_cold [Ω].
    t_cold : float
        Temperature at which r_cold was read [K].
    alpha : float
        Temperature coefficient of resistance at the reference temperature [1/K].
    t_reference : float
        Temperature at which alpha holds [K].

    Returns
    -------
    temperature : float
        Mean temperature of the winding [K].

    Raises
    ------
    OutOfRangeError
        If a resistance, a temperature or alpha is not above zero.

    Notes
    -----
    temperature = t_cold + (r / r_cold - 1) * (1 / alpha + t_cold - t_reference)

    References
    ----------
    IEC 60028: 0.00393 per kelvin at 20 degrees Celsius, from memory; the relation is its inverse.

    Examples
    --------
    >>> round(winding_temperature(r=115.72, r_cold=100.0, t_cold=293.15), 2)
    333.15
    """
    require((r > 0) & (r_cold > 0), "winding: resistances must be above zero")
    require((t_cold > 0) & (t_reference > 0), "winding: temperatures must be above absolute zero")
    require(alpha > 0, "winding: alpha must be above zero")
    return t_cold + (r / r_cold - 1) * (1 / alpha + t_cold - t_reference)


@calculator
def wire_mass(
    *,
    wire_length: Metre,
    d_wire: Metre,
    d_overall: Metre,
    density: KilogramPerCubicMetre = 8890.0,
    density_enamel: KilogramPerCubicMetre = 1300.0,
) -> Kilogram:
    """Return the mass of a length of enamelled copper wire.

    Parameters
    ----------
    wire_length : float
        Length [m].
    d_wire : float
        Bare diameter [m].
    d_overall : float
        Diameter over the enamel [m].
    density : float
        Density of copper [kg/m^3].
    density_enamel : float
        Density of the enamel [kg/m^3].

    Returns
    -------
    mass : float
        Mass [kg].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero, or d_overall is below d_wire.

    Notes
    -----
    mass = pi / 4 * wire_length
        * (density * d_wire**2 + density_enamel * (d_overall**2 - d_wire**2))

    References
    ----------
    Copper 8890 kg/m³: IEC 60028, from memory; polyurethane enamel about 1300 kg/m³: common
    practice, no source.

    Examples
    --------
    >>> round(wire_mass(wire_length=100.0, d_wire=0.2e-3, d_overall=0.226e-3), 5)
    0.02906
    """
    require(wire_length > 0, "wire mass: wire_length must be above zero")
    require(d_wire > 0, "wire mass: d_wire must be above zero")
    require(d_overall >= d_wire, "wire mass: d_overall must not be below d_wire")
    require((density > 0) & (density_enamel > 0), "wire mass: densities must be above zero")
    enamel = density_enamel * (d_overall**2 - d_wire**2)
    return pi / 4 * wire_length * (density * d_wire**2 + enamel)
