"""The pin that drives the switch, at fresh and at spent cells."""

from dataclasses import dataclass

from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.ledger import Ledger
from circuits.stages.rails import Rails

PIN_RESISTANCE = 50.0
PIN_LIMIT = 15e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """Open-circuit high level at three states, resistance and current limit."""

    v_fresh: float
    v_spent: float
    v_max: float
    resistance: float
    i_max: float


def pin_of(design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails) -> Pin:
    """Return the pin as stated, as its chip's class says, or as is usual."""
    controller = design.controller
    chip = catalogue.pin(controller.chip) if controller.chip else None
    resistance = controller.pin_resistance
    if resistance is None:
        resistance = PIN_RESISTANCE if chip is None else chip.r_pin
        who = "common practice, no source" if chip is None else f"pin class {chip.name}"
        ledger.assume("drive.pin_resistance", resistance, "ohm", who)
    limit = controller.pin_current_limit
    if limit is None:
        limit = PIN_LIMIT if chip is None else chip.i_pin_max
        who = "common practice, no source" if chip is None else f"pin class {chip.name}"
        ledger.assume("drive.pin_current_limit", limit, "A", who)
    high = controller.pin_high
    regulated = design.supply.regulator_output
    v_max = rails.v_max if regulated is None else regulated
    if isinstance(high, float | int):
        levels = (min(high, rails.fresh.v_logic), min(high, rails.spent.v_logic), float(high))
        if rails.fresh.v_logic < high:
            # A separate rail feeds the controller: the stated level stands.
            levels = (float(high), float(high), float(high))
    else:
        levels = (rails.fresh.v_logic, rails.spent.v_logic, v_max)
    return Pin(
        v_fresh=levels[0], v_spent=levels[1], v_max=levels[2], resistance=resistance, i_max=limit
    )
