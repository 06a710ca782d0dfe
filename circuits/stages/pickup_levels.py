"""What the pin shows along one beat, with fresh and with spent cells."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from circuits.format_quantity import show
from circuits.ledger import Basis, Ledger
from circuits.stages.clamp import ClampResult
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult, DriveState
from circuits.stages.rails import Rail, Rails

if TYPE_CHECKING:
    from circuits.stages.pickup import PickupResult

WORDS = {
    "rest": "at rest",
    "lobe": "on the first lobe",
    "lobe_last": "on the lobe after the crossing",
    "pulse": "during the pulse",
    "kick": "at the kick",
}


def enter(
    ledger: Ledger, rails: Rails, coil: CoilResult, drive: DriveResult, clamp: ClampResult,
    pickup: PickupResult,
) -> None:  # fmt: skip
    """Enter the levels before the filter, state by state, and what an instrument must show."""
    for rail, switch in ((rails.fresh, drive.fresh), (rails.spent, drive.spent)):
        levels = _levels(rails, rail, coil, switch, clamp, pickup)
        for name, level in levels.items():
            ledger.value(
                f"pickup.v_{name}_{rail.state}", level, "V",
                words=f"before the filter, {WORDS[name]}", basis=Basis.COMPUTED,
                rule="node through divider and bias, without load of the filter",
                state=rail.state,
            )  # fmt: skip
        if rail.state == "fresh":
            _bench(ledger, levels, rail)


def _lobe_levels(pickup: PickupResult) -> tuple[float, float]:
    """Departures of the first and of the last large lobe before the filter."""
    assert pickup.departure is not None
    free = pickup.departure
    high, low = int(np.argmax(free)), int(np.argmin(free))
    first, last = (high, low) if high < low else (low, high)
    return pickup.gain * float(free[first]), pickup.gain * float(free[last])


def _levels(
    rails: Rails, rail: Rail, coil: CoilResult, switch: DriveState, clamp: ClampResult,
    pickup: PickupResult,
) -> dict[str, float]:  # fmt: skip
    rest = pickup.v_bias_fresh if rail.state == "fresh" else pickup.v_bias_spent
    first, last = _lobe_levels(pickup)
    across = clamp.v_switch_peak - (0.0 if clamp.law.from_supply else rails.v_max - rail.v_coil)
    if pickup.arrangement == "at_switch":
        closed = float(switch.law.drop(rail.v_coil / coil.r_coil))
        pulse, kick = pickup.gain * min(closed, rail.v_coil), pickup.gain * across
    elif pickup.v_pulse > 0:
        share = rail.v_coil / rails.v_max
        pulse, kick = rest - pickup.v_pulse * share, rest + pickup.v_kick * share
    elif pickup.arrangement == "through_capacitor":
        pulse, kick = rest - rail.v_coil, rest + across - rail.v_coil
    else:
        pulse, kick = rest, rest
    return {
        "rest": rest, "lobe": rest + first, "lobe_last": rest + last, "pulse": pulse, "kick": kick,
    }  # fmt: skip


def _bench(ledger: Ledger, levels: dict[str, float], rail: Rail) -> None:
    above = levels["lobe"] > levels["rest"]
    ledger.test_point(
        "pickup, before the filter, to ground",
        f"hanging still, then swinging with the switch off; {rail.state} cells, "
        f"{show(rail.v_coil, 'V')}",
        "meter, then oscilloscope of 10 Mohm",
        f"{show(levels['rest'], 'V')} at rest; swinging, first to {show(levels['lobe'], 'V')}, "
        f"then to {show(levels['lobe_last'], 'V')}: {'above' if above else 'below'} rest first",
        "the other lobe first: turn the magnet over or swap the ends of the listening winding; "
        "another rest level: a resistor of the divider is wrong or loaded",
    )


def enter_running(ledger: Ledger, pickup: PickupResult, r_filter: float) -> None:
    """Enter what an instrument shows while the filter's capacitor holds on to the rest level."""
    rest, pulse, kick = (
        float(ledger.values[f"pickup.v_{name}_fresh"].value) for name in ("rest", "pulse", "kick")
    )
    share = pickup.r_source / (pickup.r_source + r_filter)
    if pickup.arrangement == "through_capacitor":
        share = 0.0  # the coupling capacitor takes the edge straight through
    first = pulse + share * (rest - pulse)
    shown = f"{show(pulse, 'V')} during the pulse"
    if abs(first - pulse) > 0.02 * abs(rest - pulse):
        shown = (
            f"{show(first, 'V')} as the pulse begins, then towards {show(pulse, 'V')} while the "
            "filter's capacitor runs down through the tap"
        )
    ledger.test_point(
        "pickup, before the filter, to ground",
        "running, switch pulsing",
        "oscilloscope of 10 Mohm",
        f"{shown}; at most {show(kick, 'V')} at the kick, then back to {show(rest, 'V')}",
        "no return to rest before the next pass: see the deaf time; a kick far higher: the clamp "
        "is missing or the wrong way round",
    )
