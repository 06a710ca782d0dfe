"""What the switch must carry: the coil's current and the voltage of the kick."""

from dataclasses import dataclass

from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.stages.coil import CoilResult
from circuits.stages.rails import Rails

DIODE_DROP = 1.2
"""V; a clamp diode at the coil's current, generously."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Coil current with the coldest, thinnest coil, and typical; and the kick."""

    i_fresh: float
    i_spent: float
    i_fresh_typ: float
    i_highest: float
    v_peak: float
    v_spent: float


def load_of(design: Design, catalogue: Catalogue, rails: Rails, coil: CoilResult) -> Load:
    """Return the load of the switch; EMF and drop, which lower the current, are left out."""
    lowest = min(coil.r_coil_low, coil.r_coil)
    fresh, spent = rails.fresh, rails.spent
    regulated = design.supply.coil_rail == "regulated"
    v_highest = fresh.v_coil if regulated else max(rails.v_max, fresh.v_coil)
    i_highest = v_highest / (lowest + fresh.r_source)
    return Load(
        i_fresh=fresh.v_coil / (lowest + fresh.r_source),
        i_spent=spent.v_coil / (lowest + spent.r_source),
        i_fresh_typ=fresh.v_coil / (coil.r_coil + fresh.r_source),
        i_highest=i_highest,
        v_peak=_kick(design, catalogue, v_highest, i_highest),
        v_spent=spent.v_coil,
    )


def _kick(design: Design, catalogue: Catalogue, v_supply: float, i_coil: float) -> float:
    clamp = design.clamp
    v_zener = catalogue.zener(clamp.zener).v_z_max if clamp.zener else 0.0
    if clamp.kind == "resistor":
        return v_supply + (i_coil * clamp.resistor if clamp.resistor else 2 * v_supply)
    if clamp.kind == "switch_zener":
        return v_zener or 2.5 * v_supply
    if clamp.kind == "diode_zener":
        return v_supply + DIODE_DROP + (v_zener or 2 * v_supply)
    return v_supply + DIODE_DROP
