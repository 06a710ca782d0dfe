"""Drive: the switch, its base or gate resistor and what the pin must give."""

from dataclasses import dataclass

from calc.switch_law import SwitchLaw


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveState:
    """The switch at one state of the supply."""

    v_pin: float
    i_b: float
    law: SwitchLaw


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveResult:
    """The switch chosen or checked."""

    kind: str
    transistor: str
    fresh: DriveState
    spent: DriveState
    v_breakdown: float
    i_leakage: float
    c_switch: float
    polarity: str
    trigger: str
    swings_per_pulse: int
    duty: float
