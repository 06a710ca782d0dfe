"""A rate error split: how much of each cause it would take, and how much each can give."""

from dataclasses import dataclass

from calc.calculator import calculator, maximum, require, sqrt
from calc.units import Kelvin, Metre, PerKelvin, Radian, Ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class BobPart:
    """The length that a rate means: how far the bob stands off, and its share of the length."""

    change: Metre
    share: Ratio


@calculator
def bob_for_rate(*, rate: Ratio, effective_length: Metre) -> BobPart:
    """Return by how much a pendulum is too long, if length alone explains its rate.

    Parameters
    ----------
    rate : float
        Gain as a share of time, negative loses [1].
    effective_length : float
        From the pivot to the centre of oscillation, as it should be [m].

    Returns
    -------
    part : BobPart
        Positive is too long.

    Raises
    ------
    OutOfRangeError
        If effective_length is not above zero or rate does not exceed -1.

    Notes
    -----
    share = (1 + rate)**-2 - 1
    change = effective_length * share

    References
    ----------
    Period of the pendulum; derived here.

    Examples
    --------
    >>> round(bob_for_rate(rate=-60 / 86400, effective_length=0.7).change * 1e3, 4)
    0.9732
    """
    require(effective_length > 0, "rate split: effective_length must be above zero; give it")
    require(rate > -1, "rate split: rate must exceed -1; a share of time, not seconds a day")
    share = (1 + rate) ** -2 - 1
    return BobPart(change=effective_length * share, share=share)


@calculator
def warming_for_rate(*, rate: Ratio, expansion: PerKelvin) -> Kelvin:
    """Return how much warmer it would have to be, if the rod alone explains a rate.

    Parameters
    ----------
    rate : float
        Gain as a share of time, negative loses [1].
    expansion : float
        Relative growth of the rod for each kelvin [1/K].

    Returns
    -------
    warming : float
        Temperature rise, negative for cooling [K].

    Raises
    ------
    OutOfRangeError
        If expansion is not above zero or rate does not exceed -1.

    Notes
    -----
    warming = ((1 + rate)**-2 - 1) / expansion

    References
    ----------
    Period of the pendulum; derived here.

    Examples
    --------
    >>> round(warming_for_rate(rate=-8 / 86400, expansion=11.5e-6), 3)
    16.105
    """
    require(expansion > 0, "rate split: expansion must be above zero; of the rod")
    require(rate > -1, "rate split: rate must exceed -1; a share of time, not seconds a day")
    return ((1 + rate) ** -2 - 1) / expansion


@calculator
def arc_for_rate(*, rate: Ratio, arc: Radian) -> Radian:
    """Return the arc at which a pendulum would have this rate against its rate at another arc.

    Parameters
    ----------
    rate : float
        Gain as a share of time, negative loses [1].
    arc : float
        The arc at which it had been regulated [rad].

    Returns
    -------
    arc_now : float
        The arc that explains the rate; zero where no arc is small enough [rad].

    Raises
    ------
    OutOfRangeError
        If arc is not above zero or rate is not a number.

    Notes
    -----
    arc_now = sqrt(maximum(arc**2 - 16 * rate, 0))

    To the square of the arc; within 1 % up to 30 degrees.

    References
    ----------
    Series of the pendulum's period; any textbook of mechanics.

    Examples
    --------
    >>> round(arc_for_rate(rate=-20 / 86400, arc=0.05), 5)
    0.07876
    """
    require(arc > 0, "rate split: arc must be above zero; half the swing")
    require(abs(rate) >= 0, "rate split: rate must be a number; give the error")
    return sqrt(maximum(arc**2 - 16 * rate, 0))
