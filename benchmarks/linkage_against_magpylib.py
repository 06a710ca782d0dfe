"""Prints how much faster a linkage curve comes than by quadrature over magpylib's field.

Both give linkage and slope at the same 200 places, from one run of this script, with the errors
against a much finer quadrature. The other library gets all places in one call, half the circle
only, since both halves are alike, and the fewest points that still keep the error asked for: once
the error that the curve has, and once a part in a million of the peak.
"""

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import magpylib
import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray

from benchmarks.timing import median_time
from calc.linkage import straight_linkage
from calc.linkage_parts import MagnetShape, WindingShape

Array = NDArray[np.float64]
Figures = tuple[Array, Array]

PLACES = np.linspace(-40e-3, 40e-3, 200)
GAP = 4e-3
ALLOWED = 1e-6
COIL = WindingShape(n_turns=1000, r_inner=5e-3, r_outer=12.5e-3, height=8e-3)
MAGNETS = {
    "disc": MagnetShape(round=True, lying=False, b_r=1.2, along=10e-3, across=10e-3, depth=5e-3),
    "block": MagnetShape(round=False, lying=False, b_r=1.2, along=20e-3, across=10e-3, depth=5e-3),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Orders:
    """Quadrature points over the bore, the thickness, the height and half a turn."""

    bore: int
    thickness: int
    height: int
    turn: int


def field_of(magnet: MagnetShape) -> object:
    up = (0, 0, magnet.b_r)
    if magnet.round:
        size = (magnet.along, magnet.depth)
        return magpylib.magnet.Cylinder(dimension=size, polarization=up)
    size = (magnet.along, magnet.across, magnet.depth)
    return magpylib.magnet.Cuboid(dimension=size, polarization=up)


def span(low: float, high: float, order: int) -> tuple[Array, Array]:
    nodes, weights = leggauss(order)
    return low + (high - low) / 2 * (1 + nodes), (high - low) / 2 * weights


def by_field(magnet: MagnetShape, orders: Orders) -> Figures:
    """Linkage through and force on every turn, one sampling of the field for both."""
    inner, outer = COIL.r_inner, COIL.r_outer
    bore, bore_width = span(0.0, inner, orders.bore)
    thick, thick_width = span(inner, outer, orders.thickness)
    z, z_width = span(-COIL.height, 0.0, orders.height)
    angle = np.pi * (np.arange(orders.turn) + 0.5) / orders.turn
    r = np.append(bore, thick)
    through = np.append(bore_width * bore * (outer - inner), thick_width * thick * (outer - thick))
    along = np.append(0 * bore, thick_width * thick)
    rr, aa, zz = np.meshgrid(r, angle, z, indexing="ij")
    points = np.stack([rr * np.cos(aa), rr * np.sin(aa), zz - GAP - magnet.depth / 2], axis=-1)
    shifted = (
        points[None] - np.stack([PLACES, 0 * PLACES, 0 * PLACES], axis=-1)[:, None, None, None]
    )
    source: Any = field_of(magnet)
    b_z = source.getB(shifted)[..., 2] @ z_width
    density = COIL.n_turns / ((outer - inner) * COIL.height) * 2 * np.pi / orders.turn
    flux = density * (b_z.sum(axis=2) @ through)
    slope = -density * ((b_z @ np.cos(angle)) @ along)
    return flux, slope


def by_spectrum(magnet: MagnetShape) -> Figures:
    curve = straight_linkage(magnet=magnet, winding=COIL, gap=GAP)
    return curve.linkage(PLACES), curve.slope(PLACES)


def error(found: Figures, true: Figures) -> float:
    """Return the larger of the two errors, each as a share of its own peak."""
    pairs = zip(found, true, strict=True)
    return max(float(np.abs(a - b).max() / np.abs(b).max()) for a, b in pairs)


def fewest(magnet: MagnetShape, true: Figures, allowed: float) -> Orders:
    """Lower each order in turn as far as the allowed error goes."""

    def smaller(orders: Orders) -> Iterator[Orders]:
        for name in ("turn", "bore", "height", "thickness"):
            less = getattr(orders, name) - 1
            if less > 0:
                yield Orders(**{
                    key: less if key == name else getattr(orders, key)
                    for key in ("bore", "thickness", "height", "turn")
                })  # fmt: skip

    best = Orders(bore=9, thickness=11, height=9, turn=28)
    while True:
        better = next(
            (o for o in smaller(best) if error(by_field(magnet, o), true) <= allowed), None
        )
        if better is None:
            return best
        best = better


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=7)
    repeats = parser.parse_args().repeats
    for name, magnet in MAGNETS.items():
        true = by_field(magnet, Orders(bore=14, thickness=16, height=14, turn=48))
        fast = median_time(lambda m=magnet: by_spectrum(m), 5 * repeats)
        ours = error(by_spectrum(magnet), true)
        print(f"{name}, linkage and slope at {PLACES.size} places:")
        print(f"  this project {1e3 * fast:8.2f} ms, error {ours:.1e}")
        for allowed in (ours, ALLOWED):
            orders = fewest(magnet, true, allowed)
            slow = median_time(lambda m=magnet, o=orders: by_field(m, o), repeats)
            theirs = error(by_field(magnet, orders), true)
            print(
                f"  magpylib     {1e3 * slow:8.2f} ms, error {theirs:.1e}, {slow / fast:.0f} times"
            )
            print(f"               {orders}")


if __name__ == "__main__":
    main()
