"""The map of rate against the pulse: against the direct engine, its faces, and broken off."""

import json
import math
import signal
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from calc.follow_direct import follow_swing
from circuits.command import main
from circuits.design_file import read_design
from circuits.following import driven_of
from circuits.rate_map import RateMap, map_csv, map_json, map_text, rate_map
from tests.sources import Kind, source

EXAMPLES = Path(__file__).parents[2] / "examples"
FOYER = str(EXAMPLES / "foyer_sculpture.toml")
SCHOOL = str(EXAMPLES / "school_pendulum.toml")
"""Its EMF hardly reaches the clamp's knee: both engines follow the same equations."""


@cache
def mapped(path: str = FOYER) -> RateMap:
    return rate_map(read_design(path), progress=lambda _done, _total: None)


@source(Kind.IDENTITY, "the direct engine, swing by swing")
@pytest.mark.parametrize("number", [5, 60, 140, -30])
def test_a_row_reproduces_itself_in_the_direct_engine(number: int) -> None:
    """2e-4 of the arc and 0.5 s/day: the map's splines over fourteen arcs."""
    row = mapped(SCHOOL).rows[number]
    system = driven_of(read_design(SCHOOL)).system(spent=row.state == "spent", width=row.width)
    trigger = replace(system.trigger, delay=system.trigger.delay + row.later)
    swing = follow_swing(movement=replace(system, trigger=trigger), arc=row.arc, direction=1)
    assert swing.arc_end == pytest.approx(row.arc, rel=2e-4)
    assert system.period / (2 * swing.time) - 1 == pytest.approx(row.rate, abs=0.5 / 86400)
    assert row.rate == pytest.approx(row.circular + row.impulse, abs=1e-12)


@source(Kind.IDENTITY, "the direct engine: width and energy of every delay")
def test_every_delay_holds_the_same_arc_at_its_price() -> None:
    """1e-6 of the arc: the width's own search. 1e-6 of the energy, braking counted apart.

    The supply's resistance is that of the present width in both.
    """
    assert len(mapped(SCHOOL).pushes) >= 5
    present = driven_of(read_design(SCHOOL)).system(spent=True)
    arc = mapped(SCHOOL).arc_wanted
    for push in mapped(SCHOOL).pushes:
        trigger = replace(present.trigger, delay=present.trigger.delay + push.later)
        system = replace(present, trigger=trigger, pulse_width=push.width)
        swing = follow_swing(movement=system, arc=arc, direction=1)
        assert swing.arc_end == pytest.approx(arc, rel=1e-6)
        assert swing.e_supply == pytest.approx(push.e_supply, rel=1e-6)
        driving = swing.e_mechanical + swing.e_brake
        assert driving == pytest.approx(push.e_mechanical, rel=1e-6)


def test_a_delay_that_saves_charge_is_said() -> None:
    best, present = mapped().best, mapped().present
    assert best is not None
    assert present is not None
    assert best.e_supply < 0.9 * present.e_supply
    assert best.efficiency > present.efficiency
    saved = 1 - best.e_supply / present.e_supply
    assert f"{100 * saved:.3g} % less charge" in map_text(mapped())


def test_the_map_has_twenty_widths_by_twenty_delays() -> None:
    found = mapped()
    delays = sorted({row.later for row in found.rows if row.state == "fresh"})
    widths = {row.width for row in found.rows}
    assert len(delays) == 20
    assert 0.0 in delays
    assert len(widths) == 20


def test_all_faces_hold_the_same_rows() -> None:
    content = json.loads(map_json(mapped()))
    lines = map_csv(mapped()).splitlines()
    assert len(lines) == len(content["rows"]) + 1
    last = dict(zip(lines[0].split(","), lines[-1].split(","), strict=True))
    assert float(last["arc_rad"]) == pytest.approx(content["rows"][-1]["arc"], rel=1e-8)
    assert {row["state"] for row in content["rows"]} == {"fresh", "spent"}
    assert content["efficiency_best"] == max(push["efficiency"] for push in content["pushes"])
    shown = map_text(mapped())
    assert "makes it lose" in shown
    first = next(row for row in content["rows"] if row["later"] == 0)
    assert f"{math.degrees(first['arc']):.3g} deg" in shown


def test_map_from_the_command_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    # On a quick machine the map is done before its progress would be told.
    monkeypatch.setattr("circuits.progress.SECOND", 0.0)
    out = tmp_path / "map.csv"
    assert main(["follow", FOYER, "--map", "--csv", "-o", str(out)]) == 0
    assert out.read_text() == map_csv(mapped())
    assert "delays" in capsys.readouterr().err


def test_breaking_off_leaves_no_half_file(tmp_path: Path) -> None:
    out = tmp_path / "map.csv"
    command = [sys.executable, "-c", "import sys; from circuits import progress; "
               "progress.SECOND = 0.0; from circuits.command import main; "
               "sys.exit(main(sys.argv[1:]))"]  # fmt: skip
    with subprocess.Popen(
        [*command, "follow", FOYER, "--map", "--csv", "-o", str(out)],
        stderr=subprocess.PIPE, text=True, cwd=EXAMPLES.parent,
    ) as running:  # fmt: skip
        assert running.stderr is not None
        assert "delays" in running.stderr.readline()
        running.send_signal(signal.SIGINT)
        said = running.stderr.read()
        assert running.wait(timeout=20) == 130
    assert "Traceback" not in said
    assert list(tmp_path.iterdir()) == []
