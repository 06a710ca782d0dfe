"""The door for one quantity: strict text such as "0.16 mm" or "4k7 5%" becomes an SI number."""

import difflib
import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pint

LONGEST = 64
"""Characters; no quantity that a person writes is longer."""

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

LETTERS = {
    "ohm": {"R": 0, "r": 0, "k": 3, "K": 3, "M": 6, "G": 9},
    "F": {"F": 0, "u": -6, "n": -9, "p": -12},
    "H": {"H": 0, "m": -3, "u": -6, "n": -9},
    "V": {"V": 0},
}
"""Letters of IEC 60062 that stand for the decimal point, and their powers of ten.

A lone m is not among those of resistances and capacitances: half the world writes it for mega
or for micro there.
"""

NAMES = {
    "%": "percent",
    "Kohm": "kohm",
    "KOhm": "kohm",
    "mins": "minutes",
    "hrs": "hours",
    "secs": "seconds",
}
UNREADABLE = {"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"}
SIGNS = str.maketrans(
    {
        "²": "^2", "³": "^3", "⁻": "^-", "¹": "1", "−": "-", "×": "*", "·": "*", "⋅": "*",
        "•": "*", "∕": "/", "⁄": "/",
    }
)  # fmt: skip

NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?(?![0-9])")
TOLERANCE = re.compile(
    r"(?P<value>.*\S)(?:\s*(?:±|\+/-|\+-)|\s)\s*(?P<number>[0-9]{1,3}(?:\.[0-9]{0,6})?)\s*%"
)
LETTER_CODE = re.compile(
    r"(?P<sign>[+-]?)(?P<whole>[0-9]*)(?P<point>\.[0-9]*)?(?P<letter>[A-Za-z])(?P<rest>[0-9]*)"
    r"\s*(?P<unit>[A-Za-z]*)"
)
FACTOR = re.compile(
    r"\s*(?P<by>\*(?!\*)|/)?\s*(?P<name>[A-Za-z]+|%)(?:(?:\^|\*\*)?(?P<power>-?[1-9]))?\s*"
)


