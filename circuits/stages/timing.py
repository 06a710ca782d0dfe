"""Timing: jitter of the detected event and how long the input must stay deaf."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class TimingResult:
    """Jitter in seconds a beat and the deaf time from the start of the pulse."""

    jitter: float
    deaf_until: float
