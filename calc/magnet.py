"""A magnet's remanence at its temperature, and the room under it when it tilts."""

import numpy as np

from calc.calculator import calculator, hypot, require
from calc.units import Kelvin, Metre, PerKelvin, Tesla


@calculator
def remanence_at_temperature(
    *, b_r: Tesla, alpha_b_r: PerKelvin, temperature: Kelvin, t_reference: Kelvin = 293.15
) -> Tesla:
    """Return a magnet's remanence at a temperature.

    Parameters
    ----------
    b_r : float
        Remanence at the reference temperature [T].
    alpha_b_r : float
        Temperature coefficient of the remanence, negative for most materials [1/K].
    temperature : float
        Temperature of the magnet [K].
    t_reference : float
        Reference temperature; data sheets mean 20 degrees Celsius [K].

    Returns
    -------
    b_r : float
        Remanence at the temperature [T].

    Raises
    ------
    OutOfRangeError
        If b_r or a temperature is not above zero, or nothing of the remanence is left.

    Notes
    -----
    b_r = b_r * (1 + alpha_b_r * (temperature - t_reference))

    Reversible change only; above the grade's highest temperature some is lost for good.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> remanence_at_temperature(b_r=1.3, alpha_b_r=-0.0012, temperature=303.15)
    1.2844
    """
    require(b_r > 0, "remanence_at_temperature: b_r must be above zero; take the grade's")
    require(temperature > 0, "remanence_at_temperature: temperature must be above zero kelvin")
    require(t_reference > 0, "remanence_at_temperature: t_reference must be above zero kelvin")
    left = 1 + alpha_b_r * (temperature - t_reference)
    require(left > 0, "remanence_at_temperature: alpha_b_r must leave some remanence; cool it")
    return b_r * left


@calculator
def tilted_clearance(*, gap: Metre, radius: Metre, half: Metre) -> Metre:
    """Return the least room between winding and a magnet that tilts as it swings.

    Parameters
    ----------
    gap : float
        Distance of the magnet's face from the plane of the winding's face at mid-swing [m].
    radius : float
        Distance from the pivot to the middle of the magnet's face [m].
    half : float
        Half the magnet's size along its path [m].

    Returns
    -------
    clearance : float
        Distance of the magnet's leading edge from that plane where it is lowest [m].

    Raises
    ------
    OutOfRangeError
        If gap is not a number, or radius or half is not above zero.

    Notes
    -----
    clearance = gap - half * half / (radius + hypot(radius, half))

    The edge swings on a circle of radius hypot(radius, half).

    References
    ----------
    Geometry, no source needed.

    Examples
    --------
    >>> round(tilted_clearance(gap=2e-3, radius=0.1, half=10e-3), 9)
    0.001501244
    """
    require(np.isfinite(gap), "tilted_clearance: gap must be a number; measure it at mid-swing")
    require(radius > 0, "tilted_clearance: radius must be above zero; measure from the pivot")
    require(half > 0, "tilted_clearance: half must be above zero; the magnet has a size")
    return gap - half * half / (radius + hypot(radius, half))
