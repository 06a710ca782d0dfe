"""The sheet as text: its order, its width, and nothing told by colour alone."""

import re

import pytest

from circuits.face_csv import parts_csv
from circuits.face_terminal import Page, coloured, plain, sheet_rows
from circuits.sheet import Sheet, compose
from tests.circuits.invented import invented_ledger


@pytest.fixture
def sheet() -> Sheet:
    ledger = invented_ledger()
    return compose("Invented", ledger, ledger.findings.values())


def test_the_four_answers_come_first(sheet: Sheet) -> None:
    lines = plain(sheet_rows(sheet, Page())).splitlines()
    starts = ["Does it start?", "Does it run?", "Does it last?", "Does it keep time?"]
    found = [next(i for i, line in enumerate(lines) if line.startswith(s)) for s in starts]
    assert found == sorted(found)
    assert found[0] == 2
    headings = ["Findings", "The coil", "At the bench", "Assumed", "Cautions"]
    places = [next(i for i, line in enumerate(lines) if line.startswith(h)) for h in headings]
    assert places == sorted(places)
    assert places[0] > found[-1]


@pytest.mark.parametrize("width", [60, 80, 110])
def test_no_line_is_wider_than_the_page(sheet: Sheet, width: int) -> None:
    text = plain(sheet_rows(sheet, Page(width=width, everything=True)))
    assert max(len(line) for line in text.splitlines()) <= width


def test_figures_are_sentences_with_their_rule_in_the_margin(sheet: Sheet) -> None:
    text = plain(sheet_rows(sheet, Page()))
    assert re.search(
        r"^  Coil resistance: 41\.5 ohm \(39\.4 to 46 ohm\)\. +wire length", text, re.M
    )
    assert re.search(r"^  Transistor: BC337-25, sized\. +least saturation", text, re.M)


def test_good_findings_are_folded_unless_asked_for(sheet: Sheet) -> None:
    folded = plain(sheet_rows(sheet, Page()))
    assert "1 check is good; --all shows them." in folded
    assert "drive.pin_current" not in folded
    assert "drive.pin_current" in plain(sheet_rows(sheet, Page(everything=True)))


def test_colour_adds_nothing_to_the_words(sheet: Sheet, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")
    page = Page()
    painted = coloured(sheet_rows(sheet, page))
    assert "\x1b[" in painted
    bare = re.sub(r"\x1b\[[0-9;]*m", "", painted)
    assert [line.rstrip() for line in bare.splitlines()] == (
        plain(sheet_rows(sheet, page)).splitlines()
    )


def test_the_parts_list_has_one_row_a_part(sheet: Sheet) -> None:
    rows = parts_csv(sheet).splitlines()
    assert rows[0] == "reference,quantity,part,rating,role"
    assert rows[1] == 'Q1,1,BC337-25,"45 V, 500 mA",switch'
    assert len(rows) == 3
