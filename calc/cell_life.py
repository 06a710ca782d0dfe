"""Cells: how long a charge lasts under a mean current, with self-discharge and shelf life."""

from calc.calculator import calculator, expm1, log1p, minimum, require
from calc.units import Ampere, Coulomb, PerSecond, Second


@calculator
def charge_life(*, charge: Coulomb, i_mean: Ampere) -> Second:
    """Return how long a charge lasts at a mean current, with nothing lost by itself.

    Parameters
    ----------
    charge : float
        Charge that the cells give down to their cut-off [C].
    i_mean : float
        Mean current drawn [A].

    Returns
    -------
    life : float
        Time to empty [s].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero.

    Notes
    -----
    life = charge / i_mean

    References
    ----------
    Definition of current.

    Examples
    --------
    >>> charge_life(charge=43200.0, i_mean=0.0005)
    86400000.0
    """
    require(charge > 0, "cells: charge must be above zero")
    require(i_mean > 0, "cells: i_mean must be above zero")
    return charge / i_mean


@calculator
def cell_life(*, charge: Coulomb, i_mean: Ampere, self_discharge: PerSecond) -> Second:
    """Return how long cells last that also lose charge by themselves.

    Parameters
    ----------
    charge : float
        Charge that fresh cells give down to their cut-off [C].
    i_mean : float
        Mean current drawn [A].
    self_discharge : float
        Share of the remaining charge that is lost in each second [1/s].

    Returns
    -------
    life : float
        Time to empty [s].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero.

    Notes
    -----
    life = log1p(self_discharge * charge / i_mean) / self_discharge

    References
    ----------
    Integral of dq/dt = -i_mean - self_discharge * q; derived here.

    Examples
    --------
    >>> round(cell_life(charge=43200.0, i_mean=0.0005, self_discharge=1e-9))
    82869478
    """
    require(charge > 0, "cells: charge must be above zero")
    require(i_mean > 0, "cells: i_mean must be above zero")
    require(self_discharge > 0, "cells: self_discharge must be above zero; else charge_life holds")
    return log1p(self_discharge * charge / i_mean) / self_discharge


@calculator
def mean_current_for_life(*, charge: Coulomb, life: Second, self_discharge: PerSecond) -> Ampere:
    """Return the mean current that cells can feed for a wanted time.

    Parameters
    ----------
    charge : float
        Charge that fresh cells give down to their cut-off [C].
    life : float
        Wanted time [s].
    self_discharge : float
        Share of the remaining charge that is lost in each second [1/s].

    Returns
    -------
    i_mean : float
        Mean current that empties them just then [A].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero.

    Notes
    -----
    i_mean = self_discharge * charge / expm1(self_discharge * life)

    References
    ----------
    Integral of dq/dt = -i_mean - self_discharge * q; derived here.

    Examples
    --------
    >>> round(mean_current_for_life(charge=43200.0, life=6.3e7, self_discharge=1e-9) * 1e6, 3)
    664.341
    """
    require(charge > 0, "cells: charge must be above zero")
    require(life > 0, "cells: life must be above zero")
    require(self_discharge > 0, "cells: self_discharge must be above zero")
    return self_discharge * charge / expm1(self_discharge * life)


@calculator
def shelf_limited_life(*, life: Second, shelf_life: Second) -> Second:
    """Return the life of cells that are not to be trusted beyond their shelf life.

    Parameters
    ----------
    life : float
        Time to empty [s].
    shelf_life : float
        Time after which the maker no longer stands by a stored cell [s].

    Returns
    -------
    life : float
        The shorter of the two [s].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero.

    Notes
    -----
    life = minimum(life, shelf_life)

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> shelf_limited_life(life=5.4e8, shelf_life=2.2e8)
    220000000.0
    """
    require(life > 0, "cells: life must be above zero")
    require(shelf_life > 0, "cells: shelf_life must be above zero")
    return minimum(life, shelf_life)
