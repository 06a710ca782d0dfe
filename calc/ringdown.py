"""Ring-down: the quality factor from a free swing, and what follows from it.

The quality factor is defined by the arc of a free swing, A = A0 exp(-pi n / Q) after n whole
periods; a period is to and fro, two beats.
"""

from calc.calculator import calculator, exp, log, pi, require, sqrt
from calc.units import Joule, Radian, Ratio, Second


@calculator
def q_from_periods(*, periods: Ratio, arc_from: Radian, arc_to: Radian) -> Ratio:
    """Return the quality factor from counting how long a free swing takes to fall.

    Parameters
    ----------
    periods : float
        Whole periods counted, to and fro; half the number of beats [1].
    arc_from : float
        Arc at the start of the count [rad].
    arc_to : float
        Arc at its end [rad].

    Returns
    -------
    q_factor : float
        Quality factor [1].

    Raises
    ------
    OutOfRangeError
        If periods or arc_to is not above zero, or arc_from does not exceed arc_to.

    Notes
    -----
    q_factor = pi * periods / log(arc_from / arc_to)

    Counted until the arc has fallen to one half, it is 4.53 times the count; until it has
    fallen to 1/e (36.8 %), pi times the count; until it has fallen TO 21 %, twice the count.

    References
    ----------
    Definition of the logarithmic decrement; any textbook of vibrations.

    Examples
    --------
    >>> round(q_from_periods(periods=260.0, arc_from=0.08, arc_to=0.04), 2)
    1178.41
    """
    require(periods > 0, "ring-down: periods must be above zero; count to and fro")
    require(arc_to > 0, "ring-down: arc_to must be above zero; stop before it rests")
    require(arc_from > arc_to, "ring-down: arc_from must exceed arc_to; a free swing falls")
    return pi * periods / log(arc_from / arc_to)


@calculator
def q_from_ring_down(*, arc_from: Radian, arc_to: Radian, time: Second, period: Second) -> Ratio:
    """Return the quality factor from the time that a free swing takes to fall.

    Parameters
    ----------
    arc_from : float
        Arc at the start [rad].
    arc_to : float
        Arc at the end [rad].
    time : float
        Time between the two [s].
    period : float
        Time to and fro [s].

    Returns
    -------
    q_factor : float
        Quality factor [1].

    Raises
    ------
    OutOfRangeError
        If arc_to, time or period is not above zero, or arc_from does not exceed arc_to.

    Notes
    -----
    q_factor = pi * time / (period * log(arc_from / arc_to))

    References
    ----------
    Definition of the logarithmic decrement; any textbook of vibrations.

    Examples
    --------
    >>> round(q_from_ring_down(arc_from=0.08, arc_to=0.03, time=420.0, period=1.7), 2)
    791.33
    """
    require(arc_to > 0, "ring-down: arc_to must be above zero; stop before it rests")
    require(arc_from > arc_to, "ring-down: arc_from must exceed arc_to; a free swing falls")
    require(time > 0, "ring-down: time must be above zero")
    require(period > 0, "ring-down: period must be above zero; count it to and fro")
    return pi * time / (period * log(arc_from / arc_to))


@calculator
def arc_ratio_after(*, periods: Ratio, q_factor: Ratio) -> Ratio:
    """Return what is left of the arc of a free swing.

    Parameters
    ----------
    periods : float
        Whole periods since the start [1].
    q_factor : float
        Quality factor [1].

    Returns
    -------
    arc_ratio : float
        Arc now over arc at the start [1].

    Raises
    ------
    OutOfRangeError
        If periods is negative or q_factor is not above zero.

    Notes
    -----
    arc_ratio = exp(-pi * periods / q_factor)

    References
    ----------
    Definition of the logarithmic decrement; any textbook of vibrations.

    Examples
    --------
    >>> round(arc_ratio_after(periods=200.0, q_factor=900.0), 6)
    0.497514
    """
    require(periods >= 0, "ring-down: periods must not be negative")
    require(q_factor > 0, "ring-down: q_factor must be above zero")
    return exp(-pi * periods / q_factor)


