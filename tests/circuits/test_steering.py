"""The planned loop on the sheet: signs, reach, margins, what a wrong figure is answered with."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from circuits.design import Design
from circuits.design_file import parse_design, read_design
from circuits.design_write import with_changes
from circuits.ledger import Change, Finding, Severity
from circuits.pipeline import compute
from circuits.sheet import Sheet
from tests.sources import Kind, source

EXAMPLES = Path(__file__).parents[2] / "examples"
FOYER = EXAMPLES / "foyer_sculpture.toml"
DAY = 86400.0
NAMES = {
    "steering.kp": "1",
    "steering.ki": "1",
    "steering.phase_margin": "rad",
    "steering.gain_margin": "1",
    "steering.authority": "s/day",
    "steering.authority_at_width_min": "s/day",
    "steering.authority_at_width_max": "s/day",
    "steering.width_min": "s",
    "steering.width_max": "s",
    "steering.set_rate": "s/day",
    "steering.needed": "s/day",
    "steering.direction": None,
}


def changed(*changes: tuple[str, str, str]) -> Design:
    design = read_design(FOYER)
    return with_changes(design, [Change(section=s, key=k, text=t) for s, k, t in changes])


@cache
def sheet(*changes: tuple[str, str, str], remedies: bool = False) -> Sheet:
    wanted = changes or (("rate", "time_constant", "2 h"),)
    return compute(changed(*wanted), remedies=remedies)


def finding(of: Sheet, name: str) -> Finding:
    return next(f for f in of.findings if f.id == name)


def figure(of: Sheet, name: str) -> float:
    value = of.values[name].value
    assert isinstance(value, float | int)
    return float(value)


def test_a_stated_time_constant_gets_a_loop_with_all_its_figures() -> None:
    found = sheet()
    assert {name: found.values[name].unit for name in NAMES} == NAMES
    assert not any(
        f.id.startswith("steering") for f in found.findings if f.severity.name == "FAILS"
    )
    assert figure(found, "steering.time_constant") == 7200.0


def test_without_a_key_that_asks_for_it_there_is_no_loop() -> None:
    found = compute(read_design(FOYER), remedies=False)
    assert not any(name.startswith("steering.") for name in found.values)


@source(Kind.IDENTITY, "the sheet's own settled rates: both ends of the range, from the middle")
def test_authority_is_the_span_between_its_ends() -> None:
    found = sheet()
    ends = [figure(found, f"steering.authority_at_width_{end}") for end in ("min", "max")]
    assert ends[0] > 0 > ends[1]
    assert figure(found, "steering.authority") == pytest.approx(ends[0] - ends[1], rel=1e-9)


def test_the_damping_is_told_as_assumed_where_gains_are_sized() -> None:
    own = sheet()
    assumed = {entry.id: entry.value for entry in own.assumed}
    assert assumed["steering.damping"] == pytest.approx(0.7)
    stated = sheet(("rate", "kp", "-6e-4"), ("rate", "ki", "-2e-5"))
    assert "steering.damping" not in {entry.id for entry in stated.assumed}


def test_gains_have_the_sign_of_the_slope() -> None:
    found = sheet()
    assert figure(found, "steering.slope") < 0
    assert figure(found, "steering.kp") < 0
    assert figure(found, "steering.ki") < 0
    assert found.values["steering.direction"].value == "wider loses"


@source(
    Kind.PUBLISHED,
    "a public tuning log of an electronic clock: spring magnets act about 20 times more strongly "
    "than the circular error and with the opposite sign",
)
def test_a_measured_slope_of_the_other_sign_turns_the_loop_round() -> None:
    """Twenty times the computed slope, turned round: gains, reach and sag follow it."""
    own = sheet()
    slope = -20 * figure(own, "steering.slope")
    found = sheet(("rate", "measured_slope", f"{slope:.6g} 1/day"))
    assert figure(found, "steering.kp") > 0
    assert found.values["steering.direction"].value == "wider gains"
    assert figure(found, "steering.slope") > 0
    assert figure(found, "steering.authority") > 10 * figure(own, "steering.authority")
    assert finding(found, "steering.sign").severity is Severity.GOOD
    assert "as measured" in finding(found, "steering.sign").text


def test_a_gain_of_the_wrong_sign_fails_with_the_cure_tried() -> None:
    found = sheet(("rate", "kp", "6e-4"), ("rate", "ki", "2e-5"), remedies=True)
    wrong = finding(found, "steering.sign")
    assert wrong.severity is Severity.FAILS
    assert "runs away" in wrong.text
    assert finding(found, "steering.phase_margin").severity is Severity.FAILS
    assert found.cures["steering.sign"].changes[0].text.startswith("-")


def test_stated_gains_are_checked_by_their_margin() -> None:
    """The sized gains stated again are as good; ki without kp has no margin at all."""
    own = sheet()
    kp, ki = figure(own, "steering.kp"), figure(own, "steering.ki")
    wanted = ("rate", "time_constant", "2 h")
    again = sheet(wanted, ("rate", "kp", repr(kp)), ("rate", "ki", repr(ki)))
    assert figure(again, "steering.phase_margin") == pytest.approx(
        figure(own, "steering.phase_margin"), rel=1e-6
    )
    alone = sheet(wanted, ("rate", "kp", repr(kp / 50)), ("rate", "ki", repr(ki)))
    assert finding(alone, "steering.phase_margin").severity is Severity.FAILS


def test_a_range_too_narrow_for_the_weather_is_refused_in_words() -> None:
    """The cells' sag alone asks for more than the two widths have in common."""
    found = sheet(
        ("rate", "width_min", "4.2 ms"), ("rate", "width_max", "5.9 ms"), remedies=True
    )  # fmt: skip
    lacking = finding(found, "steering.authority")
    assert lacking.severity is Severity.FAILS
    assert "does not cover" in lacking.text
    assert finding(found, "steering.sag").severity is Severity.FAILS
    assert "steering.authority" in found.cures


