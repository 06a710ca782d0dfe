"""Units as the headings of captures and logs write them, and their way to SI."""

import contextlib
import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

from circuits.captures.word_lists import words
from circuits.errors import QuantityError
from circuits.unit_text import WORDS, scale

LONGEST = 24
SPELLINGS = {
    "second": "s", "seconds": "s", "sec": "s", "secs": "s", "sek": "s", "sekunden": "s",
    "millisecond": "ms", "milliseconds": "ms", "msec": "ms", "millisec": "ms",
    "microsecond": "us", "microseconds": "us", "usec": "us", "microsec": "us",
    "nanosecond": "ns", "nanoseconds": "ns", "nsec": "ns",
    "minute": "min", "minutes": "min", "hour": "h", "hours": "h", "hrs": "h", "day": "days",
    "volt": "V", "volts": "V", "millivolt": "mV", "millivolts": "mV", "microvolts": "uV",
    "vdc": "V", "vac": "V", "mvdc": "mV", "adc": "", "vpp": "V",
    "ampere": "A", "amperes": "A", "amp": "A", "amps": "A", "milliampere": "mA",
    "milliamp": "mA", "milliamps": "mA", "hertz": "Hz", "celsius": "degC", "degc": "degC",
    "kelvin": "K", "percent": "%", "pct": "%", "%rh": "%", "rh%": "%", "% rh": "%",
    "ohms": "ohm", "kohm": "kohm", "mohm": "mohm", "degree": "deg", "degrees": "deg",
    "degrees c": "degC", "deg c": "degC", "deg. c": "degC", "deg f": "degF", "degf": "degF",
    "sec/day": "s/day", "s/d": "s/day", "seconds/day": "s/day", "s per day": "s/day",
    "mbar": "mbar", "millibar": "mbar", "hpa": "hPa", "kpa": "kPa", "pa": "Pa",
}  # fmt: skip
"""Whole words, compared without their case; symbols keep theirs."""

PRESSURES = {
    "Pa": 1.0, "hPa": 100.0, "kPa": 1e3, "mbar": 100.0, "bar": 1e5, "mmHg": 133.322387415,
    "inHg": 3386.388640341, "Torr": 101325 / 760,
}  # fmt: skip
SI_OF = {"s/day": ("s/day", 1.0), "ppm": ("1", 1e-6)}
"""A rate stays in the unit in which rates are told."""

CASELESS_TIME = {"S": "s", "MS": "ms", "US": "us", "NS": "ns", "uS": "us", "mS": "ms"}
GROUP = re.compile(r"[\[({<]\s*([^\[\](){}<>]*?)\s*[\])}>]")
AFTER_MARK = re.compile(r"(?P<name>.*\S)\s*(?:/|,|:|\bin\b)\s*(?P<unit>\S.*)")
SUFFIX = re.compile(r"(?P<name>.*[^_\s])[_ ](?P<unit>[A-Za-zµμΩ%]{1,12}(?:/day)?)")
LONE_LETTERS = frozenset("sV")
"""Letters that are units where nothing marks them; CH_A is a channel, not a current."""