@calculator
def periods_to_fall(*, q_factor: Ratio, arc_ratio: Ratio) -> Ratio:
    """Return how many whole periods a free swing takes to fall to a share of its arc.

    Parameters
    ----------
    q_factor : float
        Quality factor [1].
    arc_ratio : float
        Arc at the end over arc at the start [1].

    Returns
    -------
    periods : float
        Periods to and fro [1].

    Raises
    ------
    OutOfRangeError
        If q_factor is not above zero, or arc_ratio is not between 0 and 1.

    Notes
    -----
    periods = -q_factor / pi * log(arc_ratio)

    References
    ----------
    Definition of the logarithmic decrement; any textbook of vibrations.

    Examples
    --------
    >>> round(periods_to_fall(q_factor=900.0, arc_ratio=0.5), 4)
    198.572
    """
    require(q_factor > 0, "ring-down: q_factor must be above zero")
    require((arc_ratio > 0) & (arc_ratio < 1), "ring-down: arc_ratio must lie between 0 and 1")
    return -q_factor / pi * log(arc_ratio)


@calculator
def arc_time_constant(*, q_factor: Ratio, period: Second) -> Second:
    """Return the time in which a free swing falls to 1/e, and in which a new arc settles.

    Parameters
    ----------
    q_factor : float
        Quality factor [1].
    period : float
        Time to and fro [s].

    Returns
    -------
    time_constant : float
        Time constant of the arc; that of the energy is half as long [s].

    Raises
    ------
    OutOfRangeError
        If q_factor or period is not above zero.

    Notes
    -----
    time_constant = q_factor * period / pi

    References
    ----------
    Definition of the logarithmic decrement; any textbook of vibrations.

    Examples
    --------
    >>> round(arc_time_constant(q_factor=900.0, period=1.7), 3)
    487.014
    """
    require(q_factor > 0, "ring-down: q_factor must be above zero")
    require(period > 0, "ring-down: period must be above zero; count it to and fro")
    return q_factor * period / pi


@calculator
def swing_loss(*, energy: Joule, q_factor: Ratio) -> Joule:
    """Return the energy that a swing, one way, loses; exact for a balance.

    Parameters
    ----------
    energy : float
        Energy of the swing [J].
    q_factor : float
        Quality factor [1].

    Returns
    -------
    loss : float
        Energy lost in half a period; a whole period loses twice as much [J].

    Raises
    ------
    OutOfRangeError
        If energy or q_factor is not above zero.

    Notes
    -----
    loss = pi * energy / q_factor

    References
    ----------
    Definition of the quality factor: 2 pi times energy over loss a period.

    Examples
    --------
    >>> round(swing_loss(energy=0.0087, q_factor=900.0) * 1e6, 4)
    30.3687
    """
    require(energy > 0, "ring-down: energy must be above zero")
    require(q_factor > 0, "ring-down: q_factor must be above zero")
    return pi * energy / q_factor


@calculator
def damped_period(*, period: Second, q_factor: Ratio) -> Second:
    """Return the period of a free swing with its drag, which is slightly longer.

    Parameters
    ----------
    period : float
        Time to and fro without drag [s].
    q_factor : float
        Angular frequency without drag over the rate at which drag takes speed [1].

    Returns
    -------
    damped_period : float
        Time to and fro with drag proportional to speed [s].

    Raises
    ------
    OutOfRangeError
        If period is not above zero or q_factor does not exceed one half.

    Notes
    -----
    damped_period = period / sqrt(1 - 1 / (4 * q_factor**2))

    At a quality factor of 100 it loses one second a day, at 1000 a hundredth of that.

    References
    ----------
    Linear oscillator with damping; any textbook of vibrations.

    Examples
    --------
    >>> round(damped_period(period=1.7, q_factor=90.0), 8)
    1.70002624
    """
    require(period > 0, "ring-down: period must be above zero; count it to and fro")
    require(q_factor > 0.5, "ring-down: q_factor must exceed 0.5, or there is no swing")
    return period / sqrt(1 - 1 / (4 * q_factor**2))
