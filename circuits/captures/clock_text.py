"""Dates and times of day as people and instruments write them, to whole nanoseconds."""

import re
import warnings
from collections.abc import Sequence
from datetime import date
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

DAY = 86_400_000_000_000
EPOCH = date(1970, 1, 1).toordinal()
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")

DATE = (
    r"(?:(?P<y>[12][0-9]{3})[-/.](?P<m>[0-9]{1,2})[-/.](?P<d>[0-9]{1,2})"
    r"|(?P<a>[0-9]{1,2})(?P<mark>[-/.])(?P<b>[0-9]{1,2})(?P=mark)(?P<y2>[12][0-9]{3}|[0-9]{2})"
    r"|(?P<d3>[0-9]{1,2})[- ](?P<word>[A-Za-z]{3})[- ](?P<y3>[12][0-9]{3}|[0-9]{2}))"
)
# A fraction may stand in groups of three, parted by points.
SECONDS = r":(?P<sec>[0-9]{2})(?:[.,:](?P<frac>[0-9]{1,9}(?:\.[0-9]{3}){0,2}))?"
ZONE = r"(?:\s*(?P<zone>Z|UTC|GMT|[+-][0-9]{2}:?[0-9]{2}))?"
CLOCK = rf"(?P<h>[0-9]{{1,3}}):(?P<min>[0-9]{{2}})(?:{SECONDS})?(?:\s*(?P<half>[AaPp][Mm]))?{ZONE}"
MINUTES = re.compile(r"(?P<min>[0-9]{1,3}):(?P<sec>[0-9]{2})[.,](?P<frac>[0-9]{1,9})")
ONLY_DATE = re.compile(DATE)
ONLY_CLOCK = re.compile(CLOCK)
BOTH = re.compile(rf"{DATE}(?:T|[ ,_]\s*|-){CLOCK}")
ORDERS = ("dmy", "mdy")


def is_date(text: str) -> bool:
    """Return whether a text is a date, in some order of day and month."""
    match = ONLY_DATE.fullmatch(text)
    return match is not None and any(_day(match, order) is not None for order in ORDERS)


def is_clock(text: str) -> bool:
    """Return whether a text is a time of day or a time gone by, with seconds."""
    if MINUTES.fullmatch(text):
        return True
    match = ONLY_CLOCK.fullmatch(text)
    return match is not None and match["sec"] is not None and _clock(match) is not None


def is_stamp(text: str) -> bool:
    """Return whether a text is a date with a time of day."""
    return any(nanoseconds(text, order) is not None for order in ORDERS) and bool(
        BOTH.fullmatch(text)
    )


def needs_order(text: str) -> bool:
    """Return whether day and month of a date can be taken for each other.

    Points between the figures are written by people who put the day first.
    """
    match = BOTH.fullmatch(text) or ONLY_DATE.fullmatch(text)
    return bool(
        match and match["a"] and int(match["a"]) <= 12 and int(match["b"]) <= 12
        and match["a"] != match["b"] and match["mark"] != "."
    )  # fmt: skip


def order_shown(texts: Sequence[str]) -> str:
    """Return the order of day and month that dates above twelve show, or nothing."""
    for text in texts:
        match = BOTH.fullmatch(text) or ONLY_DATE.fullmatch(text)
        if match and match["a"]:
            if int(match["a"]) > 12:
                return "dmy"
            if int(match["b"]) > 12:
                return "mdy"
    return ""


@lru_cache(maxsize=4096)
def _days(year: int, month: int, day: int) -> int | None:
    try:
        found = date(year, month, day).toordinal() - EPOCH
    except ValueError:
        return None
    # Whole nanoseconds reach from 1678 to 2261.
    return found if 1700 <= year <= 2250 else None


def _day(match: re.Match[str], order: str) -> int | None:
    if match["y"]:
        return _days(int(match["y"]), int(match["m"]), int(match["d"]))
    if match["word"]:
        word = match["word"].casefold()
        if word not in MONTHS:
            return None
        return _days(_year(match["y3"]), MONTHS.index(word) + 1, int(match["d3"]))
    first, second = int(match["a"]), int(match["b"])
    day, month = (second, first) if order == "mdy" else (first, second)
    return _days(_year(match["y2"]), month, day)


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def _clock(match: re.Match[str]) -> int | None:
    hours, minutes, seconds = int(match["h"]), int(match["min"]), int(match["sec"] or 0)
    if minutes > 59 or seconds > 60:
        return None
    if match["half"]:
        if not 1 <= hours <= 12:
            return None
        hours = hours % 12 + (12 if match["half"].casefold() == "pm" else 0)
    fraction = (match["frac"] or "").replace(".", "")
    if len(fraction) > 9:
        return None
    whole = (hours * 60 + minutes) * 60 + seconds
    whole -= zone_seconds(match["zone"] or "")
    return whole * 1_000_000_000 + int(fraction.ljust(9, "0") or 0)


def zone_seconds(zone: str) -> int:
    """Return by how much a zone's clock is ahead, in seconds."""
    if zone[:1] not in ("+", "-"):
        return 0
    away = int(zone[1:3]) * 3600 + int(zone[-2:]) * 60
    return away if zone[0] == "+" else -away


def nanoseconds(text: str, order: str) -> int | None:
    """Return a date, a time of day or both in nanoseconds (dates from 1970), or None."""
    match = BOTH.fullmatch(text)
    if match:
        day, clock = _day(match, order), _clock(match)
        return None if day is None or clock is None or clock >= 2 * DAY else day * DAY + clock
    match = ONLY_DATE.fullmatch(text)
    if match:
        day = _day(match, order)
        return None if day is None else day * DAY
    match = MINUTES.fullmatch(text)
    if match:
        whole = int(match["min"]) * 60 + int(match["sec"])
        return whole * 1_000_000_000 + int(match["frac"].ljust(9, "0"))
    match = ONLY_CLOCK.fullmatch(text)
    return _clock(match) if match else None


def all_nanoseconds(texts: Sequence[str], order: str) -> tuple[NDArray[np.int64], int]:
    """Return many texts in nanoseconds, and the index of the first that is no time (or -1)."""
    lengths = set(map(len, texts))
    if texts and lengths <= set(range(19, 30)) and texts[0][4:5] == "-" and texts[0][:1] in "12":
        # The usual international form has a quick reader.
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("error")
                quick = np.array(texts, dtype="datetime64[ns]").astype(np.int64)
        except (ValueError, OverflowError, Warning):
            quick = np.zeros(0, np.int64)
        if quick.size and quick.min() >= 0 and quick.max() < 80_000 * DAY:
            return quick, -1
    found = [nanoseconds(text, order) for text in texts]
    wrong = next((i for i, value in enumerate(found) if value is None), -1)
    return np.fromiter((v or 0 for v in found), np.int64, len(found)), wrong
