"""The examples: invented and marked so, different in kind, and working designs all three."""

from functools import cache
from pathlib import Path

import pytest

from circuits.design import Design
from circuits.design_file import read_design
from circuits.ledger import Severity
from circuits.pipeline import compute
from circuits.sheet import Sheet

EXAMPLES = sorted((Path(__file__).parents[1] / "examples").glob("*.toml"))
EACH = pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)


@cache
def design_of(path: Path) -> Design:
    return read_design(path)


@cache
def sheet_of(path: Path) -> Sheet:
    return compute(design_of(path), remedies=False)


def test_the_examples_are_of_three_kinds() -> None:
    designs = {path.stem: design_of(path) for path in EXAMPLES}
    assert set(designs) == {"balance", "foyer_sculpture", "school_pendulum"}
    kinds = {
        name: (d.movement.kind, d.coil.use, d.drive.switch, d.pickup.arrangement)
        for name, d in designs.items()
    }
    assert kinds == {
        "foyer_sculpture": ("pendulum", "shared", "npn", "at_switch"),
        "school_pendulum": ("pendulum", "drive", "nmos", "mid_rail"),
        "balance": ("balance", "shared", "npn", "at_switch"),
    }
    supplies = {(d.supply.cell, d.supply.series, d.supply.voltage) for d in designs.values()}
    assert supplies == {("LR20", 3, None), (None, None, 5.0), ("LR6", 2, None)}


@EACH
def test_the_data_are_marked_as_invented(path: Path) -> None:
    assert "invented" in path.read_text(encoding="utf-8").split("[design]")[0]
    assert design_of(path).design.note == "invented data"


@EACH
def test_no_figure_is_questioned(path: Path) -> None:
    assert design_of(path).doubts == ()


@EACH
def test_nothing_fails(path: Path) -> None:
    failing = [f"{f.id}: {f.text}" for f in sheet_of(path).findings if f.severity is Severity.FAILS]
    assert failing == []


@EACH
def test_sizing_is_shown(path: Path) -> None:
    """Each example leaves the turns and the pulse width to be sized."""
    design, sheet = design_of(path), sheet_of(path)
    assert design.coil.turns is None
    assert design.drive.pulse_width is None
    assert sheet.values["coil.n_turns"].value > 100  # type: ignore[operator]
    assert sheet.values["drive.pulse_width"].value > 0  # type: ignore[operator]


@EACH
def test_each_part_has_a_reference_of_its_own(path: Path) -> None:
    """The wire and the bobbin of one coil share its reference."""
    parts = [part for part in sheet_of(path).parts if "bobbin" not in part.role]
    references = [part.reference for part in parts]
    assert len(set(references)) == len(references)
    assert all(reference[-1].isdigit() for reference in references)
