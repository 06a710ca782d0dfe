"""The pulse width at which a wanted arc settles, and the arc of one width, from few swings."""

from dataclasses import replace

import numpy as np

from calc.calculator import OutOfRangeError, require
from calc.follow import DrivenMovement
from calc.follow_beat import beats
from calc.units import Radian, Second

_SPREAD = np.array([0.96, 0.98, 1.0, 1.02, 1.04])
_ROUNDS = 6


def width_that_holds(*, movement: DrivenMovement, arc: Radian, near: Second) -> Second:
    """Return the pulse width with which a swing of this arc reproduces itself.

    Parameters
    ----------
    movement : DrivenMovement
        Movement, coil and circuit; its own pulse width does not count.
    arc : float
        The arc that is to be held [rad].
    near : float
        A width near the one sought, from the energies of a free swing [s].

    Returns
    -------
    width : float
        The width [s].

    Raises
    ------
    OutOfRangeError
        If arc or near is not above zero, or if no width near it holds the arc.

    Notes
    -----
    By inverse interpolation on swings of neighbouring widths;
    held by test_width_that_holds_an_arc_settles_there.

    References
    ----------
    Fixed points of the map from turning point to turning point; common practice, no source.

    Examples
    --------
    >>> from calc.clamp_law import ClampLaw
    >>> from calc.follow import Trigger
    >>> from calc.linkage_curve import LinkageCurve
    >>> from calc.switch_law import SwitchLaw
    >>> x = np.linspace(-0.05, 0.05, 201)
    >>> u = x / 8e-3
    >>> bell = 1e-2 * np.exp(-(u**2) / 2)
    >>> curve = LinkageCurve(
    ...     path=x, node_flux=bell, node_slope=-u / 8e-3 * bell,
    ...     node_curvature=(u**2 - 1) / 8e-3**2 * bell,
    ... )
    >>> movement = DrivenMovement(
    ...     kind="pendulum", omega=4.0, inertia=0.2, radius=0.6, q_factor=800.0, linkage=curve,
    ...     v_supply=2.5, r_coil=45.0, l_coil=0.02, switch=SwitchLaw(v_constant=0.1),
    ...     clamp=ClampLaw(v_constant=0.7), pulse_width=0.02, trigger=Trigger(),
    ... )
    >>> round(width_that_holds(movement=movement, arc=0.19, near=0.021), 5)
    0.01996
    """
    require(arc > 0, "width_that_holds: arc must be above zero")
    require(near > 0, "width_that_holds: near must be above zero")
    width, arcs = near, np.array([arc])
    for _ in range(_ROUNDS):
        widths = width * _SPREAD
        row = beats(replace(movement, pulse_width=width), arcs, widths, exact=False)
        growth = np.log(row.arc_after[0] / arc)
        rises = np.diff(growth)
        if not np.isfinite(growth).all() or not (rises > 0).all():
            break
        if growth[0] <= 0 <= growth[-1]:
            # The inverse of five points is a quartic in the growth.
            return float(np.polynomial.polynomial.polyfit(growth / rises.sum(), widths, 4)[0])
        step = growth[2] / (growth[3] - growth[1]) * (widths[3] - widths[1])
        width = float(np.clip(width - step, 0.6 * width, 1.6 * width))
    raise OutOfRangeError("width_that_holds: no width near the one given holds this arc")
