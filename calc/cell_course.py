"""Cells: how they empty under a demand that hangs on their voltage."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import require, routine
from calc.units import (
    AmpereCurve,
    Coulomb,
    OhmCurve,
    PerSecond,
    RatioCurve,
    SecondCurve,
    VoltCurve,
)

_HALVINGS = 44


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """Voltage at the terminals under the mean load, and that load."""

    v: VoltCurve
    i: AmpereCurve


@routine
def loaded_cells(
    *, v_rest: VoltCurve, r_sustained: OhmCurve, v_known: VoltCurve, i_known: AmpereCurve
) -> Loaded:
    """Return where voltage and demand agree: the demand hangs on the voltage that it lowers.

    Parameters
    ----------
    v_rest : numpy.ndarray
        Rested voltage along the discharge [V].
    r_sustained : numpy.ndarray
        Resistance to a lasting load at the same places [Ω].
    v_known : numpy.ndarray
        Voltages at which the demand is known, rising [V].
    i_known : numpy.ndarray
        Mean demand at each [A].

    Returns
    -------
    loaded : Loaded
        Voltage under load and demand at each place; the lowest known voltage where the demand
        would pull it below.

    Raises
    ------
    OutOfRangeError
        If v_known does not rise, or a demand or a resistance is below zero.

    Notes
    -----
    By halving between the lowest known voltage and rest;
    held by test_loaded_cells_agree_with_a_resistor.

    References
    ----------
    Ohm's law; straight lines between the known demands.

    Examples
    --------
    >>> import numpy as np
    >>> found = loaded_cells(
    ...     v_rest=np.array([1.5]), r_sustained=np.array([0.5]),
    ...     v_known=np.array([0.1, 2.0]), i_known=np.array([0.1, 2.0]),
    ... )
    >>> found.v.round(6), found.i.round(6)
    (array([1.]), array([1.]))
    """
    require(np.diff(v_known) > 0, "cells: v_known must rise")
    require(i_known >= 0, "cells: i_known must not be below zero")
    require(r_sustained >= 0, "cells: r_sustained must not be below zero")
    low = np.minimum(v_rest, v_known[0])
    high = np.asarray(v_rest, dtype=np.float64)
    steepest = float((np.abs(np.diff(i_known)) / np.diff(v_known)).max()) if len(v_known) > 1 else 0
    if steepest * float(r_sustained.max()) < 0.05:
        # A light load: each round adds two digits, since the voltage hardly moves.
        v = high
        for _ in range(9):
            v = v_rest - r_sustained * np.interp(v, v_known, i_known)
        v = np.maximum(v, low)
    else:
        for _ in range(_HALVINGS):
            v = (low + high) / 2
            above = v + r_sustained * np.interp(v, v_known, i_known) > v_rest
            low, high = np.where(above, low, v), np.where(above, v, high)
        v = (low + high) / 2
    return Loaded(v=v, i=np.interp(v, v_known, i_known))


@routine
def discharge_times(
    *, depth: RatioCurve, i_mean: AmpereCurve, charge: Coulomb, self_discharge: PerSecond
) -> SecondCurve:
    """Return when cells reach each depth of discharge.

    Parameters
    ----------
    depth : numpy.ndarray
        Depths of discharge, rising from the first [1].
    i_mean : numpy.ndarray
        Mean current drawn at each [A].
    charge : float
        Charge from full to empty [C].
    self_discharge : float
        Share of the remaining charge that is lost in each second [1/s].

    Returns
    -------
    t : numpy.ndarray
        Time since the first depth [s].

    Raises
    ------
    OutOfRangeError
        If the depths do not rise, a current or the charge is not above zero, or self_discharge
        is below zero.

    Notes
    -----
    By quadrature of charge / (i + k charge (1 - depth)) over the depth, the integrand's inverse
    straight between the places; held by test_discharge_times_of_a_steady_load.

    References
    ----------
    Integral of charge d(depth)/dt = i + k charge (1 - depth); derived here.

    Examples
    --------
    >>> import numpy as np
    >>> d = np.array([0.0, 0.5, 1.0])
    >>> discharge_times(
    ...     depth=d, i_mean=np.full(3, 0.5e-3), charge=43200.0, self_discharge=0.0
    ... )
    array([       0., 43200000., 86400000.])
    """
    require(np.diff(depth) > 0, "cells: depth must rise")
    require(i_mean > 0, "cells: i_mean must be above zero")
    require(charge > 0, "cells: charge must be above zero")
    require(self_discharge >= 0, "cells: self_discharge must not be below zero")
    pace = i_mean / charge + self_discharge * (1 - depth)
    ratio = pace[1:] / pace[:-1]
    # The mean of an inverse over a straight line is a logarithm; its limit is the inverse.
    near = np.abs(ratio - 1) < 1e-6
    safe = np.where(near, 2.0, ratio)
    mean = np.where(near, 2 / (1 + ratio), np.log(safe) / (safe - 1)) / pace[:-1]
    return np.concatenate(([0.0], np.cumsum(np.diff(depth) * mean)))


def first_below(t: SecondCurve, margin: NDArray[np.float64]) -> float | None:
    """Return when a margin first falls below zero, straight between the places; None if never."""
    below = np.flatnonzero(margin < 0)
    if not below.size:
        return None
    k = int(below[0])
    if k == 0:
        return float(t[0])
    share = margin[k - 1] / (margin[k - 1] - margin[k])
    return float(t[k - 1] + share * (t[k] - t[k - 1]))
