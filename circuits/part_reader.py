"""From a table of the catalogue's data files to a record with its marks."""

from collections.abc import Mapping
from dataclasses import fields
from types import MappingProxyType
from typing import Any

from circuits.part_records import CONFIDENCES, Mark

# What a value says of itself beside its figure; the part's own words hold where it is silent.
ABOUT = ("at", "source", "confidence")


class CatalogueError(ValueError):
    """Raised for a data file of the catalogue that breaks its own rules."""


def read_part(record: type[Any], name: str, table: Mapping[str, Any]) -> Any:
    """Return the record of one part.

    Parameters
    ----------
    record : type
        The kind's record.
    name : str
        The part's name.
    table : mapping
        Its figures in SI units, each a number or ``{value, at, source, confidence}``; test
        points carry the same three words among their figures, or once as
        ``{points, at, source, confidence}``.

    Returns
    -------
    part
        The record, a mark for each of its figures and lists.

    Raises
    ------
    CatalogueError
        Where a key is unknown, a needed figure is absent or a figure has no source.
    """
    given: dict[str, Any] = {"name": name}
    marks: dict[str, Mark] = {}
    rest = dict(table)
    source, confidence = rest.pop("source", ""), rest.pop("confidence", "")

    def mark(about: Mapping[str, Any]) -> Mark:
        found = Mark(
            source=about.get("source", source),
            confidence=about.get("confidence", confidence),
            condition=about.get("at", ""),
        )
        if not found.source or found.confidence not in CONFIDENCES:
            raise CatalogueError(f"{name}: a figure without source or confidence: {about}")
        return found

    for field in fields(record):
        if field.name not in rest:
            continue
        value = rest.pop(field.name)
        if "unit" in field.metadata:
            if not isinstance(value, dict):
                value = {"value": value}
            given[field.name] = float(value["value"])
            marks[field.name] = mark(value)
        elif "points" in field.metadata:
            shared: Mapping[str, Any] = {}
            if isinstance(value, dict):
                shared, value = {k: v for k, v in value.items() if k != "points"}, value["points"]
            marks[field.name] = _joined([mark({**shared, **entry}) for entry in value])
            given[field.name] = tuple(_point(name, field.metadata["points"], v) for v in value)
        else:
            given[field.name] = value
    if rest:
        raise CatalogueError(f"{name}: unknown {', '.join(rest)}")
    try:
        return record(**given, marks=MappingProxyType(marks))
    except TypeError as error:
        raise CatalogueError(f"{name}: {error}") from error


def _point(name: str, record: type[Any], entry: Mapping[str, Any]) -> Any:
    figures = {key: float(value) for key, value in entry.items() if key not in ABOUT}
    try:
        return record(**figures)
    except TypeError as error:
        raise CatalogueError(f"{name}: {error}") from error


def _joined(found: list[Mark]) -> Mark:
    """Return one mark for a list of test points, the weakest confidence of them."""
    weakest = max((mark.confidence for mark in found), key=CONFIDENCES.index)
    sources = dict.fromkeys(mark.source for mark in found)
    conditions = dict.fromkeys(mark.condition for mark in found if mark.condition)
    return Mark(source="; ".join(sources), confidence=weakest, condition="; ".join(conditions))
