"""The cells over their life from the command line."""

import json
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from circuits.catalogue import Catalogue
from circuits.cells_blame import blame
from circuits.cells_course import LifeCourse, life_course
from circuits.cells_report import CellsReport, report
from circuits.command import main
from circuits.design import Design
from circuits.design_write import with_changes
from circuits.ledger import Severity
from circuits.pipeline import run
from tests.circuits.drive_designs import design_with
from tests.sources import Kind, source

EXAMPLES = Path(__file__).parents[2] / "examples"
FOYER = str(EXAMPLES / "foyer_sculpture.toml")
SCHOOL = str(EXAMPLES / "school_pendulum.toml")
DAY = 86400.0
YEAR = 365.25 * DAY

SPARING = {"active_current": "20 uA", "active_time": "5 ms", "sleep_current": "1 uA"}
WASTEFUL = {
    "pickup": {"upper": "470 ohm", "lower": "330 ohm"},
    "controller": SPARING,
    "supply": {"cell": "LR20"},
}


@cache
def wasteful() -> tuple[Design, LifeCourse]:
    design = design_with(**WASTEFUL)
    course = life_course(design)
    assert course is not None
    return design, course


@cache
def told() -> CellsReport:
    return report(wasteful()[0])


@cache
def base() -> tuple[Design, LifeCourse]:
    design = design_with()
    course = life_course(design)
    assert course is not None
    return design, course


