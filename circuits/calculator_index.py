"""Every calculator by name, with its arguments, formula and source as its own text tells them."""

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from dataclasses import MISSING, dataclass, fields, is_dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import numpy as np

import calc
from calc import units
from calc.units import Unit

_SECTION = re.compile(r"^(?P<name>[A-Z][a-z]+)\n-+\n", re.MULTILINE)
_ENTRY = re.compile(r"^(?P<names>\w[\w, ]*) : .*\n(?P<words>(?:    .*\n?|\n)+)", re.MULTILINE)
_BRACKET = re.compile(r"\s*\[(?P<unit>[^\]]+)\]")

_PLAIN = {
    "Metre": "m",
    "SquareMetre": "m^2",
    "Kilogram": "kg",
    "Second": "s",
    "PerSecond": "1/s",
    "Ampere": "A",
    "Kelvin": "K",
    "PerKelvin": "1/K",
    "Volt": "V",
    "Ohm": "ohm",
    "OhmPerMetre": "ohm/m",
    "OhmMetre": "ohm*m",
    "Henry": "H",
    "Farad": "F",
    "Tesla": "T",
    "Weber": "Wb",
    "WeberPerMetre": "Wb/m",
    "Newton": "N",
    "Joule": "J",
    "Watt": "W",
    "Coulomb": "C",
    "MetrePerSecond": "m/s",
    "KilogramSquareMetre": "kg*m^2",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Argument:
    """One figure that a calculator takes; `path` leads into a record that it belongs to."""

    path: tuple[str, ...]
    kind: str
    unit: str
    words: str
    default: Any = MISSING
    choices: tuple[str, ...] = ()

    @property
    def option(self) -> str:
        """The option of the command line."""
        return "--" + "-".join(self.path).replace("_", "-")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One calculator; `arguments` is None where a command line cannot state them."""

    name: str
    subject: str
    function: Callable[..., Any]
    hints: dict[str, Any]
    sections: dict[str, str]
    arguments: tuple[Argument, ...] | None

    @property
    def summary(self) -> str:
        """What it gives, in one line."""
        line = self.sections[""].strip().split("\n\n")[0].replace("\n", " ").rstrip(".")
        return line.removeprefix("Return ")

    @property
    def formula(self) -> list[str]:
        """The printed formula, or the method of a routine."""
        opening = self.sections.get("Notes", "").split("\n\n")[0].rstrip()
        if opening.startswith("By "):
            return [re.sub(r";? ?[Hh]eld by test_\w+\.?", "", " ".join(opening.split()))]
        return opening.splitlines()

    @property
    def records(self) -> dict[str, str]:
        """What each record among the arguments is, in its own words."""
        found = {name: record_of(hint) for name, hint in self.hints.items() if name != "return"}
        return {
            name: " ".join((inspect.getdoc(record) or "").replace("`", "").split())
            for name, record in found.items()
            if record is not None
        }

    @property
    def source(self) -> str:
        """Where the relation comes from."""
        return " ".join(self.sections.get("References", "").split())

    def result_unit(self, name: str) -> str | None:
        """Return the unit printed for a returned value."""
        return _described(self.sections.get("Returns", "")).get(name, ("", None))[1]

    def result_name(self) -> str:
        """Return the name of a single returned value."""
        found = _ENTRY.search(self.sections.get("Returns", ""))
        return found["names"] if found else self.name


def unit_text(unit: Unit) -> str:
    """Return a unit in plain letters: by its name, or by powers of the base units."""
    for name, text in _PLAIN.items():
        if get_args(getattr(units, name))[1] == unit:
            return text
    powers = {name: getattr(unit, name) for name in ("kg", "m", "s", "A", "K")}
    factors = [
        name if power == 1 else f"{name}^{power:g}" for name, power in powers.items() if power
    ]
    return "*".join(factors) or "1"


def unit_of(hint: Any) -> Unit | None:
    """Return the unit that an alias carries, if it carries one."""
    for extra in getattr(hint, "__metadata__", ()):
        if isinstance(extra, Unit):
            return extra
    return None


@cache
def calculators() -> dict[str, Entry]:
    """Return every calculator by name; a name that two subjects share is led by its module."""
    found = list(_walk())
    names = [function.__name__ for _, function in found]
    entries: dict[str, Entry] = {}
    for module, function in found:
        name = function.__name__
        if names.count(name) > 1:
            name = f"{module.__name__.rpartition('.')[2]}.{name}"
        entries[name] = _entry(name, module, function)
    return entries


def _walk() -> Iterator[tuple[Any, Callable[..., Any]]]:
    names = [info.name for info in pkgutil.walk_packages(calc.__path__, "calc.")]
    for path in (*names, "circuits.preferred_calculators"):
        module = importlib.import_module(path)
        for value in vars(module).values():
            if getattr(value, "calculator", False) and value.__module__ == module.__name__:
                yield module, value


def _entry(name: str, module: Any, function: Callable[..., Any]) -> Entry:
    parts = _SECTION.split(inspect.getdoc(function) or "")
    sections = {"": parts[0], **dict(zip(parts[1::2], parts[2::2], strict=True))}
    hints = get_type_hints(function, include_extras=True)
    subject = (module.__doc__ or module.__name__).strip().splitlines()[0].rstrip(".")
    return Entry(
        name=name, subject=subject, function=function, hints=hints, sections=sections,
        arguments=_arguments(function, hints, sections.get("Parameters", "")),
    )  # fmt: skip


def _described(section: str) -> dict[str, tuple[str, str | None]]:
    """Return words and printed unit of each entry of a section."""
    found: dict[str, tuple[str, str | None]] = {}
    for match in _ENTRY.finditer(section):
        words = " ".join(match["words"].split())
        bracket = _BRACKET.search(words)
        unit = _ascii(bracket["unit"]) if bracket else None
        for name in match["names"].split(", "):
            found[name] = (_BRACKET.sub("", words).rstrip("."), unit)
    return found


def _ascii(printed: str) -> str:
    """Return a printed unit as the design file writes it."""
    plain = printed.replace("Ω", "ohm").replace("µ", "u").replace(" ", "*")
    return "1/ohm" if plain == "S" else plain


def _arguments(
    function: Callable[..., Any], hints: dict[str, Any], section: str
) -> tuple[Argument, ...] | None:
    described = _described(section)
    found: list[Argument] = []
    for name, parameter in inspect.signature(function).parameters.items():
        words, unit = described.get(name, (name.replace("_", " "), None))
        default = MISSING if parameter.default is parameter.empty else parameter.default
        taken = _taken((name,), hints[name], words, unit, default)
        if taken is None:
            return None
        found += taken
    return tuple(found)


def _taken(
    path: tuple[str, ...], hint: Any, words: str, unit: str | None, default: Any
) -> list[Argument] | None:
    """Return the arguments that one hint stands for; None if no text can state them."""
    if get_origin(hint) in (Union, UnionType):
        rest = [member for member in get_args(hint) if member is not NoneType]
        return _taken(path, rest[0], words, unit, default) if len(rest) == 1 else None
    if is_dataclass(hint) and isinstance(hint, type):
        return _of_record(path, hint, default)
    kind, choices = _kind(hint), ()
    if kind == "choice":
        choices = get_args(hint)
    if kind is None:
        return None if default is MISSING else []
    if kind == "curve" and len(path) > 2:
        return None  # a tabulated function inside a record: nobody types that
    found = unit_of(hint)
    unit = unit or (unit_text(found) if found else "1")
    return [
        Argument(path=path, kind=kind, unit=unit, words=words, default=default, choices=choices)
    ]


def _kind(hint: Any) -> str | None:
    if get_origin(hint) is Literal:
        return "choice"
    if hint is bool:
        return "yes or no"
    if unit_of(hint) is None:
        return None
    base = get_args(hint)[0] if not hasattr(hint, "__origin__") else hint.__origin__
    if base is int:
        return "count"
    if base is float:
        return "quantity"
    return "curve" if get_origin(base) is np.ndarray else None


def _of_record(path: tuple[str, ...], record: type[Any], default: Any) -> list[Argument] | None:
    hints = get_type_hints(record, include_extras=True)
    found: list[Argument] = []
    for field in fields(record):
        if not field.init:
            continue
        own = field.default if default is MISSING else getattr(default, field.name)
        words = f"{path[-1]}, {field.name}"
        taken = _taken((*path, field.name), hints[field.name], words, None, own)
        if taken is None:
            return None
        found += taken
    return found


def record_of(hint: Any) -> type[Any] | None:
    """Return the record that a hint names, if it names one."""
    members = get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)
    return next((m for m in members if isinstance(m, type) and is_dataclass(m)), None)
