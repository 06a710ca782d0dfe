"""EMF: the waveform that one pass induces, in time about the coil's axis."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class EmfResult:
    """One pass in the positive direction; time zero is the magnet on the coil's axis.

    `flux_rate` is the rate of change of the linkage at the terminals: the EMF that opposes a
    repelling current is its negative, the one that opposes an attracting current is itself.
    """

    t: NDArray[np.float64]
    path: NDArray[np.float64]
    speed: NDArray[np.float64]
    flux_rate: NDArray[np.float64]
    flux_rate_pickup: NDArray[np.float64] | None
    emf_peak: float
    peak_spacing: float
