"""Parts that the design file describes itself, in [part.NAME] tables."""

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from difflib import get_close_matches
from types import MappingProxyType
from typing import Any

from circuits.errors import DesignFileError, QuantityError
from circuits.part_limits import broken_rule
from circuits.part_records import Mark
from circuits.plain_text import shown, unreadable
from circuits.quantity import parse_quantity

OWN = Mark(source="the design file's own [part] table", confidence="stated")


LONGEST_NAME = 40


def read_own_part(name: str, table: Mapping[str, object], file: str) -> tuple[str, Any]:
    """Return kind and record of one part of the user's own.

    Parameters
    ----------
    name : str
        The part's name, as in ``[part.NAME]``.
    table : mapping
        ``kind`` and the catalogue's own fields; quantities as text with their unit.
    file : str
        The design file, for messages.

    Returns
    -------
    kind : str
        Kind of the part.
    part
        The record.

    Raises
    ------
    DesignFileError
        With the place, what was found and what would do.
    """
    from circuits.catalogue import KINDS  # noqa: PLC0415 - the catalogue imports this module

    if not name or unreadable(name) or len(name) > LONGEST_NAME:
        raise DesignFileError(
            file=file, section="part", found=f"the part name {shown(name)}",
            wanted=f"name the part in at most {LONGEST_NAME} characters that can be printed",
        )  # fmt: skip
    section = f"part.{name}"
    if not isinstance(table, Mapping):
        raise DesignFileError(
            file=file, section="part", key=name, found=_seen(table),
            wanted=f'make it a table: [part.{name}] with kind = "npn" and the figures',
        )  # fmt: skip
    kind = table.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        near = get_close_matches(str(kind), KINDS, n=1)
        raise DesignFileError(
            file=file, section=section, key="kind",
            found="nothing" if kind is None else _seen(kind),
            wanted=f"write one of {', '.join(KINDS)}" + (f"; nearest: {near[0]}" if near else ""),
        )  # fmt: skip
    rest = {key: value for key, value in table.items() if key != "kind"}
    part = _record(KINDS[kind], rest, _Place(file, section), {"name": name})
    broken = broken_rule(part)
    if broken:
        raise _Place(file, section).error(broken.field, broken.found, broken.wanted)
    return kind, part


@dataclass(frozen=True, slots=True)
class _Place:
    """Where in the design file something stands."""

    file: str
    section: str
    within: str = ""

    def error(self, key: str, found: str, wanted: str) -> DesignFileError:
        return DesignFileError(
            file=self.file, section=self.section, key=self.within + key, found=found, wanted=wanted
        )


def _record(
    record: type[Any], table: Mapping[str, object], place: _Place, given: dict[str, Any]
) -> Any:
    # The word for the sort of diode shares its name with the kind of part.
    known = {f.name: f for f in fields(record) if f.name not in ("name", "marks", "kind")}
    for key, value in table.items():
        if key not in known:
            near = get_close_matches(key, known, n=1, cutoff=0.4)
            hint = f"did you mean {near[0]}? " if near else ""
            raise place.error(
                key, f"the unknown key {shown(key)}", f"{hint}known here: {', '.join(known)}"
            )
        about = known[key].metadata
        if "unit" in about:
            given[key] = _figure(value, about["unit"], place, key)
        elif "points" in about:
            given[key] = _points(value, about["points"], place, key)
        elif isinstance(value, str) and not unreadable(value):
            given[key] = value
        else:
            raise place.error(key, _seen(value), "write a text in quotes, on one line")
    absent = [
        name
        for name, field in known.items()
        if field.default is MISSING and field.default_factory is MISSING and name not in given
    ]
    if absent:
        also = f"; it also lacks {', '.join(absent[1:])}" if absent[1:] else ""
        raise place.error(absent[0], "nothing", f"state it, as the part's data sheet does{also}")
    if any(field.name == "marks" for field in fields(record)):
        stated = {key: OWN for key in given if key != "name"}
        return record(**given, marks=MappingProxyType(stated))
    return record(**given)


def _figure(value: object, unit: str, place: _Place, key: str) -> float:
    bare = isinstance(value, int | float) and not isinstance(value, bool)
    try:
        if isinstance(value, str):
            return parse_quantity(value, unit).value
        if bare and unit == "1":
            return parse_quantity(repr(value), unit).value
    except QuantityError as error:
        raise place.error(key, error.found, error.wanted) from error
    number = repr(value) if bare else "1"
    example = number if unit == "1" else f'"{number} {_written(unit)}"'
    raise place.error(key, _seen(value), f"write the figure with its unit, such as {example}")


def _points(value: object, record: type[Any], place: _Place, key: str) -> tuple[Any, ...]:
    if not isinstance(value, list) or not value or not all(isinstance(v, Mapping) for v in value):
        names = ", ".join(field.name for field in fields(record))
        raise place.error(key, _seen(value), f"write a list of test points, each {{ {names} }}")
    return tuple(
        _record(record, entry, _Place(place.file, place.section, f"{key}[{number}]."), {})
        for number, entry in enumerate(value, start=1)
    )


def _written(unit: str) -> str:
    """Return the unit as a maker writes it."""
    return {"K": "degC", "C": "mAh"}.get(unit, unit)


def _seen(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return shown(value)
    return str(value)[:60]
