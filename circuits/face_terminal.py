"""The sheet on a terminal, and as plain text when it goes elsewhere."""

import os
import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from circuits.ledger import Finding, Severity, TestPoint, Value
from circuits.sheet import Answer, Sheet, is_key_figure
from circuits.sheet_sentences import (
    BEAT,
    answer_words,
    figure_words,
    margin_words,
    paired,
    shown,
)

PLAIN_WIDTH = 80
NARROWEST = 60
WIDEST = 110

Span = tuple[str, str]
Row = tuple[Span, ...]
"""Pieces of one printed line, each with the name of its style; no style says what words do not."""

STYLES = {
    "": "",
    "heading": "bold",
    "margin": "dim",
    "good": "green",
    "mind": "cyan",
    "tight": "yellow",
    "measure": "magenta",
    "fails": "bold red",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """How wide the sheet may be and whether good findings and lesser figures are shown."""

    width: int = PLAIN_WIDTH
    everything: bool = False


def _wrapped(text: str, page: Page, first: str, rest: str) -> list[str]:
    return textwrap.wrap(
        text, page.width, initial_indent=first, subsequent_indent=rest,
        break_long_words=True, break_on_hyphens=False,
    ) or [first.rstrip()]  # fmt: skip


def _paragraph(text: str, page: Page, indent: str = "  ", hang: str = "  ") -> Iterator[Row]:
    for line in _wrapped(text, page, indent, hang):
        yield ((line, ""),)


def _labelled(label: str, style: str, text: str, page: Page, gutter: int) -> Iterator[Row]:
    """Yield a paragraph that hangs behind a label of its own style."""
    blank = " " * gutter
    for number, line in enumerate(_wrapped(text, page, blank, blank)):
        if number == 0:
            yield (label.ljust(gutter), style), (line[gutter:], "")
        else:
            yield ((line, ""),)


def _answer(answer: Answer, page: Page) -> Iterator[Row]:
    words = answer_words(answer)
    yield from _labelled(answer.question, answer.severity.value, words, page, 20)


def _finding(finding: Finding, page: Page) -> Iterator[Row]:
    word = finding.severity.value
    label = f"  {word.upper() if finding.severity is Severity.FAILS else word}"
    text = f"{finding.text.rstrip('.')} ({finding.id}{margin_words(finding)})."
    yield from _labelled(label, word, text, page, 11)
    if finding.remedy and finding.severity is not Severity.GOOD:
        yield from _paragraph(finding.remedy, page, " " * 11, " " * 11)


def _findings(findings: Iterable[Finding], page: Page) -> Iterator[Row]:
    folded = 0
    for finding in findings:
        if finding.severity is Severity.GOOD and not page.everything:
            folded += 1
        else:
            yield from _finding(finding, page)
    if folded:
        are = "1 check is good" if folded == 1 else f"{folded} checks are good"
        yield from _labelled("  good", "good", f"{are}; --all shows them.", page, 11)


def _value(value: Value, spent: Value | None, page: Page) -> Iterator[Row]:
    """Yield the sentence with its rule in the margin, each wrapped in a column of its own."""
    left = page.width * 5 // 8
    sentence = textwrap.wrap(
        figure_words(value, spent), left - 2, subsequent_indent="  ", break_on_hyphens=False
    )
    rule = textwrap.wrap(value.rule, page.width - left - 2, break_on_hyphens=False)
    for number in range(max(len(sentence), len(rule))):
        text = sentence[number] if number < len(sentence) else ""
        note = rule[number] if number < len(rule) else ""
        yield ((f"  {text}".ljust(left + 2), ""), (note, "margin"))


def _pairs(sheet: Sheet, page: Page) -> list[tuple[Value, Value | None]]:
    """Return the figures to show, each with what spent cells make of it."""
    return paired(v for v in sheet.values.values() if page.everything or is_key_figure(v.id))


def _stages(sheet: Sheet, page: Page) -> Iterator[Row]:
    pairs = _pairs(sheet, page)
    for heading, stages in BEAT.items():
        ordered = [p for stage in stages for p in pairs if p[0].id.partition(".")[0] == stage]
        if not ordered:
            continue
        yield from _heading(heading)
        for value, spent in ordered:
            yield from _value(value, spent, page)
    hidden = len(sheet.values) - sum(1 if spent is None else 2 for _, spent in pairs)
    if hidden:
        yield ()
        yield from _paragraph(f"{hidden} more figures; --all shows them.", page, "", "")


def _heading(text: str) -> Iterator[Row]:
    yield ()
    yield ((text, "heading"),)


def _test_point(point: TestPoint, page: Page) -> Iterator[Row]:
    place = point.point[:1].upper() + point.point[1:]
    condition = f", {point.condition}" if point.condition else ""
    yield from _paragraph(
        f"{place}{condition}, {point.instrument}: {point.expected}".rstrip(".") + ".",
        page, "  ", "    ",
    )  # fmt: skip
    if point.otherwise:
        yield from _paragraph(f"Otherwise: {point.otherwise.rstrip('.')}.", page, "    ", "    ")


def bench_rows(sheet: Sheet, page: Page) -> Iterator[Row]:
    """Yield the bench check: what the instruments must show, and what to do otherwise."""
    yield from _heading("At the bench")
    for point in sheet.test_points:
        yield from _test_point(point, page)


def sheet_rows(sheet: Sheet, page: Page) -> Iterator[Row]:
    """Yield the whole sheet, line by line."""
    yield ((f"{sheet.title} (coilwright {sheet.version})", "heading"),)
    yield ()
    for answer in sheet.answers:
        yield from _answer(answer, page)
    yield from _labelled("Measure next", "measure", sheet.measure_next, page, 20)
    yield from _heading("Findings")
    yield from _findings(sheet.findings, page)
    yield from _stages(sheet, page)
    if sheet.test_points:
        yield from bench_rows(sheet, page)
    yield from _heading("Assumed, because the design file does not say")
    for entry in sheet.assumed:
        yield from _paragraph(f"{entry.id} = {shown(entry)}: {entry.source}", page, "  ", "    ")
    if not sheet.assumed:
        yield from _paragraph("nothing.", page)
    yield from _heading("Cautions")
    for caution in sheet.cautions:
        yield from _paragraph(caution, page, "  ", "    ")


def bench_sheet_rows(sheet: Sheet, page: Page) -> Iterator[Row]:
    """Yield the bench check as a sheet of its own."""
    yield ((f"{sheet.title} (coilwright {sheet.version})", "heading"),)
    failing = sum(finding.severity is Severity.FAILS for finding in sheet.findings)
    if failing:
        fails = "1 finding fails" if failing == 1 else f"{failing} findings fail"
        yield from _labelled("FAILS", "fails", f"{fails}: see the design's sheet first.", page, 9)
    yield from bench_rows(sheet, page)


def printed(rows: Callable[[Page], Iterable[Row]], *, everything: bool = False) -> str:
    """Return rows for standard output: coloured and as wide as a terminal, else plain."""
    if on_terminal():
        return coloured(rows(Page(width=terminal_width(), everything=everything)))
    return plain(rows(Page(everything=everything)))


def plain(rows: Iterable[Row]) -> str:
    """Return rows as plain text."""
    return "".join("".join(text for text, _ in row).rstrip() + "\n" for row in rows)


def coloured(rows: Iterable[Row]) -> str:
    """Return rows as the terminal's text, with the styles that it can show."""
    from rich.console import Console  # noqa: PLC0415 - a pipe does not pay for it
    from rich.text import Text  # noqa: PLC0415

    console = Console(highlight=False, soft_wrap=True)
    with console.capture() as capture:
        for row in rows:
            console.print(Text.assemble(*((text, STYLES[style]) for text, style in row)))
    return capture.get()


def on_terminal() -> bool:
    """Whether standard output is somebody's screen."""
    return sys.stdout is not None and sys.stdout.isatty()


def terminal_width() -> int:
    """Return the width to lay out for, within what reads well."""
    try:
        columns = os.get_terminal_size(sys.stdout.fileno()).columns
    except (OSError, ValueError):
        columns = PLAIN_WIDTH
    return max(NARROWEST, min(WIDEST, columns))
