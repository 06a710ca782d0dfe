"""Rails: what the coil and the logic are fed with, from fresh and from spent cells."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Rail:
    """One state of the supply."""

    state: str
    v_coil: float
    v_logic: float
    r_source: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rails:
    """The supply when fresh, when spent, and at its highest."""

    fresh: Rail
    spent: Rail
    v_max: float
    n_series: int
    cutoff_per_cell: float | None
