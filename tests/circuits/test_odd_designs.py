"""Designs that a maker may well write and that no stage may refuse: each gets a sheet with words.

They were found by changing a few keys of the examples at random.
"""

from pathlib import Path

import tomlkit

from circuits.design_file import parse_design
from circuits.pipeline import compute
from circuits.sheet import Sheet

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
