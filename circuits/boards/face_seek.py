"""What a search found, as a table for people, as CSV and as JSON for programs."""

import csv
import io
import textwrap
from collections import Counter
from typing import Any

from circuits import VERSION
from circuits.boards.seeking import Found
from circuits.boards.trial import AIMS, Row
from circuits.face_json import json_text
from circuits.format_quantity import show, significant
from circuits.ledger import Severity

WIDTH = 80
MOST_REASONS = 5
LONGEST_REASON = 90


def _wrapped(text: str, hang: str = "  ") -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent=hang, break_on_hyphens=False)


def _cells(found: Found, row: Row, label: str) -> list[str]:
    texts = [change.text for change in row.changes] or ["as stated"] * len(found.knobs)
    figures = [
        show(row.figures[name], aim.unit) if name in row.figures else "-"
        for name, aim in AIMS.items()
    ]
    margin = "-" if row.margin is None else significant(row.margin, 2)
    return [label, *texts, *figures, margin]


def _aligned(rows: list[list[str]]) -> list[str]:
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return [
        "  " + "  ".join(cell.rjust(w) for cell, w in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]


def _reasons(found: Found) -> list[str]:
    counted: Counter[str] = Counter()
    for row in found.rows:
        counted.update(row.fails or ([row.reason[:LONGEST_REASON]] if row.reason else []))
    return [
        line
        for reason, count in counted.most_common(MOST_REASONS)
        for line in textwrap.wrap(
            f"{reason}: {count} of {len(found.rows)}", WIDTH, initial_indent="  ",
            subsequent_indent="    ",
        )
    ]  # fmt: skip


def best_place(found: Found) -> int | None:
    """Return the place of the best row in the table, from 1 up; None if no row is good."""
    best = found.best
    if best is None:
        return None
    value = best.figures[found.aim]
    return next(n for n, row in enumerate(found.front, 1) if row.figures[found.aim] == value)


def verdict(found: Found) -> str:
    """Return in a sentence what the search came to."""
    aim, best = AIMS[found.aim], found.best
    good = sum(row.good for row in found.rows)
    text = f"{len(found.rows)} trials, {good} pass every check."
    if not found.finished:
        text = f"Interrupted after {text}"
    if best is None:
        return f"{text} None can be chosen: widen the spans, or cure first what fails."
    value = best.figures[found.aim]
    text += f" {aim.words[:1].upper()}{aim.words[1:]}: {show(value, aim.unit)} in row "
    text += f"{best_place(found)}"
    if found.aim in found.start.figures:
        start = found.start.figures[found.aim]
        stands = "passes" if found.start.good else "does not pass"
        text += f"; the file as it stands has {show(start, aim.unit)} and {stands}"
    ends = at_an_end(found)
    if ends:
        text += f". It lies at the end of the span of {' and '.join(ends)}: look beyond"
    return f"{text}."


def at_an_end(found: Found) -> list[str]:
    """Return the keys that the best row has at an end of their span."""
    best = found.best
    if best is None:
        return []
    pairs = zip(found.knobs, best.changes, strict=True)
    return [
        knob.name
        for knob, change in pairs
        if knob.span and change in (knob.change(knob.bounds[0]), knob.change(knob.bounds[1]))
    ]


def found_text(found: Found, title: str) -> str:
    """Return the result as plain text."""
    lines = [*_wrapped(f"{title}: {verdict(found)}"), ""]
    if found.front:
        lines += _wrapped(
            "No other good trial beats one of these rows in every figure at once. Energy is per "
            "swing, life that of the cells, coil the mass of its wire, margin the least of all "
            "checks.",
            "",
        )
        head = ["row", *(knob.key for knob in found.knobs), *AIMS, "margin"]
        rows = [_cells(found, row, str(n)) for n, row in enumerate(found.front, 1)]
        lines += _aligned([head, *rows, _cells(found, found.start, "file")])
        lines += [
            "",
            *_wrapped("--apply OUT writes the design file of the best row, --row N of another."),
        ]
    reasons = _reasons(found)
    if reasons:
        lines += ["", "What keeps others out:", *reasons]
    return "\n".join(lines) + "\n"


def _json_row(row: Row) -> dict[str, Any]:
    entry: dict[str, Any] = {
        "changes": {f"{c.section}.{c.key}": c.text for c in row.changes},
        "figures": row.figures,
        "good": row.good,
        "fails": list(row.fails),
    }
    if row.margin is not None:
        entry["margin"] = row.margin
    if row.reason:
        entry["reason"] = row.reason
    return entry


def found_json(found: Found, title: str) -> str:
    """Return the result for other programs, in SI units."""
    best = found.best
    severity = Severity.GOOD if best is not None else Severity.FAILS
    content = {
        "title": title,
        "version": VERSION,
        "values": {
            f"seek.{name}": {
                "value": value, "unit": AIMS[name].unit, "low": None, "high": None,
                "basis": "computed",
            }
            for name, value in (best.figures.items() if best else ())
        },
        "findings": [{"id": "seek.best", "severity": severity.value, "text": verdict(found)}],
        "assumed": [],
        "aim": found.aim,
        "best": None if best is None else _json_row(best),
        "front": [_json_row(row) for row in found.front],
        "start": _json_row(found.start),
        "rows": [_json_row(row) for row in found.rows],
    }  # fmt: skip
    return json_text(content)


def found_csv(found: Found) -> str:
    """Return every trial as a line of figures in SI units."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    names = [f"{name} [{aim.unit}]" for name, aim in AIMS.items()]
    writer.writerow([*(knob.name for knob in found.knobs), *names, "least margin", "stands"])
    for row in found.rows:
        stands = "good" if row.good else row.reason or "fails: " + " ".join(row.fails)
        figures = [row.figures.get(name, "") for name in AIMS]
        texts = [change.text for change in row.changes]
        writer.writerow([*texts, *figures, "" if row.margin is None else row.margin, stands])
    return text.getvalue()