def printed(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    code = main(["cells", *arguments])
    return code, capsys.readouterr().out


def test_text_begins_with_the_life_and_ends_with_the_cautions(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, out = printed(capsys, FOYER)
    assert code == 0
    lines = out.splitlines()
    assert "3 x LR20 last" in lines[2]
    assert max(map(len, lines)) <= 100
    for words in (
        "What ends it: cells empty to the cut-off", "Change the set when it rests at",
        "of the charge goes to the pulses through the coil", "What lengthens the life most",
        "the wrong way round", "not before they are empty", "other cells, the circuit sized anew",
        "cells.v_open_band", "approximate model, no published table", "Do not mix cells",
    ):  # fmt: skip
        assert words in " ".join(out.split()), words
    assert sum("####" in line for line in lines) == 11


def test_json_holds_values_findings_and_tables(capsys: pytest.CaptureFixture[str]) -> None:
    code, out = printed(capsys, FOYER, "--json", "--observed", "60 days")
    found: dict[str, Any] = json.loads(out)
    assert code == 0
    assert set(found) >= {
        "title", "version", "values", "findings", "assumed", "course", "ends", "drains", "longer",
        "sets", "observed",
    }  # fmt: skip
    life = found["values"]["cells.battery_life"]
    assert life["unit"] == "s"
    assert life["low"] < life["value"] < life["high"]
    assert found["values"]["cells.ended_by"]["unit"] is None
    assert found["course"][0]["time"] == 0
    assert found["course"][-1]["time"] == pytest.approx(life["value"])
    assert sum(row["share"] for row in found["drains"]) == pytest.approx(1)
    assert len(found["longer"]) == 3
    assert {"LR20", "LR14", "LR6", "LR03", "R20", "FR6", "ER34615"} <= {
        row["cell"] for row in found["sets"]
    }


def test_rows_for_a_table(capsys: pytest.CaptureFixture[str]) -> None:
    code, out = printed(capsys, FOYER, "--csv", "--steered")
    assert code == 0
    lines = out.splitlines()
    assert lines[0] == (
        "time_s,v_rest_V,v_load_V,v_pulse_V,pulse_width_s,arc_rad,rate_s_per_day,i_mean_A"
    )
    first, last = ([float(x) for x in line.split(",")] for line in (lines[1], lines[-1]))
    assert last[4] > first[4]


def test_a_file_is_written_whole(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "course.csv"
    assert main(["cells", SCHOOL, "--csv", "-o", str(out)]) == 0
    assert out.read_text(encoding="utf-8").startswith("time_s")
    assert main(["cells", SCHOOL, "--csv", "-o", str(out)]) == 2
    assert "exists" in capsys.readouterr().err


def test_a_stated_voltage_has_no_life(capsys: pytest.CaptureFixture[str]) -> None:
    code, out = printed(capsys, SCHOOL)
    assert code == 0
    assert "not from cells: there is no life to compute" in out
    code, out = printed(capsys, SCHOOL, "--json")
    assert json.loads(out)["findings"][0]["id"] == "cells.none"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--observed", "soon"), "--observed"),
        (("--observed", "3 ohm"), "--observed"),
        (("--observed", "1 s"), "from a minute to a hundred years"),
        (("--weak", "2"), "a share from 0.01 to below 1"),
        (("--weak", "half"), "a share from 0.01 to below 1"),
    ],
)
def test_what_cannot_be_used_is_one_line(
    arguments: tuple[str, ...], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["cells", FOYER, *arguments]) == 2
    told_on = capsys.readouterr()
    assert words in told_on.err
    assert len(told_on.err.splitlines()) == 1
    assert told_on.out == ""


@pytest.mark.parametrize(
    ("line", "words"),
    [("series = 0", "a whole number from 1 to 16"), ("series = 100", "a whole number from 1 to 16"),
     ('cell = "HR20"', "HR6")],
)  # fmt: skip
def test_no_cells_a_hundred_and_unknown_ones(
    line: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    key = line.partition(" ")[0]
    text = Path(FOYER).read_text(encoding="utf-8")
    now = next(entry for entry in text.splitlines() if entry.startswith(f"{key} = "))
    path = tmp_path / "changed.toml"
    path.write_text(text.replace(now, line), encoding="utf-8")
    assert main(["cells", str(path)]) == 2
    err = capsys.readouterr().err
    assert words in err
    assert f"[supply] {key}" in err


def test_a_wanted_life_that_is_missed_fails(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = Path(FOYER).read_text(encoding="utf-8").replace("12 months", "6 years")
    path = tmp_path / "long.toml"
    path.write_text(text, encoding="utf-8")
    code, out = printed(capsys, str(path))
    assert code == 1
    assert "fails: 3 x LR20 last" in out


def test_one_alkaline_cell_does_not_run_a_controller_of_more() -> None:
    found = report(design_with(supply={"series": 1}))
    finding = found.ledger.findings["cells.from_start"]
    assert finding.severity is Severity.FAILS
    assert "brown-out at the pulse" in finding.text
    assert found.fails


def test_a_rechargeable_cell_is_told_apart() -> None:
    found = report(design_with(supply={"cell": "HR6", "series": 4}))
    assert "rechargeable" in found.ledger.findings["cells.chemistry"].text
    passivated = report(design_with(supply={"cell": "ER34615", "series": 1}))
    assert "film" in passivated.ledger.findings["cells.passivation"].text


def test_the_drains_are_ranked_in_words() -> None:
    """5 mA through 800 ohm; the pulses take a fifth of that."""
    _, course = wasteful()
    first = course.drains[0]
    assert first.name == "divider"
    assert first.share > 0.8
    finding = told().ledger.findings["cells.drains"]
    assert finding.severity is Severity.MIND
    assert finding.text.startswith(f"{100 * first.share:.2g} % of the charge goes to the pickup's")


def test_what_lengthens_the_life_most_begins_at_the_largest_drain() -> None:
    better = told().longer
    assert "divider resistors three times as large" in {one.words for one in better}
    assert [one.gain for one in better] == sorted((one.gain for one in better), reverse=True)
    assert len(better) == 3


def test_each_change_that_is_offered_gives_its_gain() -> None:
    """The stage alone, run again with the change: the same ratio of lives to a per mille."""
    design, course = wasteful()
    before = course.done.result("cells").battery_life
    for one in told().longer:
        if not one.changes:
            continue
        after = run(with_changes(design, one.changes), Catalogue()).result("cells").battery_life
        assert after / before == pytest.approx(one.gain, rel=1e-3)
        assert one.life == pytest.approx(one.gain * course.times[1], rel=1e-9)


def test_other_sets_hold_their_charge_against_each_other() -> None:
    """Zinc is a third of alkaline; two strings last twice as long but for the shelf."""
    rows = {(r.cell, r.series, r.parallel): r for r in told().sets}
    d, zinc, two = rows["LR20", 3, 1], rows["R20", 3, 1], rows["LR20", 3, 2]
    assert zinc.typ / d.typ == pytest.approx(1 / 3, abs=0.04)
    assert two.typ / d.typ == pytest.approx(2, rel=0.06)
    assert rows["LR6", 3, 1].typ < rows["LR14", 3, 1].typ < d.typ


FAULTS: dict[str, dict[str, dict[str, Any]]] = {
    "awake": {"controller": {"active_time": "670 ms"}},
    "forgotten": {"indicator": {"led_current": "4 mA", "led_drop": "1.9 V"}},
}


@pytest.mark.parametrize("named", FAULTS)
def test_a_fault_is_among_those_that_explain_the_life_it_gives(named: str) -> None:
    """The faulty circuit is followed whole; its life is then laid before the sound design."""
    design, course = base()
    faulty = life_course(design_with(**FAULTS[named]))
    assert faulty is not None
    found = blame(course, design, faulty.times[1])
    assert named in {suspect.name for suspect in found.explaining}
    for suspect in found.explaining:
        assert suspect.low <= faulty.times[1] <= suspect.high


@source(Kind.IDENTITY, "charge over V / R")
def test_a_switch_that_sticks_on_empties_them_in_days() -> None:
    """8.35 Ah at some 4.1 V over 36 ohm are 3.1 days.

    25 %: so heavy a load leaves a fifth in the cells, as their own table says for 0.1 A and more.
    """
    design, course = base()
    found = blame(course, design, 2.5 * DAY)
    assert found.explaining[0].name == "stuck"
    assert found.explaining[0].typ / DAY == pytest.approx(8.35 * 36 / 4.1 / 24, rel=0.25)


def test_a_drain_that_cannot_explain_it_is_not_blamed() -> None:
    """LR14, a month: some tenfold of the divider's microamperes would be needed."""
    design, course = base()
    found = blame(course, design, 3 * DAY)
    refused = {refusal.name: refusal for refusal in found.refusals}
    assert "divider" in refused
    missing = course.life.typ.charge_given / (3 * DAY) - found.i_design
    assert refused["divider"].times == pytest.approx(1 + missing / refused["divider"].current)
    assert not found.expected


def test_a_life_as_designed_needs_no_fault() -> None:
    design, course = base()
    found = blame(course, design, course.times[1])
    assert found.expected
    assert found.refusals == ()


def test_a_life_beyond_good_cells_says_so() -> None:
    found = report(base()[0], observed=1.5 * base()[1].times[2], tables=False)
    finding = found.ledger.findings["cells.observed"]
    assert "longer than even good cells give" in finding.text
    assert "cells.not_to_blame" not in found.ledger.findings


def test_what_cannot_be_explained_is_said_with_the_current_it_needs() -> None:
    """8.3 Ah in six hours is 1.4 A; nothing in this circuit takes that."""
    found = report(base()[0], observed=6 * 3600.0, tables=False)
    finding = found.ledger.findings["cells.observed"]
    assert "Nothing looked at takes that much" in finding.text
    assert "1.7 A" in finding.text
    assert "a short, a reversed part" in finding.remedy
    assert "it would take" in found.ledger.findings["cells.not_to_blame"].text


@pytest.mark.parametrize("steered", [False, True])
def test_what_a_change_of_cells_does_to_the_rate(steered: bool) -> None:
    found = report(base()[0], steered=steered, tables=False)
    finding = found.ledger.findings["cells.rate"]
    assert ("The loop keeps the rate" in finding.text) == steered
    assert ("until the loop has narrowed the pulse" in finding.text) == steered
    assert ("a change of cells makes it go back" in finding.text) != steered


@source(
    Kind.IDENTITY, "febo.com time-nuts list, August 2010, reworked: 5 mA average flattens a 12 Ah "
    "cell in 100 days", printed="100 days"
)  # fmt: skip
def test_a_mean_of_five_milliampere_is_found_from_the_life() -> None:
    """From the life back to the current: the set's own charge over the time that was seen."""
    design, course = base()
    seen = 12 * 3600 / 5e-3
    found = blame(course, design, seen)
    typ = course.life.typ.charge_given / seen
    assert found.i_low < typ < found.i_high
    assert seen / DAY == pytest.approx(100, abs=0.5)
    assert typ * 12 * 3600 / course.life.typ.charge_given == pytest.approx(5e-3)
