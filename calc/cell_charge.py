"""Cells: what charge and voltage they give at a temperature, a load and a cut-off."""

import numpy as np

from calc.calculator import calculator, require, routine
from calc.units import (
    Ampere,
    AmpereCurve,
    Kelvin,
    PerSecond,
    Ratio,
    RatioCurve,
    Volt,
    VoltCurve,
)


@calculator
def self_discharge_at(
    *,
    self_discharge: PerSecond,
    temperature: Kelvin,
    t_reference: Kelvin = 293.15,
    t_doubling: Kelvin = 10.0,
) -> PerSecond:
    """Return the self-discharge of cells that are kept warmer or colder.

    Parameters
    ----------
    self_discharge : float
        Share of the charge lost in each second at the reference temperature [1/s].
    temperature : float
        Temperature of the cells [K].
    t_reference : float
        Temperature at which self_discharge holds [K].
    t_doubling : float
        Warming that doubles it [K].

    Returns
    -------
    self_discharge : float
        Share of the charge lost in each second [1/s].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero.

    Notes
    -----
    self_discharge_there = self_discharge * 2**((temperature - t_reference) / t_doubling)

    References
    ----------
    Doubling for each 10 K: handbook rule, from memory.

    Examples
    --------
    >>> round(self_discharge_at(self_discharge=8e-10, temperature=303.15) * 1e10, 4)
    16.0
    """
    require(self_discharge > 0, "cells: self_discharge must be above zero")
    require(temperature > 0, "cells: temperature must be above zero kelvin")
    require(t_reference > 0, "cells: t_reference must be above zero kelvin")
    require(t_doubling > 0, "cells: t_doubling must be above zero")
    return self_discharge * 2 ** ((temperature - t_reference) / t_doubling)


@routine
def charge_share_at_cutoff(*, v_cutoff: Volt, v_cutoffs: VoltCurve, shares: RatioCurve) -> Ratio:
    """Return the share of a cell's charge that is given down to a cut-off, from a table.

    Parameters
    ----------
    v_cutoff : float
        Voltage of one cell at which the circuit stops [V].
    v_cutoffs : numpy.ndarray
        Cut-off voltages of the table, rising [V].
    shares : numpy.ndarray
        Share of the charge given down to each, falling [1].

    Returns
    -------
    share : float
        Straight between the rows; beyond the table its nearest end [1].

    Raises
    ------
    OutOfRangeError
        If v_cutoff is not above zero, or the table does not rise and fall as it must.

    Notes
    -----
    By interpolation; held by test_charge_share_at_the_rows_and_between_them.

    References
    ----------
    Straight lines between the rows of a table; the table's own source stands with it.

    Examples
    --------
    >>> import numpy as np
    >>> v, s = np.array([0.9, 1.0, 1.1]), np.array([0.97, 0.92, 0.82])
    >>> round(charge_share_at_cutoff(v_cutoff=1.03, v_cutoffs=v, shares=s), 4)
    0.89
    """
    require(v_cutoff > 0, "cells: v_cutoff must be above zero; volts of one cell")
    require(np.diff(v_cutoffs) > 0, "cells: v_cutoffs must rise from row to row")
    require(np.diff(shares) <= 0, "cells: shares must fall as the cut-off rises")
    return float(np.interp(v_cutoff, v_cutoffs, shares))


@routine
def charge_share_at_load(*, i_load: Ampere, i_loads: AmpereCurve, shares: RatioCurve) -> Ratio:
    """Return the share of a cell's charge that is left to a heavier load, from a table.

    Parameters
    ----------
    i_load : float
        Mean current drawn from one cell [A].
    i_loads : numpy.ndarray
        Currents of the table, rising [A].
    shares : numpy.ndarray
        Charge at each current over the charge at the lightest [1].

    Returns
    -------
    share : float
        Straight over the logarithm of the current; beyond the table its nearest end [1].

    Raises
    ------
    OutOfRangeError
        If i_load is not above zero, or the table does not rise and fall as it must.

    Notes
    -----
    By interpolation; held by test_charge_share_at_loads_gives_the_makers_runtimes.

    References
    ----------
    Straight lines between the rows of a table; the table's own source stands with it.

    Examples
    --------
    >>> import numpy as np
    >>> i, s = np.array([0.025, 0.1, 0.25]), np.array([1.0, 0.83, 0.67])
    >>> round(charge_share_at_load(i_load=0.05, i_loads=i, shares=s), 4)
    0.915
    """
    require(i_load > 0, "cells: i_load must be above zero")
    require(np.diff(i_loads) > 0, "cells: i_loads must rise from row to row")
    require(np.diff(shares) <= 0, "cells: shares must fall as the load grows")
    return float(np.interp(np.log(i_load / i_loads[0]), np.log(i_loads / i_loads[0]), shares))
