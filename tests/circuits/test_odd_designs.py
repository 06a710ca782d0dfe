"""Designs that a maker may well write and that no stage may refuse: each gets a sheet with words.

They were found by changing a few keys of the examples at random.
"""

import re
from pathlib import Path

import numpy as np
import pytest
import tomlkit

from calc.calculator import OutOfRangeError
from circuits.design_file import parse_design
from circuits.ledger import Severity
from circuits.pipeline import compute
from circuits.sheet import Sheet
from circuits.stages import steering
from circuits.steering.plan import plan
from tests.sources import Kind, source

EXAMPLES = Path(__file__).parents[2] / "examples"


def changed(name: str, *changes: tuple[str, str, object]) -> str:
    """An example with some keys changed; None leaves a key out."""
    text = tomlkit.parse((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8")).unwrap()
    for section, key, value in changes:
        if value is None:
            text[section].pop(key, None)
        else:
            text.setdefault(section, {})[key] = value
    return tomlkit.dumps(text)


def sheet(name: str, *changes: tuple[str, str, object]) -> Sheet:
    return compute(parse_design(changed(name, *changes), f"{name}.toml"), remedies=False)


def test_a_swing_that_a_stretch_ends_exactly_at_the_turn_is_followed() -> None:
    """Table and series of the speed then differ in the sign of a rounding error."""
    found = sheet(
        "balance", ("movement", "work_per_swing", "200 uJ"), ("movement", "bearing", None),
        ("movement", "arc", "15 deg"),
    )  # fmt: skip
    assert any(finding.id == "pulse.holds_arc" for finding in found.findings)


def test_gains_of_nothing_are_a_finding_with_its_cure() -> None:
    both = (("rate", "kp", 0.0), ("rate", "ki", 0.0))
    design = parse_design(changed("foyer_sculpture", *both), "foyer.toml")
    found = compute(design)
    (lacking,) = (one for one in found.findings if one.id == "steering.plan")
    assert lacking.severity is Severity.FAILS
    assert "must not both be zero" in lacking.text
    assert {change.key for change in found.cures["steering.plan"].changes} == {"kp", "ki"}
    assert plan(design).sheet.findings[0].id == "steering.plan"


def test_whatever_refuses_a_loop_is_a_finding(monkeypatch: pytest.MonkeyPatch) -> None:
    """Figures of which no gains or margins follow are a design that is bad, not a bad file."""
    wanted = ("rate", "time_constant", "2 h")

    def refused(*_: object, **__: object) -> None:
        raise OutOfRangeError("steering: the loop's gain is one nowhere; raise kp")

    monkeypatch.setattr(steering, "planned", refused)
    design = parse_design(changed("foyer_sculpture", wanted), "foyer.toml")
    found = compute(design)
    (lacking,) = (one for one in found.findings if one.id == "steering.plan")
    assert lacking.text == "No loop can be planned: the loop's gain is one nowhere."
    assert lacking.remedy.startswith("Raise kp.")
    assert "steering.kp" not in found.values
    assert plan(design).loop is None


def test_a_narrowest_width_of_nothing_is_one_tick_for_the_firmware() -> None:
    found = plan(
        parse_design(changed("foyer_sculpture", ("rate", "width_min", "0 ms")), "foyer.toml")
    )
    assert found.constants is not None
    assert found.constants.width_min == 1
    assert any(finding.id == "steering.least" for finding in found.sheet.findings)


def test_a_lobe_alone_is_filtered_by_its_own_length() -> None:
    """A small swing beside the coil: no second lobe, and no time between two."""
    found = sheet(
        "school_pendulum", ("magnet", "offset", "15 mm"), ("movement", "arc", "2 deg"),
        ("movement", "travel", None),
    )  # fmt: skip
    assert "emf.peak_spacing" not in found.values
    (lone,) = (one for one in found.findings if one.id == "emf.lone_lobe")
    assert lone.severity is Severity.MIND
    assert any(point.expected.startswith("one lobe, the largest") for point in found.test_points)
    assert found.values["pickup.bypass"].value > 0


@source(Kind.IDENTITY, "a sinusoid at so small an arc")
def test_a_pulse_near_the_end_of_the_swing_is_told_when_the_magnet_turns() -> None:
    """Speed falls on the way there: a straight line from the middle would put it in the past."""
    found = sheet(
        "school_pendulum", ("magnet", "offset", "14 mm"), ("movement", "arc", "2 deg"),
        ("movement", "travel", None), ("drive", "pulse_width", "400 ms"),
    )  # fmt: skip
    (settles,) = (one for one in found.findings if one.id == "rate.settles")
    period = found.values["movement.period"].value
    assert isinstance(period, float)
    turn = period / 4 - period / (2 * np.pi) * np.arcsin(14 / (460 * np.radians(2)))
    told = re.search(r"turns round after ([\d.]+) ms", settles.text)
    assert told is not None
    # Three digits are printed; a pendulum of 2 degrees is a sinusoid to 1e-4.
    assert float(told.group(1)) == pytest.approx(1e3 * turn, rel=5e-3)
    assert all("-" not in change.text for changes in settles.changes for change in changes)


def test_gains_that_haste_turns_round_fail_and_more_time_cures_them() -> None:
    """A weak effect of the arc beside that at once: in twenty minutes only the latter works."""
    slope = ("rate", "measured_slope", "-300 1/day")
    found = compute(parse_design(changed("school_pendulum", slope), "school.toml"))
    kp, ki = (found.values[f"steering.{name}"].value for name in ("kp", "ki"))
    assert isinstance(kp, float)
    assert isinstance(ki, float)
    assert kp * ki < 0
    (sign,) = (one for one in found.findings if one.id == "steering.sign")
    assert sign.severity is Severity.FAILS
    assert "kp would need the other sign" in sign.text
