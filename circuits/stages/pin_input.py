"""The controller's pin as an input: reference, clamps, leakage and what source it accepts."""

from dataclasses import dataclass
from math import inf

from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.ledger import Ledger
from circuits.stages.rails import Rails

SCHOTTKY_DROP = 0.3
BODY_DROP = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class PinInput:
    """What the pin asks of its source; voltages at fresh and at spent cells."""

    v_reference_fresh: float
    v_reference_spent: float
    reference_is_rail: bool
    v_high: float
    v_low: float
    shunted: bool
    r_load: float
    r_source_max: float
    i_leakage: float
    i_injection_max: float
    c_adc: float
    n_bits: int


def pin_input(design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails) -> PinInput:
    """Return the pin as an input, from the design file, the catalogue, or an assumption."""
    keys = design.controller
    pin = catalogue.pin(keys.chip) if keys.chip else None

    def figure(id: str, stated: float | None, listed: float | None, usual: float, unit: str,
               source: str) -> float:  # fmt: skip
        if stated is not None:
            return stated
        if listed is not None:
            return listed
        ledger.assume(f"controller.{id}", usual, unit, source)
        return usual

    reference = keys.adc_reference
    if reference is None:
        ledger.assume("controller.adc_reference", "rail", None, "common practice, no source")
        reference = "rail"
    is_rail = isinstance(reference, str)
    fresh = rails.fresh.v_logic if isinstance(reference, str) else reference
    spent = rails.spent.v_logic if isinstance(reference, str) else reference
    shunted = keys.pin_clamp == "schottky"
    drop = SCHOTTKY_DROP if shunted else BODY_DROP
    bits = keys.adc_bits
    if bits is None:
        ledger.assume("controller.adc_bits", 10, "1", "common practice, no source")
        bits = 10
    return PinInput(
        v_reference_fresh=fresh,
        v_reference_spent=spent,
        reference_is_rail=is_rail and keys.adc_reference is not None,
        v_high=rails.spent.v_logic + drop,
        v_low=-drop,
        shunted=shunted,
        r_load=inf if keys.adc_resistance is None else keys.adc_resistance,
        r_source_max=figure(
            "r_source_max", None, pin.r_source_max if pin else None, 10e3, "ohm",
            "usual limit of a controller's converter, from memory",
        ),
        i_leakage=figure(
            "adc_leakage", keys.adc_leakage, pin.i_leakage_max if pin else None, 1e-6, "A",
            "usual limit of a controller's pin, from memory",
        ),
        i_injection_max=figure(
            "injection_limit", keys.injection_limit, pin.i_injection_max if pin else None, 1e-3,
            "A", "usual design current of a pin's clamp, from memory",
        ),
        c_adc=figure(
            "adc_capacitance", keys.adc_capacitance, pin.c_adc if pin else None, 15e-12, "F",
            "usual sampling capacitor, from memory",
        ),
        n_bits=bits,
    )  # fmt: skip
