"""Many dates and times of day at once: texts alike letter by letter are read by their places."""

import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from circuits.captures.clock_text import BOTH, DAY, MONTHS, ONLY_CLOCK, zone_seconds

Texts = Sequence[object] | NDArray[np.object_]
Bytes = NDArray[np.uint8]
Whole = NDArray[np.int64]
MOST_SHAPES = 48
"""Texts of more shapes than days, months and hours of one and two figures make are no column."""
LONGEST = 64
BILLION = 1_000_000_000
WORDS = np.array([int.from_bytes(word.encode()) for word in MONTHS], np.int64)
SMALL = 0x20


def quick_nanoseconds(texts: Texts, order: str) -> Whole | None:
    """Return stamps or times of day in nanoseconds, the same as one by one.

    Parameters
    ----------
    texts : sequence of str
        All of one column.
    order : str
        `dmy` or `mdy`, where the date is written in figures.

    Returns
    -------
    nanoseconds : numpy.ndarray or None
        None where some text is none of these, or written in a rare way: then they are to be read
        one by one, which also finds the first that is wrong.
    """
    raw = _raw(texts)
    if raw is None:
        return None
    width = raw.dtype.itemsize
    table = raw.view(np.uint8).reshape(raw.size, width)
    figures = (table >= 48) & (table <= 57)
    found = np.zeros(raw.size, np.int64)
    left = np.arange(raw.size)
    for _ in range(MOST_SHAPES):
        if not left.size:
            return found
        text = raw[left[0]].decode("ascii")
        match = BOTH.fullmatch(text) or ONLY_CLOCK.fullmatch(text)
        if match is None:
            return None
        alike = _alike(table[left], figures[left], match, width)
        values = _values(table[left[alike]], match, order)
        if values is None:
            return None
        found[left[alike]] = values
        left = left[~alike]
    return None if left.size else found


def _raw(texts: Texts) -> NDArray[np.bytes_] | None:
    """Return texts as rows of letters of one length; None where they cannot be times."""
    try:
        # One long cell would make all of them as long.
        if not 0 < max(map(len, texts), default=0) <= LONGEST:
            return None
        return np.array(texts, dtype="S")
    except (UnicodeEncodeError, ValueError, TypeError):
        return None


def _span(match: re.Match[str], name: str) -> tuple[int, int]:
    return match.span(name) if name in match.re.groupindex else (-1, -1)


def _alike(
    table: Bytes, figures: NDArray[np.bool_], match: re.Match[str], width: int
) -> NDArray[np.bool_]:
    """Return which rows have figures where the matched text has them, and else its letters."""
    text = match.string
    letters = np.zeros(width, np.uint8)
    letters[: len(text)] = np.frombuffer(text.encode("ascii"), np.uint8)
    is_figure = (letters >= 48) & (letters <= 57)
    is_open = is_figure.copy()
    for name in ("word", "half"):
        first, end = _span(match, name)
        is_open[max(first, 0) : max(end, 0)] = True
    first, end = _span(match, "zone")
    is_open[max(first, 0) : max(end, 0)] = False
    same = np.all(table[:, ~is_open] == letters[~is_open], axis=1)
    return np.asarray(same & np.all(figures[:, is_figure & is_open], axis=1))


def _number(table: Bytes, match: re.Match[str], name: str) -> Whole:
    """Return the figures of one group as numbers; points between them do not count."""
    first, end = _span(match, name)
    total = np.zeros(len(table), np.int64)
    for place in range(first, end):
        if match.string[place] != ".":
            total = 10 * total + (table[:, place].astype(np.int64) - 48)
    return total


def _values(table: Bytes, match: re.Match[str], order: str) -> Whole | None:
    clock = _clock(table, match)
    if clock is None:
        return None
    if match.re is not BOTH:
        return clock
    days = _days(table, match, order)
    if days is None or np.any(clock >= 2 * DAY):
        return None
    return days * DAY + clock


def _days(table: Bytes, match: re.Match[str], order: str) -> Whole | None:
    if match["y"]:
        year, month, day = (_number(table, match, name) for name in ("y", "m", "d"))
    elif match["word"]:
        first, _ = match.span("word")
        small = table[:, first : first + 3].astype(np.int64) | SMALL
        codes = (small[:, 0] << 16) + (small[:, 1] << 8) + small[:, 2]
        named = codes[:, None] == WORDS
        if not named.any(axis=1).all():
            return None
        month = named.argmax(axis=1) + 1
        year, day = _number(table, match, "y3"), _number(table, match, "d3")
        year = year if len(match["y3"]) == 4 else year + 2000
    else:
        one, other = _number(table, match, "a"), _number(table, match, "b")
        day, month = (other, one) if order == "mdy" else (one, other)
        year = _number(table, match, "y2")
        year = year if len(match["y2"]) == 4 else year + 2000
    if np.any((year < 1700) | (year > 2250) | (month < 1) | (month > 12) | (day < 1)):
        return None
    months = ((year - 1970) * 12 + month - 1).astype("datetime64[M]")
    first_days = months.astype("datetime64[D]").astype(np.int64)
    next_days = (months + np.timedelta64(1, "M")).astype("datetime64[D]").astype(np.int64)
    days = first_days + day - 1
    return None if np.any(days >= next_days) else np.asarray(days, np.int64)


def _clock(table: Bytes, match: re.Match[str]) -> Whole | None:
    hours, minutes, seconds = (_number(table, match, name) for name in ("h", "min", "sec"))
    if np.any((minutes > 59) | (seconds > 60)):
        return None
    if match["half"]:
        first, _ = match.span("half")
        mark, letter = table[:, first] | SMALL, table[:, first + 1] | SMALL
        known = ((mark == ord("a")) | (mark == ord("p"))) & (letter == ord("m"))
        if not known.all() or np.any((hours < 1) | (hours > 12)):
            return None
        hours = hours % 12 + 12 * (mark == ord("p"))
    digits = sum(letter.isdigit() for letter in match["frac"] or "")
    if digits > 9:
        return None
    whole = (hours * 60 + minutes) * 60 + seconds - zone_seconds(match["zone"] or "")
    return np.asarray(whole * BILLION + _number(table, match, "frac") * 10 ** (9 - digits))
