"""The parts catalogue: records from the data files and from the design file's own parts."""

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from math import exp, log
from types import MappingProxyType
from typing import Any, TypeVar, cast

from circuits.errors import DesignFileError
from circuits.part_reader import read_part
from circuits.part_records import (
    CapacityPoint,
    Cell,
    CutoffPoint,
    Diode,
    ForwardPoint,
    GainPoint,
    MagnetGrade,
    Mark,
    Mosfet,
    OnPoint,
    OpenPoint,
    PinClass,
    SaturationPoint,
    Transistor,
    TypicalGainPoint,
    WireSize,
    Zener,
)
from circuits.plain_text import shown

__all__ = [
    "KINDS",
    "CapacityPoint",
    "Catalogue",
    "Cell",
    "CutoffPoint",
    "Diode",
    "ForwardPoint",
    "GainPoint",
    "MagnetGrade",
    "Mark",
    "Mosfet",
    "OnPoint",
    "OpenPoint",
    "Part",
    "PinClass",
    "SaturationPoint",
    "Transistor",
    "TypicalGainPoint",
    "WireSize",
    "Zener",
]

Part = Transistor | Mosfet | Diode | Zener | MagnetGrade | Cell | PinClass | WireSize
P = TypeVar("P")

KINDS: Mapping[str, type[Any]] = MappingProxyType(
    {
        "npn": Transistor,
        "nmos": Mosfet,
        "diode": Diode,
        "zener": Zener,
        "magnet": MagnetGrade,
        "wire": WireSize,
        "cell": Cell,
        "pin": PinClass,
    }
)
"""The kinds of part, as the design file and the command line write them."""

_PLACES = {
    "npn": ("drive", "transistor"),
    "nmos": ("drive", "transistor"),
    "diode": ("clamp", "diode"),
    "zener": ("clamp", "zener"),
    "magnet": ("magnet", "grade"),
    "wire": ("coil", "wire"),
    "cell": ("supply", "cell"),
    "pin": ("controller", "chip"),
}


def _plain(name: str) -> str:
    """Drop case and the signs that makers and shops put in or leave out."""
    return "".join(c for c in name.casefold() if c.isalnum() or c == "+")


@cache
def _tables(kind: str) -> tuple[Mapping[str, Mapping[str, Any]], Mapping[str, str]]:
    """Read one data file: tables by name, and names by plain spelling."""
    text = (files("circuits.parts") / f"{kind}.toml").read_text(encoding="utf-8")
    tables: dict[str, Mapping[str, Any]] = {}
    spellings: dict[str, str] = {}
    for heading, family in tomllib.loads(text).items():
        shared = {key: value for key, value in family.items() if key != "parts"}
        for name, table in family.get("parts", {heading: {}}).items():
            tables[name] = shared | table
            spellings.update({_plain(word): name for word in (name, *tables[name].get("also", ()))})
    return MappingProxyType(tables), MappingProxyType(spellings)


@cache
def _shipped(kind: str, name: str) -> Part:
    """Make the record of one part when it is first asked for."""
    table = {key: value for key, value in _tables(kind)[0][name].items() if key != "also"}
    return cast(Part, read_part(KINDS[kind], name, table))


