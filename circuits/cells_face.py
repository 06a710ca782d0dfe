"""The life of the cells on a terminal, as rows and for other programs."""

import textwrap
from collections.abc import Iterator
from math import isfinite
from typing import Any

import numpy as np

from circuits import VERSION
from circuits.cells_course import LifeCourse
from circuits.cells_report import CellsReport
from circuits.cells_table import SetRow
from circuits.face_json import assumed_entry, finding_entry, json_text, value_entry
from circuits.format_quantity import DAY, show, significant
from circuits.ledger import Finding
from circuits.sheet import CAUTIONS, worst_first

WIDTH = 80
ROWS = 11
BAR = 20
ASKED = ("cells.observed", "cells.not_to_blame")
NEVER = "not before they are empty"
COLUMNS = (
    ("time", "t", "s"), ("v_rest", "v_rest", "V"), ("v_load", "v_load", "V"),
    ("v_pulse", "v_pulse", "V"), ("pulse_width", "width", "s"), ("arc", "arc", "rad"),
    ("rate", "rate", "s/day"), ("i_mean", "i_mean", "A"),
)  # fmt: skip


def _wrapped(text: str, indent: str = "  ") -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False
    )


def _finding(finding: Finding) -> Iterator[str]:
    yield from _wrapped(f"{finding.severity.value}: {finding.text}")
    if finding.remedy:
        yield from _wrapped(finding.remedy, "    ")


def cells_text(report: CellsReport) -> str:
    """Return sentences, the course with a small picture, the ends and other sets of cells."""
    lines = [f"{report.title}, its cells over their life (coilwright {VERSION})", ""]
    for finding in _in_order(report):
        lines += _finding(finding)
    course = report.course
    if course is not None:
        lines += ["", *_course(course), "", *_ends(course), "", *_drains(course)]
        lines += ["", *_sets(report.sets), "", *_assumed(report)]
    lines += ["", *(line for caution in CAUTIONS[:3] for line in _wrapped(caution))]
    return "\n".join(lines) + "\n"


def _in_order(report: CellsReport) -> list[Finding]:
    """Return what was asked first, then the sentences in the order of the job."""
    return sorted(report.ledger.findings.values(), key=lambda f: f.id not in ASKED)


def _course(course: LifeCourse) -> Iterator[str]:
    yield (
        f"{'time':>11}{'at rest':>9}{'at pulse':>10}{'width':>9}{'arc':>10}{'rate':>13}  "
        "voltage at rest"
    )
    fresh = float(course.v_rest[0])
    for k in np.linspace(0, len(course.t) - 1, ROWS).astype(int):
        arc, rate = float(course.arc[k]), float(course.rate[k])
        filled = round(BAR * float(course.v_rest[k]) / fresh)
        yield (
            f"{show(float(course.t[k]), 's'):>11}{show(float(course.v_rest[k]), 'V'):>9}"
            f"{show(float(course.v_pulse[k]), 'V'):>10}{show(float(course.width[k]), 's'):>9}"
            f"{show(arc, 'rad') if isfinite(arc) else '-':>10}"
            f"{show(DAY * rate, 's/day') if isfinite(rate) else '-':>13}  "
            f"{'#' * filled}{'.' * (BAR - filled)}"
        )


def _ends(course: LifeCourse) -> Iterator[str]:
    yield f"{'what ends it':<42}{'poor cells':>12}{'usual':>12}{'good':>12}"
    for end in course.ends:
        if end.from_start:
            yield f"{end.words:<42}  so from the start: not the cells' fault"
        elif end.typ is None and end.low is None:
            yield f"{end.words:<42}  {NEVER}"
        else:
            cells = [
                show(t, "s", 2) if t is not None else "-" for t in (end.low, end.typ, end.high)
            ]
            yield f"{end.words:<42}{cells[0]:>12}{cells[1]:>12}{cells[2]:>12}"


def _drains(course: LifeCourse) -> Iterator[str]:
    yield f"{'where the charge goes':<42}{'share':>9}{'fresh':>11}{'at the end':>12}"
    for row in course.drains:
        share = f"{significant(100 * row.share, 2)} %" if row.share >= 1e-4 else "< 0.01 %"
        yield (f"{row.words:<42}{share:>9}{show(row.i_fresh, 'A'):>11}{show(row.i_end, 'A'):>12}")


