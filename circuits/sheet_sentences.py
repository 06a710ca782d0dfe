"""The sentences of the sheet, which every face that is read by people shares."""

import textwrap
from collections.abc import Iterable, Iterator

from circuits.format_quantity import show, show_range, show_temperature, significant
from circuits.ledger import Assumed, Basis, Finding, Severity, Value
from circuits.sheet import NO_CELLS, Answer
from circuits.supply_words import STATES

WIDTH, GUTTER = 80, 11

WORDS = {
    Severity.FAILS: "No",
    Severity.MEASURE: "Not known yet",
    Severity.TIGHT: "Only just",
    Severity.MIND: "Yes",
    Severity.GOOD: "Yes",
}

BEAT = {
    "What feeds it": ("rails",),
    "The coil": ("coil",),
    "The pickup coil": ("pickup_coil",),
    "The magnet over the coil": ("linkage",),
    "The movement swings": ("movement",),
    "The magnet passes the coil": ("emf",),
    "The circuit listens": ("pickup", "filter"),
    "The switch pushes": ("drive", "pulse"),
    "The kick dies away": ("clamp", "timing"),
    "What the beat has cost": ("energy", "supply", "indicator"),
    "Over the months": ("rate", "steering", "cells", "log_output"),
}
"""Headings along one beat, with the stages that have their say there."""


def margin_words(finding: Finding) -> str:
    """Return a finding's margin, behind a comma; nothing where it has none."""
    return "" if finding.margin is None else f", margin {significant(finding.margin, 2)}"


def finding_lines(finding: Finding, width: int = WIDTH) -> Iterator[str]:
    """Yield a finding as plain text: its severity, its sentence, its remedy behind a gutter."""
    word = finding.severity.value
    label = f"  {word.upper() if finding.severity is Severity.FAILS else word}".ljust(GUTTER)
    text = f"{finding.text.rstrip('.')} ({finding.id}{margin_words(finding)})."
    blank = " " * GUTTER
    remedy = "" if finding.severity is Severity.GOOD else finding.remedy
    for told, first in ((text, label), (remedy, blank)):
        yield from textwrap.wrap(
            told, width, initial_indent=first, subsequent_indent=blank, break_on_hyphens=False
        )


def answer_words(answer: Answer) -> str:
    """Return the answer to one of the four questions in sentences."""
    words = WORDS[answer.severity]
    weakest, unknown = answer.weakest, answer.unknown
    if words == "Yes" and weakest is not None and weakest.severity is Severity.MIND:
        words = "Yes, but mind"
    if unknown is not None and answer.severity is Severity.MEASURE:
        words += f": {unknown.text.rstrip('.')} ({unknown.id})"
    if weakest is not None and weakest.id == NO_CELLS:
        text = weakest.text[:1].lower() + weakest.text[1:].rstrip(".")
        words = f"There is no cell to last: {text} ({weakest.id})"
    elif weakest is None:
        words += "" if unknown else ": nothing in this design bears on it"
    else:
        words += f". Weakest: {weakest.text.rstrip('.')} ({weakest.id}{margin_words(weakest)})"
    if answer.mind:
        words += f". Mind {', '.join(finding.id for finding in answer.mind)}"
    return f"{words}."


def shown(entry: Value | Assumed) -> str:
    """Return an entry's figure; a temperature in degrees Celsius, a rise of it in kelvins."""
    if entry.unit == "K" and entry.id.endswith("temperature") and not isinstance(entry.value, str):
        return show_temperature(entry.value)
    return show(entry.value, entry.unit)


def figure_words(value: Value, spent: Value | None) -> str:
    """Return one figure as a sentence: words, figure, span, state, where it came from."""
    words = value.words[:1].upper() + value.words[1:]
    text = f"{words}: {shown(value)}"
    if value.low is not None and value.high is not None:
        text += f" ({show_range(value.low, value.high, value.unit)})"
    if spent is not None and spent.state == STATES["spent"]:
        # A supply of a stated voltage: its lowest is told where that differs.
        if shown(spent) != shown(value):
            text += f" {STATES['fresh']}, {shown(spent)} {spent.state}"
    elif spent is not None:
        text += f" from fresh cells, {shown(spent)} from spent"
    elif value.state:
        text += f", {value.state}"
    if value.basis is not Basis.COMPUTED:
        text += f", {value.basis.value}"
    return f"{text}."


def paired(shown_values: Iterable[Value]) -> list[tuple[Value, Value | None]]:
    """Return figures in their order, each with what spent cells make of it."""
    every = list(shown_values)
    spent = {v.id.removesuffix("_spent"): v for v in every if v.id.endswith("_spent")}
    firsts = [v for v in every if not v.id.endswith("_spent")]
    pairs = [(value, spent.pop(value.id.removesuffix("_fresh"), None)) for value in firsts]
    return pairs + [(value, None) for value in spent.values()]
