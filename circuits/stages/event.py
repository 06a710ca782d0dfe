"""Finds the event in a filtered pass from which the firmware times the pulse."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.crossing import LevelCrossing, level_crossings

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """When the signal passes the level of the trigger, from the magnet on the coil's axis."""

    t: float
    slope: float
    reached: bool


def crossing_of(t: Array, wave: Array, slope: Array, *, falling: bool) -> LevelCrossing | None:
    """Return the crossing of the baseline that leads into the largest lobe on its far side."""
    direction = -1 if falling else 1
    found = level_crossings(t=t, wave=wave, slope=slope, level=0.0, direction=direction)
    lobe = float(t[int(np.argmax(direction * wave))])
    before = [crossing for crossing in found if crossing.t <= lobe]
    return before[-1] if before else None


def level_event(t: Array, wave: Array, slope: Array, threshold: float) -> Event:
    """Return when the signal falls through the threshold on its way to the lowest point."""
    lowest = int(np.argmin(wave))
    found = level_crossings(t=t, wave=wave, slope=slope, level=-threshold, direction=-1)
    before = [crossing for crossing in found if crossing.t <= t[lowest]]
    if not before:
        return Event(t=float(t[lowest]), slope=float(np.abs(slope).max()), reached=False)
    return Event(t=before[-1].t, slope=abs(before[-1].slope), reached=True)


def crossing_event(t: Array, wave: Array, slope: Array, *, falling: bool) -> Event:
    """Return the crossing as an event; where there is none, the middle of the pass."""
    found = crossing_of(t, wave, slope, falling=falling)
    if found is None:
        return Event(t=0.0, slope=float(np.abs(slope).max()), reached=False)
    return Event(t=found.t, slope=abs(found.slope), reached=True)
