"""Cells: voltage at rest and resistance against the depth of discharge, from few points."""

import numpy as np
from scipy.interpolate import PchipInterpolator

from calc.calculator import calculator, require, routine
from calc.units import Ampere, Count, Ohm, OhmCurve, Ratio, RatioCurve, Volt, VoltCurve


@routine
def rest_curve(
    *,
    depth: RatioCurve,
    depths: RatioCurve,
    v_opens: VoltCurve,
    v_empty: Volt,
    knee: Ratio = 0.01,
) -> VoltCurve:
    """Return the voltage of a rested cell along its discharge.

    Parameters
    ----------
    depth : numpy.ndarray
        Depths of discharge asked for, 0 full to 1 empty [1].
    depths : numpy.ndarray
        Depths of the table, rising [1].
    v_opens : numpy.ndarray
        Rested open-circuit voltage at each, falling [V].
    v_empty : float
        Voltage at which the cell's charge was counted to the end [V].
    knee : float
        Last share of the charge, in which the voltage falls from the table to v_empty [1].

    Returns
    -------
    v_rest : numpy.ndarray
        Voltage at each depth [V].

    Raises
    ------
    OutOfRangeError
        If v_empty is not above zero, the knee does not lie between 0 and 1, or the table does not
        rise and fall as it must.

    Notes
    -----
    By monotone cubics between the rows, straight over the knee;
    held by test_rest_curve_keeps_its_table_and_ends_empty.

    References
    ----------
    F. N. Fritsch and R. E. Carlson, Monotone piecewise cubic interpolation, SIAM J. Numer. Anal.
    17 (1980) 238-246, as SciPy has it. The table's own source stands with it.

    Examples
    --------
    >>> import numpy as np
    >>> d, v = np.array([0.0, 0.5, 1.0]), np.array([1.6, 1.37, 1.1])
    >>> rest_curve(depth=np.array([0.0, 0.5, 1.0]), depths=d, v_opens=v, v_empty=0.8)
    array([1.6 , 1.37, 0.8 ])
    """
    require(v_empty > 0, "cells: v_empty must be above zero; volts of one cell")
    require((knee > 0) & (knee < 1), "cells: knee must lie between 0 and 1")
    require(np.diff(depths) > 0, "cells: depths must rise from row to row")
    require(np.diff(v_opens) <= 0, "cells: v_opens must fall as the depth grows")
    by_table = PchipInterpolator(depths, v_opens)
    edge = 1 - knee
    v_edge = float(by_table(edge))
    falling = v_edge + (depth - edge) / knee * (v_empty - v_edge)
    return np.where(depth <= edge, by_table(np.minimum(depth, edge)), falling)


@calculator
def aged_resistance(*, r_fresh: Ohm, r_spent: Ohm, depth: Ratio) -> Ohm:
    """Return what a cell opposes to a short pulse, along its discharge.

    Parameters
    ----------
    r_fresh : float
        Resistance of the full cell [Ω].
    r_spent : float
        Resistance of the empty one [Ω].
    depth : float
        Depth of discharge, 0 full to 1 empty [1].

    Returns
    -------
    r_internal : float
        Resistance there [Ω].

    Raises
    ------
    OutOfRangeError
        If r_fresh is not above zero, r_spent is less, or depth lies outside 0 to 1.

    Notes
    -----
    r_internal = r_fresh + (r_spent - r_fresh) * depth**2

    A model: slow at first and steep at the end, between two known ends.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> round(aged_resistance(r_fresh=0.2, r_spent=0.9, depth=0.5), 4)
    0.375
    """
    require(r_fresh > 0, "cells: r_fresh must be above zero")
    require(r_spent >= r_fresh, "cells: r_spent must not be below r_fresh")
    require((depth >= 0) & (depth <= 1), "cells: depth must lie between 0 and 1")
    return r_fresh + (r_spent - r_fresh) * depth**2


@calculator
def resistance_at_end(*, v_open: Volt, v_cutoff: Volt, i_load: Ampere) -> Ohm:
    """Return what a cell opposes to a lasting load where that load ends its discharge.

    Parameters
    ----------
    v_open : float
        Rested voltage at the depth that the load reached [V].
    v_cutoff : float
        Voltage under load at which the discharge was ended [V].
    i_load : float
        The load [A].

    Returns
    -------
    r_sustained : float
        Resistance to a lasting load there [Ω].

    Raises
    ------
    OutOfRangeError
        If v_cutoff or i_load is not above zero, or v_open does not exceed v_cutoff.

    Notes
    -----
    r_sustained = (v_open - v_cutoff) / i_load

    References
    ----------
    Ohm's law; the load as constant current up to its end.

    Examples
    --------
    >>> resistance_at_end(v_open=1.3, v_cutoff=0.8, i_load=0.25)
    2.0
    """
    require(v_cutoff > 0, "cells: v_cutoff must be above zero")
    require(i_load > 0, "cells: i_load must be above zero")
    require(v_open > v_cutoff, "cells: v_open must exceed v_cutoff; the rested cell is empty")
    return (v_open - v_cutoff) / i_load


