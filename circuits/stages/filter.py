"""Filter: cut-off against mains, and what it does to the crossing."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterResult:
    """The filter as a ladder with its source and load.

    `event_time` is when the firmware sees the event that triggers the pulse, from the moment
    the magnet stands on the coil's axis in the pass that is driven; before it is negative.
    `signal` is the departure of the pin from its baseline along `EmfResult.t`.
    """

    r: tuple[float, ...]
    c: tuple[float, ...]
    f_c: float
    gain: float
    delay: float
    event_time: float
    slope_at_event: float
    signal: NDArray[np.float64]
