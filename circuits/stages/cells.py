"""Cells: how long they last and what ends them."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class CellsResult:
    """Life in seconds, low, typical and high."""

    battery_life: float
    battery_life_low: float
    battery_life_high: float
    ended_by: str
