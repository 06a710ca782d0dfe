"""Pickup: bias, divider and what the pin sees before the filter."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class PickupResult:
    """The path from the winding to the filter.

    `gain` times the node's departure from rest is the departure at the filter's input, which
    rests at `v_bias_fresh` or `v_bias_spent` behind `r_source`.
    """

    arrangement: str
    gain: float
    r_source: float
    v_bias_fresh: float
    v_bias_spent: float
    i_drain_fresh: float
    i_drain_spent: float
    threshold: float
    coupling: float | None