@routine
def sustained_resistance(
    *,
    depth: RatioCurve,
    depths: RatioCurve,
    resistances: OhmCurve,
    r_fresh: Ohm,
) -> OhmCurve:
    """Return what a cell opposes to a lasting load, along its discharge.

    Parameters
    ----------
    depth : numpy.ndarray
        Depths of discharge asked for, 0 full to 1 empty [1].
    depths : numpy.ndarray
        Depths at which a load and its voltage are known, rising [1].
    resistances : numpy.ndarray
        Resistance to a lasting load at each [Ω].
    r_fresh : float
        Resistance of the full cell to a short pulse [Ω].

    Returns
    -------
    r_sustained : numpy.ndarray
        Resistance at each depth [Ω].

    Raises
    ------
    OutOfRangeError
        If r_fresh or a resistance is not above zero, or depths do not rise.

    Notes
    -----
    By straight lines of the logarithm between the rows and on, and a straight rise to the first;
    held by test_sustained_resistance_gives_back_the_tested_loads.

    References
    ----------
    A model between a maker's run times; no published table.

    Examples
    --------
    >>> import numpy as np
    >>> d, r = np.array([0.5, 0.8]), np.array([1.0, 4.0])
    >>> sustained_resistance(
    ...     depth=np.array([0.0, 0.25, 0.5, 0.65, 0.8]), depths=d, resistances=r, r_fresh=0.2
    ... )
    array([0.2, 0.6, 1. , 2. , 4. ])
    """
    require(r_fresh > 0, "cells: r_fresh must be above zero")
    require(depths[0] > 0, "cells: depths must be above zero; r_fresh stands for the full cell")
    require(np.diff(depths) > 0, "cells: depths must rise from row to row")
    require(resistances > 0, "cells: resistances must be above zero")
    logs = np.log(resistances / r_fresh)
    steep = (logs[-1] - logs[-2]) / (depths[-1] - depths[-2]) if len(depths) > 1 else 0.0
    beyond = max(steep, 0.0) * np.maximum(depth - depths[-1], 0)
    built = r_fresh * np.exp(np.interp(depth, depths, logs) + beyond)
    return np.asarray(r_fresh + (built - r_fresh) * np.minimum(depth / depths[0], 1))


@routine
def rest_curve_with_another(
    *, depth: RatioCurve, v_rest: VoltCurve, v_other: VoltCurve, share: Ratio, cells: Count
) -> VoltCurve:
    """Return the mean voltage of cells in series of which one holds another charge.

    Parameters
    ----------
    depth : numpy.ndarray
        Depths of discharge of the others, from 0 to 1, rising [1].
    v_rest : numpy.ndarray
        Rested voltage of the others at each [V].
    v_other : numpy.ndarray
        Rested voltage of the one at the same depths of its own [V].
    share : float
        Charge of the one over that of another [1].
    cells : int
        Cells in series [1].

    Returns
    -------
    v_mean : numpy.ndarray
        Voltage of the set over the number of cells; the one gives nothing once it is empty [V].

    Raises
    ------
    OutOfRangeError
        If share is not above zero, or cells is below one.

    Notes
    -----
    By interpolation on the one's own depth; held by test_a_weak_cell_takes_its_volts_away.

    References
    ----------
    Kirchhoff's laws: one current through all.

    Examples
    --------
    >>> import numpy as np
    >>> d, v = np.array([0.0, 0.5, 1.0]), np.array([1.6, 1.4, 0.8])
    >>> rest_curve_with_another(depth=d, v_rest=v, v_other=v, share=0.5, cells=4)
    array([1.6 , 1.25, 0.6 ])
    """
    require(share > 0, "cells: share must be above zero")
    require(cells >= 1, "cells: there must be one cell or more")
    own = depth / share
    one = np.where(own <= 1, np.interp(own, depth, v_other), 0.0)
    return np.asarray(((cells - 1) * v_rest + one) / cells)
