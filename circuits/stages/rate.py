"""Rate: what the arc, the nut and the temperature do to the time."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class RateResult:
    """Rates as ratios, positive gains."""

    circular: float
    regulation: float | None
