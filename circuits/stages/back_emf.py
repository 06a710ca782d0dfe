"""What the driven coil meets: the EMF that opposes its current, and the cells' resistance."""

import numpy as np
from numpy.typing import NDArray

from circuits.design import Design
from circuits.stages.emf import EmfResult


def back_emf_of(design: Design, emf: EmfResult, polarity: str) -> NDArray[np.float64]:
    """Return the EMF that opposes the drive current, positive where the current does work."""
    against = emf.flux_rate if polarity == "attract" else -emf.flux_rate
    if design.magnet.axis == "motion":
        # The winding's sense is free: the main lobe is the one that is driven.
        against = against * np.sign(against[np.argmax(np.abs(against))])
    return np.asarray(against)


def source_seen(design: Design, r_source: float, width: float) -> float:
    """Return the cells' resistance as the pulse sees it on average behind a reservoir."""
    reservoir = design.supply.reservoir
    if not reservoir or r_source <= 0:
        return r_source
    x = width / (r_source * reservoir)
    return r_source * (1 + float(np.expm1(-x)) / x)
