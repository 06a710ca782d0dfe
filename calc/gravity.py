"""Gravity at a place, and what a move does to the rate of a pendulum."""

from calc.calculator import calculator, pi, require, sin, sqrt
from calc.units import Metre, MetrePerSecondSquared, PerSecondSquared, Radian, Ratio


@calculator
def gravity_at_latitude(
    *,
    latitude: Radian,
    g_equator: MetrePerSecondSquared = 9.7803253359,
    k_pole: Ratio = 0.00193185265241,
    e_squared: Ratio = 0.00669437999014,
) -> MetrePerSecondSquared:
    """Return normal gravity on the WGS 84 ellipsoid.

    Parameters
    ----------
    latitude : float
        Geodetic latitude, north or south [rad].
    g_equator : float
        Normal gravity at the equator [m/s^2].
    k_pole : float
        Somigliana's constant [1].
    e_squared : float
        First eccentricity squared [1].

    Returns
    -------
    g : float
        Acceleration of free fall at the ellipsoid [m/s^2].

    Raises
    ------
    OutOfRangeError
        If latitude lies beyond a pole, or a constant is not above zero.

    Notes
    -----
    g = g_equator * (1 + k_pole * sin(latitude)**2) / sqrt(1 - e_squared * sin(latitude)**2)

    References
    ----------
    C. Somigliana's closed formula with the constants of the World Geodetic System 1984.

    Examples
    --------
    >>> round(gravity_at_latitude(latitude=0.92), 6)
    9.813098
    """
    require(abs(latitude) <= pi / 2, "gravity: latitude must lie between the poles")
    require(g_equator > 0, "gravity: g_equator must be above zero")
    require(k_pole > 0, "gravity: k_pole must be above zero")
    require((e_squared > 0) & (e_squared < 1), "gravity: e_squared must lie between 0 and 1")
    squared = sin(latitude) ** 2
    return g_equator * (1 + k_pole * squared) / sqrt(1 - e_squared * squared)


@calculator
def gravity_at_height(
    *, g: MetrePerSecondSquared, height: Metre, gradient: PerSecondSquared = 3.086e-6
) -> MetrePerSecondSquared:
    """Return gravity higher up in free air.

    Parameters
    ----------
    g : float
        Acceleration of free fall at the lower place [m/s^2].
    height : float
        How much higher; negative for lower [m].
    gradient : float
        Loss of gravity for each metre upwards [1/s^2].

    Returns
    -------
    g_higher : float
        Acceleration of free fall at the higher place [m/s^2].

    Raises
    ------
    OutOfRangeError
        If g or gradient is not above zero, or height is beyond a hundredth of the way out.

    Notes
    -----
    g_higher = g - gradient * height

    References
    ----------
    Free-air gradient, 3.086e-6 m/s^2 for each metre; handbook value of geodesy, from memory.

    Examples
    --------
    >>> round(gravity_at_height(g=9.81, height=300.0), 6)
    9.809074
    """
    require(g > 0, "gravity: g must be above zero; use 9.81 m/s^2")
    require(gradient > 0, "gravity: gradient must be above zero")
    require(
        abs(gradient * height) < 0.01 * g,
        "gravity: height must stay where the gradient is constant; within some 30 km",
    )
    return g - gradient * height


@calculator
def rate_from_gravity(*, g_from: MetrePerSecondSquared, g_to: MetrePerSecondSquared) -> Ratio:
    """Return what a pendulum, regulated at one place, gains at another.

    Parameters
    ----------
    g_from : float
        Acceleration of free fall where it was regulated [m/s^2].
    g_to : float
        Acceleration of free fall where it stands [m/s^2].

    Returns
    -------
    rate : float
        Gain as a share of time [1].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero.

    Notes
    -----
    rate = sqrt(g_to / g_from) - 1

    References
    ----------
    Period of the pendulum; derived here.

    Examples
    --------
    >>> round(rate_from_gravity(g_from=9.8105, g_to=9.8125) * 1e6, 3)
    101.926
    """
    require(g_from > 0, "gravity: g_from must be above zero; use 9.81 m/s^2")
    require(g_to > 0, "gravity: g_to must be above zero; use 9.81 m/s^2")
    return sqrt(g_to / g_from) - 1
