"""Supply: the dip that the pulse makes, against brown-out."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyResult:
    """The largest dip of the logic's rail during a pulse."""

    v_dip_fresh: float
    v_dip_spent: float
