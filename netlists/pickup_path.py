"""The pickup's path as elements: from the winding through divider and filter to the pin."""

from dataclasses import dataclass
from typing import Literal

from netlists.deck import GROUND, Deck
from netlists.model_cards import JunctionCard

Arrangement = Literal["at_switch", "mid_rail", "through_capacitor"]

MIDDLE = "n20"
"""Node of the divider: tap, mid-rail or bias."""
FIRST_POLE = 24
"""Number of the node behind the filter's first pole."""
OPEN = 1e12
"""A resistance that stands for none, so that no node floats [Ω]."""
LEAST = 1e-3
"""A resistance that stands for a wire [Ω]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PinClamp:
    """The junctions that keep a pin between ground and its supply."""

    junction: JunctionCard
    v_logic: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PickupPath:
    """What stands between the winding and the pin.

    `upper` and `lower` are the divider of the node (at_switch), the one that makes the mid-rail
    (mid_rail) or the bias (through_capacitor); None where there is no such resistor. `r` and `c`
    are the filter's poles in their order.
    """

    arrangement: Arrangement
    upper: float | None
    lower: float | None
    bypass: float | None = None
    coupling: float | None = None
    r: tuple[float, ...]
    c: tuple[float, ...]
    r_load: float | None = None
    clamp: PinClamp | None = None


def add_divider(deck: Deck, path: PickupPath, rail: str) -> str:
    """Add the divider between a rail and ground; return the node at which the winding begins.

    For mid_rail the winding stands on the divider, otherwise on the rail.
    """
    if path.arrangement == "at_switch":
        return rail
    deck.resistor("20", rail, MIDDLE, path.upper or OPEN)
    deck.resistor("21", MIDDLE, GROUND, path.lower or OPEN)
    if path.arrangement == "through_capacitor":
        return rail
    if path.bypass is not None:
        deck.capacitor("20", MIDDLE, GROUND, path.bypass)
    return MIDDLE


def add_filter(deck: Deck, path: PickupPath, node: str) -> str:
    """Add what leads from the winding's far end to the pin; return the pin's node."""
    before = node
    if path.arrangement == "at_switch":
        deck.resistor("20", node, MIDDLE, path.upper or LEAST)
        deck.resistor("21", MIDDLE, GROUND, path.lower or OPEN)
        before = MIDDLE
    elif path.arrangement == "through_capacitor":
        if path.coupling is None:
            raise ValueError("pickup path: through_capacitor needs a coupling capacitor")
        deck.capacitor("21", node, MIDDLE, path.coupling)
        before = MIDDLE
    for place, (r, c) in enumerate(zip(path.r, path.c, strict=True), start=FIRST_POLE):
        deck.resistor(str(place), before, f"n{place}", max(r, LEAST))
        deck.capacitor(str(place), f"n{place}", GROUND, c)
        before = f"n{place}"
    deck.resistor("29", before, GROUND, path.r_load or OPEN)
    if path.clamp is not None:
        _add_clamp(deck, path.clamp, before)
    return before


def _add_clamp(deck: Deck, clamp: PinClamp, pin: str) -> None:
    """Add both junctions behind ammeters: v21 reads what ground gives, v22 what the rail takes."""
    deck.model("m5", clamp.junction.kind, **clamp.junction.parameters())
    deck.source("20", "n28", GROUND, clamp.v_logic)
    deck.source("21", GROUND, "n26", 0.0)
    deck.diode("20", "n26", pin, "m5")
    deck.source("22", "n27", "n28", 0.0)
    deck.diode("21", pin, "n27", "m5")


def pin_vector(path: PickupPath) -> str:
    """Return the name of the pin's voltage."""
    return f"v(n{FIRST_POLE + len(path.r) - 1})"


CLAMP_VECTORS = ("i(v21)", "i(v22)")
