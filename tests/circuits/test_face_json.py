"""The JSON face: the keys that other programs read, finite numbers, ASCII."""

import json
import math
from pathlib import Path
from typing import Any

import pytest

from circuits.design_file import read_design
from circuits.face_json import bench_json, sheet_json
from circuits.ledger import Basis, Severity
from circuits.pipeline import compute
from circuits.sheet import Sheet, compose
from tests.circuits.invented import invented_ledger

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))
BASES = {basis.value for basis in Basis}
SEVERITIES = {severity.value for severity in Severity}


def assert_contract(text: str) -> dict[str, Any]:
    """Hold a JSON sheet to its schema, key by key, and return its content."""

    def refuse(constant: str) -> None:
        raise AssertionError(f"{constant} is no JSON number")

    assert text.isascii()
    content: dict[str, Any] = json.loads(text, parse_constant=refuse)
    assert list(content) == ["title", "version", "values", "findings", "assumed"]
    assert isinstance(content["title"], str)
    assert isinstance(content["version"], str)
    for name, value in content["values"].items():
        stage, dot, symbol = name.partition(".")
        assert (stage.isidentifier(), dot, symbol.isidentifier()) == (True, ".", True), name
        assert list(value) == ["value", "unit", "low", "high", "basis"], name
        assert value["basis"] in BASES
        if isinstance(value["value"], str):
            assert value["unit"] is value["low"] is value["high"] is None, name
        else:
            assert isinstance(value["unit"], str), name
            assert math.isfinite(value["value"])
        assert (value["low"] is None) == (value["high"] is None), name
        if value["low"] is not None:
            assert value["low"] <= value["high"], name
    for finding in content["findings"]:
        keys = ["id", "severity", "value", "limit", "unit", "margin", "text", "remedy"]
        assert [key for key in keys if key in finding] == list(finding)
        assert {"id", "severity", "text"} <= set(finding)
        assert finding["severity"] in SEVERITIES
        assert None not in finding.values(), finding["id"]
        assert ("unit" in finding) == ("value" in finding or "limit" in finding)
        if finding["severity"] == "fails":
            assert finding["remedy"]
        if "margin" in finding and finding["severity"] == "good":
            assert finding["margin"] >= 0.1
    for entry in content["assumed"]:
        assert list(entry) == ["id", "value", "unit", "source"]
        assert entry["source"]
        assert (entry["unit"] is None) == isinstance(entry["value"], str), entry["id"]
    return content


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_keeps_the_contract(path: Path) -> None:
    content = assert_contract(sheet_json(compute(read_design(path))))
    assert len(content["values"]) > 50
    assert len(content["findings"]) > 20


@pytest.fixture
def invented() -> Sheet:
    ledger = invented_ledger()
    return compose("Pendel f\u00fcr die Schule", ledger, ledger.findings.values())


def test_the_sheet_keeps_the_contract(invented: Sheet) -> None:
    content = assert_contract(sheet_json(invented))
    assert content["title"] == "Pendel f\u00fcr die Schule"
    assert content["values"]["coil.r_coil"] == {
        "value": 41.5,
        "unit": "ohm",
        "low": 39.4,
        "high": 46.0,
        "basis": "computed",
    }
    assert content["values"]["drive.transistor"]["unit"] is None
    assert content["findings"][0]["id"] == "drive.saturation"
    assert content["findings"][0]["margin"] == pytest.approx(-0.45)


def test_what_does_not_apply_is_absent(invented: Sheet) -> None:
    content = json.loads(sheet_json(invented))
    judged = next(f for f in content["findings"] if f["severity"] == "measure")
    assert set(judged) == {"id", "severity", "text", "remedy"}


def test_the_bench_check_has_every_test_point(invented: Sheet) -> None:
    content = json.loads(bench_json(invented))
    assert [point["point"] for point in content["test_points"]] == ["switch node"]
    assert content["test_points"][0]["otherwise"] == "swap the coil's two ends"
