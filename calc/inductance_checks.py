"""Inductance by other ways: turn by turn, and by a handbook's estimate."""

import numpy as np
from scipy import special

from calc.calculator import calculator, require, routine
from calc.inductance import MU_0
from calc.units import Count, Henry, HenryPerMetre, Metre, Ratio


@routine
def wound_inductance(
    *,
    n_layers: Count,
    turns_per_layer: Count,
    r_inner: Metre,
    r_outer: Metre,
    height: Metre,
    d_wire: Metre,
    mu_0: HenryPerMetre = MU_0,
) -> Henry:
    """Return the inductance of a winding as the sum over its round turns.

    Parameters
    ----------
    n_layers : int
        Layers of the winding [1].
    turns_per_layer : int
        Turns of each layer [1].
    r_inner : float
        Inner radius of the winding [m].
    r_outer : float
        Outer radius of the winding [m].
    height : float
        Height of the winding [m].
    d_wire : float
        Diameter of the bare wire [m].
    mu_0 : float
        Magnetic constant [H/m].

    Returns
    -------
    l_coil : float
        Inductance [H].

    Raises
    ------
    OutOfRangeError
        If a size is not above zero, r_outer does not exceed r_inner, or the wire does not fit
        into its cell of the section.

    Notes
    -----
    By summation; held by test_round_turns_add_up.

    Each turn sits in the middle of its cell. Pairs by Maxwell's elliptic integrals, each turn
    itself by mu_0 a (ln(16 a/d) - 7/4).

    References
    ----------
    J. C. Maxwell, A Treatise on Electricity and Magnetism, volume 2, section 701 (from memory).

    Examples
    --------
    >>> round(wound_inductance(n_layers=20, turns_per_layer=40, r_inner=4e-3, r_outer=11e-3,
    ...     height=9e-3, d_wire=0.2e-3), 9)
    0.005783792
    """
    require(r_inner > 0, "wound_inductance: r_inner must be above zero; it is the bobbin's radius")
    require(r_outer > r_inner, "wound_inductance: r_outer must exceed r_inner; it has a thickness")
    require(height > 0, "wound_inductance: height must be above zero; it is the winding's length")
    require(
        (n_layers >= 1) & (turns_per_layer >= 1), "wound_inductance: counts must be one or more"
    )
    cell, step = (r_outer - r_inner) / n_layers, height / turns_per_layer
    require(d_wire > 0, "wound_inductance: d_wire must be above zero; it is the bare wire")
    require(
        d_wire <= min(cell, step) * (1 + 1e-9),
        "wound_inductance: d_wire must fit its cell; take thinner wire or fewer turns",
    )
    require(mu_0 > 0, "wound_inductance: mu_0 must be above zero; it is a property of space")
    radius = r_inner + cell * (np.arange(n_layers) + 0.5)
    apart = step * np.arange(turns_per_layer)
    # A pair of turns occurs once for each place of the upper one, and both ways round.
    often = np.where(apart > 0, 2.0, 1.0) * (turns_per_layer - np.arange(turns_per_layer))
    a, b, z = radius[:, None, None], radius[None, :, None], apart[None, None, :]
    itself = (a == b) & (z == 0)
    far = (a + b) ** 2 + z**2
    near = np.where(itself, far, (a - b) ** 2 + z**2)
    complement = near / far
    m = 1 - complement
    first, second = special.ellipkm1(complement), special.ellipe(m)
    pair = mu_0 * np.sqrt(far) * ((1 - m / 2) * first - second)
    own = mu_0 * a * (np.log(16 * a / d_wire) - 1.75)
    return float((np.where(itself, own, pair) @ often).sum())


@calculator
def wheeler_inductance(
    *, n_turns: Ratio, r_inner: Metre, r_outer: Metre, height: Metre, mu_0: HenryPerMetre = MU_0
) -> Henry:
    """Return Wheeler's handbook estimate for a short winding of many layers.

    Parameters
    ----------
    n_turns : float
        Turns [1].
    r_inner : float
        Inner radius of the winding [m].
    r_outer : float
        Outer radius of the winding [m].
    height : float
        Height of the winding [m].
    mu_0 : float
        Magnetic constant [H/m].

    Returns
    -------
    l_coil : float
        Inductance, good to about 1 % where the three terms of the divisor are alike [H].

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero or r_outer does not exceed r_inner.

    Notes
    -----
    l_coil = (0.8 * 39.37007874 * 1e-6 / 1.25663706127e-6 * mu_0
        * ((r_inner + r_outer) / 2) ** 2 * n_turns ** 2
        / (3 * (r_inner + r_outer) + 9 * height + 10 * (r_outer - r_inner)))

    In inches and microhenries: 0.8 a^2 N^2 / (6 a + 9 l + 10 c), a the mean radius.

    References
    ----------
    H. A. Wheeler, Simple inductance formulas for radio coils, Proc. IRE 16, 1398 (1928)
    (from memory).

    Examples
    --------
    >>> round(wheeler_inductance(n_turns=800.0, r_inner=4e-3, r_outer=11e-3, height=9e-3), 9)
    0.005784991
    """
    require(n_turns > 0, "wheeler_inductance: n_turns must be above zero; give the turns")
    require(r_inner > 0, "wheeler_inductance: r_inner must be above zero; a bobbin has a radius")
    require(
        r_outer > r_inner, "wheeler_inductance: r_outer must exceed r_inner; it has a thickness"
    )
    require(height > 0, "wheeler_inductance: height must be above zero; it is a length")
    require(mu_0 > 0, "wheeler_inductance: mu_0 must be above zero; it is a property of space")
    mean = (r_inner + r_outer) / 2
    divisor = 6 * mean + 9 * height + 10 * (r_outer - r_inner)
    # One inch is 39.37 to the metre; the constant holds for the magnetic constant of free space.
    return 0.8e-6 * 39.37007874 * (mu_0 / MU_0) * (mean * n_turns) ** 2 / divisor
