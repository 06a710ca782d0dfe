"""A supply of a stated voltage has no fresh and no spent cells, on no line of the sheet."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from circuits.command import main
from circuits.design_file import parse_design
from circuits.pipeline import compute
from circuits.sheet import Sheet
from circuits.sheet_sentences import figure_words, paired
from circuits.supply_words import without_cells

SCHOOL_FILE = Path(__file__).parents[2] / "examples" / "school_pendulum.toml"
EXAMPLE = SCHOOL_FILE.read_text("utf-8")
SCHOOL = re.sub(r"\n\[(rate|log_output)\][^\[]*", "\n", EXAMPLE)
"""Without the keys of a loop, which some of the designs here get and others do not."""
STEERED = '\n[rate]\nwidth_max = "20 ms"\nallowed_error = "5 s/day"\n'
CELLS = re.compile(r"\b(fresh|spent|cells)\b", re.IGNORECASE)
MEANT = "not from cells"
"""What the sheet says of such a supply itself."""


def said(sheet: Sheet) -> Iterator[str]:
    for finding in sheet.findings:
        if finding.id != "cells.none":
            yield f"{finding.id}: {finding.text} {finding.remedy}"
    for value, spent in paired(sheet.values.values()):
        yield f"{value.id}: {figure_words(value, spent)} {value.rule}"
    for point in sheet.test_points:
        yield f"{point.point} {point.condition} {point.expected} {point.otherwise}"


@pytest.mark.parametrize("tolerance", ["", "\nsupply = 0.1"], ids=["one voltage", "10 % less"])
@pytest.mark.parametrize("more", ["", STEERED], ids=["free", "steered"])
def test_no_line_speaks_of_cells(tolerance: str, more: str) -> None:
    text = SCHOOL.replace("quality_factor = 0.2", f"quality_factor = 0.2{tolerance}") + more
    lines = list(said(compute(parse_design(text, "school.toml"), remedies=False)))
    assert [line for line in lines if CELLS.search(line) and MEANT not in line] == []
    lowest = [line for line in lines if "lowest voltage" in line]
    assert lowest


def test_a_lowest_voltage_is_told_beside_the_stated_one() -> None:
    text = SCHOOL.replace("quality_factor = 0.2", "quality_factor = 0.2\nsupply = 0.1")
    sheet = compute(parse_design(text, "school.toml"), remedies=False)
    pairs = {value.id: (value, spent) for value, spent in paired(sheet.values.values())}
    line = figure_words(*pairs["supply.v_coil_fresh"])
    assert "5 V at the stated voltage, 4.5 V at the lowest voltage" in line


def test_cells_keep_their_words() -> None:
    text = (SCHOOL + STEERED).replace('voltage = "5 V"', 'cell = "LR20"\nseries = 3')
    text = text.replace('resistance = "0.4 ohm"', "")
    lines = list(said(compute(parse_design(text, "school.toml"), remedies=False)))
    assert any("fresh cells" in line for line in lines)
    assert not any("stated voltage" in line for line in lines)


FACES = {
    "follow": ["follow"], "deaf": ["follow", "--deaf", "30 ms"], "map": ["follow", "--map"],
    "lowest": ["follow", "--spent"], "steer": ["steer"], "constants": ["constants"],
    "expect": ["expect"],
}  # fmt: skip


@pytest.mark.parametrize("words", FACES.values(), ids=FACES)
def test_no_command_speaks_of_fresh_or_spent_cells(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """A constant's name is not a sentence: the header keeps PICKUP_BASELINE_SPENT."""
    command, *more = words
    assert main([command, str(SCHOOL_FILE), *more]) in (0, 1)
    lines = capsys.readouterr().out.splitlines()
    cautions = ("Do not mix cells", "mind their polarity")
    assert [
        line for line in lines if CELLS.search(line) and not any(c in line for c in cautions)
    ] == []


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("Fresh, the pulse pulls it down.", "At the stated voltage the pulse pulls it down."),
        ("coil's rail, fresh", "coil's rail"),
        ("on-resistance, spent cells", "on-resistance, lowest voltage"),
        ("spent", "at the lowest voltage"),
        ("a refreshing coil", "a refreshing coil"),
    ],
)
def test_words(before: str, after: str) -> None:
    assert without_cells(before) == after


@pytest.mark.parametrize(("supply", "minded"), [("9 V", True), ("5 V", False)])
def test_a_voltage_that_small_controllers_do_not_bear_is_minded(supply: str, minded: bool) -> None:
    text = SCHOOL.replace('voltage = "5 V"', f'voltage = "{supply}"')
    text = re.sub(r"\npin_high[^\n]*", '\npin_high = "rail"', text)
    found = {one.id: one for one in compute(parse_design(text, "school.toml")).findings}
    assert ("supply.controller_voltage" in found) == minded
    if minded:
        assert "up to 9 V" in found["supply.controller_voltage"].text
