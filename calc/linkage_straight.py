"""Round magnets on a straight or flat circular path: the Hankel integral, summed exactly."""

import numpy as np
from numpy.typing import NDArray
from scipy import special

from calc.linkage_curve import LinkageCurve
from calc.linkage_parts import MagnetShape, WindingShape
from calc.linkage_spectrum import Spectrum, graded, spectrum

Array = NDArray[np.float64]

SPACING = 0.14
"""Spacing of the table's nodes as a share of the distance to what makes the curve sharp."""


def limit(magnet: MagnetShape, winding: WindingShape, gap: float) -> float:
    """Return the distance beyond which three falling powers continue the curve."""
    upright = gap + (magnet.depth + winding.height) / 2
    return 3.5 * float(np.hypot(winding.r_outer + magnet.half, upright))


def features(magnet: MagnetShape, winding: WindingShape) -> Array:
    """Return the offsets at which an edge of the magnet passes an edge of the winding."""
    edges = np.array([winding.r_inner, winding.r_outer])
    return np.unique(np.concatenate([np.abs(edges - magnet.half), edges + magnet.half]))


def sharpness(magnet: MagnetShape, winding: WindingShape, gap: float) -> float:
    """Return the distance over which the sharpest feature of the curve is smoothed."""
    return min(gap, (winding.r_outer + magnet.half) / 2)


def pole_spectrum(magnet: MagnetShape, winding: WindingShape, gap: float, far: float) -> Spectrum:
    """Return the spectrum of the linkage of an upright round magnet."""
    radius, bore = magnet.half, magnet.bore / 2
    # Sideways a wave turns, upright it fades: the two add like the sides of a right angle.
    upright = winding.height + gap + magnet.depth
    reach = float(np.hypot(far + radius + winding.r_outer, upright))
    waves = spectrum(winding, gap=gap, pole=radius, farthest=reach)
    k = waves.k
    face = 2 * np.pi / k * (radius * special.j1(k * radius) - bore * special.j1(k * bore))
    two_faces = np.exp(-k * gap) * -np.expm1(-k * magnet.depth)
    return Spectrum(k=k, weight=waves.weight * magnet.b_r * face * two_faces)


def at_distance(waves: Spectrum, x: Array) -> tuple[Array, Array, Array]:
    """Return linkage, slope and curvature at offsets above or at zero."""
    k, weight = waves.k, waves.weight
    phase = x[:, None] * k
    j0, j1 = special.j0(phase), special.j1(phase)
    flux = j0 @ weight
    slope = -(j1 @ (weight * k))
    # J1' = J0 - J1(u)/u, and J1(u)/u is one half on the axis.
    fall = slope / np.where(x > 0, x, 1.0)
    bend = j0 @ (weight * k**2)
    curvature = -bend - np.where(x > 0, fall, -bend / 2)
    return flux, slope, curvature


def hankel_curve(magnet: MagnetShape, winding: WindingShape, gap: float) -> LinkageCurve:
    """Return the curve of an upright round magnet on a straight path."""
    far = limit(magnet, winding, gap)
    waves = pole_spectrum(magnet, winding, gap, far)
    sharp = sharpness(magnet, winding, gap)
    x = graded(far, features(magnet, winding), sharp, SPACING, spread=4)
    flux, slope, curvature = at_distance(waves, x)
    return LinkageCurve(
        path=np.concatenate([-x[:0:-1], x]),
        node_flux=np.concatenate([flux[:0:-1], flux]),
        node_slope=np.concatenate([-slope[:0:-1], slope]),
        node_curvature=np.concatenate([curvature[:0:-1], curvature]),
    )
