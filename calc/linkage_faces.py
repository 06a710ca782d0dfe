"""Any magnet on any path: the winding's potential summed over the magnet's two pole faces.

By reciprocity a uniformly magnetised body links b_r times the winding's potential per ampere,
integrated over one pole face and less the other.
"""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray
from scipy import special
from scipy.interpolate import RectBivariateSpline, make_interp_spline

from calc.calculator import require
from calc.linkage_curve import LinkageCurve
from calc.linkage_parts import MagnetShape, WindingShape
from calc.linkage_spectrum import Spectrum, graded, require_affordable, spectrum

Array = NDArray[np.float64]

SPACING = 0.18
"""Spacing of the samples along the path, as a share of what makes the curve sharp."""
TABLE = 0.14
"""Spacing of the table of the potential, as a share of the same."""
FINER = 4
"""The curve's quintics are this much closer than the samples of its spline."""
DIGITS = 11.0
"""Points across a pole face, over the root of how near the winding is for its size.

Found by trial: it leaves 1e-6 of the peak or better down to a gap of a millimetre.
"""
MOST = 24
"""Pairs of points across a face, at most: nearer than that serves, the figures are coarser."""


TRIMMED = 3
"""Samples at each end that only steady the spline."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PoleFaces:
    """Points on the two pole faces about the middle of the near face, with signed areas.

    `u` runs along the path, `v` across it and `w` away from the winding.
    """

    u: Array
    v: Array
    w: Array
    area: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where the points of the pole faces stand, one row to a place on the path."""

    rho: Array
    z: Array


def _points(half: float, gap: float) -> tuple[Array, Array]:
    """Return Gauss-Legendre points across a face; a near winding asks for more."""
    count = 2 * int(np.clip(np.ceil(DIGITS / np.sqrt(np.arcsinh(gap / half)) / 2), 3, MOST))
    nodes, weights = leggauss(count)
    return half * nodes, half * weights


def _disc(radius: float, bore: float, gap: float) -> tuple[Array, Array, Array]:
    middle, half = (radius + bore) / 2, (radius - bore) / 2
    offsets, widths = _points(half, gap)
    r = middle + offsets
    turns = 2 * int(np.clip(np.ceil(1.2 * DIGITS / np.sqrt(np.arcsinh(gap / radius))), 6, 2 * MOST))
    angle = (np.arange(turns) + 0.5) * 2 * np.pi / turns
    one, other = np.outer(r, np.cos(angle)), np.outer(r, np.sin(angle))
    area = np.outer(widths * r, np.full(turns, 2 * np.pi / turns))
    return one.ravel(), other.ravel(), area.ravel()


def _rectangle(one: float, other: float, gap: float) -> tuple[Array, Array, Array]:
    a, a_weight = _points(one, gap)
    b, b_weight = _points(other, gap)
    first, second = np.meshgrid(a, b, indexing="ij")
    return first.ravel(), second.ravel(), np.outer(a_weight, b_weight).ravel()


def pole_faces(magnet: MagnetShape, gap: float, *, halved: bool) -> PoleFaces:
    """Return the points of both faces; `halved` keeps one side of the plane of the path."""
    if magnet.lying:
        shape = (
            _disc(magnet.depth / 2, magnet.bore / 2, gap)
            if magnet.round
            else _rectangle(magnet.depth / 2, magnet.across / 2, gap)
        )
        w, v, area = shape
        w = w + magnet.depth / 2
        u = np.full_like(w, magnet.half)
        faces = np.stack([np.tile(w, 2), np.tile(v, 2), np.append(u, -u), np.append(area, -area)])
        w, v, u, area = faces
    else:
        shape = (
            _disc(magnet.half, magnet.bore / 2, gap)
            if magnet.round
            else _rectangle(magnet.half, magnet.across / 2, gap)
        )
        u, v, area = shape
        w = np.zeros_like(u)
        u, v = np.tile(u, 2), np.tile(v, 2)
        w, area = np.append(w, w + magnet.depth), np.append(area, -area)
    keep = v > 0 if halved else np.ones(v.shape, dtype=bool)
    return PoleFaces(u=u[keep], v=v[keep], w=w[keep], area=area[keep] * (2 if halved else 1))


