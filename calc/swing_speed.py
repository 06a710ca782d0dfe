"""Speed of the magnet at mid-swing, and the height it falls from."""

from calc.calculator import calculator, pi, require, sin, sqrt
from calc.pendulum import STANDARD_GRAVITY
from calc.units import Metre, MetrePerSecond, MetrePerSecondSquared, Radian, Second


@calculator
def pendulum_speed(*, period: Second, radius: Metre, arc: Radian) -> MetrePerSecond:
    """Return the speed at mid-swing of a magnet on a pendulum.

    Parameters
    ----------
    period : float
        Time to and fro at the smallest arc [s].
    radius : float
        From the pivot to the magnet [m].
    arc : float
        Half the angle from turning point to turning point [rad].

    Returns
    -------
    speed : float
        The highest speed of the swing [m/s].

    Raises
    ------
    OutOfRangeError
        If period or radius is not above zero, or arc is not above zero and below pi.

    Notes
    -----
    speed = 4 * pi * radius / period * sin(arc / 2)

    References
    ----------
    Conservation of energy; derived here.

    Examples
    --------
    >>> round(pendulum_speed(period=1.7, radius=0.75, arc=0.07), 6)
    0.194
    """
    require(period > 0, "pendulum: period must be above zero; count it to and fro")
    require(radius > 0, "pendulum: radius must be above zero; measure from pivot to magnet")
    require((arc > 0) & (arc < pi), "pendulum: arc must lie between 0 and 180 degrees")
    return 4 * pi * radius / period * sin(arc / 2)


@calculator
def balance_speed(*, period: Second, radius: Metre, arc: Radian) -> MetrePerSecond:
    """Return the speed at mid-swing of a magnet on a balance with a linear spring.

    Parameters
    ----------
    period : float
        Time to and fro [s].
    radius : float
        From the staff to the magnet [m].
    arc : float
        Half the angle from turning point to turning point [rad].

    Returns
    -------
    speed : float
        The highest speed of the swing [m/s].

    Raises
    ------
    OutOfRangeError
        If period, radius or arc is not above zero.

    Notes
    -----
    speed = 2 * pi / period * radius * arc

    References
    ----------
    Simple harmonic motion; any textbook of mechanics.

    Examples
    --------
    >>> round(balance_speed(period=0.6, radius=0.02, arc=2.5), 6)
    0.523599
    """
    require(period > 0, "balance: period must be above zero; count it to and fro")
    require(radius > 0, "balance: radius must be above zero; measure from staff to magnet")
    require(arc > 0, "balance: arc must be above zero")
    return 2 * pi / period * radius * arc


@calculator
def drop_height(*, radius: Metre, arc: Radian) -> Metre:
    """Return how high a point of a pendulum rises from mid-swing to its turning point.

    Parameters
    ----------
    radius : float
        From the pivot to the point [m].
    arc : float
        Half the angle from turning point to turning point [rad].

    Returns
    -------
    height : float
        Rise of that point [m].

    Raises
    ------
    OutOfRangeError
        If radius is not above zero, or arc is not above zero and below pi.

    Notes
    -----
    height = 2 * radius * sin(arc / 2)**2

    References
    ----------
    Geometry of the circle; derived here.

    Examples
    --------
    >>> round(drop_height(radius=0.75, arc=0.07), 8)
    0.00183675
    """
    require(radius > 0, "pendulum: radius must be above zero; measure from the pivot")
    require((arc > 0) & (arc < pi), "pendulum: arc must lie between 0 and 180 degrees")
    return 2 * radius * sin(arc / 2) ** 2


@calculator
def speed_after_drop(
    *, height: Metre, g: MetrePerSecondSquared = STANDARD_GRAVITY
) -> MetrePerSecond:
    """Return the speed that a fall through this height gives, as at the bottom of a swing.

    Parameters
    ----------
    height : float
        Height of the release above the lowest point, of a mass at the end of a light rod [m].
    g : float
        Acceleration of free fall [m/s^2].

    Returns
    -------
    speed : float
        Speed at the lowest point, without loss [m/s].

    Raises
    ------
    OutOfRangeError
        If height or g is not above zero.

    Notes
    -----
    speed = sqrt(2 * g * height)

    References
    ----------
    Conservation of energy; any textbook of mechanics.

    Examples
    --------
    >>> round(speed_after_drop(height=0.03), 6)
    0.767072
    """
    require(height > 0, "drop: height must be above zero")
    require(g > 0, "drop: g must be above zero; use 9.81 m/s^2")
    return sqrt(2 * g * height)
