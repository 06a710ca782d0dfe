"""One trial of a search: the whole design with some keys changed, as one row."""

import math
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from circuits import pipeline
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.design_file import parse_design
from circuits.design_write import with_changes
from circuits.errors import DesignFileError
from circuits.ledger import Change, Ledger, Severity
from circuits.stage_pass import StagePass

Changes = tuple[Change, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What a search may look for: its words, its figure's unit, which way is better."""

    words: str
    unit: str
    more: bool = False


AIMS = {
    "energy": Aim(words="least energy per swing", unit="J"),
    "life": Aim(words="longest life of the cells", unit="s", more=True),
    "coil": Aim(words="smallest coil", unit="kg"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What one trial gave; `reason` says why it cannot be used."""

    changes: Changes
    figures: dict[str, float] = field(default_factory=dict)
    fails: tuple[str, ...] = ()
    short: float = 0.0
    margin: float | None = None
    reason: str = ""

    @property
    def good(self) -> bool:
        """Whether the design can be used and nothing in it fails."""
        return not self.reason and not self.fails


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """The design file that a search starts from, as its workers get it."""

    text: str
    file: str


@lru_cache(maxsize=2)
def _start(subject: Subject) -> tuple[Design, Catalogue, StagePass]:
    design = parse_design(subject.text, subject.file)
    catalogue = Catalogue(design.part, design.file)
    return design, catalogue, pipeline.run(design, catalogue)


def _number(ledger: Ledger, name: str) -> float | None:
    value = ledger.values.get(name)
    return None if value is None or isinstance(value.value, str) else float(value.value)


def _figures(design: Design, ledger: Ledger) -> dict[str, float]:
    every = design.drive.swings_per_pulse or (2 if design.magnet.axis == "motion" else 1)
    pulse, base = _number(ledger, "energy.e_pulse"), _number(ledger, "energy.e_base")
    found = {
        "energy": None if pulse is None else (pulse + (base or 0.0)) / every,
        "life": _number(ledger, "cells.battery_life"),
        "coil": _number(ledger, "coil.mass"),
    }
    return {name: value for name, value in found.items() if value is not None}


def try_out(subject: Subject, changes: Changes) -> Row:
    """Return the row of the design with these changes.

    Parameters
    ----------
    subject : Subject
        The design file.
    changes : tuple of Change
        The keys as this trial sets them.

    Returns
    -------
    row : Row
        A design that cannot be used is a row with its reason.
    """
    design, catalogue, start = _start(subject)
    try:
        changed = with_changes(design, changes)
        ledger = pipeline.run(changed, catalogue, start).ledger
    except DesignFileError as error:
        place = f"[{error.section}] {error.key}: " if error.section else ""
        return Row(changes=changes, reason=f"{place}found {error.found}")
    failing = [f for f in ledger.findings.values() if f.severity is Severity.FAILS]
    margins = [
        f.margin
        for f in ledger.findings.values()
        if f.margin is not None and f.severity is not Severity.MIND and math.isfinite(f.margin)
    ]
    return Row(
        changes=changes,
        figures=_figures(changed, ledger),
        fails=tuple(sorted(finding.id for finding in failing)),
        short=sum(min(1.0, -(f.margin if f.margin is not None else -1.0)) for f in failing),
        margin=min(margins, default=None),
    )


def row_as_table(row: Row) -> dict[str, Any]:
    """Return a row as the open format of the rows file holds it."""
    return {
        "changes": [[change.section, change.key, change.text] for change in row.changes],
        "figures": row.figures,
        "fails": list(row.fails),
        "short": row.short,
        "margin": row.margin,
        "reason": row.reason,
    }


def row_from_table(table: dict[str, Any]) -> Row:
    """Return the row that such a table holds.

    Raises
    ------
    KeyError, TypeError, ValueError
        If it holds none.
    """
    changes = [
        Change(section=str(section), key=str(key), text=str(text))
        for section, key, text in table["changes"]
    ]
    margin = table["margin"]
    return Row(
        changes=tuple(changes),
        figures={name: float(table["figures"][name]) for name in AIMS if name in table["figures"]},
        fails=tuple(map(str, table["fails"])),
        short=float(table["short"]),
        margin=None if margin is None else float(margin),
        reason=str(table["reason"]),
    )
