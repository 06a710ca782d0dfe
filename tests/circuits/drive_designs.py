"""Invented designs and results for the tests of drive, clamp, pulse and energy."""

from typing import Any

from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.design_file import parse_design
from circuits.ledger import Ledger
from circuits.pipeline import compute
from circuits.sheet import Sheet
from circuits.stages import drive, rails
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult

BASE: dict[str, dict[str, Any]] = {
    "movement": {
        "period": "1.34 s", "arc": "4 deg", "mass": "430 g", "magnet_radius": "420 mm",
        "quality_factor": 900,
    },
    "magnet": {
        "shape": "cylinder", "diameter": "12 mm", "height": "6 mm", "remanence": "1.25 T",
        "gap": "5 mm",
    },
    "coil": {
        "use": "shared", "turns": 1100, "inner_diameter": "10 mm", "outer_diameter": "27 mm",
        "height": "8 mm", "measured_resistance": "36 ohm",
    },
    "supply": {"cell": "LR14", "series": 3},
    "controller": {
        "pin_resistance": "60 ohm", "pin_current_limit": "16 mA", "sleep_current": "3 uA",
        "active_current": "0.5 mA", "active_time": "10 ms", "brown_out": "1.9 V",
    },
    "drive": {"switch": "npn"},
    "pickup": {"arrangement": "at_switch", "baseline": "ratiometric"},
}  # fmt: skip
"""A pendulum on three cells; every figure is invented."""


def text_of(sections: dict[str, dict[str, Any]]) -> str:
    """Write sections as a design file; None leaves a key out."""
    lines: list[str] = []
    for name, keys in sections.items():
        lines.append(f"[{name}]")
        for key, value in keys.items():
            if value is not None:
                lines.append(f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value}")
    return "\n".join(lines) + "\n"


def design_with(**sections: dict[str, Any] | None) -> Design:
    """Read the base design with keys changed; a section of None is left out."""
    merged = {
        name: {**BASE.get(name, {}), **(sections.get(name) or {})}
        for name in [*BASE, *sections]
        if sections.get(name, {}) is not None
    }
    return parse_design(text_of(merged), "invented.toml")


def sheet_with(*, remedies: bool = False, **sections: dict[str, Any] | None) -> Sheet:
    """Compute the base design with keys changed."""
    return compute(design_with(**sections), remedies=remedies)


def coil_of(r_coil: float, spread: float = 0.0) -> CoilResult:
    """A coil of which only the resistance matters."""
    return CoilResult(
        n_turns=1000, d_wire=2e-4, d_overall=2.3e-4, r_inner=5e-3, r_outer=13e-3, height=8e-3,
        r_coil=r_coil, r_coil_low=r_coil * (1 - spread), r_coil_high=r_coil * (1 + spread),
        l_coil=0.012, count=1, connection="series", sides="one", linkage_factor=1.0,
    )  # fmt: skip


def driven(coil: CoilResult, **sections: dict[str, Any] | None) -> tuple[DriveResult, Ledger]:
    """Run rails and drive alone on a coil of stated resistance."""
    design, catalogue, ledger = design_with(**sections), Catalogue(), Ledger()
    the_rails = rails.size(design, catalogue, ledger)
    return drive.size(design, catalogue, ledger, the_rails, coil), ledger
