"""The door for one quantity: strict text such as "0.16 mm" or "4k7 5%" becomes an SI number."""

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal

from circuits.errors import QuantityError
from circuits.plain_text import shown, unreadable
from circuits.unit_text import kind, scale, unknown_unit, wanted, with_unit

__all__ = ["Quantity", "QuantityError", "parse_quantity", "shown"]

LONGEST = 64
"""Characters; no quantity that a person writes is longer."""

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

OHMS = {"ohm": ("", "ohm", "Ohm", "ohms", "Ohms", "R")}
"""What may follow a letter code where the unit's own sign is not the only spelling."""

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
    r"(?P<sign>[+-]?)(?P<whole>[0-9]*)(?P<point>\.[0-9]*)?"
    r"(?:\s+(?P<apart>[A-Za-z])|(?P<close>[A-Za-z])(?P<rest>[0-9]*))"
    r"\s*(?P<unit>[A-Za-z]*)"
)
GAUGE = re.compile(
    r"AWG\s*#?\s*(?P<before>[0-9]{1,2})|#?(?P<after>[0-9]{1,2})\s*(?:AWG|ga\.?|gauge)",
    re.IGNORECASE,
)
"""American wire gauge, as it is written beside a number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A quantity in the unit that was asked for.

    `tolerance` is relative, None where none is written; `explicit_unit` is False where only the
    key told the unit, as with 4k7.
    """

    value: float
    tolerance: float | None
    explicit_unit: bool


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
    if unit == "m":
        _refuse_gauge(plain)
    number, unit_text = code or _split(plain, unit)
    if not unit_text and not code and unit != "1":
        raise QuantityError(
            found=f"the bare number {plain}",
            wanted=f'write it with its unit, in quotes, such as "{with_unit(plain, unit)}"',
        )
    value = _converted(number, unit_text, unit, tolerance is not None)
    return Quantity(value=value, tolerance=tolerance, explicit_unit=bool(unit_text))


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
    if not match or not letters:
        return None
    whole, point, rest = match["whole"], match["point"] or "", match["rest"] or ""
    letter, written = match["apart"] or match["close"], match["unit"]
    if not (whole or rest) or (point and rest) or written not in OHMS.get(unit, ("", unit)):
        return None
    number = f"{whole or '0'}{point or ('.' + rest if rest else '')}"
    if letter == "m" and unit in ("ohm", "F") and not written:
        small, large = {"ohm": ("mohm", "Mohm"), "F": ("mF", "uF")}[unit]
        raise QuantityError(
            found=f"{shown(plain)}, where m may be meant as milli or not",
            wanted=f'write the unit in full: "{number} {small}" or "{number} {large}"',
        )
    power = letters.get(letter, -3 if letter == "m" and written else None)
    if power is None:
        return None
    full = written or (power == 0 and not rest)
    return Decimal(match["sign"] + number).scaleb(power), unit if full else ""


def _split(plain: str, unit: str) -> tuple[Decimal, str]:
    match = NUMBER.match(plain)
    rest = plain[match.end() :] if match else plain
    if match and not (rest[:1].isdigit() or rest[:1] in (",", "_", "'")):
        if rest.lstrip()[:1] in ("*", "^", "+", "-", "(") or re.match(r"\s*/\s*[0-9]", rest):
            raise QuantityError(found=shown(plain), wanted="write one number, no arithmetic")
        if not (match[0].strip("+-0") == "" and rest[:1] in ("x", "X")):
            number = Decimal(match[0])
            if abs(number.adjusted()) > 300 and number:
                raise QuantityError(found=f"the number {match[0]}", wanted=wanted(unit))
            return number, rest.strip()
    raise _no_number(plain, unit)


def _refuse_gauge(plain: str) -> None:
    """Refuse a wire gauge where a length is wanted, and say what length it is."""
    match = GAUGE.fullmatch(plain)
    if match is None:
        return
    from calc.wire import awg_diameter  # noqa: PLC0415 - start-up time

    number = int(match["before"] or match["after"])
    diameter = awg_diameter(awg=number)
    raise QuantityError(
        found=f"a wire gauge ({shown(plain)})",
        wanted=f'write its bare diameter, "{1e3 * diameter:.3g} mm"',
    )


def _no_number(plain: str, unit: str) -> QuantityError:
    comma = re.match(r"[+-]?[0-9]+,[0-9]*", plain)
    if comma:
        return QuantityError(
            found=f"a comma in {shown(plain)}",
            wanted=f'write a decimal point: "{plain.replace(",", ".")}"',
        )
    if re.match(r"[+-]?(nan|inf)", plain, re.IGNORECASE):
        return QuantityError(found=shown(plain), wanted=f"only finite numbers do; {wanted(unit)}")
    if re.match(r"[+-]?0[xX]", plain) or re.match(r"[+-]?[0-9]+[_']", plain):
        return QuantityError(
            found=shown(plain), wanted=f"use the decimal digits 0 to 9 only; {wanted(unit)}"
        )
    return QuantityError(found=shown(plain), wanted=wanted(unit))


def _converted(number: Decimal, unit_text: str, unit: str, has_tolerance: bool) -> float:
    target = scale(unit)
    if target is None:
        raise ValueError(f"quantity: {unit} is no unit of the registry")
    if not unit_text:
        return float(number)
    stated = scale(unit_text)
    if stated is None:
        raise unknown_unit(number, unit_text, unit)
    if stated.dimension != target.dimension:
        raise QuantityError(
            found=f"{kind(stated.dimension)} ({number} {unit_text})", wanted=wanted(unit)
        )
    if stated.offset and has_tolerance:
        raise QuantityError(
            found="a tolerance in per cent on a temperature", wanted="leave the tolerance out"
        )
    return float((number * stated.factor + stated.offset) / target.factor)
