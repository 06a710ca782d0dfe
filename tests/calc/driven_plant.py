"""The plant of the independent reference: pendulum, magnet, coil and constant drops."""

import json
from pathlib import Path
from typing import Any

from calc.clamp_law import ClampLaw
from calc.follow import DrivenMovement, Trigger
from calc.linkage import straight_linkage
from calc.linkage_parts import MagnetShape, WindingShape
from calc.switch_law import SwitchLaw

REFERENCE: dict[str, Any] = json.loads(
    (Path(__file__).parents[1] / "data" / "swing_reference.json").read_text()
)
CENTRE, LEAD = "from_the_centre", "with_a_lead"
CASES = [
    (run, case) for run in (CENTRE, LEAD) for case in REFERENCE[run] if "A_rad" in case
]  # fmt: skip
IDS = [f"{run} {case['w_ms']} ms" for run, case in CASES]
COIL = WindingShape(n_turns=1000, r_inner=5e-3, r_outer=12.5e-3, height=8e-3)
DISC = MagnetShape(round=True, lying=False, b_r=1.2, along=10e-3, across=10e-3, depth=5e-3)
CURVE = straight_linkage(magnet=DISC, winding=COIL, gap=4e-3)


def plant(run: str, width: float, **other: Any) -> DrivenMovement:
    """The reference's plant at a pulse width in seconds."""
    length = REFERENCE["plant"]["l"]
    centre = run == CENTRE
    figures: dict[str, Any] = {
        "kind": "pendulum",
        "omega": 3.141592653589793,
        "inertia": REFERENCE["plant"]["m"] * length**2,
        "radius": length,
        "q_factor": REFERENCE["plant"]["Q"],
        "linkage": CURVE,
        "sense": -1.0 if centre else 1.0,
        "v_supply": 3.0,
        "r_coil": 30.17175,
        "l_coil": 12.1706685e-3,
        "switch": SwitchLaw(v_constant=0.1),
        "clamp": ClampLaw(v_constant=0.7),
        "pulse_width": width,
        "trigger": Trigger(lead=0.0 if centre else 8.27e-3),
    }
    return DrivenMovement(**{**figures, **other})
