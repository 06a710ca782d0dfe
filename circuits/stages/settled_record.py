"""The settled swing as later stages read it."""

from dataclasses import dataclass

from calc.follow_beat import SettledSwing
from calc.follow_settle import Settled


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """What the pulses of a settled swing draw and give, per mean beat of `time` seconds."""

    time: float
    e_supply: float
    e_mechanical: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SettledResult:
    """Settled swings with fresh cells, and the arc with spent ones; None where none is held.

    `drawn` and `drawn_spent` are the pulses' energies at those two arcs, `i_pulse_middle` their
    mean current at the arc held half-way between both voltages.
    """

    fresh: Settled
    held: SettledSwing | None
    arc_spent: float | None
    rate_spent: float | None
    brake_share: float
    drawn: Drawn | None = None
    drawn_spent: Drawn | None = None
    i_pulse_middle: float | None = None
