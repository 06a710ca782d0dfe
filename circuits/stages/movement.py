"""Movement: period, speed over the coil, energy and what a swing loses."""

from dataclasses import dataclass

from calc.swing import Swing


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementResult:
    """The free movement at the wanted arc; low, typical and high follow the quality factor."""

    kind: str
    period: float
    omega: float
    arc: float
    radius: float
    inertia: float
    speed: float
    energy: float
    q_low: float
    q_typ: float
    q_high: float
    q_known: bool
    loss_low: float
    loss_typ: float
    loss_high: float
    offset: float
    swing: Swing
