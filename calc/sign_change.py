"""Where a function changes its sign between two places of which a table says that it does."""

from collections.abc import Callable

from scipy.optimize import brentq


def sign_change(
    value: Callable[[float], float], low: float, high: float, *, xtol: float, rtol: float = 1e-14
) -> float:
    """Return the place; the end at which the sign is within rounding of changing, if it is one.

    Table and function round differently: where the table changes its sign at one of its own
    places, the function may do so just outside, and root finding would refuse it.

    Parameters
    ----------
    value : callable
        The function behind the table.
    low, high : float
        Neighbouring places between which the table changes its sign.
    xtol, rtol : float
        Absolute and relative error of the place.

    Returns
    -------
    place : float

    Examples
    --------
    >>> round(sign_change(lambda x: x - 0.25, 0.0, 1.0, xtol=1e-12), 9)
    0.25
    >>> sign_change(lambda x: x + 1e-14, 0.0, 1.0, xtol=1e-12)
    0.0
    """
    at_low, at_high = value(low), value(high)
    if at_low * at_high < 0:
        return float(brentq(value, low, high, xtol=xtol, rtol=rtol))
    return low if abs(at_low) < abs(at_high) else high
