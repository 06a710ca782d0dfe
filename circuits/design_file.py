"""The design file: read, checked key by key, and handed on as one frozen record in SI units."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, get_args

from circuits.design import Design, Doubt, TableKey
from circuits.design_keys import (
    LONGEST_NAME,
    LONGEST_TEXT,
    Place,
    check_text,
    keys_of,
    read_key,
    seen,
)
from circuits.design_rules import check_section
from circuits.design_text import file_name, parse_toml, read_text
from circuits.errors import DesignFileError
from circuits.plain_text import shown

PART_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_+/. -]{0,39}")
DEEPEST = 5
"""Levels inside a [part] table; its test points are lists of tables."""

NEEDED = {
    "movement": 'kind = "pendulum" and its period',
    "magnet": "shape, dimensions, grade and gap",
}
"""Sections without which nothing can be computed."""


@dataclass(slots=True)
class Notes:
    """What reading finds besides the values: stated tolerances and doubtful decades."""

    tolerance: dict[str, float] = field(default_factory=dict)
    doubts: list[Doubt] = field(default_factory=list)


@cache
def sections() -> Mapping[str, type[Any]]:
    """Return the sections of a design file with their records."""
    found: dict[str, type[Any]] = {}
    for entry in fields(Design):
        kinds = [entry.type, *get_args(entry.type)]
        records = [kind for kind in kinds if isinstance(kind, type) and is_dataclass(kind)]
        for record in records:
            if keys_of(record):
                found[entry.name] = record
    return MappingProxyType(found)


def read_design(path: str | Path) -> Design:
    """Return the design that a file states.

    Parameters
    ----------
    path : str or Path
        A TOML file.

    Returns
    -------
    design : Design
        Every stated value in SI units; what is left out is None.

    Raises
    ------
    DesignFileError
        With file, section, key, what was found and what would do.
    """
    return parse_design(read_text(path), file_name(path))


def parse_design(text: str, file: str = "design") -> Design:
    """Return the design that a text states.

    Parameters
    ----------
    text : str
        TOML.
    file : str
        The name that messages use.

    Returns
    -------
    design : Design
        Every stated value in SI units; what is left out is None.

    Raises
    ------
    DesignFileError
        With file, section, key, what was found and what would do.
    """
    tables = parse_toml(text, file)
    notes = Notes()
    read: dict[str, Any] = {}
    for name, table in tables.items():
        if name == "part":
            read[name] = _parts(table, file)
        elif name not in sections():
            raise _unknown_section(name, table, file)
        elif not isinstance(table, dict):
            wanted = (
                f"write [{name}] once"
                if isinstance(table, list)
                else f"write [{name}] on a line of its own"
            )
            raise DesignFileError(file=file, section=name, found=seen(table), wanted=wanted)
        elif table or name == "pickup_coil":
            read[name] = _section(name, sections()[name], table, file, notes)
    for name, what in NEEDED.items():
        if name not in read:
            raise DesignFileError(
                file=file, section=name, found="nothing", wanted=f"add [{name}] with {what}"
            )
    return Design(
        file=file,
        **read,
        stated_tolerance=MappingProxyType(notes.tolerance),
        doubts=tuple(notes.doubts),
    )


def _section(
    section: str, record: type[Any], table: Mapping[str, object], file: str, notes: Notes
) -> Any:
    known = keys_of(record)
    values: dict[str, Any] = {}
    for key, raw in table.items():
        place = Place(file=file, section=section, key=key)
        if key not in known:
            raise _unknown_key(section, key, known, file)
        attribute, declared = known[key]
        if isinstance(declared, TableKey) and isinstance(raw, dict):
            values[attribute] = _section(f"{section}.{key}", declared.record, raw, file, notes)
        else:
            values[attribute] = note_reading(declared, raw, place, notes)
    made = record(**values)
    check_section(section, made, file)
    return made


def note_reading(declared: Any, raw: object, place: Place, notes: Notes) -> Any:
    """Return what a key holds, and note its tolerance and the doubt about it, if any."""
    reading = read_key(declared, raw, place)
    if reading.tolerance is not None:
        notes.tolerance[f"{place.section}.{place.key}"] = reading.tolerance
    if reading.usual:
        notes.doubts.append(
            Doubt(section=place.section, key=place.key, found=reading.found, usual=reading.usual)
        )
    return reading.value


def _unknown_section(name: str, table: object, file: str) -> DesignFileError:
    if not isinstance(table, dict | list):
        homes = [section for section, record in sections().items() if name in keys_of(record)]
        where = f"below [{homes[0]}]" if homes else "below its section's line"
        return DesignFileError(
            file=file, key=_name(name), found="a key before any section", wanted=f"write it {where}"
        )
    near = get_close_matches(name[:LONGEST_NAME], [*sections(), "part"], n=1, cutoff=0.5)
    return DesignFileError(
        file=file,
        section=_name(name),
        found="an unknown section",
        wanted=f"did you mean [{near[0]}]?" if near else f"known are {', '.join(sections())}, part",
    )


def _unknown_key(section: str, key: str, known: Mapping[str, Any], file: str) -> DesignFileError:
    near = get_close_matches(key[:LONGEST_NAME], known, n=1, cutoff=0.6)
    homes = [name for name, record in sections().items() if key in keys_of(record)]
    if near:
        wanted = f"did you mean {near[0]}?"
    elif homes:
        wanted = f"it belongs to [{homes[0]}]"
    else:
        wanted = f"known here are {', '.join(known)}"
    return DesignFileError(
        file=file, section=section, key=_name(key), found="an unknown key", wanted=wanted
    )


def _name(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]{1,40}", name) else shown(name)


def _parts(table: object, file: str) -> Mapping[str, Mapping[str, object]]:
    if not isinstance(table, dict):
        raise DesignFileError(
            file=file, section="part", found=seen(table), wanted="write [part.NAME] tables"
        )
    for name, part in table.items():
        if not PART_NAME.fullmatch(name):
            raise DesignFileError(
                file=file,
                section="part",
                found=f"the part name {shown(name)}",
                wanted="use up to 40 letters, digits and + - _ / . in a part's name",
            )
        if not isinstance(part, dict):
            raise DesignFileError(
                file=file, section="part", key=name, found=seen(part),
                wanted=f"write a table [part.{name}] with kind and figures",
            )  # fmt: skip
        _check_inside(part, Place(file=file, section=f"part.{name}", key=""), DEEPEST)
    return MappingProxyType(table)


def _check_inside(raw: object, place: Place, levels: int) -> None:
    """Refuse texts that no line of print may hold, at any depth of a part's table."""
    if levels == 0:
        raise place.error(
            "tables nested too deep", "write a part's figures as `coilwright parts -h` shows"
        )
    if isinstance(raw, str):
        check_text(raw, place, LONGEST_TEXT)
    elif isinstance(raw, dict):
        for key, value in raw.items():
            inner = Place(file=place.file, section=place.section, key=place.key or _name(key))
            if _name(key) != key:
                raise inner.error("an unknown key", "use letters, digits and _ in keys")
            _check_inside(value, inner, levels - 1)
    elif isinstance(raw, list):
        for value in raw:
            _check_inside(value, place, levels - 1)
