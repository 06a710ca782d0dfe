"""Linkage and force worked out the long way, from a magnetic field of another library."""

from typing import Any

import magpylib
import numpy as np
from numpy.polynomial.legendre import leggauss
from scipy.spatial.transform import Rotation

from calc.linkage_parts import MagnetShape, WindingShape

SLICES = 14
TURN = 96


def body(magnet: MagnetShape) -> Any:
    """The magnet about its own middle, as another library builds it."""
    # Positive linkage means that the pole which faces the winding, or leads, draws flux in.
    if magnet.lying:
        axis, polarization = Rotation.from_euler("y", 90, degrees=True), (0, 0, -magnet.b_r)
        diameter, height = magnet.depth, magnet.along
    else:
        axis, polarization = Rotation.identity(), (0, 0, magnet.b_r)
        diameter, height = magnet.along, magnet.depth
    if not magnet.round:
        sizes = (magnet.along, magnet.across, magnet.depth)
        along = (-magnet.b_r, 0, 0) if magnet.lying else (0, 0, magnet.b_r)
        return magpylib.magnet.Cuboid(dimension=sizes, polarization=along)
    if magnet.bore:
        ring = (magnet.bore / 2, diameter / 2, height, 0, 360)
        return magpylib.magnet.CylinderSegment(
            dimension=ring, polarization=polarization, orientation=axis
        )
    return magpylib.magnet.Cylinder(
        dimension=(diameter, height), polarization=polarization, orientation=axis
    )


def placed(magnet: MagnetShape, x: float, z: float, tilt: float = 0.0) -> Any:
    """The magnet with the middle of its near face at (x, 0, z), tilted about that point."""
    found = body(magnet)
    middle = magnet.depth / 2
    turned = found.rotate(Rotation.from_rotvec([0, -tilt, 0]), anchor=(0, 0, 0))
    turned.position = (x - middle * np.sin(tilt), 0, z + middle * np.cos(tilt))
    return turned


def flux(winding: WindingShape, source: Any) -> float:
    """Linkage: the field through every turn, by quadrature over what the turns enclose."""
    nodes, weights = leggauss(SLICES)
    inner, outer = winding.r_inner, winding.r_outer
    rings, widths = [], []
    for low, high in ((0.0, inner), (inner, outer)):
        half = (high - low) / 2
        r = low + half * (1 + nodes)
        rings.append(r)
        # A field line at r passes through every turn that is wider than r.
        widths.append(half * weights * r * (outer - np.maximum(r, inner)))
    r, width = np.concatenate(rings), np.concatenate(widths)
    z = winding.height / 2 * (nodes - 1)
    angle = 2 * np.pi * np.arange(TURN) / TURN
    rr, zz, aa = np.meshgrid(r, z, angle, indexing="ij")
    points = np.stack([rr * np.cos(aa), rr * np.sin(aa), zz], axis=-1)
    b_z = source.getB(points)[..., 2]
    share = np.einsum("i,j->ij", width, winding.height / 2 * weights) * (2 * np.pi / TURN)
    density = winding.n_turns / ((outer - inner) * winding.height)
    return float(density * np.einsum("ijk,ij->", b_z, share))


def force_per_ampere(winding: WindingShape, source: Any) -> float:
    """Force along x on the magnet per ampere: the reaction to that on the winding's wires."""
    nodes, weights = leggauss(SLICES)
    half = (winding.r_outer - winding.r_inner) / 2
    r = winding.r_inner + half * (1 + nodes)
    z = winding.height / 2 * (nodes - 1)
    angle = 2 * np.pi * np.arange(TURN) / TURN
    rr, zz, aa = np.meshgrid(r, z, angle, indexing="ij")
    points = np.stack([rr * np.cos(aa), rr * np.sin(aa), zz], axis=-1)
    # dl x B along x, for a turn in the x-y plane, is r cos(angle) B_z d(angle).
    push = rr * np.cos(aa) * source.getB(points)[..., 2]
    share = np.einsum("i,j->ij", half * weights, winding.height / 2 * weights)
    density = winding.n_turns / (2 * half * winding.height)
    return float(-density * 2 * np.pi / TURN * np.einsum("ijk,ij->", push, share))
