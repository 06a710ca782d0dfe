"""Clamp: what takes the coil's current when the switch opens."""

from dataclasses import dataclass

from calc.clamp_law import ClampLaw


@dataclass(frozen=True, slots=True, kw_only=True)
class ClampResult:
    """The clamp's law and what it does to the EMF of a free pass."""

    kind: str
    law: ClampLaw
    v_knee: float
    v_switch_peak: float
