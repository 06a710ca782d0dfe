"""Designs whose boards are made in these tests, and what the tests share."""

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from circuits.boards.fitted import fitted
from circuits.boards.one_board import BoardMaker
from circuits.boards.tolerances import tolerances_of
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.design_file import parse_design, read_design
from circuits.pipeline import run
from tests.circuits.drive_designs import BASE, text_of
from tests.circuits.test_reference_designs import A1

EXAMPLES = ("foyer_sculpture", "school_pendulum", "balance")
FOLDER = Path(__file__).parents[3] / "examples"

OTHERS: dict[str, dict[str, dict[str, Any]]] = {
    "two poles": {"filter": {"poles": 2}},
    "coupling capacitor": {"pickup": {"arrangement": "through_capacitor"}},
    "zener across the switch": {"clamp": {"kind": "switch_zener"}},
    "resistor across the coil": {"clamp": {"kind": "resistor"}},
    "regulated coil": {
        "supply": {
            "cell": "LR20", "series": 4, "regulator_output": "3.3 V", "coil_rail": "regulated",
        }
    },
    "MOSFET": {"drive": {"switch": "nmos"}},
    "quality factor unknown": {"movement": {"quality_factor": None, "bearing": "ball"}},
}  # fmt: skip
"""Changes to an invented pendulum on three cells."""

REFERENCES: dict[str, dict[str, dict[str, Any]]] = {
    "A1": {},
    "A3_block_long": {
        "magnet": {
            "shape": "block", "diameter": None, "length": "20 mm", "width": "10 mm",
            "height": "5 mm",
        }
    },
    "A1, wider gap": {"magnet": {"gap": "6 mm"}},
}  # fmt: skip
"""Changes to the reference geometry, a straight path over 1000 turns."""


def design_of(name: str) -> Design:
    """Return an example, or the invented pendulum with one change."""
    if name in EXAMPLES:
        return read_design(FOLDER / f"{name}.toml")
    base, change = (BASE, OTHERS[name]) if name in OTHERS else (A1, REFERENCES[name])
    merged = {n: {**base.get(n, {}), **change.get(n, {})} for n in {**base, **change}}
    return parse_design(text_of(merged), "invented.toml")


@cache
def maker_of(name: str) -> BoardMaker:
    """Return what makes the boards of a design."""
    design = design_of(name)
    catalogue = Catalogue(design.part, design.file)
    done = run(design, catalogue)
    built = fitted(done)
    return BoardMaker(built, catalogue, done, tolerances_of(design, built, catalogue, done))


def random_shares(maker: BoardMaker, boards: int, seed: int) -> dict[str, NDArray[np.float64]]:
    """Return boards anywhere within the tolerances."""
    rng = np.random.default_rng(seed)
    return {
        one.name: one.least + (one.most - one.least) * rng.random(boards)
        for one in maker.tolerances.values()
    }
