"""Unit texts: their grammar, what they measure, and how they scale to SI units."""

import difflib
import re
from dataclasses import dataclass
from decimal import Decimal
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from circuits.common_units import READY
from circuits.errors import QuantityError
from circuits.plain_text import shown

if TYPE_CHECKING:
    import pint

MOST_FACTORS = 6
"""Unit factors such as kg*m^2/s^2; more is no unit of this trade."""

WORDS = {
    "m": ("a length", "0.16 mm"),
    "kg": ("a mass", "250 g"),
    "s": ("a time", "18 ms"),
    "A": ("a current", "15 uA"),
    "K": ("a temperature", "20 degC"),
    "rad": ("an angle", "2.5 deg"),
    "1": ("a ratio", "5 %"),
    "Hz": ("a frequency", "50 Hz"),
    "V": ("a voltage", "1.5 V"),
    "ohm": ("a resistance", "4.7 kohm"),
    "F": ("a capacitance", "100 nF"),
    "H": ("an inductance", "250 mH"),
    "T": ("a flux density", "1.2 T"),
    "Wb": ("a flux", "2 mWb"),
    "C": ("a charge", "2500 mAh"),
    "J": ("an energy", "20 uJ"),
    "W": ("a power", "3 mW"),
    "N": ("a force", "5 mN"),
    "kg*m^2": ("an inertia", "3e-6 kg*m^2"),
    "1/K": ("an expansion per kelvin", "12e-6 1/K"),
    "N/m": ("a stiffness", "2e6 N/m"),
    "s/day": ("a rate", "0.5 s/day"),
    "1/day": ("a rate per time", "-900 1/day"),
}
"""What the commonest units measure, and an example of each."""

NAMES = {
    "%": "percent",
    "Kohm": "kohm",
    "KOhm": "kohm",
    "mins": "minutes",
    "hrs": "hours",
    "secs": "seconds",
}
FACTOR = re.compile(
    r"\s*(?P<by>\*(?!\*)|/)?\s*(?P<name>[A-Za-z]+|%)(?:(?:\^|\*\*)?(?P<power>-?[1-9]))?\s*"
)


@dataclass(frozen=True, slots=True)
class Scale:
    """What one unit text means: its dimension, and the line from its numbers to SI numbers."""

    dimension: str
    factor: Decimal
    offset: Decimal


@cache
def _registry() -> "pint.UnitRegistry[float]":
    # Pint takes a fifth of a second to import: only who reads a quantity waits for it.
    import pint  # noqa: PLC0415

    return pint.UnitRegistry(str(Path(__file__).with_name("units.txt")))


def wanted(unit: str) -> str:
    """Return what to write for a quantity of this unit."""
    words, example = WORDS.get(unit, (f"a quantity in {unit}", f"1 {unit}"))
    return f'write {words} such as "{example}"'


def with_unit(number: str, unit: str) -> str:
    """Return a bare number with the unit that makers mostly write for it.

    Coils and bias resistors are a thousand apart: a bare number of ohms is not moved.
    """
    if unit == "ohm":
        return f"{number} ohm"
    example = WORDS.get(unit, ("", f"1 {unit}"))[1]
    return f"{number} {example.split(' ', 1)[1]}"


def _factors(unit_text: str) -> str:
    """Return a unit text in pint's own syntax, after the grammar has been checked here."""
    rest = unit_text
    if re.match(r"1\s*/", rest):
        rest = rest[1:].lstrip()
    cleaned: list[str] = []
    while rest:
        match = FACTOR.match(rest)
        if not match or (cleaned and not match["by"]):
            raise QuantityError(found=f"the unit {shown(unit_text)}", wanted="write one unit")
        if len(cleaned) == MOST_FACTORS:
            raise QuantityError(
                found=f"a unit of more than {MOST_FACTORS} factors", wanted="write a simpler unit"
            )
        power = int(match["power"] or 1) * (-1 if match["by"] == "/" else 1)
        cleaned.append(f"{NAMES.get(match['name'], match['name'])}**{power}")
        rest = rest[match.end() :]
    if len(cleaned) > 1:
        # A temperature difference, as in ppm/degC, has no zero point.
        cleaned = [re.sub(r"^(degC|celsius)\b", "kelvin", factor) for factor in cleaned]
    return " * ".join(cleaned)


_READY = {
    text: Scale(dimension, Decimal(factor), Decimal(zero))
    for dimension, units in READY.items()
    for text, (factor, zero) in units.items()
}


def scale(unit_text: str) -> Scale | None:
    """Return what a unit text means, or None if the registry does not know it."""
    return _READY.get(unit_text) or scale_by_registry(unit_text)


@lru_cache(maxsize=1024)
def scale_by_registry(unit_text: str) -> Scale | None:
    """Return what the unit library makes of a text."""
    import pint  # noqa: PLC0415

    registry = _registry()
    cleaned = _factors(unit_text) if unit_text != "1" else ""
    try:
        parsed = registry.parse_units(cleaned)
        root, _ = registry.get_root_units(parsed, check_nonmult=False)
        factor = Decimal(str(root))
        zero = 0.0
        if str(parsed) in ("degree_Celsius", "degree_Fahrenheit"):
            zero = float(registry.Quantity(0.0, parsed).to("kelvin").magnitude)
    except (pint.errors.PintError, ArithmeticError, ValueError):
        return None
    dimension = str(parsed.dimensionality)
    return Scale(dimension, factor, Decimal(repr(zero)))


def kind(dimension: str) -> str:
    """Return in words what a dimension measures."""
    for unit, (words, _) in WORDS.items():
        known = scale(unit)
        if known and known.dimension == dimension:
            return words
    return "a quantity of another kind"


def unknown_unit(number: Decimal, unit_text: str, unit: str) -> QuantityError:
    """Return the error for a unit text that means nothing, with the nearest that would do."""
    known = [unit, *(example.split(" ", 1)[1] for _, example in WORDS.values())]
    known += ["mm", "um", "cm", "ohm", "Mohm", "uF", "pF", "mV", "mA", "kHz", "min", "h", "days"]
    near = [name for name in known if name.casefold() == unit_text.casefold()]
    near += difflib.get_close_matches(unit_text, known, n=3, cutoff=0.7)
    target = scale(unit)
    fits = [
        name
        for name in near
        if (offered := scale(name)) and target and offered.dimension == target.dimension
    ]
    hint = f'write "{number} {fits[0]}"' if fits else wanted(unit)
    return QuantityError(found=f"the unknown unit {shown(unit_text)}", wanted=hint)
