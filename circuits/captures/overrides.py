"""What the user says about a file, over what the file itself seems to say."""

import re
from dataclasses import dataclass, field

from circuits.captures.heading_units import HeadingUnit, known_unit
from circuits.errors import DesignFileError, QuantityError
from circuits.plain_text import shown
from circuits.quantity import parse_quantity

SCALED = re.compile(r"(?P<number>[+-]?[0-9]+\.?[0-9]*(?:[eE][+-]?[0-9]{1,3})?)\s*(?P<unit>\D\S*)")
ORDERS = {"dmy": "dmy", "mdy": "mdy", "day first": "dmy", "month first": "mdy"}
MARKS = {".": ".", ",": ",", "point": ".", "comma": ","}


@dataclass(frozen=True, slots=True, kw_only=True)
class Overrides:
    """Names, picks and units as the user gave them.

    `names` go by place, `picks` by name to a heading or number; `units` by name or by place.
    """

    names: tuple[str, ...] = ()
    picks: dict[str, str] = field(default_factory=dict)
    units_in_order: tuple[HeadingUnit | None, ...] = ()
    units: dict[str, HeadingUnit] = field(default_factory=dict)
    interval: float | None = None
    date_order: str = ""
    decimal: str = ""


def read_overrides(columns: str | None, units: str | None, decimal: str | None) -> Overrides:
    """Return what the three options state, or refuse what they cannot mean."""
    names: tuple[str, ...] = ()
    picks: dict[str, str] = {}
    if columns is not None:
        entries = _entries(columns, "--columns", 'names such as "time, coil" or "coil=3"')
        if any("=" in entry for entry in entries):
            for entry in entries:
                name, _, place = (part.strip() for part in entry.partition("="))
                if not name or not place or name in picks:
                    raise _refuse("--columns", entry, 'pairs such as "time=1, coil=3"')
                picks[name] = place
        else:
            names = tuple(entries)
    by_place, by_name, interval, order = _units(units)
    mark = ""
    if decimal is not None:
        mark = MARKS.get(decimal.strip().casefold(), "")
        if not mark:
            raise _refuse("--decimal", decimal, '"." or ","')
    return Overrides(
        names=names, picks=picks, units_in_order=by_place, units=by_name, interval=interval,
        date_order=order, decimal=mark,
    )  # fmt: skip


def _entries(text: str, option: str, example: str) -> list[str]:
    entries = [entry.strip() for entry in text.split(",")]
    if len(text) > 10_000 or not all(entries):
        raise _refuse(option, text, f"{example}; a lone - leaves a column out")
    return entries


def _units(
    units: str | None,
) -> tuple[tuple[HeadingUnit | None, ...], dict[str, HeadingUnit], float | None, str]:
    by_place: list[HeadingUnit | None] = []
    by_name: dict[str, HeadingUnit] = {}
    interval, order = None, ""
    if units is None:
        return (), by_name, interval, order
    example = 'units such as "s, V" or "time=ms, coil=V" or "interval=20 us"'
    for entry in _entries(units, "--units", example):
        name, mark, text = (part.strip() for part in entry.partition("="))
        if not mark:
            by_place.append(None if entry == "-" else _unit(entry))
        elif name in ("interval", "rate"):
            interval = _interval(name, text)
        elif name == "date":
            order = ORDERS.get(text.casefold(), "")
            if not order:
                raise _refuse("--units", entry, '"date=dmy" (day first) or "date=mdy"')
        else:
            by_name[name] = _unit(text)
    return tuple(by_place), by_name, interval, order


def _unit(text: str) -> HeadingUnit:
    match = SCALED.fullmatch(text)
    unit = known_unit(match["unit"] if match else text)
    factor = float(match["number"]) if match else 1.0
    if unit is None or factor == 0 or (unit.offset and factor != 1) or abs(factor) > 1e30:
        raise _refuse(
            "--units", text,
            "a unit such as s, ms, V, mV, mA, degC, or what a reading of 1 means, such as 50 mV",
        )  # fmt: skip
    if factor == 1:
        return unit
    return HeadingUnit(f"{match['number'] if match else ''} {unit.text}", unit.si,
                       unit.factor * factor)  # fmt: skip


def _interval(name: str, text: str) -> float:
    unit, example = ("s", "20 us") if name == "interval" else ("Hz", "44.1 kHz")
    try:
        value = parse_quantity(text, unit).value
    except QuantityError as error:
        raise DesignFileError(
            file="command line", key=f"--units {name}", found=error.found, wanted=error.wanted
        ) from error
    if not 1e-15 < value < 1e15:
        raise _refuse("--units", f"{name}={text}", f'"{name}={example}"')
    return value if name == "interval" else 1 / value


def _refuse(option: str, found: str, wanted: str) -> DesignFileError:
    return DesignFileError(
        file="command line", key=option, found=shown(found), wanted=f"give {wanted}"
    )
