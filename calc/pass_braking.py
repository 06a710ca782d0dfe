"""What a free pass loses when its EMF drives current through coil and clamp."""

import numpy as np

from calc.calculator import require, routine
from calc.clamp_law import ClampLaw
from calc.units import AmpereCurve, Joule, Ohm, SecondCurve, Volt, VoltCurve

_ROUNDS = 60
_CLOSE = 1e-13
_NOTHING = 1e-12
"""Current that counts as none, as a share of what the EMF alone would drive."""


@routine
def pass_braking(
    *, t: SecondCurve, emf: VoltCurve, clamp: ClampLaw, v_supply: Volt, r_coil: Ohm
) -> Joule:
    """Return the energy that a pass without a pulse loses in coil and clamp.

    Parameters
    ----------
    t : numpy.ndarray
        Rising times of the samples [s].
    emf : numpy.ndarray
        EMF of the pass, its lobes of both signs [V].
    clamp : ClampLaw
        The clamp; a plain resistor conducts in the lobes of both signs, others in half of them.
    v_supply : float
        Voltage of the coil's rail [V].
    r_coil : float
        Coil resistance [Ω].

    Returns
    -------
    e_lost : float
        Energy that the movement loses [J].

    Raises
    ------
    OutOfRangeError
        If v_supply or r_coil is not above zero, or t does not rise.

    Notes
    -----
    By quadrature and root finding; held by test_braking_of_a_sine. The current follows the EMF
    at once: the coil's own time is short against a pass.

    References
    ----------
    Integral of EMF times current; common practice, no source.

    Examples
    --------
    >>> t = np.linspace(0.0, 1.0, 1001)
    >>> emf = 2.0 * np.sin(2 * np.pi * t)
    >>> lost = pass_braking(
    ...     t=t, emf=emf, clamp=ClampLaw(resistance=70.0), v_supply=3.0, r_coil=30.0)
    >>> round(lost, 9)
    0.02
    """
    require(v_supply > 0, "pass_braking: v_supply must be above zero")
    require(r_coil > 0, "pass_braking: r_coil must be above zero")
    require(bool((np.diff(t) > 0).all()), "pass_braking: t must rise from sample to sample")
    size = np.abs(emf)
    if clamp.beside < np.inf:
        return float(np.trapezoid(size**2, t)) / (r_coil + clamp.resistance)
    # Its bias may let current through without any EMF: that is no braking.
    at_rest = _through(np.zeros(1), clamp, v_supply, r_coil)
    current = _through(size, clamp, v_supply, r_coil) - at_rest
    return float(np.trapezoid(current * size, t)) / 2


def _through(driving: VoltCurve, clamp: ClampLaw, v_supply: Volt, r_coil: Ohm) -> AmpereCurve:
    """Return the current that a voltage drives through coil and clamp."""
    # In the current's logarithm the law is convex: from above the steps cannot overshoot.
    most = (float(driving.max()) + v_supply) / r_coil
    least = _NOTHING * most
    current = np.full_like(driving, most)
    for _ in range(_ROUNDS):
        miss = clamp.opposing(current, v_supply) + r_coil * current - driving
        fall = -miss / (current * (clamp.slope(current) + r_coil))
        new = np.maximum(current * np.exp(np.maximum(fall, -20.0)), least)
        moved = np.abs(new - current).max()
        current = new
        if moved < _CLOSE * most:
            break
    return np.where(current > least, current, 0.0)
