"""Flux linkage along the magnet's path: straight, on an arc with tilt, or over a balance's face."""

import numpy as np
from numpy.typing import NDArray

from calc.calculator import require, routine
from calc.linkage_curve import LinkageCurve
from calc.linkage_faces import SPACING, Places, PoleFaces, curve_through, pole_faces, summed
from calc.linkage_parts import MagnetShape, WindingShape
from calc.linkage_spectrum import graded
from calc.linkage_straight import features, hankel_curve, limit, sharpness
from calc.units import Metre

Array = NDArray[np.float64]

FARTHER = 1.5
"""Samples reach this much farther than the three falling powers need."""


def _tail_power(magnet: MagnetShape) -> int:
    return 4 if magnet.lying else 3


def _mirrored(
    magnet: MagnetShape, side: Array, flux: Array, lobe_reach: float = np.inf
) -> LinkageCurve:
    """Return the curve from its samples at zero and beyond."""
    sign = -1.0 if magnet.lying else 1.0
    if magnet.lying:
        flux = np.concatenate([[0.0], flux[1:]])
    return curve_through(
        np.concatenate([-side[:0:-1], side]),
        np.concatenate([sign * flux[:0:-1], flux]),
        tail_power=_tail_power(magnet),
        lobe_reach=lobe_reach,
    )


@routine
def straight_linkage(*, magnet: MagnetShape, winding: WindingShape, gap: Metre) -> LinkageCurve:
    """Return the linkage of a magnet that passes the winding on a straight path.

    Parameters
    ----------
    magnet : MagnetShape
        The magnet.
    winding : WindingShape
        The winding; its axis is across the path.
    gap : float
        Distance of the magnet's face from the winding's face [m].

    Returns
    -------
    curve : LinkageCurve
        Linkage, slope and curvature against path. With the magnet's axis along the coil's the
        linkage is positive on the axis; lying, its slope is negative there.

    Raises
    ------
    OutOfRangeError
        If gap is not above zero.

    Notes
    -----
    By quadrature; held by test_slope_is_the_force_per_ampere_of_magpylib.

    A round upright magnet: sum over wave numbers of the winding's spectrum times the magnet's,
    with J0(k x) for the linkage and -k J1(k x) for its slope, one and the same for EMF and force.
    Any other magnet: the winding's potential summed over its pole faces (reciprocity).
    Recoil permeability 1, no iron nearby, no eddy currents.

    References
    ----------
    J. D. Jackson, Classical Electrodynamics, 3rd edition, sections 3.7 and 5.5 (from memory).

    Examples
    --------
    >>> curve = straight_linkage(
    ...     magnet=MagnetShape(
    ...         round=True, lying=False, b_r=1.1, along=12e-3, across=12e-3, depth=4e-3
    ...     ),
    ...     winding=WindingShape(n_turns=800, r_inner=4e-3, r_outer=11e-3, height=9e-3),
    ...     gap=3e-3,
    ... )
    >>> round(curve.slope_peak, 6), round(curve.path_peak, 6)
    (0.545031, 0.007194)
    """
    require(gap > 0, "straight_linkage: gap must be above zero; the magnet would touch the winding")
    if magnet.round and not magnet.lying:
        return hankel_curve(magnet, winding, gap)
    far = FARTHER * limit(magnet, winding, gap)
    side = graded(far, features(magnet, winding), sharpness(magnet, winding, gap), SPACING)
    faces = pole_faces(magnet, gap, halved=True)
    x = side[:, None] + faces.u
    places = Places(rho=np.hypot(x, faces.v), z=np.broadcast_to(gap + faces.w, x.shape))
    flux = summed(magnet, winding, gap, faces, places, level=not magnet.lying)
    return _mirrored(magnet, side, flux)


def _on_arc(s: Array, faces: PoleFaces, gap: float, radius: float, offset: float) -> Places:
    angle = (s[:, None] + offset) / radius
    sine, cosine = np.sin(angle), np.cos(angle)
    above = radius - faces.w
    # The coil stands `offset` along the path from the middle of the swing, its axis upright.
    x = above * sine + faces.u * cosine - radius * np.sin(offset / radius)
    z = gap + radius - above * cosine + faces.u * sine
    return Places(rho=np.hypot(x, faces.v), z=z)


