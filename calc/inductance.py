"""Self-inductance of a winding, and the mutual inductance of two."""

import numpy as np

from calc.calculator import calculator, require, routine, sqrt
from calc.inductance_integral import coupled
from calc.linkage_parts import WindingShape
from calc.units import Henry, HenryPerMetre, Metre, Ratio

MU_0 = 1.25663706127e-6
"""Magnetic constant, CODATA 2022 [H/m]."""


@routine
def self_inductance(*, winding: WindingShape, mu_0: HenryPerMetre = MU_0) -> Henry:
    """Return the self-inductance of a winding whose current fills its section evenly.

    Parameters
    ----------
    winding : WindingShape
        The winding, in air.
    mu_0 : float
        Magnetic constant [H/m].

    Returns
    -------
    l_coil : float
        Inductance [H].

    Raises
    ------
    OutOfRangeError
        If mu_0 is not above zero.

    Notes
    -----
    By quadrature; held by test_brooks_coil.

    pi mu_0 N^2/section^2 times the integral over k of (integral of r J1(k r) dr)^2
    2 (k h - 1 + exp(-k h))/k^2; the tail from the leading asymptotic terms. Round wires on
    the same bobbin have 0.03 to 0.2 % more.

    References
    ----------
    F. W. Grover, Inductance Calculations, 1946, for coils of this kind (from memory).

    Examples
    --------
    >>> coil = WindingShape(n_turns=800, r_inner=4e-3, r_outer=11e-3, height=9e-3)
    >>> round(self_inductance(winding=coil), 9)
    0.005779874
    """
    require(mu_0 > 0, "self_inductance: mu_0 must be above zero; it is a property of space")
    return coupled(winding, winding, rise=0.0, position=0.0, mu_0=mu_0)


@routine
def mutual_inductance(
    *, one: WindingShape, other: WindingShape, distance: Metre, mu_0: HenryPerMetre = MU_0
) -> Henry:
    """Return the mutual inductance of two windings that face each other on one axis.

    Parameters
    ----------
    one : WindingShape
        The first winding.
    other : WindingShape
        The second winding, wound in the same sense.
    distance : float
        Clear room between the two windings along the axis [m].
    mu_0 : float
        Magnetic constant [H/m].

    Returns
    -------
    mutual : float
        Mutual inductance [H].

    Raises
    ------
    OutOfRangeError
        If distance is negative or mu_0 is not above zero.

    Notes
    -----
    By quadrature; held by test_two_halves_make_the_whole.

    As the self-inductance, with the moments of both windings.

    References
    ----------
    F. W. Grover, Inductance Calculations, 1946, for coils of this kind (from memory).

    Examples
    --------
    >>> coil = WindingShape(n_turns=800, r_inner=4e-3, r_outer=11e-3, height=9e-3)
    >>> round(mutual_inductance(one=coil, other=coil, distance=1e-3), 9)
    0.001801816
    """
    require(distance >= 0, "mutual_inductance: distance must not be negative; zero: they touch")
    require(mu_0 > 0, "mutual_inductance: mu_0 must be above zero; it is a property of space")
    return coupled(one, other, rise=one.height + distance, position=0.0, mu_0=mu_0)


@routine
def offset_mutual_inductance(
    *,
    one: WindingShape,
    other: WindingShape,
    drop: Metre,
    position: Metre,
    mu_0: HenryPerMetre = MU_0,
) -> Henry:
    """Return the mutual inductance of two windings with parallel axes, wherever they stand.

    Parameters
    ----------
    one : WindingShape
        The first winding.
    other : WindingShape
        The second winding, wound in the same sense; it may share the first one's bobbin.
    drop : float
        How far the second winding's upper face lies below the first one's [m].
    position : float
        Distance of the two axes [m].
    mu_0 : float
        Magnetic constant [H/m].

    Returns
    -------
    mutual : float
        Mutual inductance; negative where the return flux prevails [H].

    Raises
    ------
    OutOfRangeError
        If drop is not a number, position is negative, or mu_0 is not above zero.

    Notes
    -----
    By quadrature; held by test_far_apart_two_windings_are_dipoles.

    As the self-inductance, with the moments of both windings and J0(k position).

    References
    ----------
    F. W. Grover, Inductance Calculations, 1946, for coils of this kind (from memory).

    Examples
    --------
    >>> coil = WindingShape(n_turns=800, r_inner=4e-3, r_outer=11e-3, height=9e-3)
    >>> round(offset_mutual_inductance(one=coil, other=coil, drop=0.0, position=30e-3), 9)
    -9.6698e-05
    """
    require(np.isfinite(drop), "offset_mutual_inductance: drop must be a number; zero: faces level")
    require(
        position >= 0, "offset_mutual_inductance: position must not be negative; it is a distance"
    )
    require(
        mu_0 > 0, "offset_mutual_inductance: mu_0 must be above zero; it is a property of space"
    )
    return coupled(one, other, rise=drop, position=position, mu_0=mu_0)


@calculator
def coupling_factor(*, mutual: Henry, l_one: Henry, l_other: Henry) -> Ratio:
    """Return how tightly two windings are coupled.

    Parameters
    ----------
    mutual : float
        Mutual inductance [H].
    l_one : float
        Self-inductance of the first winding [H].
    l_other : float
        Self-inductance of the second winding [H].

    Returns
    -------
    coupling : float
        Coupling factor, from -1 to 1 [1].

    Raises
    ------
    OutOfRangeError
        If a self-inductance is not above zero or the mutual one exceeds their mean.

    Notes
    -----
    coupling = mutual / sqrt(l_one * l_other)

    References
    ----------
    Definition; common practice, no source.

    Examples
    --------
    >>> coupling_factor(mutual=3e-3, l_one=12e-3, l_other=3e-3)
    0.5
    """
    require(l_one > 0, "coupling_factor: l_one must be above zero; it is a self-inductance")
    require(l_other > 0, "coupling_factor: l_other must be above zero; it is a self-inductance")
    require(
        mutual**2 <= l_one * l_other,
        "coupling_factor: mutual must not exceed sqrt(l_one l_other); check the measurement",
    )
    return mutual / sqrt(l_one * l_other)
