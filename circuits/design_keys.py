"""One key of the design file: from a raw value to an SI figure, by the key's own declaration."""

from collections.abc import Hashable
from dataclasses import dataclass, fields
from difflib import get_close_matches
from functools import cache
from math import isfinite, isnan
from types import MappingProxyType
from typing import Any, cast

from circuits.design import ChoiceKey, NumberKey, QuantityKey, Span, TableKey, TextKey
from circuits.errors import DesignFileError, QuantityError
from circuits.format_quantity import show, show_temperature
from circuits.plain_text import shown, unreadable
from circuits.quantity import parse_quantity

LONGEST_NAME = 64
LONGEST_TEXT = 500

AnyKey = QuantityKey | NumberKey | ChoiceKey | TextKey | TableKey


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a value stands."""

    file: str
    section: str
    key: str

    def error(self, found: str, wanted: str) -> DesignFileError:
        """Return the error for this place."""
        return DesignFileError(
            file=self.file, section=self.section, key=self.key, found=found, wanted=wanted
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What one key holds; `usual` is filled where the value is possible but doubtful."""

    value: Any
    tolerance: float | None = None
    found: str = ""
    usual: str = ""


def keys_of(record: type[Any]) -> MappingProxyType[str, tuple[str, AnyKey]]:
    """Return a section's keys as the file spells them, with attribute name and declaration."""
    return _keys_of(cast(Hashable, record))


@cache
def _keys_of(record: Hashable) -> MappingProxyType[str, tuple[str, AnyKey]]:
    return MappingProxyType(
        {
            entry.name.rstrip("_"): (entry.name, entry.metadata["key"])
            for entry in fields(cast(Any, record))
            if "key" in entry.metadata
        }
    )


def read_key(key: AnyKey, raw: object, place: Place) -> Reading:
    """Return what a key holds.

    Parameters
    ----------
    key : QuantityKey, NumberKey, ChoiceKey or TextKey
        How the key is declared.
    raw : object
        The value as TOML gives it, or its text.
    place : Place
        Where it stands, for messages.

    Returns
    -------
    reading : Reading
        The value in SI units, or the text.

    Raises
    ------
    DesignFileError
        If the value is not what the key holds.
    """
    if isinstance(key, QuantityKey):
        return _quantity(key, raw, place)
    if isinstance(key, NumberKey):
        return _number(key, raw, place)
    if isinstance(key, ChoiceKey):
        return Reading(value=_choice(key, raw, place))
    if isinstance(key, TextKey):
        return Reading(value=_text(key, raw, place))
    raise place.error(seen(raw), "write a table in braces, as in { from = …, to = … }")


def seen(raw: object) -> str:
    """Return a raw value as messages print it."""
    if isinstance(raw, str):
        return shown(raw)
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, int | float):
        return _bare_number(raw)
    if isinstance(raw, dict):
        return "a table"
    if isinstance(raw, list):
        return "a list"
    return "a date or time"


def _bare_number(raw: float) -> str:
    if isinstance(raw, float) and not isfinite(raw):
        return "nan, which is no number" if isnan(raw) else "infinity"
    return f"the bare number {raw}" if abs(raw) < 1e16 else "a number beyond all measure"


def check_text(text: str, place: Place, longest: int) -> str:
    """Return a text stripped of blanks at its ends, or refuse what no line of print may hold."""
    hidden = unreadable(text)
    if hidden:
        raise place.error(
            f"a text with the line break or control character {hidden}",
            "write it on one line, without that character",
        )
    if len(text) > longest:
        raise place.error(f"a text of {len(text)} characters", f"write at most {longest}")
    if not text.strip():
        raise place.error("an empty text", "write something, or leave the key out")
    return text.strip()


def _bound(value: float, unit: str) -> str:
    return show_temperature(value) if unit == "K" else show(value, unit)


def _span(span: Span, unit: str) -> str:
    return f"{_bound(span[0], unit)} to {_bound(span[1], unit)}"


