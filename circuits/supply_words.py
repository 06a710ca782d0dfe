"""Words of the sheet for a supply of a stated voltage, which has no fresh and no spent cells."""

import re
from dataclasses import fields, replace
from typing import Any, TypeVar

from circuits.ledger import Finding, Ledger, TestPoint, Value

T = TypeVar("T", Finding, Value, TestPoint)

STATES = {"fresh": "at the stated voltage", "spent": "at the lowest voltage"}
"""What the stages call fresh and spent, where no cells feed the drive."""

_PHRASES = (
    ("with fresh and (?:with )?spent cells", "at the stated and at the lowest voltage"),
    ("fresh and spent(?: cells)?", "stated and lowest voltage"),
    ("the cells from fresh to spent", "the supply from the stated to the lowest voltage"),
    ("(?:one |two )?more cells(?: in series)?", "a higher voltage"),
    ("change the cells earlier", "raise the lowest voltage"),
    ("over widths and cells", "over widths and voltages"),
    ("from fresh to spent cells", "from the stated to the lowest voltage"),
    ("fresh to spent", "from the stated to the lowest voltage"),
    ("worst of fresh and spent", "worst of stated and lowest voltage"),
    ("at fresh and at spent cells", "at the stated and at the lowest voltage"),
    ("with fresh cells clean the contacts", "clean the contacts"),
    ("while the cells are fresh", "at the stated voltage"),
    ("at the end of the cells' life", "at the lowest voltage"),
    ("the cells end earlier than their cut-off by this dip",
     "the supply must stay above its lowest voltage by this dip"),
    ("as the cells sag", "as the supply sags"),
    ("(?:with|from|at) fresh cells", "at the stated voltage"),
    ("(?:with|from|at) (?:nearly )?spent (?:cells|ones)", "at the lowest voltage"),
    ("spent cells give", "at the lowest the supply gives"),
    ("spent cells do not hold", "the lowest voltage does not hold"),
    ("fresh cells", "the stated voltage"),
    ("spent cells", "the lowest voltage"),
    ("fresh rail", "rail"),
    ("when spent", "at the lowest voltage"),
    ("fresh, the", "at the stated voltage the"),
    (", fresh\\Z", ""),
    (", spent cells", ", lowest voltage"),
    (", spent\\Z", ", lowest"),
    ("cells' own resistance", "supply's own resistance"),
    ("cells' resistance", "supply's resistance"),
    ("cells' terminals", "supply's terminals"),
    ("cells of less resistance", "a supply of less resistance"),
    ("from the cells", "from the supply"),
)  # fmt: skip
_FOUND = re.compile("|".join(f"(?:{phrase})" for phrase, _ in _PHRASES), re.IGNORECASE)
_EACH = tuple((re.compile(phrase, re.IGNORECASE), instead) for phrase, instead in _PHRASES)
_TEXTS = ("text", "remedy", "words", "rule", "state", "point", "condition", "expected", "otherwise")


def _instead(match: re.Match[str]) -> str:
    found = match.group()
    for phrase, instead in _EACH:
        if phrase.fullmatch(found):
            return instead[:1].upper() + instead[1:] if found[:1].isupper() else instead
    return found


def without_cells(text: str) -> str:
    """Return a sentence in the words of a supply whose voltage is stated.

    >>> without_cells("With spent cells the pulse gives 60 uJ; 70 uJ with fresh cells.")
    'At the lowest voltage the pulse gives 60 uJ; 70 uJ at the stated voltage.'
    """
    return STATES[text] if text in STATES else _FOUND.sub(_instead, text)


def _reworded(entry: T, *, one_voltage: bool) -> T:
    changed: dict[str, Any] = {}
    for field in fields(entry):
        text = getattr(entry, field.name)
        if field.name in _TEXTS and text:
            plain = without_cells(text)
            if field.name == "state" and one_voltage:
                plain = ""
            if plain != text:
                changed[field.name] = plain
    return replace(entry, **changed) if changed else entry


def reword(ledger: Ledger, *, one_voltage: bool) -> None:
    """Put everything that was entered into the words of a stated voltage.

    `one_voltage` where the file gives the supply no tolerance: then no figure names its state
    but the lower one of a pair.
    """

    def put(entry: T) -> T:
        return _reworded(entry, one_voltage=one_voltage)

    ledger.values = {
        name: replace(put(value), state=STATES["spent"]) if name.endswith("_spent") else put(value)
        for name, value in ledger.values.items()
    }
    ledger.findings = {name: put(finding) for name, finding in ledger.findings.items()}
    ledger.test_points = [put(point) for point in ledger.test_points]