def _both_sides(rho: Array) -> Array:
    """Rising places from a little below zero on, so that the even function meets no edge."""
    return np.concatenate([-rho[8:0:-1], rho])


def _flat_sum(waves: Spectrum, rho: Array, places: Places, faces: PoleFaces) -> Array:
    """Sum over faces that stay level: one function of the distance from the axis for each."""
    table = special.j0(np.outer(np.abs(_both_sides(rho)), waves.k))
    half = faces.u.size // 2
    near, far = float(places.z[0, 0]), float(places.z[0, -1])
    level = waves.weight * (np.exp(-waves.k * near) - np.exp(-waves.k * far))
    potential = make_interp_spline(_both_sides(rho), table @ level, k=7)
    return np.asarray(potential(places.rho[:, :half]) @ faces.area[:half], dtype=np.float64)


def _levels(least: float, most: float, scale: float) -> Array:
    """Heights for the table: close by the winding, wider far from it."""
    span = np.arcsinh(most / scale) - np.arcsinh(least / scale)
    count = max(8, int(np.ceil(span / TABLE / np.tanh(np.arcsinh(least / scale)))))
    steps = np.linspace(np.arcsinh(least / scale), np.arcsinh(most / scale), count + 1)
    return np.asarray(scale * np.sinh(steps), dtype=np.float64)


def _tilted_sum(
    waves: Spectrum, rho: Array, places: Places, faces: PoleFaces, *, scale: float
) -> Array:
    """Sum over faces that tilt or stand: a table of the potential by distance and height."""
    least, most = float(places.z.min()), float(places.z.max())
    z = _levels(least * 0.999, most * 1.001, scale)
    both = _both_sides(rho)
    across = special.j0(np.outer(np.abs(both), waves.k)) * waves.weight
    table = across @ np.exp(-np.outer(waves.k, z))
    potential = RectBivariateSpline(both, z, table, kx=5, ky=5, s=0)
    found = potential.ev(places.rho.ravel(), places.z.ravel()).reshape(places.rho.shape)
    return np.asarray(found @ faces.area, dtype=np.float64)


def summed(
    magnet: MagnetShape, winding: WindingShape, gap: float, faces: PoleFaces, places: Places,
    *, level: bool,
) -> Array:  # fmt: skip
    """Return the linkage at each place."""
    least = float(places.z.min())
    require(
        least > 0,
        "linkage: gap must keep the tilted magnet above the winding's face; widen the gap",
    )
    reach = float(places.rho.max())
    upright = winding.height + float(places.z.max())
    far = float(np.hypot(1.5 * reach + winding.r_outer, upright))
    waves = spectrum(winding, gap=least, pole=winding.r_outer, farthest=far)
    edges = np.array([winding.r_inner, winding.r_outer])
    smooth = min(least, winding.r_outer / 2)
    # The table runs on past the last point, where a spline without neighbours is poor.
    rho = graded(reach * (1 + 4 * TABLE), edges, smooth, TABLE)
    require_affordable(rho.size * waves.k.size)
    if level:
        return magnet.b_r * _flat_sum(waves, rho, places, faces)
    scale = (winding.r_outer + gap) / 2
    return magnet.b_r * _tilted_sum(waves, rho, places, faces, scale=scale)


def curve_through(
    path: Array, flux: Array, *, tail_power: int, lobe_reach: float = np.inf
) -> LinkageCurve:
    """Return the curve of a spline of degree seven through samples of the linkage."""
    spline = make_interp_spline(path, flux, k=7)
    steps = np.arange(FINER) / FINER
    inner = path[TRIMMED:-TRIMMED]
    dense = np.append((inner[:-1, None] + np.diff(inner)[:, None] * steps).ravel(), inner[-1])
    return LinkageCurve(
        path=dense,
        node_flux=spline(dense),
        node_slope=spline(dense, 1),
        node_curvature=spline(dense, 2),
        tail_power=tail_power,
        lobe_reach=lobe_reach,
    )
