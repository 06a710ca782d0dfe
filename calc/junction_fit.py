"""A diode's law through catalogue points."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import nnls

from calc.calculator import require, routine
from calc.clamp_law import Junction
from calc.units import AmpereCurve, Ohm, Ratio, Volt, VoltCurve


@dataclass(frozen=True, slots=True, kw_only=True)
class DiodeLaw:
    """Forward voltage: a junction's logarithm and a series resistance."""

    junction: Junction
    resistance: Ohm


@routine
def diode_law(
    *, i_f: AmpereCurve, v_f: VoltCurve, v_thermal: Volt, emission: Ratio = 1.75
) -> DiodeLaw:
    """Return a diode's law fitted to points of its forward curve.

    Parameters
    ----------
    i_f : numpy.ndarray
        Forward currents, rising [A].
    v_f : numpy.ndarray
        Forward voltages there [V].
    v_thermal : float
        Thermal voltage k T / q [V].
    emission : float
        Emission coefficient taken where a single point cannot tell [1].

    Returns
    -------
    law : DiodeLaw
        Passes through a single point; the best in least squares through several.

    Raises
    ------
    OutOfRangeError
        If there is no point, a current or voltage is not above zero, or v_thermal or emission
        is not above zero.

    Notes
    -----
    By linear least squares with positive terms: v = n v_thermal ln(i / i_s) + r i; held by
    test_diode_law_passes_through_its_own_curve.

    References
    ----------
    W. Shockley, The theory of p-n junctions in semiconductors, Bell Syst. Tech. J. 28 (1949)
    435-489 (equation from memory).

    Examples
    --------
    >>> law = diode_law(
    ...     i_f=np.array([0.001, 0.01, 0.1]), v_f=np.array([0.6, 0.72, 0.95]), v_thermal=0.02585
    ... )
    >>> round(law.resistance, 2)
    1.36
    """
    require(len(i_f) > 0 and len(i_f) == len(v_f), "diode_law: at least one point is needed")
    require(i_f > 0, "diode_law: i_f must be above zero")
    require(v_f > 0, "diode_law: v_f must be above zero")
    require(v_thermal > 0, "diode_law: v_thermal must be above zero")
    require(emission > 0, "diode_law: emission must be above zero")
    top, v_top = float(i_f[-1]), float(v_f[-1])
    if len(i_f) == 1:
        scale = emission * v_thermal
        return DiodeLaw(
            junction=Junction(v_log=scale, i_log=top / float(np.expm1(v_top / scale))),
            resistance=0.0,
        )
    # Both unknown voltages are counted in the top point's voltage, so that they rescale.
    columns = np.column_stack((np.ones_like(i_f), np.log(i_f / top), i_f / top))
    if len(i_f) == 2:
        columns[:, 2] = 0.0
    (at_top, log_part, ohmic), _ = nnls(columns, v_f / v_top)
    scale = max(float(log_part) * v_top, v_thermal)
    if scale > float(log_part) * v_top:
        # No junction is steeper than its emission coefficient of one: fit the rest about that.
        share = v_top / v_f
        left = (v_f - scale * np.log(i_f / top)) / v_f
        (at_top, ohmic), _ = nnls(columns[:, [0, 2]] * share[:, None], left)
    at_zero_ohm = float(at_top) * v_top
    return DiodeLaw(
        junction=Junction(v_log=scale, i_log=top / float(np.expm1(at_zero_ohm / scale))),
        resistance=float(ohmic) * v_top / top,
    )
