"""The EMF of one free pass at the gap there is and one step to either side of it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.linkage_parts import MagnetShape, WindingShape
from circuits.catalogue import Catalogue
from circuits.ledger import Ledger
from circuits.stage_pass import StagePass
from circuits.stages import magnet as magnet_stage
from circuits.stages.coil import CoilResult
from circuits.stages.emf import EmfResult
from circuits.stages.linkage import MILLIMETRE, LinkageResult
from circuits.stages.magnet_path import path_of

Array = NDArray[np.float64]

SHOWN = 1.4
"""How much of the pass is shown to either side, in spacings of the lobes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GapCurves:
    """EMF over time, the narrowest gap first; the middle one is the design's."""

    t: Array
    gaps: tuple[float, float, float]
    emf: tuple[Array, Array, Array]


def winding_of(coil: CoilResult) -> WindingShape:
    """Return the winding as the magnet sees it."""
    return WindingShape(
        n_turns=coil.n_turns, r_inner=coil.r_inner, r_outer=coil.r_outer, height=coil.height
    )


def magnet_of(done: StagePass) -> MagnetShape:
    """Return the magnet's shape."""
    catalogue = Catalogue(done.design.part, done.design.file)
    return magnet_stage.size(done.design, catalogue, Ledger()).shape


def gap_curves(done: StagePass) -> GapCurves:
    """Return the EMF at three gaps, on the path as it is."""
    emf: EmfResult = done.result("emf")
    coil: CoilResult = done.result("coil")
    linkage: LinkageResult = done.result("linkage")
    gap = linkage.gap
    step = MILLIMETRE if gap > 1.2 * MILLIMETRE else gap / 2
    path = path_of(done.design, Ledger(), coil.sides)
    shape, winding = magnet_of(done), winding_of(coil)
    shown = np.abs(emf.t) <= SHOWN * emf.peak_spacing
    t, place, speed = emf.t[shown], emf.path[shown], emf.speed[shown]
    here = path.curve(shape, winding, gap, 0.0)
    # The sense of the winding and how two are joined go with the result, not with the shape.
    factor = emf.flux_rate[shown] @ (here.slope(place) * speed)
    factor /= np.sum((here.slope(place) * speed) ** 2)
    waves = [
        factor * path.curve(shape, winding, other, 0.0).slope(place) * speed
        for other in (gap - step, gap + step)
    ]
    return GapCurves(
        t=t, gaps=(gap - step, gap, gap + step), emf=(waves[0], emf.flux_rate[shown], waves[1])
    )