def _sets(rows: tuple[SetRow, ...]) -> Iterator[str]:
    if not rows:
        return
    heads = f"{'poor':>10}{'usual':>10}{'good':>10}  ended by"
    yield f"{'other cells, the circuit sized anew':<36}{heads}"
    for row in rows:
        side = f", {row.parallel} side by side" if row.parallel > 1 else ""
        words = f"{row.series} x {row.cell}{side}"
        if row.typ <= 0:
            yield f"{words:<36}{row.ended_by:>30}"
            continue
        times = [show(t, "s", 2) for t in (row.low, row.typ, row.high)]
        yield f"{words:<36}{times[0]:>10}{times[1]:>10}{times[2]:>10}  {_short(row.ended_by)}"


def _short(words: str) -> str:
    return words.removeprefix("cells ").partition(" ")[0] if words.startswith("cells") else words


def _assumed(report: CellsReport) -> Iterator[str]:
    yield "Assumed, because the design file does not say"
    for entry in report.ledger.assumed.values():
        yield from _wrapped(f"{entry.id} = {show(entry.value, entry.unit)}: {entry.source}")


def _row(course: LifeCourse, k: int) -> dict[str, float]:
    """Return one moment; what is not known is absent."""
    found = {}
    for name, field, _ in COLUMNS:
        value = float(getattr(course, field)[k]) * (DAY if name == "rate" else 1.0)
        if isfinite(value):
            found[name] = value
    return found


def cells_csv(report: CellsReport) -> str:
    """Return the course, one moment a line, in SI units and rates in seconds a day."""
    heads = [f"{name}_{unit.replace('/', '_per_')}" for name, _, unit in COLUMNS]
    lines = [",".join(heads)]
    course = report.course
    if course is not None:
        for k in range(len(course.t)):
            row = _row(course, k)
            lines.append(
                ",".join(f"{row[name]:.9g}" if name in row else "" for name, _, _ in COLUMNS)
            )
    return "\n".join(lines) + "\n"


def _known(**entries: Any) -> dict[str, Any]:
    return {name: value for name, value in entries.items() if value is not None}


def cells_json(report: CellsReport) -> str:
    """Return values, findings and tables in SI units; what does not apply is absent."""
    ledger, course = report.ledger, report.course
    content: dict[str, Any] = {
        "title": report.title,
        "version": VERSION,
        "values": {name: value_entry(value) for name, value in ledger.values.items()},
        "findings": [finding_entry(f) for f in worst_first(ledger.findings.values())],
        "assumed": [assumed_entry(entry) for entry in ledger.assumed.values()],
    }
    if course is not None:
        content["steered"] = course.steered
        content["course"] = [_row(course, k) for k in range(len(course.t))]
        content["ends"] = [
            _known(
                name=e.name, words=e.words, low=e.low, time=e.typ, high=e.high, v_rest=e.v_rest,
                from_start=e.from_start,
            )
            for e in course.ends
        ]  # fmt: skip
        content["drains"] = [
            {
                "name": d.name, "words": d.words, "charge": d.charge, "share": d.share,
                "i_fresh": d.i_fresh, "i_end": d.i_end,
            }
            for d in course.drains
        ]  # fmt: skip
        content["longer"] = [
            {
                "words": one.words, "life": one.life, "gain": one.gain, "ended_by": one.ended_by,
                "changes": [
                    {"section": c.section, "key": c.key, "text": c.text} for c in one.changes
                ],
            }
            for one in report.longer
        ]  # fmt: skip
        content["sets"] = [
            _known(
                cell=r.cell, chemistry=r.chemistry, series=r.series, parallel=r.parallel, low=r.low,
                life=r.typ, high=r.high, ended_by=r.ended_by, mass=r.mass,
            )
            for r in report.sets
        ]  # fmt: skip
    if report.blame is not None:
        content["observed"] = _blame(report)
    return json_text(content)


def _blame(report: CellsReport) -> dict[str, Any]:
    found = report.blame
    assert found is not None
    return {
        "time": found.observed,
        "expected": found.expected,
        "i_low": found.i_low,
        "i_high": found.i_high,
        "i_design": found.i_design,
        "suspects": [
            {
                "name": s.name, "words": s.words, "low": s.low, "typ": s.typ, "high": s.high,
                "explains": s.explains, "advice": s.advice,
            }
            for s in found.suspects
        ],
        "not_to_blame": [
            _known(name=r.name, words=r.words, current=r.current,
                   times=r.times if isfinite(r.times) else None, would_take=r.would_take)
            for r in found.refusals
        ],
    }  # fmt: skip
