"""A sheet or a measurement that was written as JSON, read again as figures and findings."""

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from circuits.design_text import file_name, read_text
from circuits.errors import DesignFileError
from circuits.ledger import Severity
from circuits.plain_text import shown

WANTED = "give a design file, or what 'coilwright design --json' or 'coilwright read --json' wrote"
LONGEST = 500
LARGEST = 4 * 1024 * 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure in SI units, with the span within which it may lie, if one is known."""

    id: str
    value: float | int | str
    unit: str | None
    low: float | None = None
    high: float | None = None
    basis: str = ""

    @property
    def span(self) -> tuple[float, float] | None:
        """The span within which it may lie; None for a text or where none is known."""
        if isinstance(self.value, str) or self.low is None or self.high is None:
            return None
        return self.low, self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFile:
    """What such a file holds."""

    title: str
    values: Mapping[str, Figure]
    findings: Mapping[str, Severity]


def _refuse(file: str, key: str, found: str) -> DesignFileError:
    return DesignFileError(file=file, key=key, found=found, wanted=WANTED)


def _number(file: str, key: str, raw: object) -> float:
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not math.isfinite(raw):
        raise _refuse(file, key, "no finite number")
    return raw


def _text(file: str, key: str, raw: object) -> str:
    if not isinstance(raw, str) or not raw.isprintable() or len(raw) > LONGEST:
        raise _refuse(file, key, "no short text")
    return raw


def _figure(file: str, id: str, raw: object) -> Figure:
    key = f"values.{shown(id)}"
    if not isinstance(raw, dict) or "value" not in raw:
        raise _refuse(file, key, "no figure")
    value, unit = raw["value"], raw.get("unit")
    return Figure(
        id=_text(file, "values", id),
        value=_text(file, key, value) if isinstance(value, str) else _number(file, key, value),
        unit=None if unit is None else _text(file, key, unit),
        low=None if raw.get("low") is None else _number(file, key, raw["low"]),
        high=None if raw.get("high") is None else _number(file, key, raw["high"]),
        basis=_text(file, key, raw.get("basis", "")),
    )


def _severity(file: str, raw: object) -> tuple[str, Severity]:
    if not isinstance(raw, dict):
        raise _refuse(file, "findings", "an entry that is no finding")
    name = _text(file, "findings", raw.get("id"))
    try:
        return name, Severity(raw.get("severity"))
    except ValueError as error:
        raise _refuse(file, f"findings.{name}", "a severity that does not exist") from error


def _content(text: str, file: str) -> dict[str, Any]:
    try:
        content = json.loads(text)
    except (ValueError, RecursionError) as error:
        where = f"line {error.lineno}" if isinstance(error, json.JSONDecodeError) else ""
        raise _refuse(file, where, "text that is no JSON") from error
    if not isinstance(content, dict) or not isinstance(content.get("values"), dict):
        raise _refuse(file, "", "no figures under 'values'")
    return content


def read_sheet_file(path: str | Path) -> SheetFile:
    """Return the figures and findings of a file of the JSON face.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    content : SheetFile

    Raises
    ------
    DesignFileError
        If it cannot be read or does not hold such figures.
    """
    file = file_name(path)
    content = _content(read_text(path, largest=LARGEST), file)
    findings = content.get("findings", [])
    if not isinstance(findings, list):
        raise _refuse(file, "findings", "no list")
    title = content.get("title")
    return SheetFile(
        title=_text(file, "title", title) if title is not None else file,
        values=MappingProxyType(
            {name: _figure(file, name, raw) for name, raw in content["values"].items()}
        ),
        findings=MappingProxyType(dict(_severity(file, raw) for raw in findings)),
    )
