"""Pendulum: length, period at an arc and the circular error."""

from calc.calculator import calculator, cos, pi, require, sin, sqrt
from calc.elliptic import complete_b, complete_k, mean_below_one
from calc.units import Metre, MetrePerSecondSquared, Radian, Ratio, Second

STANDARD_GRAVITY = 9.80665
"""CGPM 1901 [m/s^2]."""


@calculator
def effective_length(*, period: Second, g: MetrePerSecondSquared = STANDARD_GRAVITY) -> Metre:
    """Return the length of the simple pendulum that keeps this period at the smallest arc.

    Parameters
    ----------
    period : float
        Time to and fro at the smallest arc [s].
    g : float
        Acceleration of free fall [m/s^2].

    Returns
    -------
    effective_length : float
        From the pivot to the centre of oscillation [m].

    Raises
    ------
    OutOfRangeError
        If period or g is not above zero.

    Notes
    -----
    effective_length = g * (period / (2 * pi))**2

    References
    ----------
    C. Huygens, Horologium oscillatorium, 1673; any textbook of mechanics.

    Examples
    --------
    >>> round(effective_length(period=1.7), 6)
    0.717891
    """
    require(period > 0, "pendulum: period must be above zero; count it to and fro")
    require(g > 0, "pendulum: g must be above zero; use 9.81 m/s^2")
    return g * (period / (2 * pi)) ** 2


@calculator
def small_arc_period(
    *, effective_length: Metre, g: MetrePerSecondSquared = STANDARD_GRAVITY
) -> Second:
    """Return the period of a pendulum at the smallest arc.

    Parameters
    ----------
    effective_length : float
        From the pivot to the centre of oscillation [m].
    g : float
        Acceleration of free fall [m/s^2].

    Returns
    -------
    period : float
        Time to and fro [s].

    Raises
    ------
    OutOfRangeError
        If effective_length or g is not above zero.

    Notes
    -----
    period = 2 * pi * sqrt(effective_length / g)

    References
    ----------
    C. Huygens, Horologium oscillatorium, 1673; any textbook of mechanics.

    Examples
    --------
    >>> round(small_arc_period(effective_length=0.72), 6)
    1.702495
    """
    require(effective_length > 0, "pendulum: effective_length must be above zero")
    require(g > 0, "pendulum: g must be above zero; use 9.81 m/s^2")
    return 2 * pi * sqrt(effective_length / g)


@calculator
def period_at_arc(*, period: Second, arc: Radian) -> Second:
    """Return the period of a pendulum at a given arc.

    Parameters
    ----------
    period : float
        Time to and fro at the smallest arc [s].
    arc : float
        Half the angle from turning point to turning point [rad].

    Returns
    -------
    period_at_arc : float
        Time to and fro at that arc [s].

    Raises
    ------
    OutOfRangeError
        If period is not above zero, or arc is not above zero and below pi.

    Notes
    -----
    By the arithmetic-geometric mean, as the circular error.
    Held by test_period_at_arc_against_the_elliptic_integral.

    References
    ----------
    C. F. Gauss's mean as the period of a pendulum; Abramowitz and Stegun, 17.6.3.

    Examples
    --------
    >>> round(period_at_arc(period=1.7, arc=0.07), 9)
    1.700520771
    """
    require(period > 0, "pendulum: period must be above zero; count it to and fro")
    require((arc > 0) & (arc < pi), "pendulum: arc must lie between 0 and 180 degrees")
    return period / (1 + mean_below_one(arc))


@calculator
def circular_error(*, arc: Radian) -> Ratio:
    """Return the rate of a pendulum at an arc against its own rate at the smallest arc.

    Parameters
    ----------
    arc : float
        Half the angle from turning point to turning point [rad].

    Returns
    -------
    rate : float
        Gain as a share of time; negative, for a wide swing loses [1].

    Raises
    ------
    OutOfRangeError
        If arc is not above zero and below pi.

    Notes
    -----
    By the arithmetic-geometric mean of 1 and cos(arc/2), less one, which is the complete
    elliptic integral turned over. Held by test_circular_error_against_the_elliptic_integral.

    References
    ----------
    C. F. Gauss's mean as the period of a pendulum; Abramowitz and Stegun, 17.6.3.

    Examples
    --------
    >>> round(circular_error(arc=0.07) * 1e6, 4)
    -306.2422
    """
    require((arc > 0) & (arc < pi), "pendulum: arc must lie between 0 and 180 degrees")
    return mean_below_one(arc)


@calculator
def circular_slope(*, arc: Radian) -> Ratio:
    """Return how fast the rate of a pendulum falls as its arc grows.

    Parameters
    ----------
    arc : float
        Half the angle from turning point to turning point [rad].

    Returns
    -------
    slope : float
        Change of the rate, as a share of time, for each radian of arc [1].

    Raises
    ------
    OutOfRangeError
        If arc is not above zero and below pi.

    Notes
    -----
    By complete elliptic integrals, with no difference taken.
    Held by test_circular_slope_is_the_derivative_of_the_circular_error.

    References
    ----------
    Derivative of the complete elliptic integral: Abramowitz and Stegun, 17.3; derived here.

    Examples
    --------
    >>> round(circular_slope(arc=0.07) * 1e3, 4)
    -8.7496
    """
    require((arc > 0) & (arc < pi), "pendulum: arc must lie between 0 and 180 degrees")
    m = sin(arc / 2) ** 2
    return -pi * sin(arc / 2) * complete_b(m) / (4 * cos(arc / 2) * complete_k(m) ** 2)


@calculator
def circular_error_series(*, arc: Radian) -> Ratio:
    """Return the circular error by the first two terms of its series, as a check at small arcs.

    Parameters
    ----------
    arc : float
        Half the angle from turning point to turning point [rad].

    Returns
    -------
    rate : float
        Gain as a share of time [1].

    Raises
    ------
    OutOfRangeError
        If arc is not above zero and below pi.

    Notes
    -----
    rate = 1 / (1 + arc**2 / 16 + 11 * arc**4 / 3072) - 1

    References
    ----------
    Series of the pendulum's period, as printed in any handbook; from memory.

    Examples
    --------
    >>> round(circular_error_series(arc=0.07) * 1e6, 4)
    -306.2422
    """
    require((arc > 0) & (arc < pi), "pendulum: arc must lie between 0 and 180 degrees")
    return 1 / (1 + arc**2 / 16 + 11 * arc**4 / 3072) - 1
