"""Energy: charge and energy a pulse, and every drain on the cells."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Drain:
    """One consumer, averaged over time, at fresh and at spent cells."""

    name: str
    words: str
    i_fresh: float
    i_spent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyResult:
    """The mean demand on the cells."""

    drains: tuple[Drain, ...]
    i_mean: float
    i_mean_spent: float