def _example(key: QuantityKey, number: str) -> str:
    """Return the number with the unit of a usual value, the likeliest that was left away."""
    low, high = key.plausible
    middle = high if low <= 0 else (low * high) ** 0.5
    return f"{number} {_bound(middle, key.unit).partition(' ')[2] or key.unit}"


def _parsed(text: str, unit: str, place: Place) -> tuple[float, float | None]:
    try:
        quantity = parse_quantity(text, unit)
    except QuantityError as error:
        raise place.error(error.found, error.wanted) from error
    return quantity.value, quantity.tolerance


def _quantity(key: QuantityKey, raw: object, place: Place) -> Reading:
    words = " or ".join(f'"{word}"' for word in key.keywords)
    if isinstance(raw, str):
        if raw.strip().lower() in key.keywords:
            return Reading(value=raw.strip().lower())
        value, tolerance = _parsed(raw, key.unit, place)
    elif isinstance(raw, int | float) and not isinstance(raw, bool) and isfinite(raw):
        raise place.error(
            seen(raw),
            f'write it with its unit, in quotes: {place.key} = "{_example(key, str(raw)[:20])}"',
        )
    else:
        more = f", or {words}" if words else ""
        raise place.error(
            seen(raw), f'write a quantity in quotes, such as "{_example(key, "5")}"{more}'
        )
    if not key.possible[0] <= value <= key.possible[1]:
        raise place.error(
            f"{shown(raw)}", f"possible is {_span(key.possible, key.unit)}: check number and unit"
        )
    doubtful = not key.plausible[0] <= value <= key.plausible[1]
    return Reading(
        value=value,
        tolerance=tolerance,
        found=raw.strip(),
        usual=_span(key.plausible, key.unit) if doubtful else "",
    )


def _number(key: NumberKey, raw: object, place: Place) -> Reading:
    kind = "a whole number" if key.whole else "a number"
    low, high = (f"{bound:.7g}" for bound in key.possible)
    wanted = f"write {kind} from {low} to {high}"
    wanted += ', such as 0.05 or "5 %"' if key.possible[1] < 1 else ""
    value: float | None = None
    tolerance = None
    if isinstance(raw, str) and key.whole:
        text = raw.strip()
        value = int(text) if text.isascii() and text.isdigit() and len(text) <= 9 else None
        wanted += "" if value is not None else ", without quotes"
    elif isinstance(raw, str):
        value, tolerance = _parsed(raw, "1", place)
    elif isinstance(raw, int) and not isinstance(raw, bool) and abs(raw) < 1e16:
        value = raw if key.whole else float(raw)
    elif isinstance(raw, float) and not key.whole:
        value = raw
    if value is None or not key.possible[0] <= value <= key.possible[1]:
        raise place.error(seen(raw), wanted)
    doubtful = key.plausible and not key.plausible[0] <= value <= key.plausible[1]
    return Reading(
        value=value,
        tolerance=tolerance,
        found=raw.strip() if isinstance(raw, str) else str(raw),
        usual=_span(key.plausible, "1") if key.plausible and doubtful else "",
    )


def _choice(key: ChoiceKey, raw: object, place: Place) -> str:
    words = " or ".join(f'"{word}"' for word in key.words)
    if not isinstance(raw, str):
        raise place.error(seen(raw), f"write {words}")
    word = raw.strip().lower()
    if word in key.words:
        return word
    near = get_close_matches(word[:LONGEST_NAME], key.words, n=1)
    raise place.error(
        shown(raw), f'did you mean "{near[0]}"? {words} will do' if near else f"write {words}"
    )


def _text(key: TextKey, raw: object, place: Place) -> str:
    if not isinstance(raw, str):
        raise place.error(seen(raw), "write a text in quotes")
    return check_text(raw, place, LONGEST_NAME if key.part else LONGEST_TEXT)
