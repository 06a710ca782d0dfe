"""Which parts keep to limits that somebody asks for."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from difflib import get_close_matches
from typing import Any

from circuits.errors import DesignFileError, QuantityError
from circuits.plain_text import shown
from circuits.quantity import parse_quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A figure that a part must reach, or must not exceed; `within` names its list of points."""

    field: str
    value: float
    unit: str
    least: bool
    within: str = ""

    def met_by(self, record: Any) -> bool:
        """Whether a record keeps to the limit; an unknown figure never does."""
        value = getattr(record, self.field)
        if value is None:
            return False
        return bool(value >= self.value if self.least else value <= self.value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """The parts that keep to every limit, and those whose figures are not all known."""

    parts: tuple[Any, ...]
    unknown: tuple[str, ...]


def figures_of(record: type[Any]) -> dict[str, tuple[str, str]]:
    """Return unit and list of points of every figure that a kind has, by its name."""
    known: dict[str, tuple[str, str]] = {}
    for field in fields(record):
        if "unit" in field.metadata:
            known[field.name] = (field.metadata["unit"], "")
    for field in fields(record):
        for entry in fields(field.metadata.get("points", Nothing)):
            known.setdefault(entry.name, (entry.metadata["unit"], field.name))
    return known


@dataclass(frozen=True)
class Nothing:
    """Stands for a field that holds no test points."""


def read_limits(record: type[Any], texts: Iterable[str], *, least: bool) -> tuple[Limit, ...]:
    """Return the limits that the command line states.

    Parameters
    ----------
    record : type
        The kind's record.
    texts : iterable of str
        Each ``figure=quantity``, such as ``v_ceo=40 V``.
    least : bool
        Whether the figures must reach their limits or stay below them.

    Raises
    ------
    DesignFileError
        Where a text is no limit on one of the kind's figures.
    """
    option = "--at-least" if least else "--at-most"
    known = figures_of(record)
    limits: list[Limit] = []
    for text in texts:
        name, equals, quantity = text.partition("=")
        name = name.strip()
        if not equals or name not in known:
            near = get_close_matches(name, known, n=1, cutoff=0.4)
            hint = f"nearest: {near[0]}; " if near and equals else ""
            raise DesignFileError(
                file="command line",
                key=option,
                found=shown(text),
                wanted=f"write figure=quantity with a figure of this kind "
                f"({hint}all: {', '.join(known)})",
            )
        unit, within = known[name]
        try:
            value = parse_quantity(quantity.strip(), unit).value
        except QuantityError as error:
            raise DesignFileError(
                file="command line", key=f"{option} {name}", found=error.found, wanted=error.wanted
            ) from error
        limits.append(Limit(field=name, value=value, unit=unit, least=least, within=within))
    return tuple(limits)


def search(parts: Iterable[Any], limits: Sequence[Limit]) -> Found:
    """Return the parts that keep to all limits.

    Limits on the figures of test points must be met by one and the same point of each list.
    """
    kept: list[Any] = []
    unknown: list[str] = []
    own = [limit for limit in limits if not limit.within]
    lists = {limit.within: [x for x in limits if x.within == limit.within] for limit in limits}
    lists.pop("", None)
    for part in parts:
        if all(limit.met_by(part) for limit in own) and all(
            any(all(limit.met_by(point) for limit in wanted) for point in getattr(part, name))
            for name, wanted in lists.items()
        ):
            kept.append(part)
        elif any(getattr(part, limit.field) is None for limit in own):
            unknown.append(part.name)
    return Found(parts=tuple(kept), unknown=tuple(unknown))
