"""Rate: how far a movement is from its target, and what nut and temperature do to it.

Rates are shares of time; a positive rate gains.
"""

from calc.calculator import calculator, require, sqrt
from calc.units import Kelvin, Metre, PerKelvin, PerSquareKelvin, Ratio, Second


@calculator
def rate_against_target(*, period: Second, target_period: Second) -> Ratio:
    """Return what a movement gains that should have kept another period.

    Parameters
    ----------
    period : float
        Time to and fro that it keeps [s].
    target_period : float
        Time to and fro that the dial counts on [s].

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
    rate = target_period / period - 1

    References
    ----------
    Definition of rate; common practice, no source.

    Examples
    --------
    >>> round(rate_against_target(period=1.7008, target_period=1.7) * 1e6, 3)
    -470.367
    """
    require(period > 0, "rate: period must be above zero; count it to and fro")
    require(target_period > 0, "rate: target_period must be above zero")
    return target_period / period - 1


@calculator
def length_change(*, effective_length: Metre, rate: Ratio) -> Metre:
    """Return how much longer a pendulum must become to take away a rate.

    Parameters
    ----------
    effective_length : float
        From the pivot to the centre of oscillation [m].
    rate : float
        Gain as a share of time that is to go [1].

    Returns
    -------
    change : float
        Positive lowers the bob, negative raises it [m].

    Raises
    ------
    OutOfRangeError
        If effective_length is not above zero or rate does not exceed -1.

    Notes
    -----
    change = effective_length * ((1 + rate)**2 - 1)

    References
    ----------
    Period of the pendulum; derived here.

    Examples
    --------
    >>> round(length_change(effective_length=0.72, rate=-470e-6) * 1e3, 4)
    -0.6766
    """
    require(effective_length > 0, "rate: effective_length must be above zero")
    require(rate > -1, "rate: rate must exceed -1; a share of time, not seconds a day")
    return effective_length * rate * (2 + rate)


@calculator
def nut_turns(*, change: Metre, nut_pitch: Metre) -> Ratio:
    """Return the turns of the rating nut that move the bob.

    Parameters
    ----------
    change : float
        Change of the effective length, positive lowers the bob [m].
    nut_pitch : float
        Travel of the nut in one turn [m].

    Returns
    -------
    turns : float
        Turns, positive lowers the bob [1].

    Raises
    ------
    OutOfRangeError
        If nut_pitch is not above zero, or change is not a number.

    Notes
    -----
    turns = change / nut_pitch

    Holds for a heavy bob on a light rod; with a heavy rod the bob must move a little farther.

    References
    ----------
    Geometry of the screw; common practice, no source.

    Examples
    --------
    >>> round(nut_turns(change=-0.68e-3, nut_pitch=0.5e-3), 4)
    -1.36
    """
    require(nut_pitch > 0, "rate: nut_pitch must be above zero; travel of the nut in one turn")
    require(abs(change) >= 0, "rate: change must be a number")
    return change / nut_pitch


@calculator
def temperature_rate(*, expansion: PerKelvin, temperature_change: Kelvin) -> Ratio:
    """Return what a pendulum gains when its rod warms.

    Parameters
    ----------
    expansion : float
        Relative growth of the rod for each kelvin [1/K].
    temperature_change : float
        How much warmer; negative for colder [K].

    Returns
    -------
    rate : float
        Gain as a share of time, negative when the rod grows [1].

    Raises
    ------
    OutOfRangeError
        If the rod would shrink to nothing.

    Notes
    -----
    rate = 1 / sqrt(1 + expansion * temperature_change) - 1

    Very nearly half the expansion, turned round.

    References
    ----------
    Period of the pendulum; derived here.

    Examples
    --------
    >>> round(temperature_rate(expansion=11.5e-6, temperature_change=14.0) * 1e6, 3)
    -80.49
    """
    growth = 1 + expansion * temperature_change
    require(growth > 0, "rate: expansion times temperature_change must exceed -1")
    return 1 / sqrt(growth) - 1


@calculator
def crystal_rate(*, coefficient: PerSquareKelvin, temperature: Kelvin, turnover: Kelvin) -> Ratio:
    """Return what a tuning-fork crystal gains away from its turnover temperature.

    Parameters
    ----------
    coefficient : float
        Parabolic coefficient, negative for a tuning fork [1/K^2].
    temperature : float
        Temperature of the crystal [K].
    turnover : float
        Temperature at which it runs fastest [K].

    Returns
    -------
    rate : float
        Gain as a share of time [1].

    Raises
    ------
    OutOfRangeError
        If a temperature is not above zero, or coefficient is not below zero.

    Notes
    -----
    rate = coefficient * (temperature - turnover)**2

    References
    ----------
    Makers' sheets of 32.768 kHz tuning-fork crystals.

    Examples
    --------
    >>> round(crystal_rate(coefficient=-34e-9, temperature=283.15, turnover=298.15) * 1e6, 4)
    -7.65
    """
    require(temperature > 0, "crystal: temperature must be above zero kelvin")
    require(turnover > 0, "crystal: turnover must be above zero kelvin")
    require(coefficient < 0, "crystal: coefficient must be below zero; a fork slows on both sides")
    return coefficient * (temperature - turnover) ** 2
