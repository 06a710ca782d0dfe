"""Cells stage: how long, what ends it, and what would do."""

import pytest

from circuits.catalogue import Catalogue
from circuits.ledger import Ledger, Severity
from circuits.stages import cells
from circuits.stages.cells import EMPTY, SHELF_LIFE, CellsResult
from tests.circuits.stands_in import design_of, energy_of, rails_of
from tests.sources import Kind, source

YEAR = 365.25 * 86400
AH = 3600.0
OWN = """
[part.clock_cell]
kind = "cell"
chemistry = "alkaline manganese"
v_nominal = "1.5 V"
v_fresh = "1.58 V"
q_cell = "8 Ah"
cutoff_typ = "0.95 V"
"""


def lasting(
    supply: str, i_fresh: float, i_spent: float, cutoff: float = 0.8, more: str = ""
) -> tuple[CellsResult | None, Ledger]:
    design = design_of(f"[supply]\n{supply}\n{more}")
    ledger = Ledger()
    catalogue = Catalogue(design.part, design.file)
    result = cells.size(design, catalogue, ledger, rails_of(1, cutoff), energy_of(i_fresh, i_spent))
    return result, ledger


@pytest.mark.parametrize(
    ("own", "years", "digit"),
    [
        ("", 17.2, 0.05),
        (f'self_discharge = "{0.03 / YEAR}/s"\n', 13.9, 0.05),
        (f'self_discharge = "{0.05 / YEAR}/s"\n', 12.4, 0.05),
        ('shelf_life = "10 year"\n', 10, 1e-9),
    ],
    ids=["charge alone", "3 % a year", "5 % a year", "shelf life"],
)
@source(
    Kind.IDENTITY,
    "mb.nawcc.org thread 142468, a transistor pendulum clock at 53 uA from a C cell, reworked",
    printed="17.2 yr; with 3 %/yr 13.9 yr; 5 %: 12.4 yr; capped by the maker's 5-10 yr shelf life",
)
def test_life_of_a_clock_at_53_microampere(own: str, years: float, digit: float) -> None:
    result, ledger = lasting('cell = "clock_cell"', 53e-6, 53e-6, 0.95, OWN + own)
    assert result is not None
    assert result.battery_life / YEAR == pytest.approx(years, abs=digit)
    assert result.ended_by == (SHELF_LIFE if "shelf" in own else EMPTY)
    assert ("cells.shelf" in ledger.findings) == ("shelf" in own)


@source(
    Kind.MEASURED,
    "mb.nawcc.org thread 142468: 53 uA at 1.5 V, 31 uA at 0.95 V; mean reworked",
)
def test_drain_falls_as_the_cell_sags() -> None:
    """Voltage and demand both fall straight: 8 Ah ln(53/31) / 22 uA is 22.2 years.

    Over each drain alone it would be 17.2 and 29.4. Poor and good cells are half and 1.2 of it,
    within the band of the voltage at rest: 0.05 V of the straight 0.63 V is 8 % of the charge.
    """
    result, _ = lasting('cell = "clock_cell"', 53e-6, 31e-6, 0.95, OWN)
    assert result is not None
    assert result.battery_life / YEAR == pytest.approx(22.25, abs=0.05)
    assert result.battery_life_low / YEAR == pytest.approx(0.5 * 22.25, rel=0.08)
    assert result.battery_life_high / YEAR == pytest.approx(1.2 * 22.25, rel=0.08)


