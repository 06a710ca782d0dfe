"""What the lines above a table tell: sample interval, count of samples, unit of the figures."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from circuits.captures.heading_units import HeadingUnit, known_unit, time_unit

VALUE = r"[\s:=,;\t\"]+(?P<value>[+-]?[0-9]*[.,]?[0-9]+(?:[eE][+-]?[0-9]+)?)[\s,;\t\"]*"
RATE = re.compile(
    r"(?:sampl\w*|abtast\w*|scan)[ _-]*(?:rate|freq\w*|frequenz)[^0-9:=,;\t]*" + VALUE
    + r"(?P<prefix>[kKMG]?)\s*(?:Hz|S/s|Sa/s|SPS|sps|/s|samples?/s)?",
    re.IGNORECASE,
)  # fmt: skip
INTERVAL = re.compile(
    r"(?:(?:sampl\w*|abtast\w*|scan|time|x|horizontal|t)[ _-]*"
    r"(?:interval\w*|period|incr\w*|step|spacing|delta)|\bdelta[ _-]?[tx]|\bdt|\bxincr?\w*"
    r"|\binterval)\b\s*(?:[\[(](?P<before>[^\])]{1,12})[\])])?"
    + VALUE + r"(?P<unit>[A-Za-zµμ]{0,12})",
    re.IGNORECASE,
)  # fmt: skip
COUNT = re.compile(
    r"(?:sample[ _-]*count|record[ _-]*length|(?:number|no\.?) of (?:samples|points|rows)"
    r"|samples|points)\b" + VALUE + r"(?P<prefix>[kKM]?)(?![A-Za-z]*Hz)",
    re.IGNORECASE,
)  # fmt: skip
ACROSS = re.compile(r"(?:horizontal|x|time)[ _-]*units?[\s:=,;\t\"]+(?P<unit>[^\s,;\t\"]+)", re.I)
UPRIGHT = re.compile(r"(?:(?:vertical|y)[ _-]*)units?[\s:=,;\t\"]+(?P<unit>[^\s,;\t\"]+)", re.I)
ANY_UNIT = re.compile(r"\bunits?[\s:=,;\t\"]+(?P<unit>[^\s,;\t\"]+)", re.I)
POWERS = {"": 1.0, "k": 1e3, "K": 1e3, "M": 1e6, "m": 1e6, "G": 1e9, "g": 1e9}


@dataclass(frozen=True, slots=True, kw_only=True)
class Banner:
    """What the banner tells; `words` quotes the line that told the interval."""

    interval: float | None = None
    words: str = ""
    count: int | None = None
    time_unit: HeadingUnit | None = None
    value_unit: HeadingUnit | None = None


def read_banner(lines: Sequence[str]) -> Banner:
    """Return what the lines above a table tell about its rows."""
    across = _unit(lines, ACROSS, time_unit)
    across = across if across and across.si == "s" else None
    interval, words, count = None, "", None
    for line in (line[:400] for line in lines):
        if interval is None:
            interval = _interval(line, across)
            words = line.strip() if interval is not None else ""
        match = COUNT.search(line)
        if match and count is None:
            count = round(_number(match["value"]) * POWERS[match["prefix"]])
    return Banner(
        interval=interval, words=words, count=count, time_unit=across,
        value_unit=_unit(lines, UPRIGHT, known_unit) or _unit(lines, ANY_UNIT, known_unit),
    )  # fmt: skip


def tells_banner(line: str) -> bool:
    """Return whether a line tells a sample rate, an interval or a count, and so is no heading."""
    return any(pattern.search(line[:400]) for pattern in (RATE, INTERVAL, COUNT))


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _unit(
    lines: Sequence[str], pattern: re.Pattern[str], find: Callable[[str], HeadingUnit | None]
) -> HeadingUnit | None:
    for line in lines:
        match = pattern.search(line[:400])
        if match:
            return find(match["unit"])
    return None


def _interval(line: str, across: HeadingUnit | None) -> float | None:
    match = RATE.search(line)
    if match:
        rate = _number(match["value"]) * POWERS[match["prefix"]]
        return 1 / rate if 0 < rate < 1e13 else None
    match = INTERVAL.search(line)
    if not match:
        return None
    text = match["before"] or match["unit"]
    unit = time_unit(text) if text else across
    span = _number(match["value"]) * (unit.factor if unit and unit.si == "s" else 0.0)
    return span if 0 < span < 1e9 else None
