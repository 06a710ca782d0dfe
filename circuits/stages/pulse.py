"""Pulse: the coil's current from switching on to zero, and where its energy goes."""

from dataclasses import dataclass

from calc.pulse import PulseOutcome


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseResult:
    """The pulse as it stands in the pass; times from the magnet on the coil's axis."""

    width: float
    delay: float
    t_on: float
    fresh: PulseOutcome
    spent: PulseOutcome