@routine
def arc_linkage(
    *, magnet: MagnetShape, winding: WindingShape, gap: Metre, radius: Metre, offset: Metre
) -> LinkageCurve:
    """Return the linkage of a magnet that swings over the winding on an arc and tilts with it.

    Parameters
    ----------
    magnet : MagnetShape
        The magnet; the radius through the middle of its near face meets the pivot.
    winding : WindingShape
        The winding; its face lies level, under the pivot.
    gap : float
        Distance of the magnet's face from the plane of the winding's face at the middle of the
        swing [m].
    radius : float
        Distance from the pivot to the middle of the magnet's near face [m].
    offset : float
        Place of the coil's axis along the path, from the middle of the swing [m].

    Returns
    -------
    curve : LinkageCurve
        Linkage, slope and curvature against the path along the arc from the coil's axis.

    Raises
    ------
    OutOfRangeError
        If gap is not above zero or too small for the tilted magnet to pass, radius does not
        exceed the magnet's depth, or offset is not less than radius.

    Notes
    -----
    By quadrature; held by test_a_long_arc_is_a_straight_path.

    The winding's potential, tabulated over distance and height, summed over the tilted pole faces.

    References
    ----------
    Reciprocity of a magnet and a coil; common practice, no source.

    Examples
    --------
    >>> curve = arc_linkage(
    ...     magnet=MagnetShape(
    ...         round=True, lying=False, b_r=1.1, along=12e-3, across=12e-3, depth=4e-3
    ...     ),
    ...     winding=WindingShape(n_turns=800, r_inner=4e-3, r_outer=11e-3, height=9e-3),
    ...     gap=3e-3, radius=0.2, offset=0.0,
    ... )
    >>> round(curve.slope_peak, 5), round(curve.path_peak, 5)
    (0.5519, 0.00703)
    """
    require(gap > 0, "arc_linkage: gap must be above zero; the magnet would touch the winding")
    require(
        radius > magnet.depth, "arc_linkage: radius must exceed the magnet; it hangs on the pivot"
    )
    require(
        abs(offset) < radius, "arc_linkage: offset must be less than radius; the coil is in reach"
    )
    far = min(FARTHER * limit(magnet, winding, gap), 3.1 * radius - abs(offset))
    side = graded(far, features(magnet, winding), sharpness(magnet, winding, gap), SPACING)
    faces = pole_faces(magnet, gap, halved=True)
    s = side if offset == 0 else np.concatenate([-side[:0:-1], side])
    places = _on_arc(s, faces, gap, radius, offset)
    flux = summed(magnet, winding, gap, faces, places, level=False)
    if offset == 0:
        return _mirrored(magnet, side, flux)
    return curve_through(s, flux, tail_power=_tail_power(magnet))


def _over_face(s: Array, magnet: MagnetShape, faces: PoleFaces, radius: float) -> Array:
    """Return the distances of the pole faces' points from the coil's axis."""
    angle = s[:, None] / radius
    if magnet.round and not magnet.lying:
        # A round magnet does not show that it turns: the chord is enough.
        return np.asarray(np.hypot(2 * radius * np.sin(angle / 2) + faces.u, faces.v))
    sine, cosine = np.sin(angle), np.cos(angle)
    x = radius * sine + faces.u * cosine - faces.v * sine
    y = radius * (1 - cosine) + faces.u * sine + faces.v * cosine
    return np.asarray(np.hypot(x, y))


@routine
def face_linkage(
    *, magnet: MagnetShape, winding: WindingShape, gap: Metre, radius: Metre, reach: Metre
) -> LinkageCurve:
    """Return the linkage of a magnet that a balance carries over the winding's face.

    Parameters
    ----------
    magnet : MagnetShape
        The magnet; it turns with the balance.
    winding : WindingShape
        The winding; its axis is parallel to the balance's and meets the magnet's circle.
    gap : float
        Distance of the magnet's face from the winding's face [m].
    radius : float
        Distance of the magnet's middle from the balance's axis [m].
    reach : float
        Longest path from the coil's axis that is asked for [m].

    Returns
    -------
    curve : LinkageCurve
        Linkage, slope and curvature against the path along the circle from the coil's axis.

    Raises
    ------
    OutOfRangeError
        If gap, radius or reach is not above zero, or reach is longer than the circle.

    Notes
    -----
    By quadrature; held by test_a_wide_balance_is_a_straight_path.

    The magnet stands 2 radius sin(path/(2 radius)) from the coil's axis.

    References
    ----------
    Reciprocity of a magnet and a coil; common practice, no source.

    Examples
    --------
    >>> curve = face_linkage(
    ...     magnet=MagnetShape(
    ...         round=True, lying=False, b_r=1.1, along=5e-3, across=5e-3, depth=2e-3
    ...     ),
    ...     winding=WindingShape(n_turns=900, r_inner=2e-3, r_outer=5e-3, height=4e-3),
    ...     gap=1e-3, radius=12e-3, reach=30e-3,
    ... )
    >>> round(curve.slope_peak, 5), round(curve.path_peak, 5)
    (0.32739, 0.00324)
    """
    require(gap > 0, "face_linkage: gap must be above zero; the magnet would touch the winding")
    require(radius > 0, "face_linkage: radius must be above zero; the magnet stands off the axis")
    circle = 2 * np.pi * radius
    require(
        (reach > 0) & (reach < 0.95 * circle),
        "face_linkage: reach must be above zero and within one turn; take a smaller arc",
    )
    far = max(1.1 * reach, FARTHER * limit(magnet, winding, gap))
    if far > circle / 2:
        # Past the far side the magnet comes back to the coil: no falling power holds there.
        far = 0.99 * circle
    chords = features(magnet, winding) / (2 * radius)
    passed = 2 * radius * np.arcsin(chords[chords < 1])
    edges = np.concatenate([passed, circle - passed]) if passed.size else np.zeros(1)
    side = graded(far, edges, sharpness(magnet, winding, gap), SPACING)
    round_upright = magnet.round and not magnet.lying
    faces = pole_faces(magnet, gap, halved=round_upright)
    rho = _over_face(side, magnet, faces, radius)
    places = Places(rho=rho, z=np.broadcast_to(gap + faces.w, rho.shape))
    flux = summed(magnet, winding, gap, faces, places, level=not magnet.lying)
    return _mirrored(magnet, side, flux, lobe_reach=circle / 2)
