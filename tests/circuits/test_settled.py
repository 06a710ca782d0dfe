"""The settled swing on the sheet: what it must say, and that it agrees with the engines."""

from pathlib import Path
from typing import Any

import pytest

from circuits.design_file import parse_design
from circuits.following import follow
from circuits.ledger import Severity
from circuits.pipeline import compute
from circuits.sheet import Sheet
from tests.circuits.test_reference_designs import changed
from tests.sources import Kind, source

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))


def number(sheet: Sheet, name: str) -> float:
    return float(sheet.values[name].value)


def said(sheet: Sheet, name: str) -> Any:
    return next((f for f in sheet.findings if f.id == name), None)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_sized_width_holds_the_wanted_arc_with_spent_cells(path: Path) -> None:
    """1e-3 of the arc: the sheet's short table of arcs, against the width's own search."""
    sheet = compute(parse_design(path.read_text(), path.name), remedies=False)
    wanted = number(sheet, "movement.arc")
    assert number(sheet, "rate.arc_settled_spent") == pytest.approx(wanted, rel=1e-3)
    assert number(sheet, "rate.arc_settled") >= 0.999 * wanted


def test_rate_is_the_arcs_part_and_the_impulses() -> None:
    sheet = changed(drive={"pulse_width": None})
    held = said(sheet, "rate.settled")
    assert held.value == pytest.approx(number(sheet, "rate.rate"))
    assert number(sheet, "rate.impulse") < 0
    # A balance on a linear spring has no circular error.
    assert number(sheet, "rate.rate") == pytest.approx(number(sheet, "rate.impulse"))
    assert "after the middle" in held.text


def test_a_pull_before_the_middle_gains() -> None:
    sheet = changed(drive={"pulse_width": None, "polarity": "attract", "trigger": "previous_pass"})
    assert number(sheet, "rate.impulse") > 0


def test_a_pulse_too_short_for_any_arc_fails_with_a_cure() -> None:
    found = said(changed(drive={"pulse_width": "0.05 ms"}), "rate.settles")
    assert found.severity is Severity.FAILS
    assert "holds no arc" in found.text
    assert found.changes


def test_beyond_the_turning_point_it_warns() -> None:
    """The widest stable swing of a long pulse: more width gains instead of losing."""
    lossy = {"quality_factor": 500}
    sheet = changed(drive={"pulse_width": "18 ms"}, movement=lossy)
    turning = sheet.values.get("rate.width_turning")
    assert turning is not None
    wide = changed(drive={"pulse_width": f"{1.3e3 * float(turning.value):.3g} ms"}, movement=lossy)
    found = said(wide, "rate.turning")
    assert found.severity is Severity.MIND
    assert "width_max" in found.remedy
    assert number(wide, "rate.slope") > 0


def test_a_measured_slope_overrides() -> None:
    sheet = changed(drive={"pulse_width": "14 ms"}, rate={"measured_slope": "-1500 1/day"})
    assert number(sheet, "rate.slope") == pytest.approx(-1500)
    assert sheet.values["rate.slope"].basis.value == "measured"


@source(
    Kind.MEASURED,
    "a public tuning log of an electronic clock: 9 deg about 1010 ms, "
    "11.5 deg with repelling magnets about 990 ms; circular error alone is 85 s/day slower",
)
def test_the_sign_of_the_settled_rate_is_left_to_measurement() -> None:
    """Magnets near the swing outweighed the circular error twentyfold: the sheet must ask.

    It computes a slope all the same, and gives way to a measured one of the other sign.
    """
    path = next(path for path in EXAMPLES if path.stem == "foyer_sculpture")
    text = path.read_text()
    open_loop = compute(parse_design(text, path.name), remedies=False)
    assert said(open_loop, "rate.sign").severity is Severity.MEASURE
    assert number(open_loop, "rate.slope") < 0
    stated = text.replace("[rate]", '[rate]\nmeasured_slope = "9000 1/day"')
    sheet = compute(parse_design(stated, path.name), remedies=False)
    found = said(sheet, "rate.sign")
    assert found is None or found.severity is not Severity.MEASURE
    assert number(sheet, "rate.slope") == pytest.approx(9000)


def test_a_pulse_that_outlasts_the_swing_fails() -> None:
    path = next(path for path in EXAMPLES if path.stem == "foyer_sculpture")
    text = path.read_text().replace("[drive]", '[drive]\npulse_width = "600 ms"')
    found = said(compute(parse_design(text, path.name), remedies=False), "rate.settles")
    assert found.severity is Severity.FAILS
    assert "turns round" in found.text


@source(Kind.IDENTITY, "the engine that follows each swing, given as far a look")
def test_an_arc_that_outgrows_the_wanted_one_is_still_found() -> None:
    """1e-3 of the arc: the sheet's short table of arcs against a table of its own, on the swing.

    5 degrees are wanted; the pulse drives it beyond twice that.
    """
    design = parse_design(
        """
        [movement]
        period = "2 s"
        mass = "0.5 kg"
        arc = "5 deg"
        quality_factor = 1000
        [magnet]
        shape = "cylinder"
        diameter = "10 mm"
        height = "5 mm"
        remanence = "1.2 T"
        gap = "4 mm"
        [coil]
        wire = "0.2 mm"
        inner_diameter = "10 mm"
        outer_diameter = "25 mm"
        height = "8 mm"
        turns = 1000
        [supply]
        voltage = "3 V"
        [drive]
        switch = "npn"
        transistor = "2N2222A"
        pulse_width = "15 ms"
        """,
        "outgrown.toml",
    )
    sheet = compute(design, remedies=False)
    held = number(sheet, "rate.arc_settled")
    assert held > 2.2 * number(sheet, "movement.arc")
    followed = follow(
        design, arc_from=0.9 * held, swings=3000, spent=False, progress=lambda *_: None
    )
    assert held == pytest.approx(float(followed.run.arcs[-1]), rel=1e-3)