class Catalogue:
    """The parts by name; a part of the design file's own goes before one of the same name."""

    def __init__(
        self,
        own: Mapping[str, Mapping[str, object]] = MappingProxyType({}),
        file: str = "",
    ) -> None:
        self.file = file or "design"
        self._own: dict[str, dict[str, Part]] = {kind: {} for kind in KINDS}
        self.own_names: tuple[str, ...] = tuple(own)
        if own:
            from circuits.own_parts import read_own_part  # noqa: PLC0415 - needs the parser

            for name, table in own.items():
                kind, part = read_own_part(name, table, self.file)
                self._own[kind][name] = part

    def transistor(self, name: str) -> Transistor | Mosfet:
        """Return the transistor or MOSFET of that name."""
        for kind in ("npn", "nmos"):
            part = self._find(kind, name)
            if part is not None:
                return cast(Transistor | Mosfet, part)
        raise self._unknown(("npn", "nmos"), name)

    def transistors(self) -> tuple[Transistor, ...]:
        """Return every NPN transistor, the user's own first."""
        return cast(tuple[Transistor, ...], self.parts("npn"))

    def mosfets(self) -> tuple[Mosfet, ...]:
        """Return every N-channel MOSFET, the user's own first."""
        return cast(tuple[Mosfet, ...], self.parts("nmos"))

    def diode(self, name: str) -> Diode:
        """Return the diode of that name."""
        return cast(Diode, self.part("diode", name))

    def diodes(self) -> tuple[Diode, ...]:
        """Return every diode, the user's own first."""
        return cast(tuple[Diode, ...], self.parts("diode"))

    def zener(self, name: str) -> Zener:
        """Return the zener diode of that name."""
        return cast(Zener, self.part("zener", name))

    def zeners(self) -> tuple[Zener, ...]:
        """Return every zener diode, the user's own first."""
        return cast(tuple[Zener, ...], self.parts("zener"))

    def magnet(self, grade: str) -> MagnetGrade:
        """Return the magnet grade of that name."""
        return cast(MagnetGrade, self.part("magnet", grade))

    def magnets(self) -> tuple[MagnetGrade, ...]:
        """Return every magnet grade, the user's own first."""
        return cast(tuple[MagnetGrade, ...], self.parts("magnet"))

    def cell(self, designation: str) -> Cell:
        """Return the cell of that IEC designation or common name."""
        return cast(Cell, self.part("cell", designation))

    def cells(self) -> tuple[Cell, ...]:
        """Return every cell, the user's own first."""
        return cast(tuple[Cell, ...], self.parts("cell"))

    def pin(self, chip: str) -> PinClass:
        """Return the pin class of that name or of that chip."""
        return cast(PinClass, self.part("pin", chip))

    def pins(self) -> tuple[PinClass, ...]:
        """Return every pin class, the user's own first."""
        return cast(tuple[PinClass, ...], self.parts("pin"))

    def wires(self) -> tuple[WireSize, ...]:
        """Return every tabulated wire, the user's own first."""
        return cast(tuple[WireSize, ...], self.parts("wire"))

    def wire(self, d_wire: float) -> WireSize:
        """Return the enamelled wire of that bare diameter.

        Between two tabulated sizes the ratio of overall to bare diameter is interpolated over
        the logarithm of the diameter; beyond the table the last ratio is kept. The note of the
        record says so, and its resistance per metre is then unknown.
        """
        own = [size for size in self._own["wire"].values() if isinstance(size, WireSize)]
        table = sorted((_shipped_wire(name) for name in _tables("wire")[0]), key=_bare)
        for size in (*own, *table):
            if abs(size.d_wire / d_wire - 1) < 2e-3:
                return size
        above = next((size for size in table if size.d_wire > d_wire), table[-1])
        below = next((size for size in reversed(table) if size.d_wire < d_wire), table[0])
        if above is below:
            share, words = 0.0, f"beyond the table, enamel in proportion as at {above.name}"
        else:
            share = log(d_wire / below.d_wire) / log(above.d_wire / below.d_wire)
            words = f"enamel interpolated between {below.name} and {above.name}"

        def overall(grade: str) -> float:
            low = getattr(below, grade) / below.d_wire
            high = getattr(above, grade) / above.d_wire
            return float(d_wire * exp((1 - share) * log(low) + share * log(high)))

        return replace(
            below,
            name=f"{d_wire * 1e3:.4g} mm",
            d_wire=d_wire,
            d_overall_grade1=overall("d_overall_grade1"),
            d_overall_grade2=overall("d_overall_grade2"),
            d_overall_grade1_min=None,
            d_overall_grade2_min=None,
            r_per_metre=None,
            r_per_metre_min=None,
            r_per_metre_max=None,
            note=words,
        )

    def parts(self, kind: str) -> tuple[Part, ...]:
        """Return every part of a kind, the user's own first."""
        own = self._own[kind]
        hidden = {_plain(name) for name in own}
        shipped = (_shipped(kind, n) for n in _tables(kind)[0] if _plain(n) not in hidden)
        return (*own.values(), *shipped)

    def names(self, kind: str) -> tuple[str, ...]:
        """Return the names of a kind, the user's own first."""
        return tuple(part.name for part in self.parts(kind))

    def names_at(self, section: str, key: str, switch: str) -> tuple[str, ...]:
        """Return the names of all parts that a key may hold, with a switch of that kind."""
        kinds = [kind for kind, place in _PLACES.items() if place == (section, key)]
        return tuple(n for kind in kinds if len(kinds) == 1 or kind == switch
                     for n in self.names(kind))  # fmt: skip

    def part(self, kind: str, name: str) -> Part:
        """Return the part of that kind and name."""
        found = self._find(kind, name)
        if found is None:
            raise self._unknown((kind,), name)
        return found

    def knows(self, kind: str, name: str) -> bool:
        """Whether there is a part of that kind and name."""
        return self._find(kind, name) is not None

    def source_of(self, kind: str, name: str, field: str) -> str:
        """Return document, test condition and confidence of one figure of a part."""
        mark = self.part(kind, name).marks.get(field)
        return "" if mark is None else str(mark)

    def _find(self, kind: str, name: str) -> Part | None:
        plain = _plain(name)
        for own_name, part in self._own[kind].items():
            if _plain(own_name) == plain:
                return part
        spellings = _tables(kind)[1]
        return _shipped(kind, spellings[plain]) if plain in spellings else None

    def _unknown(self, kinds: tuple[str, ...], name: str) -> DesignFileError:
        known: dict[str, str] = {}
        for kind in kinds:
            known |= {_plain(n): n for n in self._own[kind]} | dict(_tables(kind)[1])
        near = [known[n] for n in get_close_matches(_plain(name), known, n=3, cutoff=0.5)]
        names = ", ".join(dict.fromkeys(near)) or ", ".join(list(dict.fromkeys(known.values()))[:6])
        section, key = _PLACES[kinds[0]]
        return DesignFileError(
            file=self.file,
            section=section,
            key=key,
            found=shown(name),
            wanted=(
                f"write a name of the catalogue ({'nearest: ' if near else 'such as '}{names}; "
                f"all of them: coilwright parts {kinds[0]}), or describe your own part in "
                "[part.NAME]"
            ),
        )


def _shipped_wire(name: str) -> WireSize:
    return cast(WireSize, _shipped("wire", name))


def _bare(size: WireSize) -> float:
    return size.d_wire
