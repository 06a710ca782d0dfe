"""Coil: the winding from the bobbin and the wire, reconciled where facts compete."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class CoilResult:
    """A winding, or two joined, as seen at the two terminals.

    `linkage_factor` times the linkage of one winding is the linkage at the terminals.
    Resistances hold at the design temperature; low and high span tolerance and temperature.
    """

    n_turns: int
    d_wire: float
    d_overall: float
    r_inner: float
    r_outer: float
    height: float
    r_coil: float
    r_coil_low: float
    r_coil_high: float
    l_coil: float
    count: int
    connection: str
    sides: str
    linkage_factor: float
