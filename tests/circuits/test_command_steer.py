"""The planned loop from the command line."""

import json
from pathlib import Path

import pytest

from circuits.command import main

EXAMPLES = Path(__file__).parents[2] / "examples"
FOYER = str(EXAMPLES / "foyer_sculpture.toml")


def test_words_come_first(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["steer", FOYER]) == 0
    text = capsys.readouterr().out
    assert text.splitlines()[2].startswith("Yes: the loop holds")
    order = (
        "Findings",
        "The loop\n",
        "What each cause does",
        "Time error",
        "In time",
        "How steady",
    )
    places = [text.index(part) for part in order]
    assert places == sorted(places)
    assert all(len(line) <= 100 for line in text.splitlines())


def test_json_has_the_sheets_shape_and_the_runs(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["steer", FOYER, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert {"title", "version", "values", "findings", "assumed"} <= set(found)
    assert found["values"]["steering.kp"]["unit"] == "1"
    assert found["values"]["steering.authority"]["unit"] == "s/day"
    step = found["step"]
    assert len(step["time"]) == len(step["seen"]) == len(step["width"])
    assert {row["cause"] for row in found["budget"]} >= {"cells", "crystal", "jitter", "rod"}
    assert {law["law"] for law in found["laws"]} == {"pi", "integral", "tick"}


def test_csv_has_a_row_a_correction(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:  # fmt: skip
    out = tmp_path / "step.csv"
    assert main(["steer", FOYER, "--csv", "-o", str(out)]) == 0
    rows = out.read_text().splitlines()
    assert rows[0] == "time_s,error_s,error_on_crystal_s,width_s,arc_rad,rate"
    assert len(rows) > 100
    assert all(len(row.split(",")) == 6 for row in rows)
    capsys.readouterr()
    assert main(["steer", FOYER, "--csv", "-o", str(out)]) == 2
    assert "exists already" in capsys.readouterr().err


def test_what_no_loop_can_hold_is_refused_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    """The balance's cells sag by more than its widths can make up for."""
    assert main(["steer", str(EXAMPLES / "balance.toml")]) == 1
    text = capsys.readouterr().out
    assert text.splitlines()[2].startswith("No:")
    assert "regulated rail" in text


def test_a_file_that_is_none_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["steer", "no_such_file.toml"]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_a_step_function_that_is_not_there_is_told_before_the_loop_is_planned(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("circuits.steering.plan.plan", None)
    for path in (tmp_path / "none.c", tmp_path):
        assert main(["steer", FOYER, "--firmware", str(path)]) == 2
        told = capsys.readouterr().err
        assert str(path) in told
        assert told.count("\n") == 1