@source(
    Kind.MEASURED,
    "bigclive.youtubersblog.com, practical-sailor.com, rightbattery.com: alkaline cell tests",
    printed="-50 %, +20 %; zinc cells are 1/3 of alkaline; 0.8 v 1.05 V",
)
def test_life_is_a_range_and_goes_with_chemistry_and_cut_off() -> None:
    """At 2 mA self-discharge bends the range by a few per cent.

    0.8 against 1.05 V: at 75 mA, the mean of the tests on 15 ohm, more than a twentieth is left
    in the cell; at 2 mA it rests above both until it is all but empty.
    """
    alkaline, ledger = lasting('cell = "LR20"', 2e-3, 2e-3)
    zinc, marked = lasting('cell = "R20"', 2e-3, 2e-3)
    heavy, _ = lasting('cell = "LR20"', 75e-3, 75e-3)
    higher, _ = lasting('cell = "LR20"', 75e-3, 75e-3, 1.05)
    assert heavy is not None
    assert alkaline is not None
    assert zinc is not None
    assert higher is not None
    assert alkaline.battery_life_low / alkaline.battery_life == pytest.approx(0.5, abs=0.02)
    assert alkaline.battery_life_high / alkaline.battery_life == pytest.approx(1.2, abs=0.02)
    assert zinc.battery_life / alkaline.battery_life == pytest.approx(1 / 3, abs=0.03)
    assert 0.8 < higher.battery_life / heavy.battery_life < 0.95
    assert marked.findings["cells.chemistry"].severity is Severity.MIND
    assert "LR20" in marked.findings["cells.chemistry"].text
    assert "cells.chemistry" not in ledger.findings


@source(Kind.PUBLISHED, "a maker's LR6 sheet, second hand: 2000 mAh at 250 mA", printed="8 h")
def test_a_heavy_load_takes_less_out_of_a_cell() -> None:
    """2e-3: the end is sought between the places of the discharge."""
    result, ledger = lasting('cell = "LR6"', 0.25, 0.25)
    assert result is not None
    assert result.battery_life / 3600 == pytest.approx(8, rel=2e-3)
    charge = ledger.values["cells.charge"].value
    assert charge == pytest.approx(2.0 * AH, rel=2e-3)
    shared, _ = lasting('cell = "LR6"\nparallel = 2', 0.5, 0.5)
    assert shared is not None
    assert shared.battery_life == pytest.approx(result.battery_life, rel=1e-4)


@source(
    Kind.COMMON_PRACTICE,
    "no source: four D cells run such a drive, 18 ms every second or two, for more than a year",
)
def test_d_cells_run_such_a_drive_for_more_than_a_year() -> None:
    """6 V over 50 ohm for 18 ms, once in two seconds, is 1.1 mA."""
    i_mean = 6 / 50 * 18e-3 / 2
    result, ledger = lasting('cell = "LR20"\nseries = 4', i_mean, i_mean / 2)
    assert result is not None
    assert result.battery_life > YEAR
    finding = ledger.findings["cells.lasts"]
    assert finding.severity is Severity.GOOD
    assert ledger.assumed["cells.wanted_life"].value == YEAR


def test_a_wanted_life_that_is_missed_fails_with_changes_that_reach_it() -> None:
    """Half a milliampere from an AA cell: eight months; 2.9 Ah in 18 months is 221 uA."""
    supply = 'cell = "LR6"\nwanted_life = "18 months"'
    result, ledger = lasting(supply, 0.6e-3, 0.5e-3)
    assert result is not None
    assert result.battery_life < 1.5 * YEAR
    finding = ledger.findings["cells.lasts"]
    assert finding.severity is Severity.FAILS
    assert "The largest drains: coil 440 uA, divider 110 uA" in finding.remedy
    assert "a mean drain of at most 220 uA" in finding.remedy
    assert finding.changes
    for changes in finding.changes:
        keys = {change.key: change.text for change in changes}
        lines = [f'cell = "{keys.get("cell", "LR6")}"', 'wanted_life = "18 months"']
        lines += [f"parallel = {keys['parallel']}"] if "parallel" in keys else []
        _, after = lasting("\n".join(lines), 0.6e-3, 0.5e-3)
        assert after.findings["cells.lasts"].severity is not Severity.FAILS, keys


