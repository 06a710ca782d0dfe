"""Knobs: the keys of a design file that a search may turn, and how far."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor

from circuits.catalogue import Catalogue
from circuits.design import NumberKey, QuantityKey, TableKey
from circuits.design_file import sections
from circuits.design_keys import keys_of
from circuits.errors import DesignFileError, QuantityError
from circuits.format_quantity import significant
from circuits.ledger import Change
from circuits.plain_text import shown
from circuits.quantity import parse_quantity

WORKED = '--between "coil.outer_diameter=25 mm..40 mm"'
MOST_WORDS = 64
END = re.compile(
    r"(?P<number>[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)(?P<unit>.*)"
)
DIGITS = 3
"""Nobody winds, cuts or programs to more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Knob:
    """One key with its span: a list of texts, or numbers between two ends in one unit.

    `span` is False for a list without order.
    """

    section: str
    key: str
    texts: tuple[str, ...] = ()
    low: float = 0.0
    high: float = 0.0
    unit: str = ""
    span: bool = True

    @property
    def name(self) -> str:
        """The key with its section."""
        return f"{self.section}.{self.key}"

    @property
    def bounds(self) -> tuple[float, float]:
        """What a search may try: places in the list, or shares of the way between the ends."""
        return (0.0, float(len(self.texts) - 1)) if self.texts else (0.0, 1.0)

    @property
    def whole(self) -> bool:
        """Whether only whole steps mean something."""
        return bool(self.texts)

    def change(self, place: float) -> Change:
        """Return the key set to what stands at a place within the bounds."""
        if self.texts:
            text = self.texts[round(place)]
        else:
            number = self.low + place * (self.high - self.low)
            text = f"{significant(number, DIGITS)} {self.unit}".strip()
        return Change(section=self.section, key=self.key, text=text)


def _refuse(option: str, found: str, wanted: str) -> DesignFileError:
    return DesignFileError(file="command line", key=option, found=found, wanted=wanted)


def _named(option: str, text: str) -> tuple[str, str, str]:
    """Return section, key and what follows the equals sign."""
    name, equals, rest = text.partition("=")
    section, dot, key = name.strip().partition(".")
    if not equals or not dot:
        raise _refuse(option, shown(text), f"write SECTION.KEY=…, such as {WORKED}")
    record = sections().get(section)
    known = keys_of(record) if record else {}
    if key not in known:
        raise _refuse(
            option, shown(name.strip()),
            f"name a key of the design file, such as {', '.join(list(known)[:4]) or 'coil.wire'}",
        )  # fmt: skip
    if isinstance(known[key][1], TableKey) or section == "design":
        raise _refuse(option, shown(name.strip()), "choose a key that holds one value")
    return section, key, rest.strip()


def _end(option: str, text: str) -> tuple[float, str]:
    match = END.fullmatch(text.strip())
    if not match:
        raise _refuse(option, shown(text), f"write a number and its unit, such as {WORKED}")
    return float(match["number"]), match["unit"].strip()


def _wires(catalogue: Catalogue, low: float, high: float) -> tuple[str, ...]:
    sizes = sorted(size.d_wire for size in catalogue.wires() if low <= size.d_wire <= high)
    return tuple(f"{significant(1e3 * size, 4)} mm" for size in sizes)


def between(text: str, catalogue: Catalogue) -> Knob:
    """Return the knob of `--between KEY=A..B`.

    Parameters
    ----------
    text : str
        As in "coil.outer_diameter=25 mm..40 mm"; a unit at the second end serves both.
    catalogue : Catalogue
        The parts; a wire is turned from one of its sizes to the next.

    Returns
    -------
    knob : Knob

    Raises
    ------
    DesignFileError
        If key or ends cannot be used.
    """
    option = "--between"
    section, key, rest = _named(option, text)
    declared = keys_of(sections()[section])[key][1]
    ends = rest.split("..")
    if len(ends) != 2 or not isinstance(declared, QuantityKey | NumberKey):
        wanted = "write two ends, as in A..B" if len(ends) != 2 else "list its words with --among"
        raise _refuse(option, shown(text), wanted)
    (low, unit_low), (high, unit_high) = (_end(option, end) for end in ends)
    if unit_low and unit_low != unit_high:
        raise _refuse(option, shown(rest), "write both ends in the same unit")
    if not low < high:
        raise _refuse(option, shown(rest), "write the smaller end first")
    if isinstance(declared, NumberKey):
        if unit_high:
            raise _refuse(option, shown(rest), "write two bare numbers")
        if declared.whole:
            return Knob(section=section, key=key, texts=_counts(option, rest, low, high))
        return Knob(section=section, key=key, low=low, high=high)
    spans = [
        _checked(option, f"{significant(end, 12)} {unit_high}", declared) for end in (low, high)
    ]
    if (section, key) in (("coil", "wire"), ("pickup_coil", "wire")):
        texts = _wires(catalogue, *spans)
        if not texts:
            raise _refuse(option, shown(rest), "take ends with a size of the catalogue between")
        return Knob(section=section, key=key, texts=texts)
    return Knob(section=section, key=key, low=low, high=high, unit=unit_high)


def _counts(option: str, rest: str, low: float, high: float) -> tuple[str, ...]:
    first, last = ceil(low), floor(high)
    if not 1 <= last - first + 1 <= 100_000:
        raise _refuse(option, shown(rest), "take at most 100000 whole numbers")
    step = max(1, (last - first) // 200)
    return tuple(str(number) for number in range(first, last + 1, step))


def _checked(option: str, text: str, declared: QuantityKey) -> float:
    try:
        value = parse_quantity(text, declared.unit).value
    except QuantityError as error:
        raise _refuse(option, error.found, error.wanted) from error
    if not declared.possible[0] <= value <= declared.possible[1]:
        raise _refuse(option, text, "take ends that this key can hold")
    return value


def among(text: str, catalogue: Catalogue, switch: str = "npn") -> Knob:
    """Return the knob of `--among KEY=a,b,c`.

    Parameters
    ----------
    text : str
        As in "drive.transistor=BC337-40,PN2222A"; a lone asterisk lists all parts of that kind.
    catalogue : Catalogue
        The parts.
    switch : str
        The kind of switch that the design has.

    Returns
    -------
    knob : Knob

    Raises
    ------
    DesignFileError
        If the key cannot be used.
    """
    option = "--among"
    section, key, rest = _named(option, text)
    words: Sequence[str] = [word.strip() for word in rest.split(",") if word.strip()]
    if words == ["*"]:
        words = catalogue.names_at(section, key, switch)
    words = list(dict.fromkeys(words))
    if not 2 <= len(words) <= MOST_WORDS:
        raise _refuse(
            option, shown(text), f"list 2 to {MOST_WORDS} values with commas between them"
        )
    return Knob(section=section, key=key, texts=tuple(words), span=False)
