"""Beats over a coil that stands off the middle, and arcs that other losses would hold."""

import json
from pathlib import Path

import pytest

from calc.follow_beat import SettledSwing
from calc.follow_direct import follow_swing
from calc.follow_settle import settle
from circuits.beats import beat_difference, beat_words
from circuits.command import main
from circuits.design_write import apply_changes
from circuits.ledger import Change, Severity
from tests.calc.driven_plant import CENTRE, LEAD, plant
from tests.circuits.test_reference_designs import changed
from tests.sources import Kind, source

FOYER = str(Path(__file__).parents[2] / "examples" / "foyer_sculpture.toml")


def held_by(movement: object) -> SettledSwing:
    found = settle(movement=movement, arc_low=0.05, arc_high=0.5, width_high=50e-3).held  # type: ignore[arg-type]
    assert found is not None
    return found


@pytest.mark.parametrize("offset", [3e-3, -5e-3])
@pytest.mark.parametrize("run", [CENTRE, LEAD])
@source(Kind.IDENTITY, "the direct engine: crossings of the coil's axis in a settled period")
def test_beats_over_an_offset_coil(run: str, offset: float) -> None:
    """1 % of the difference and 2 us: the pulse shifts the swing by that; its own part 1e-9 s."""
    movement = plant(run, 18e-3, offset=offset)
    held = held_by(movement)
    there = follow_swing(movement=movement, arc=held.arc, direction=1)
    back = follow_swing(movement=movement, arc=there.arc_end, direction=-1)
    assert there.t_cross is not None
    assert back.t_cross is not None
    beyond = there.time - there.t_cross + back.t_cross
    behind = back.time - back.t_cross + there.t_cross
    far, near = (behind, beyond) if offset > 0 else (beyond, behind)
    found = beat_difference(movement, held)
    assert found is not None
    assert found.difference == pytest.approx(far - near, rel=0.01, abs=2e-6)
    assert found.swings == pytest.approx(there.time - back.time, abs=1e-9)
    assert "off the middle" in beat_words(movement, found)


def test_beats_over_a_centred_coil_are_alike() -> None:
    movement = plant(CENTRE, 18e-3)
    assert beat_difference(movement, held_by(movement)) is None
    once = plant(CENTRE, 30e-3, both_ways=False)
    found = beat_difference(once, held_by(once))
    assert found is not None
    assert found.swings != 0
    assert "every second pass" in beat_words(once, found)


@pytest.mark.parametrize("kind", ["pendulum", "balance"])
@pytest.mark.parametrize("q_factor", [800.0, 1300.0])
@source(Kind.IDENTITY, "the same movement with that quality factor, settled by itself")
def test_arc_of_another_quality_factor(kind: str, q_factor: float) -> None:
    """2e-3 in the arc, 1 % in the rate: the push is taken from the table as it is."""
    known = held_by(plant(CENTRE, 20e-3, kind=kind, q_factor=q_factor))
    (found,) = settle(
        movement=plant(CENTRE, 20e-3, kind=kind), arc_low=0.05, arc_high=0.5, width_high=50e-3,
        q_factors=(q_factor,),
    ).at_quality  # fmt: skip
    assert found is not None
    assert found.arc == pytest.approx(known.arc, rel=2e-3)
    assert found.rate == pytest.approx(known.rate, rel=0.01)


def test_a_quality_factor_too_low_holds_no_arc() -> None:
    found = settle(
        movement=plant(CENTRE, 20e-3), arc_low=0.05, arc_high=0.5, width_high=50e-3,
        q_factors=(300.0,),
    )  # fmt: skip
    assert found.at_quality == (None,)


def test_the_range_of_the_quality_factor_is_on_the_sheet() -> None:
    sheet = changed(drive={"pulse_width": "14 ms"}, movement={"quality_factor": "900 10%"})
    for name in ("rate.arc_settled", "rate.rate"):
        value = sheet.values[name]
        assert value.low is not None
        assert value.high is not None
        assert value.low < float(value.value) < value.high


def test_an_offset_coil_is_said_on_sheet_and_in_time(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = str(tmp_path / "off.toml")
    apply_changes(FOYER, (Change(section="magnet", key="offset", text="4 mm"),), out)
    sheet_code = main(["design", out, "--json"])
    sheet = json.loads(capsys.readouterr().out)
    assert sheet_code in (0, 1)
    said = next(f for f in sheet["findings"] if f["id"] == "rate.beats")
    assert said["severity"] == Severity.MIND.value
    main(["follow", out, "--swings", "50", "--json"])
    beats = json.loads(capsys.readouterr().out)["beats"]
    told = sheet["values"]["rate.beat_difference"]["value"]
    assert told == pytest.approx(beats["far"] - beats["near"], rel=1e-3)
    main(["follow", out, "--swings", "50"])
    assert "off the middle" in capsys.readouterr().out
