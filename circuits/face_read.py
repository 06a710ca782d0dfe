"""What a capture has told, in sentences, and as JSON for other programs."""

import json
import math
import textwrap
from typing import Any

from circuits import VERSION
from circuits.captures.beside import Row
from circuits.captures.reading_out import WORDS, ReadOut
from circuits.face_json import json_text, sheet_json
from circuits.format_quantity import show, show_range, significant
from circuits.ledger import Value
from circuits.sheet_sentences import finding_lines

WIDTH = 80


def _wrapped(text: str, first: str, rest: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )


def _digits(low: float, high: float) -> int:
    """Return how many digits show both ends of a span apart."""
    size, span = max(abs(low), abs(high)), (high - low) / 2
    if not (span > 0 and size > 0):
        return 3
    return min(max(math.ceil(math.log10(size / span)) + 1, 3), 10)


def _figure(value: Value) -> str:
    words = value.words[:1].upper() + value.words[1:]
    if isinstance(value.value, str) or value.low is None or value.high is None:
        return f"{words}: {show(value.value, value.unit, 4)} ({value.rule})."
    digits = _digits(value.low, value.high)
    span = show_range(value.low, value.high, value.unit, digits)
    return f"{words}: {show(value.value, value.unit, digits)} ({span}) - {value.rule}."


def _row(row: Row) -> str:
    share = f"{significant(100 * row.difference / row.designed, 2)} %" if row.designed else "-"
    within = "within" if row.agrees else "OUTSIDE"
    designed = show(row.designed, row.unit, 4)
    found = show_range(row.low, row.high, row.unit, min(_digits(row.low, row.high), 6))
    return f"  {row.id:<24}{designed:>13} {found:>25} {share:>9}  {within}"


def read_text(out: ReadOut) -> str:
    """Return what a capture has told, as plain text.

    Parameters
    ----------
    out : ReadOut
        What it has told.

    Returns
    -------
    text : str
    """
    measured, decision = out.measured, out.measured.capture.decision
    lines = _wrapped(
        f"{measured.capture.file}: {WORDS[measured.kind]} ({measured.why}); "
        f"{decision.rows} rows (coilwright {VERSION})", "", "  ",
    )  # fmt: skip
    lines += ["", "How the file was read"]
    for line in decision.in_words():
        lines += _wrapped(line, "  ", "    ")
    lines += ["", "What it tells"]
    for finding in out.sheet.findings:
        lines += finding_lines(finding)
    lines += ["", "Figures; each span holds the truth 95 times of 100, if the probe is true"]
    for value in out.sheet.values.values():
        lines += _wrapped(_figure(value), "  ", "    ")
    if out.rows:
        head = f"  {'figure':<24}{'designed':>13} {'measured':>25} {'differs':>9}"
        lines += ["", "Beside the design", head, *(_row(row) for row in out.rows)]
    if measured.changes:
        lines += ["", "For a copy of the design file (--write-back OUT)"]
        lines += [f'  [{c.section}] {c.key} = "{c.text}"' for c in measured.changes]
    if out.sheet.assumed:
        lines += ["", "Assumed"]
        for entry in out.sheet.assumed:
            lines += _wrapped(
                f"{entry.id} = {show(entry.value, entry.unit)}: {entry.source}", "  ", "    "
            )
    return "\n".join(lines) + "\n"


def _row_json(row: Row) -> dict[str, Any]:
    return {
        "id": row.id, "unit": row.unit, "designed": row.designed, "measured": row.measured,
        "low": row.low, "high": row.high, "difference": row.difference, "within": row.agrees,
    }  # fmt: skip


def read_json(out: ReadOut) -> str:
    """Return what a capture has told as JSON: the sheet's shape, and tables of its own."""
    content: dict[str, Any] = json.loads(sheet_json(out.sheet))
    content["kind"] = out.measured.kind
    content["reading"] = list(out.measured.capture.decision.in_words())
    content["beside"] = [_row_json(row) for row in out.rows]
    content["write_back"] = [
        {"section": change.section, "key": change.key, "text": change.text}
        for change in out.measured.changes
    ]
    return json_text(content)
