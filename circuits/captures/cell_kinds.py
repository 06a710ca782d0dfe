"""What the text of one cell is: a number, a time, a level, a word, or nothing."""

import re
import unicodedata
from functools import lru_cache

from circuits.captures.clock_text import is_clock, is_date, is_stamp
from circuits.captures.heading_units import known_unit
from circuits.captures.word_lists import words

EXPONENT = r"(?:[eEdD][+-]?[0-9]{1,3})?"
NUMBER = {
    ".": re.compile(rf"[+-]?\s*(?:[0-9]+\.?[0-9]*|\.[0-9]+){EXPONENT}"),
    ",": re.compile(rf"[+-]?\s*(?:[0-9]+|[0-9]*,[0-9]+){EXPONENT}"),
}
QUANTITY = {
    mark: re.compile(rf"(?P<number>{pattern.pattern})\s*(?P<unit>[^0-9\s+.,;-][^0-9\s]*)")
    for mark, pattern in NUMBER.items()
}
APART_SIGN = re.compile(r"(?<![0-9A-Za-z.,])[+-] +[0-9.]")
MISSING = words(
    "nan -nan na n/a null none inf +inf -inf infinity -infinity ol o.l +ol -ol overload over",
    "-over +over overflow range underflow error err - -- --- ---- #n/a burnout",
)
LEVELS = {
    "l": 0.0, "h": 1.0, "low": 0.0, "high": 1.0, "false": 0.0, "true": 1.0, "off": 0.0, "on": 1.0,
}  # fmt: skip


def plain(cell: str) -> str:
    """Return a cell without quotes and with one spelling of every sign."""
    text = cell.strip().strip('"').strip()
    if not text.isascii():
        text = unicodedata.normalize("NFKC", text).replace("−", "-").strip()
    return text


@lru_cache(maxsize=4096)
def kind_of(cell: str, decimal: str) -> str:
    """Return what a cell is.

    One of number, stamp, date, clock, level, quantity, missing, blank and word.
    """
    text = plain(cell)
    if NUMBER[decimal].fullmatch(text):
        return "number"
    low = text.casefold()
    match = QUANTITY[decimal].fullmatch(text)
    kinds = {
        "blank": not text,
        "missing": low in MISSING or set(text) <= set("?*-"),
        "level": low in LEVELS,
        "date": is_date(text),
        "clock": is_clock(text),
        "stamp": is_stamp(text),
        "quantity": match is not None and known_unit(match["unit"]) is not None,
    }
    return next((kind for kind, is_so in kinds.items() if is_so), "word")


def number_in(cell: str, decimal: str) -> float | None:
    """Return the number that a cell holds, or None."""
    text = plain(cell)
    if not NUMBER[decimal].fullmatch(text):
        return None
    text = "".join(text.split()).replace("d", "e").replace("D", "e")
    return float(text.replace(",", "."))


def resolution_in(cell: str, decimal: str) -> float:
    """Return the value of the last printed digit of a number."""
    match = re.fullmatch(
        r"[+-]?\s*[0-9]*(?:[.,](?P<fraction>[0-9]*))?(?:[eEdD](?P<power>[+-]?[0-9]{1,3}))?",
        plain(cell),
    )
    if not match or number_in(cell, decimal) is None:
        return 0.0
    power = int(match["power"] or 0) - len(match["fraction"] or "")
    return float(f"1e{max(-300, min(300, power))}")
