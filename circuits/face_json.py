"""The sheet as JSON, the contract that other programs read: SI values, ASCII, finite numbers."""

import json
from typing import Any

from circuits.ledger import Assumed, Finding, Value
from circuits.sheet import Sheet


def value_entry(value: Value) -> dict[str, Any]:
    """Return one figure; only its low, its high and a text's unit may be null."""
    return {
        "value": value.value,
        "unit": value.unit,
        "low": value.low,
        "high": value.high,
        "basis": value.basis.value,
    }


def finding_entry(finding: Finding) -> dict[str, Any]:
    """Return one finding; what does not apply to it is absent."""
    numbers = {"value": finding.value, "limit": finding.limit}
    entry: dict[str, Any] = {"id": finding.id, "severity": finding.severity.value}
    entry |= {name: number for name, number in numbers.items() if number is not None}
    if len(entry) > 2:
        entry["unit"] = finding.unit
    if finding.margin is not None:
        entry["margin"] = finding.margin
    entry["text"] = finding.text
    if finding.remedy:
        entry["remedy"] = finding.remedy
    return entry


def assumed_entry(entry: Assumed) -> dict[str, Any]:
    """Return one assumption."""
    return {"id": entry.id, "value": entry.value, "unit": entry.unit, "source": entry.source}


def json_text(content: dict[str, Any]) -> str:
    """Return a table as the text of a file."""
    return json.dumps(content, indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def sheet_json(sheet: Sheet) -> str:
    """Return the sheet as JSON text."""
    return json_text(
        {
            "title": sheet.title,
            "version": sheet.version,
            "values": {value.id: value_entry(value) for value in sheet.values.values()},
            "findings": [finding_entry(finding) for finding in sheet.findings],
            "assumed": [assumed_entry(entry) for entry in sheet.assumed],
        }
    )


def bench_json(sheet: Sheet) -> str:
    """Return the bench check as JSON text."""
    points = [
        {
            "point": point.point,
            "condition": point.condition,
            "instrument": point.instrument,
            "expected": point.expected,
            "otherwise": point.otherwise,
        }
        for point in sheet.test_points
    ]
    return json_text({"title": sheet.title, "version": sheet.version, "test_points": points})