NO_BARE = frozenset(("min", "in", "d", "ft", "lb", "mil", "day", "days", "hour", "turn", "radian"))
TEMPERATURE = re.compile(r"temp|therm|wärme", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class HeadingUnit:
    """A unit as written, its SI unit in ASCII, and the line from its numbers to SI numbers."""

    text: str
    si: str
    factor: float
    offset: float = 0.0


NONE = HeadingUnit("", "", 1.0)


def known_unit(text: str) -> HeadingUnit | None:
    """Return what a unit text means, or None."""
    if not text or len(text) > LONGEST:
        return None
    return _known(text)


@lru_cache(maxsize=1024)
def _known(text: str) -> HeadingUnit | None:
    plain = unicodedata.normalize("NFKC", text).replace("Ω", "ohm").replace("μ", "u")
    plain = plain.replace("°C", "degC").replace("°F", "degF").replace("°", "deg").strip(" .\"'")
    plain = SPELLINGS.get(plain.casefold(), plain)
    if plain in PRESSURES:
        return HeadingUnit(plain, "Pa", PRESSURES[plain])
    if plain in SI_OF:
        return HeadingUnit(plain, *SI_OF[plain])
    meant = None
    if plain and plain[0] not in "0123456789*/^":
        with contextlib.suppress(QuantityError):
            meant = scale(plain)
    for unit in WORDS if meant else ():
        target = scale(unit)
        if meant and target and target.dimension == meant.dimension and target.factor == 1:
            return HeadingUnit(plain, unit, float(meant.factor), float(meant.offset))
    return None


def time_unit(text: str) -> HeadingUnit | None:
    """Return what a text means where a unit of time is wanted, in whatever case."""
    return known_unit(CASELESS_TIME.get(text, text))


def split_heading(heading: str) -> tuple[str, HeadingUnit]:
    """Return a heading's name and the unit that it states; NONE where it states none."""
    plain = unicodedata.normalize("NFKC", heading).strip().strip("\"'").strip()
    timely = looks_timely(plain)
    find = time_unit if timely else known_unit
    for group in reversed(list(GROUP.finditer(plain))):
        unit = find(group[1])
        if unit:
            name = " ".join((plain[: group.start()] + " " + plain[group.end() :]).split())
            return name or plain, _warm(name, unit)
    match = AFTER_MARK.fullmatch(plain)
    if match and (unit := find(match["unit"])):
        return match["name"].strip(), _warm(match["name"], unit)
    match = SUFFIX.fullmatch(plain)
    warm = match and match["unit"] == "C" and TEMPERATURE.search(match["name"])
    if match and (warm or len(match["unit"]) > 1 or match["unit"] in LONE_LETTERS):
        unit = known_unit(match["unit"])
        if unit and match["unit"] not in NO_BARE:
            return match["name"].strip(), _warm(match["name"], unit)
    if (len(plain) > 1 or plain in LONE_LETTERS) and plain.casefold() not in NO_BARE:
        unit = known_unit(plain)
        if unit:
            return plain, unit
    return plain, NONE


def _warm(name: str, unit: HeadingUnit) -> HeadingUnit:
    if unit.text == "C" and TEMPERATURE.search(name):
        return known_unit("degC") or unit
    return unit


TIME_WORDS = words(
    "time times t sec secs second seconds elapsed timestamp stamp date datum clock s zeit uhrzeit",
    "temps tiempo tid hora fecha heure tijd utc epoch unix ms us ns microseconds milliseconds",
    "usec msec datetime",
)
WEAK_TIME_WORDS = words("x xaxis axis")
SPANS = words(
    "period width pulse interval delay duration jitter error deviation rate swing beat rise fall",
    "lag drift offset decay settling",
)
COUNTERS = words(
    "no nr num number index idx sample samples point points n # scan record row line reading",
    "count lfd",
)


def words_of(name: str) -> list[str]:
    """Return the words of a heading, without case."""
    plain = unicodedata.normalize("NFKC", name).casefold()
    return [word for word in re.split(r"[^a-zäöüéµμ#]+", plain) if word]


def looks_timely(heading: str, *, weakly: bool = False) -> bool:
    """Return whether a heading names the time of a row, not a span that was measured."""
    told = words_of(GROUP.sub(" ", heading)) or words_of(heading)
    if not told or set(told) & SPANS:
        return False
    if weakly and told[0] in WEAK_TIME_WORDS:
        return True
    whole = {"time", "timestamp", "date", "zeit", "datetime", "clock", "elapsed"}
    return told[0] in TIME_WORDS or bool(set(told) & whole)


def looks_counting(heading: str) -> bool:
    """Return whether a heading names the number of a row."""
    told = words_of(GROUP.sub(" ", heading)) or heading.strip().split()
    return bool(told) and set(told) <= COUNTERS
