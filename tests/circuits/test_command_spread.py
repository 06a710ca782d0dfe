"""The spread from the command line."""

import json
from pathlib import Path

import pytest

from circuits.boards import stage_runs
from circuits.boards.spread import spread
from circuits.boards.spread_tables import spread_json
from circuits.command import main
from circuits.design_file import read_design
from tests.circuits.drive_designs import BASE, text_of

EXAMPLES = Path(__file__).parents[2] / "examples"
SCHOOL = str(EXAMPLES / "school_pendulum.toml")


TIGHT = {
    "supply": {"cell": None, "series": None, "voltage": "4.2 V", "resistance": "0.6 ohm"},
    "tolerance": {
        "resistor": 0.02, "capacitor": 0.0, "winding": 0.0, "gap": "0.2 mm", "remanence": 0.0,
        "quality_factor": 0.2, "supply": 0.0,
    },
}  # fmt: skip
"""Few tolerances: the map takes few runs."""


def test_the_same_seed_gives_the_same_answer_whichever_door(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Command and call, each from the design file on; with fewer pairs, for the time they take."""
    monkeypatch.setattr(stage_runs, "STRONGEST", 2)
    file, out = tmp_path / "tight.toml", tmp_path / "spread.json"
    merged = {name: {**BASE.get(name, {}), **TIGHT.get(name, {})} for name in {**BASE, **TIGHT}}
    file.write_text(text_of(merged), encoding="utf-8")
    rows = tmp_path / "rows.jsonl"
    asked = ["spread", str(file), "--boards", "800", "--seed", "5", "--json", "--jobs", "1"]
    code = main([*asked, "--keep", str(rows), "-o", str(out)])
    text = out.read_text(encoding="utf-8")
    found = json.loads(text)
    failing = any(finding["severity"] == "fails" for finding in found["findings"])
    assert code == (1 if failing or found["refused"] else 0)
    assert found["boards"] == 800
    assert all(
        entry["least"] <= entry["low"] <= entry["high"] <= entry["most"]
        for entry in found["values"].values()
    )
    assert text == spread_json(spread(read_design(file), boards=800, seed=5))

    kept = rows.read_bytes()
    assert len(kept.splitlines()) > found["runs"] - 2
    assert main([*asked, "--keep", str(rows), "-o", str(out), "--force"]) == code
    assert out.read_text(encoding="utf-8") == text
    assert rows.read_bytes() == kept, "no board was run again"
    assert main(["spread", SCHOOL, "--keep", str(rows)]) == 2, "rows of another design"


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (["--boards", "many"], "--boards: found many"),
        (["--boards", "5"], "a whole number from 100"),
        (["--seed", "-1"], "--seed"),
        (["--jobs", "0"], "--jobs"),
        (["--distribution", "flat"], "uniform or normal"),
    ],
)
def test_what_cannot_be_used_is_told(
    arguments: list[str], named: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["spread", SCHOOL, *arguments]) == 2
    told = capsys.readouterr().err
    assert named in told
    assert told.count("\n") == 1


def test_a_file_that_exists_is_not_overwritten(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is refused before anything is computed."""
    out = tmp_path / "spread.json"
    out.write_text("mine")
    assert main(["spread", SCHOOL, "--json", "-o", str(out)]) == 2
    assert "exists already" in capsys.readouterr().err
    assert out.read_text() == "mine"