def test_a_range_across_a_turn_fails() -> None:
    """The balance gains with wider pulses below 4 ms and loses above: no fixed sign holds both."""
    text = (EXAMPLES / "balance.toml").read_text()
    design = parse_design(
        text + '\n[rate]\nwidth_min = "3.2 ms"\nwidth_max = "9 ms"\n', "balance.toml"
    )
    found = compute(design, remedies=False)
    turned = finding(found, "steering.turned_fresh")
    assert turned.severity is Severity.FAILS
    assert turned.value == pytest.approx(4.0e-3, rel=0.05)


def test_the_nut_is_told_in_turns() -> None:
    found = sheet(("rate", "time_constant", "2 h"), ("movement", "nut_pitch", "0.7 mm"))
    turns = figure(found, "steering.nut_turns")
    set_rate = figure(found, "steering.set_rate") / DAY
    length = 9.80665 * (1.62 / (2 * np.pi)) ** 2
    # To make it lose, twice the rate as a share of the length: the bob goes down.
    assert turns == pytest.approx(-2 * set_rate * length / 0.7e-3, rel=1e-2)
    assert turns > 0
    assert "turns of the nut" in finding(found, "steering.setting").text


def test_a_movement_that_settles_nowhere_gets_no_invented_loop() -> None:
    """A push towards the coil from the crossing on only brakes."""
    found = sheet(("rate", "time_constant", "2 h"), ("drive", "polarity", "attract"))
    assert "steering.kp" not in found.values
    assert finding(found, "steering.plan").severity is Severity.MEASURE


def test_a_measured_slope_alone_is_enough_for_gains() -> None:
    found = sheet(("rate", "measured_slope", "-30000 1/day"), ("drive", "polarity", "attract"))
    assert figure(found, "steering.slope") == pytest.approx(-30000, rel=1e-6)
    assert figure(found, "steering.kp") < 0
    assert finding(found, "steering.sag").severity is Severity.MEASURE
