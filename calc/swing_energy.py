"""Energy of a swing, and what it loses on the way."""

from calc.calculator import arccos, calculator, pi, require, sin
from calc.elliptic import complete_b
from calc.units import Joule, KilogramSquareMetre, Radian, Ratio, Second


@calculator
def pendulum_energy(*, inertia: KilogramSquareMetre, period: Second, arc: Radian) -> Joule:
    """Return the energy of a pendulum's swing.

    Parameters
    ----------
    inertia : float
        Moment of inertia about the pivot [kg m^2].
    period : float
        Time to and fro at the smallest arc [s].
    arc : float
        Half the angle from turning point to turning point [rad].

    Returns
    -------
    energy : float
        Energy above rest [J].

    Raises
    ------
    OutOfRangeError
        If inertia or period is not above zero, or arc is not above zero and below pi.

    Notes
    -----
    energy = 2 * inertia * (2 * pi / period)**2 * sin(arc / 2)**2

    The weight times the height of the centre of mass equals inertia times the square of the
    angular frequency, so neither has to be known.

    References
    ----------
    Compound pendulum; any textbook of mechanics.

    Examples
    --------
    >>> round(pendulum_energy(inertia=0.26, period=1.7, arc=0.07), 8)
    0.00869809
    """
    require(inertia > 0, "pendulum: inertia must be above zero; mass times length squared")
    require(period > 0, "pendulum: period must be above zero; count it to and fro")
    require((arc > 0) & (arc < pi), "pendulum: arc must lie between 0 and 180 degrees")
    return 2 * inertia * (2 * pi / period) ** 2 * sin(arc / 2) ** 2


@calculator
def balance_energy(*, inertia: KilogramSquareMetre, period: Second, arc: Radian) -> Joule:
    """Return the energy of the swing of a balance with a linear spring.

    Parameters
    ----------
    inertia : float
        Moment of inertia about the staff [kg m^2].
    period : float
        Time to and fro [s].
    arc : float
        Half the angle from turning point to turning point [rad].

    Returns
    -------
    energy : float
        Energy above rest [J].

    Raises
    ------
    OutOfRangeError
        If inertia, period or arc is not above zero.

    Notes
    -----
    energy = inertia / 2 * (2 * pi / period * arc)**2

    References
    ----------
    Simple harmonic motion; any textbook of mechanics.

    Examples
    --------
    >>> round(balance_energy(inertia=4e-7, period=0.6, arc=2.5) * 1e6, 4)
    137.0778
    """
    require(inertia > 0, "balance: inertia must be above zero")
    require(period > 0, "balance: period must be above zero; count it to and fro")
    require(arc > 0, "balance: arc must be above zero")
    return inertia / 2 * (2 * pi / period * arc) ** 2


@calculator
def arc_from_energy(*, energy: Joule, inertia: KilogramSquareMetre, period: Second) -> Radian:
    """Return the arc of a pendulum that holds this energy.

    Parameters
    ----------
    energy : float
        Energy above rest [J].
    inertia : float
        Moment of inertia about the pivot [kg m^2].
    period : float
        Time to and fro at the smallest arc [s].

    Returns
    -------
    arc : float
        Half the angle from turning point to turning point [rad].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero, or the energy would carry the pendulum over the top.

    Notes
    -----
    arc = arccos(1 - energy / (inertia * (2 * pi / period)**2))

    References
    ----------
    Compound pendulum; any textbook of mechanics.

    Examples
    --------
    >>> round(arc_from_energy(energy=0.0087, inertia=0.26, period=1.7), 6)
    0.070008
    """
    require(energy > 0, "pendulum: energy must be above zero")
    require(inertia > 0, "pendulum: inertia must be above zero; mass times length squared")
    require(period > 0, "pendulum: period must be above zero; count it to and fro")
    height = energy / (inertia * (2 * pi / period) ** 2)
    require(height < 2, "pendulum: energy must not carry the bob over the top")
    return arccos(1 - height)


@calculator
def pendulum_swing_loss(
    *, inertia: KilogramSquareMetre, period: Second, arc: Radian, q_factor: Ratio
) -> Joule:
    """Return the energy that a pendulum loses in one swing, one way, at a given arc.

    Parameters
    ----------
    inertia : float
        Moment of inertia about the pivot [kg m^2].
    period : float
        Time to and fro at the smallest arc [s].
    arc : float
        Half the angle from turning point to turning point [rad].
    q_factor : float
        Quality factor: the arc falls as exp(-pi n / q_factor) in n whole periods [1].

    Returns
    -------
    loss : float
        Energy lost in half a period [J].

    Raises
    ------
    OutOfRangeError
        If inertia, period or q_factor is not above zero, or arc is not above zero and below pi.

    Notes
    -----
    By complete elliptic integrals: drag proportional to speed, along the true swing, which
    for a small arc is pi times the energy over q_factor.
    Held by test_pendulum_swing_loss_is_drag_times_speed_along_the_swing.

    References
    ----------
    Work of a drag proportional to speed; derived here.

    Examples
    --------
    >>> round(pendulum_swing_loss(inertia=0.26, period=1.7, arc=0.07, q_factor=900.0) * 1e6, 5)
    30.36672
    """
    require(inertia > 0, "pendulum: inertia must be above zero; mass times length squared")
    require(period > 0, "pendulum: period must be above zero; count it to and fro")
    require((arc > 0) & (arc < pi), "pendulum: arc must lie between 0 and 180 degrees")
    require(q_factor > 0, "pendulum: q_factor must be above zero; take it from a ring-down")
    m = sin(arc / 2) ** 2
    return 8 * inertia * (2 * pi / period) ** 2 * m * complete_b(m) / q_factor
