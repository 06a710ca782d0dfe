"""A zener across the switch that does not block the rail: told, billed, and no refusal."""

import json

import pytest

from circuits.cells_face import cells_csv, cells_json, cells_text
from circuits.cells_report import report
from circuits.ledger import Severity
from tests.circuits.drive_designs import design_with, sheet_with
from tests.sources import Kind, source

LOW = {"kind": "switch_zener", "zener": "BZX55C3V9"}


@source(Kind.IDENTITY, "Kirchhoff's voltage law: what zener and coil hold is the rail")
def test_the_standing_current_is_a_drain() -> None:
    """Close to the test current the zener holds its 3.9 V: within a tenth of a volt a decade."""
    sheet = sheet_with(supply={"voltage": "4.2 V", "cell": None, "series": None}, clamp=LOW)
    i_rest = float(sheet.values["clamp.i_rest"].value)
    r_coil = float(sheet.values["coil.r_coil"].value)
    zener = 4.2 - r_coil * i_rest
    assert 3.7 < zener < 4.1
    assert float(sheet.values["energy.i_zener"].value) == i_rest
    assert float(sheet.values["energy.i_mean"].value) > i_rest
    found = {finding.id: finding for finding in sheet.findings}
    assert found["clamp.rest_current"].severity is Severity.MIND


def test_a_zener_well_above_the_rail_has_no_standing_current() -> None:
    sheet = sheet_with(clamp={"kind": "switch_zener", "zener": "BZX55C12"})
    assert "clamp.i_rest" not in sheet.values
    assert "energy.i_zener" not in sheet.values


@pytest.mark.parametrize("rate", [None, {"width_max": "40 ms"}])
def test_the_life_of_the_cells_is_told_all_the_same(rate: dict[str, str] | None) -> None:
    """12 mA of three LR14 cells in series: some weeks, most of it through the zener."""
    found = report(design_with(clamp=LOW, rate=rate), tables=False)
    course = found.course
    assert course is not None
    assert course.swing_unknown is not None
    assert 7 * 86400 < course.times[1] < 60 * 86400
    shares = {drain.name: drain.share for drain in course.drains}
    assert sum(shares.values()) == pytest.approx(1.0)
    assert shares["zener"] > 0.5
    said = found.ledger.findings["cells.swing_unknown"]
    assert said.severity is Severity.MIND
    assert "cells.swing" not in found.ledger.findings
    assert "is not known" in cells_text(found)
    json.loads(cells_json(found))
    assert cells_csv(found).count("\n") > 10
