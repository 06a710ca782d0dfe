"""What is offered to a movement whose push is too weak, and whether it cures."""

from functools import cache
from pathlib import Path

import pytest

from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.design_file import parse_design
from circuits.design_write import with_changes
from circuits.ledger import Change, Finding, Severity
from circuits.pipeline import compute, run
from circuits.stages.stronger import stronger

FOYER = Path(__file__).parents[2] / "examples" / "foyer_sculpture.toml"


@cache
def changed(*changes: tuple[str, str, str]) -> Design:
    design = parse_design(FOYER.read_text(), FOYER.name)
    return with_changes(design, [Change(section=s, key=k, text=t) for s, k, t in changes])


def found(design: Design, name: str) -> Finding:
    return next(f for f in compute(design).findings if f.id == name)


@pytest.mark.parametrize(
    "weak",
    [
        (("magnet", "gap", "42 mm"),),
        (("magnet", "grade", "N35"), ("magnet", "gap", "36 mm"), ("supply", "series", "2")),
        (
            ("magnet", "diameter", "5 mm"),
            ("magnet", "height", "2.5 mm"),
            ("magnet", "gap", "12 mm"),
        ),
    ],
    ids=["wide gap", "weak grade, few cells", "small magnet"],
)
def test_a_push_too_weak_is_cured_by_what_is_offered(
    weak: tuple[tuple[str, str, str], ...],
) -> None:
    said = found(changed(*weak), "pulse.holds_arc")
    assert said.severity is Severity.FAILS
    assert "With " in said.remedy
    assert "Tried without success" not in said.remedy


def test_candidates_name_magnet_wire_gap_cells_and_arc() -> None:
    design = changed(("magnet", "grade", "N35"))
    catalogue = Catalogue(design.part, design.file)
    movement = run(design, catalogue).result("movement")
    mild = stronger(design, catalogue, movement, 0.8)
    keys = {(change.section, change.key) for changes in mild for change in changes}
    assert keys == {
        ("magnet", "gap"), ("supply", "series"), ("magnet", "grade"), ("coil", "wire"),
        ("movement", "arc"),
    }  # fmt: skip
    assert len(mild) <= 6
    far = stronger(design, catalogue, movement, 0.3)
    assert any(len(changes) >= 4 for changes in far)
    assert {c.key for changes in far for c in changes} >= {"diameter", "height"}


def test_a_key_that_is_not_stated_is_not_changed() -> None:
    bare = changed(("coil", "turns", "1500"), ("supply", "cell", ""), ("supply", "series", ""),
                   ("supply", "voltage", "4.5 V"), ("magnet", "remanence", "1.2 T"),
                   ("magnet", "grade", ""))  # fmt: skip
    catalogue = Catalogue(bare.part, bare.file)
    movement = run(bare, catalogue).result("movement")
    keys = {
        (change.section, change.key)
        for changes in stronger(bare, catalogue, movement, 0.8)
        for change in changes
    }
    assert keys == {("magnet", "gap"), ("movement", "arc")}


def test_a_pulse_that_holds_no_arc_always_gets_changes() -> None:
    for weak in ((("drive", "pulse_width", "0.05 ms"),), (("movement", "bearing", "ball"),)):
        sheet = compute(changed(*weak), remedies=False)
        for finding in sheet.findings:
            if finding.id == "rate.settles" and finding.severity is Severity.FAILS:
                assert finding.changes
