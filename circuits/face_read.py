"""What a capture has told, in sentences, and as JSON for other programs."""

import json
import textwrap
from collections.abc import Iterable
from typing import Any

from circuits import VERSION
from circuits.captures.beside import Row
from circuits.captures.reading_out import WORDS, ReadOut
from circuits.face_json import sheet_json
from circuits.format_quantity import percent, show, show_range
from circuits.ledger import Finding, Severity
from circuits.sheet_sentences import figure_words, margin_words

WIDTH = 80
GUTTER = 11


def _wrapped(text: str, first: str, rest: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )


def _finding(finding: Finding) -> Iterable[str]:
    word = finding.severity.value
    label = f"  {word.upper() if finding.severity is Severity.FAILS else word}".ljust(GUTTER)
    text = f"{finding.text.rstrip('.')} ({finding.id}{margin_words(finding)})."
    yield from _wrapped(text, label, " " * GUTTER)
    if finding.remedy and finding.severity is not Severity.GOOD:
        yield from _wrapped(finding.remedy, " " * GUTTER, " " * GUTTER)


def _row(row: Row) -> str:
    share = percent(row.difference / row.designed) if row.designed else "-"
    within = "within" if row.agrees else "OUTSIDE"
    designed, found = show(row.designed, row.unit), show_range(row.low, row.high, row.unit)
    return f"  {row.id:<26}{designed:>14}{found:>23}{share:>9}  {within}"


def read_text(out: ReadOut, *, everything: bool = False) -> str:
    """Return what a capture has told, as plain text.

    Parameters
    ----------
    out : ReadOut
        What it has told.
    everything : bool
        Whether the file's reading is shown in full.

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
        lines += _finding(finding)
    lines += ["", "Figures; each span holds the truth 95 times of 100, if the probe is true"]
    for value in out.sheet.values.values():
        words = figure_words(value, None).removesuffix(", measured.")
        lines += _wrapped(f"{words.rstrip('.')} ({value.rule}).", "  ", "    ")
    if out.rows:
        head = f"  {'figure':<26}{'designed':>14}{'measured':>23}{'differs':>9}"
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
    return "\n".join(lines) + "\n" if everything or lines else ""


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
    return json.dumps(content, indent=2, ensure_ascii=True, allow_nan=False) + "\n"
