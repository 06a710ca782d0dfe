"""A design as it is built: every sized part and setting stated, and no tolerance left in it."""

from dataclasses import replace
from typing import Any

from circuits.design import Design, Tolerance
from circuits.stage_pass import StagePass

ROOM = 293.15
"""K; what the stages take where the design file states no temperature."""

_FROM_SHEET = (
    ("drive", "transistor", "drive.transistor"),
    ("drive", "base_resistor", "drive.r_b"),
    ("drive", "gate_resistor", "drive.r_g"),
    ("drive", "pull_down", "drive.r_pull_down"),
    ("drive", "pulse_width", "drive.pulse_width"),
    ("drive", "pulse_delay", "drive.pulse_delay"),
    ("clamp", "kind", "clamp.kind"),
    ("clamp", "diode", "clamp.diode"),
    ("clamp", "zener", "clamp.zener"),
    ("clamp", "resistor", "clamp.resistor"),
    ("pickup", "upper", "pickup.r_upper"),
    ("pickup", "lower", "pickup.r_lower"),
    ("pickup", "bypass", "pickup.bypass"),
    ("pickup", "coupling", "pickup.coupling"),
    ("pickup", "threshold", "pickup.threshold"),
    ("filter", "poles", "filter.poles"),
    ("filter", "resistor", "filter.r"),
    ("filter", "capacitor", "filter.c"),
    ("indicator", "resistor", "indicator.r"),
)
"""Keys that the stages size when they are left out, and the figures that hold what they took."""


def fitted(done: StagePass) -> Design:
    """Return the design of a finished run as a board is built from it.

    What the run sized is stated, so that a part that is off by its tolerance does not change the
    choice of another. The tolerances are taken out: a board has none, only its own values.

    Parameters
    ----------
    done : StagePass
        A finished run of the stages.

    Returns
    -------
    built : Design
    """
    design, values = done.design, done.ledger.values
    sections: dict[str, dict[str, Any]] = {}
    for section, key, figure in _FROM_SHEET:
        record = getattr(design, section)
        if record is None or getattr(record, key) is not None or figure not in values:
            continue
        sections.setdefault(section, {})[key] = values[figure].value
    hysteresis = done.result("pickup").hysteresis
    if design.pickup.hysteresis is None:
        sections.setdefault("pickup", {})["hysteresis"] = hysteresis
    if design.design.temperature is None:
        sections.setdefault("design", {})["temperature"] = ROOM
    for section in ("coil", "pickup_coil"):
        if getattr(design, section) is not None:
            sections[section] = _wound(done, section)
    changed = {name: replace(getattr(design, name), **keys) for name, keys in sections.items()}
    return replace(design, **changed, tolerance=Tolerance(), stated_tolerance={}, doubts=())


def _wound(done: StagePass, section: str) -> dict[str, Any]:
    """Return a winding of fixed wire and turns, so that only its resistance tells boards apart."""
    keys, values = getattr(done.design, section), done.ledger.values
    wound = {
        "turns": int(values[f"{section}.n_turns"].value),
        "outer_diameter": values[f"{section}.outer_diameter"].value,
        "resistance": None,
        "wire_length": None,
        "measured_resistance": done.result(section).r_coil,
    }
    if keys.wire is None and keys.awg is None:
        wound["wire"] = values[f"{section}.d_wire"].value
    return wound
