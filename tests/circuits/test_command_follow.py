"""The movement in time from the command line, and what pages of the field say of such drives."""

import json
from pathlib import Path
from typing import Any

import pytest

from circuits.command import main
from circuits.design_write import apply_changes
from circuits.ledger import Change

EXAMPLES = Path(__file__).parents[2] / "examples"
SCHOOL = str(EXAMPLES / "school_pendulum.toml")


def followed(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, dict[str, Any]]:
    code = main(["follow", *arguments, "--json"])
    return code, json.loads(capsys.readouterr().out)


def design(tmp_path: Path, **drive: str) -> str:
    """The school pendulum with other keys of the drive."""
    out = tmp_path / "changed.toml"
    changes = tuple(Change(section="drive", key=key, text=text) for key, text in drive.items())
    apply_changes(SCHOOL, changes, str(out), force=True)
    return str(out)


def test_a_small_push_grows_to_the_settled_arc(capsys: pytest.CaptureFixture[str]) -> None:
    code, found = followed(capsys, SCHOOL, "--from-arc", "2.5 deg", "--swings", "20000")
    assert code == 0
    assert found["keeps_going"]
    settled = found["settled_swings"][-1]
    assert found["arc"][0] == pytest.approx(2.5 * 3.141592653589793 / 180)
    assert found["arc"][-1] == pytest.approx(settled["arc"], rel=1e-4)
    assert settled["stable"]
    assert settled["rate"] == pytest.approx(settled["circular"] + settled["impulse"], rel=1e-9)


def test_a_push_that_the_firmware_does_not_see_dies_away(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Just above the least arc that is seen it grows, just below no pulse ever comes."""
    _, found = followed(capsys, SCHOOL, "--swings", "10")
    seen = found["arc_seen"] * 180 / 3.141592653589793
    code, above = followed(capsys, SCHOOL, "--from-arc", f"{1.02 * seen} deg", "--swings", "400")
    assert code == 0
    assert above["arc"][-1] > above["arc"][0]
    code, below = followed(capsys, SCHOOL, "--from-arc", f"{0.99 * seen} deg", "--swings", "400")
    assert code == 1
    assert not below["keeps_going"]
    assert below["arc"][-1] < below["arc"][0]


def test_both_faces_tell_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["follow", SCHOOL, "--swings", "300", "--csv"]) == 0
    rows = capsys.readouterr().out.splitlines()
    _, found = followed(capsys, SCHOOL, "--swings", "300")
    assert rows[0] == "time_s,arc_rad"
    assert len(rows) == 302
    time, arc = (float(n) for n in rows[-1].split(","))
    assert time == pytest.approx(found["time"][-1], abs=1e-6)
    assert arc == pytest.approx(found["arc"][-1], rel=1e-8)


def test_a_pulse_too_short_lets_it_die(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, found = followed(capsys, design(tmp_path, pulse_width="1.5 ms"), "--swings", "4000")
    assert code == 1
    assert not found["keeps_going"]
    assert found["arc"][-1] < found["arc"][0]
    assert found["width_least"] > 1.5e-3


def test_long_runs_tell_their_progress(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["follow", SCHOOL, "--swings", "45000", "--csv"]) == 0
    assert "20000 swings" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("bad", "says"),
    [
        (["--swings", "0"], "whole number"),
        (["--swings", "many"], "whole number"),
        (["--from-arc", "90 deg"], "up to 70 degrees"),
        (["--from-arc", "4"], "--from-arc"),
        (["--from-arc", "-2 deg"], "--from-arc"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_bad_input_is_one_message(
    bad: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["follow", SCHOOL, *bad]) == 2
    error = capsys.readouterr().err
    assert says in error
    assert "Traceback" not in error


def test_the_output_is_written_whole(tmp_path: Path) -> None:
    out = tmp_path / "arc.csv"
    assert main(["follow", SCHOOL, "--swings", "100", "--csv", "-o", str(out)]) == 0
    assert len(out.read_text().splitlines()) == 102
    assert main(["follow", SCHOOL, "--swings", "100", "--csv", "-o", str(out)]) == 2