@source(
    Kind.IDENTITY,
    "mb.nawcc.org thread 142468: 510 ohm drop 27 mV at the mean but 0.87 V at a 1.7 mA pulse",
)
def test_bench_check_of_the_drain_asks_for_a_small_shunt() -> None:
    mean, pulse = 53e-6, 1.7e-3
    assert mean * 510 == pytest.approx(27e-3, abs=0.5e-3)
    assert pulse * 510 == pytest.approx(0.87, abs=0.005)
    _, ledger = lasting('cell = "LR20"', 0.7e-3, 0.6e-3)
    point = ledger.test_points[0]
    assert "at most 10 ohm" in point.instrument
    assert "700 uA from fresh cells, 600 uA from spent ones" in point.expected


def test_a_life_beyond_the_shelf_life_is_not_cured_by_more_cells() -> None:
    supply = 'cell = "LR20"\nwanted_life = "15 year"'
    result, ledger = lasting(supply, 20e-6, 20e-6)
    assert result is not None
    assert result.ended_by == SHELF_LIFE
    finding = ledger.findings["cells.lasts"]
    assert finding.severity is Severity.FAILS
    texts = {change.text for changes in finding.changes for change in changes}
    assert "2" not in texts
    assert "The shelf life of LR20 is 7 years" in finding.remedy
    assert texts == {"FR6"}


def test_a_poor_make_that_ends_too_soon_is_said() -> None:
    supply = 'cell = "LR20"\nwanted_life = "2 year"'
    _, ledger = lasting(supply, 0.7e-3, 0.7e-3)
    assert ledger.findings["cells.lasts"].severity in {Severity.GOOD, Severity.TIGHT}
    assert ledger.findings["cells.spread"].severity is Severity.MIND


def test_a_stated_voltage_has_no_life() -> None:
    result, ledger = lasting('voltage = "5 V"', 1e-3, 1e-3)
    assert result is None
    assert not ledger.values
    assert ledger.findings["cells.none"].severity is Severity.GOOD
    _, ledger = lasting('voltage = "5 V"\nwanted_life = "1 year"', 1e-3, 1e-3)
    assert ledger.findings["cells.none"].severity is Severity.MIND


@pytest.mark.parametrize(
    ("coldest", "severity"),
    [("-30 degC", Severity.FAILS), ("-5 degC", Severity.MIND), ("5 degC", None)],
)
@source(Kind.FROM_MEMORY, "alkaline cells are made for -18 to 55 degC; 65 to 80 % at 0 degC")
def test_cold_cells_give_less(coldest: str, severity: Severity | None) -> None:
    span = f'[tolerance]\ntemperature = {{ from = "{coldest}", to = "25 degC" }}\n'
    _, ledger = lasting('cell = "LR6"', 1e-4, 1e-4, more=span)
    if severity is None:
        assert "cells.cold" not in ledger.findings
        return
    finding = ledger.findings["cells.cold"]
    assert finding.severity is severity
    if severity is Severity.FAILS:
        assert [changes[0].text for changes in finding.changes] == ["FR6"]


@source(Kind.FROM_MEMORY, "self-discharge doubles for each 10 K")
def test_a_warm_place_shortens_the_life() -> None:
    room, _ = lasting('cell = "LR20"', 0.3e-3, 0.3e-3)
    warm, _ = lasting('cell = "LR20"', 0.3e-3, 0.3e-3, more='[design]\ntemperature = "40 degC"\n')
    assert room is not None
    assert warm is not None
    assert warm.battery_life < 0.85 * room.battery_life


def test_a_cut_off_of_which_nothing_is_known_is_said() -> None:
    _, ledger = lasting('cell = "clock_cell"', 1e-4, 1e-4, 1.1, OWN)
    assert ledger.findings["cells.cutoff"].severity is Severity.MIND


def test_a_load_beyond_the_cells_limit_fails() -> None:
    own = OWN + 'i_load_max = "10 mA"\n'
    _, ledger = lasting('cell = "clock_cell"', 15e-3, 15e-3, 0.95, own)
    finding = ledger.findings["cells.load"]
    assert finding.severity is Severity.FAILS
    assert finding.changes[0][0].key == "parallel"
