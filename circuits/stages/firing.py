"""When a firmware that listens fires: armed by a lobe, or at a level with hysteresis."""

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class PassesResult:
    """When the firmware sees the event that it waits for, against the arc.

    `arc_seen` is the least arc at which it sees it at all; zero where the smallest looked at does.
    `arcs` and `events` hold the arcs at which it does, and when, from the coil's axis.
    """

    arc_seen: float
    arcs: tuple[float, ...]
    events: tuple[float, ...]


def _passing(t: Array, signal: Array, level: float, k: int) -> float:
    share = (level - signal[k]) / (signal[k + 1] - signal[k])
    return float(t[k] + share * (t[k + 1] - t[k]))


def firings(
    t: Array, signal: Array, *, level: float, rearm: float, crossing: bool, after: float = -inf
) -> tuple[float, ...]:
    """Return every moment at which a firmware fires that listens from `after` on.

    Parameters
    ----------
    t, signal : numpy.ndarray
        The pin's departure from its baseline, positive towards the lobe that is waited for.
    level : float
        Height that arms a crossing, or fires by itself.
    rearm : float
        Height below which a level can fire again; a crossing is armed by its lobe alone.
    crossing : bool
        Whether the return to the baseline fires, not the level.
    after : float
        When the deaf time has ended.

    Returns
    -------
    times : tuple of float
    """
    first = int(np.searchsorted(t, after))
    heard, clock = signal[first:], t[first:]
    arms, releases = heard >= level, heard < (0.0 if crossing else rearm)
    found: list[float] = []
    # A level must first be seen from below; at rest before the pass it is.
    ready = first == 0 and not crossing
    k = 0
    while k < len(heard):
        wanted = releases if crossing == ready else arms
        k += int(np.argmax(wanted[k:]))
        if not wanted[k]:
            break
        if ready and k > 0:
            found.append(_passing(clock, heard, 0.0 if crossing else level, k - 1))
        ready = not ready
    return tuple(found)