class QuantityError(ValueError):
    """Raised for a text that is no quantity of the wanted kind.

    Attributes
    ----------
    found : str
        What stands there, fit for print.
    wanted : str
        What would do, as an instruction.
    """

    def __init__(self, *, found: str, wanted: str):
        self.found = found
        self.wanted = wanted
        super().__init__(f"found {found}; {wanted}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A quantity in the unit that was asked for.

    `tolerance` is relative, None where none is written; `explicit_unit` is False where only the
    key told the unit, as with 4k7.
    """

    value: float
    tolerance: float | None
    explicit_unit: bool


@dataclass(frozen=True, slots=True)
class _Scale:
    """What one unit text means: its dimension, and the line from its numbers to SI numbers."""

    dimension: str
    factor: Decimal
    offset: Decimal


@cache
def _registry() -> "pint.UnitRegistry[float]":
    # Pint takes a fifth of a second to import: only who reads a quantity waits for it.
    import pint  # noqa: PLC0415

    return pint.UnitRegistry(str(Path(__file__).with_name("units.txt")))


def shown(text: str) -> str:
    """Return a text as messages print it: short, on one line, nothing unprintable."""
    short = text if len(text) <= LONGEST else text[:LONGEST] + "…"
    return '"' + "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in short) + '"'


def unreadable(text: str) -> str:
    """Return the first character that no text may hold, as U+XXXX, or nothing."""
    for character in text:
        if unicodedata.category(character) in UNREADABLE:
            return f"U+{ord(character):04X}"
    return ""


def parse_quantity(text: str, unit: str) -> Quantity:
    """Return the quantity that a text states, in the given unit.

    Parameters
    ----------
    text : str
        One number and one unit, as in "0.16 mm"; for resistances, capacitances, inductances and
        voltages also a letter code such as 4k7; a tolerance may follow, as in "4k7 5%".
    unit : str
        The wanted unit: ASCII, SI or `s/day`; `1` for a ratio, which needs no unit.

    Returns
    -------
    quantity : Quantity
        Its value in that unit, its tolerance as a ratio.

    Raises
    ------
    QuantityError
        With what was found and what would do.

    Examples
    --------
    >>> parse_quantity("4k7 5%", "ohm")
    Quantity(value=4700.0, tolerance=0.05, explicit_unit=False)
    >>> parse_quantity("0.16 mm", "m").value
    0.00016
    """
    plain = _plain(text)
    tolerance = None
    match = TOLERANCE.fullmatch(plain)
    if match:
        plain = match["value"]
        tolerance = float(Decimal(match["number"]) / 100)
        if not tolerance < 1:
            raise QuantityError(
                found=f"a tolerance of {match['number']} %", wanted="give one below 100 %"
            )
    code = _letter_code(plain, unit)
    number, unit_text = code or _split(plain, unit)
    if not unit_text and not code and unit != "1":
        raise QuantityError(
            found=f"the bare number {plain}",
            wanted=f'write it with its unit, in quotes, such as "{_with_unit(plain, unit)}"',
        )
    value = _converted(number, unit_text, unit, tolerance is not None)
    return Quantity(value=value, tolerance=tolerance, explicit_unit=bool(unit_text))


def _wanted(unit: str) -> str:
    kind, example = WORDS.get(unit, (f"a quantity in {unit}", f"1 {unit}"))
    return f'write {kind} such as "{example}"'


def _with_unit(number: str, unit: str) -> str:
    example = WORDS.get(unit, ("", f"1 {unit}"))[1]
    return f"{number} {example.split(' ', 1)[1]}"


def _plain(text: str) -> str:
    """Return the text with one spelling of every sign, or refuse it."""
    if len(text) > LONGEST:
        raise QuantityError(
            found=f"{len(text)} characters",
            wanted=f"write one number and one unit in at most {LONGEST} characters",
        )
    hidden = unreadable(text)
    if hidden:
        raise QuantityError(
            found=f"the unreadable character {hidden}", wanted="type the value again without it"
        )
    plain = unicodedata.normalize("NFKC", text.translate(SIGNS))
    plain = plain.replace("Ω", "ohm").replace("μ", "u")
    plain = plain.replace("°C", "degC").replace("°F", "degF").replace("°", "deg").strip()
    if len(plain) > 2 * LONGEST:
        raise QuantityError(found=shown(text), wanted="write one number and one unit")
    if not plain:
        raise QuantityError(found="an empty text", wanted="write a number and its unit")
    return plain


def _letter_code(plain: str, unit: str) -> tuple[Decimal, str] | None:
    """Return number and written unit of a letter code such as 4k7, or None."""
    match = LETTER_CODE.fullmatch(plain)
    letters = LETTERS.get(unit)
    if not match or not letters or not (match["whole"] or match["rest"]):
        return None
    if match["letter"] in "eE" and match["whole"] and match["rest"]:
        return None
    if match["point"] and match["rest"]:
        return None
    letter, written = match["letter"], match["unit"]
    if written and written not in ("ohm", "Ohm", "ohms", "Ohms", "R", unit):
        return None
    if letter == "m" and unit in ("ohm", "F") and not written:
        meant = {"ohm": ("mohm", "Mohm"), "F": ("mF", "uF")}[unit]
        number = match["whole"] + (match["point"] or "") or "0"
        number = number if match["point"] or not match["rest"] else f"{number}.{match['rest']}"
        raise QuantityError(
            found=f"{shown(plain)}, where m may be meant as milli or not",
            wanted=f'write the unit in full: "{number} {meant[0]}" or "{number} {meant[1]}"',
        )
    power = letters.get(letter, -3 if letter == "m" and written else None)
    if power is None:
        return None
    digits = f"{match['whole'] or '0'}{match['point'] or '.' + (match['rest'] or '0')}"
    full = written or (power == 0 and not match["rest"])
    return Decimal(f"{match['sign']}{digits}").scaleb(power), unit if full else ""


def _split(plain: str, unit: str) -> tuple[Decimal, str]:
    match = NUMBER.match(plain)
    rest = plain[match.end() :] if match else plain
    if match and not (rest[:1].isdigit() or rest[:1] in (",", "_", "'")):
        if rest.lstrip()[:1] in ("*", "^", "+", "-", "(") or re.match(r"\s*/\s*[0-9]", rest):
            raise QuantityError(found=shown(plain), wanted="write one number, no arithmetic")
        if not (match[0].strip("+-0") == "" and rest[:1] in ("x", "X")):
            number = Decimal(match[0])
            if abs(number.adjusted()) > 300 and number:
                raise QuantityError(found=f"the number {match[0]}", wanted=_wanted(unit))
            return number, rest.strip()
    raise _no_number(plain, unit)


def _no_number(plain: str, unit: str) -> QuantityError:
    comma = re.match(r"[+-]?[0-9]+,[0-9]*", plain)
    if comma:
        return QuantityError(
            found=f"a comma in {shown(plain)}",
            wanted=f'write a decimal point: "{plain.replace(",", ".")}"',
        )
    if re.match(r"[+-]?(nan|inf)", plain, re.IGNORECASE):
        return QuantityError(found=shown(plain), wanted=f"only finite numbers do; {_wanted(unit)}")
    if re.match(r"[+-]?0[xX]", plain) or re.match(r"[+-]?[0-9]+[_']", plain):
        return QuantityError(
            found=shown(plain), wanted=f"use the decimal digits 0 to 9 only; {_wanted(unit)}"
        )
    return QuantityError(found=shown(plain), wanted=_wanted(unit))


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


@lru_cache(maxsize=1024)
def _scale(unit_text: str) -> _Scale | None:
    """Return what a unit text means, or None if the registry does not know it."""
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
    return _Scale(dimension, factor, Decimal(repr(zero)))


def _converted(number: Decimal, unit_text: str, unit: str, has_tolerance: bool) -> float:
    target = _scale(unit)
    if target is None:
        raise ValueError(f"quantity: {unit} is no unit of the registry")
    if not unit_text:
        return float(number)
    scale = _scale(unit_text)
    if scale is None:
        raise _unknown_unit(number, unit_text, unit)
    if scale.dimension != target.dimension:
        raise QuantityError(
            found=f"{_kind(scale.dimension)} ({number} {unit_text})", wanted=_wanted(unit)
        )
    if scale.offset and has_tolerance:
        raise QuantityError(
            found="a tolerance in per cent on a temperature", wanted="leave the tolerance out"
        )
    return float((number * scale.factor + scale.offset) / target.factor)


def _kind(dimension: str) -> str:
    for unit, (kind, _) in WORDS.items():
        scale = _scale(unit)
        if scale and scale.dimension == dimension:
            return kind
    return "a quantity of another kind"


def _unknown_unit(number: Decimal, unit_text: str, unit: str) -> QuantityError:
    known = [unit, *(example.split(" ", 1)[1] for _, example in WORDS.values())]
    known += ["mm", "um", "cm", "ohm", "Mohm", "uF", "pF", "mV", "mA", "kHz", "min", "h", "days"]
    near = [name for name in known if name.casefold() == unit_text.casefold()]
    near += difflib.get_close_matches(unit_text, known, n=3, cutoff=0.7)
    target = _scale(unit)
    fits = [
        name for name in near if (s := _scale(name)) and target and s.dimension == target.dimension
    ]
    hint = f'write "{number} {fits[0]}"' if fits else _wanted(unit)
    return QuantityError(found=f"the unknown unit {shown(unit_text)}", wanted=hint)
