"""The parts of the report that are words: answers, findings, figures along the beat, lists."""

import re
from collections.abc import Iterable

from circuits.ledger import Finding, Severity, Value
from circuits.report.bench_marks import tag_of
from circuits.report.gallery import CIRCUIT, Gallery
from circuits.report.markup import Markup, join, tag
from circuits.report.page import figures
from circuits.report.typography import printed
from circuits.sheet import Cure, Sheet, is_key_figure
from circuits.sheet_sentences import (
    BEAT,
    WORDS,
    answer_words,
    figure_words,
    margin_words,
    paired,
    shown,
)

MARKS = {
    Severity.FAILS: "\u2715 fails",
    Severity.MEASURE: "? measure",
    Severity.TIGHT: "\u2248 tight",
    Severity.MIND: "! mind",
    Severity.GOOD: "\u2713 good",
}
"""Each severity in a sign and a word: no colour says what they do not."""


def answers(sheet: Sheet) -> Markup:
    """Return the four lines, and what to measure next."""
    rows = []
    for answer in sheet.answers:
        verdict = WORDS[answer.severity]
        rest = answer_words(answer).removeprefix(verdict)
        rows.append(
            tag("div", tag("dt", answer.question),
                tag("dd", tag("span", verdict, class_="verdict"), _linked(rest, sheet)),
                class_=answer.severity.value)
        )  # fmt: skip
    rows.append(
        tag("div", tag("dt", "What to measure next"), tag("dd", printed(sheet.measure_next)))
    )
    return tag("dl", *rows, class_="answers")


def _linked(sentence: str, sheet: Sheet) -> Markup:
    """Return a sentence in which each finding that it names leads to it."""
    names = sorted((finding.id for finding in sheet.findings), key=len, reverse=True)
    if not names:
        return join(printed(sentence))
    known = re.compile(rf"(?<![\w.])({'|'.join(map(re.escape, names))})(?![\w.]*\w)")
    pieces = known.split(sentence)
    return join(*(
        tag("a", piece, href=f"#{place_of(piece)}") if number % 2 else printed(piece)
        for number, piece in enumerate(pieces)
    ))  # fmt: skip


def place_of(finding_id: str) -> str:
    """Return the name of a finding's place on the page."""
    return f"finding-{finding_id.replace('.', '-')}"


def _finding(finding: Finding, cure: Cure | None) -> Markup:
    text = f"{finding.text.rstrip('.')}{margin_words(finding)}."
    remedy = finding.remedy if finding.severity is not Severity.GOOD else ""
    done = None
    if cure is not None:
        keys = "; ".join(f"[{c.section}] {c.key} = {c.text}" for c in cure.changes)
        done = tag("p", f"In the design file: {keys}", class_="margin")
    return tag(
        "li",
        tag("p", tag("span", MARKS[finding.severity], class_="mark"), " ", printed(text), " ",
            tag("span", finding.id, class_="id")),
        tag("p", printed(remedy)) if remedy else None,
        done,
        id=place_of(finding.id), class_=finding.severity.value,
    )  # fmt: skip


def findings(sheet: Sheet) -> Markup:
    """Return what was found, the worst first; what is good is folded away."""
    poor = [f for f in sheet.findings if f.severity is not Severity.GOOD]
    good = [f for f in sheet.findings if f.severity is Severity.GOOD]
    listed = (
        tag("ul", *(_finding(f, sheet.cures.get(f.id)) for f in poor), class_="findings")
        if poor
        else tag("p", "Nothing fails, and nothing is worth minding.")
    )
    folded = None
    if good:
        said = "1 check is good" if len(good) == 1 else f"{len(good)} checks are good"
        folded = tag(
            "details", tag("summary", f"{said}."),
            tag("ul", *(_finding(f, None) for f in good), class_="findings"),
        )  # fmt: skip
    return join(listed, folded)


def _line(value: Value, spent: Value | None) -> Markup:
    return tag(
        "div", tag("p", printed(figure_words(value, spent))),
        tag("p", printed(value.rule), class_="margin"), class_="line",
    )  # fmt: skip


def _stages(sheet: Sheet, stages: tuple[str, ...]) -> tuple[list[Markup], list[Markup]]:
    """Return lines of a heading's stages: the key figures, and the others."""
    key: list[Markup] = []
    other: list[Markup] = []
    pairs = paired(sheet.values.values())
    for stage in stages:
        for value, spent in pairs:
            if value.id.partition(".")[0] == stage:
                (key if is_key_figure(value.id) else other).append(_line(value, spent))
    return key, other


def beat(sheet: Sheet, drawn: Gallery) -> Markup:
    """Return the story of one beat: figures with their rules in the margin, and pictures."""
    parts = [join(tag("h3", CIRCUIT), figures(drawn.pictures[CIRCUIT]))]
    for heading, stages in BEAT.items():
        key, other = _stages(sheet, stages)
        shown_here = drawn.pictures.get(heading, [])
        if not (key or other or shown_here):
            continue
        folded = None
        if other:
            said = "1 more figure" if len(other) == 1 else f"{len(other)} more figures"
            folded = tag("details", tag("summary", f"{said}: {heading[:1].lower()}{heading[1:]}"),
                         *other, class_="more")  # fmt: skip
        parts.append(join(tag("h3", heading), *key, folded, figures(shown_here)))
    return join(*parts, *(tag("p", printed(sentence)) for sentence in drawn.missing))


def _table(caption: str, heads: Iterable[str], rows: Iterable[Iterable["str | None"]]) -> Markup:
    return tag(
        "div",
        tag(
            "table", tag("caption", caption),
            tag("thead", tag("tr", *(tag("th", head, scope="col") for head in heads))),
            tag("tbody", *(tag("tr", *(tag("td", cell) for cell in row)) for row in rows)),
        ),
        class_="scroll", tabindex="0", role="group", aria_label=caption,
    )  # fmt: skip


def parts_list(sheet: Sheet) -> Markup:
    """Return the parts, with their values, ratings and quantities."""
    rows = [
        (part.reference, str(part.quantity), printed(part.part), printed(part.rating), part.role)
        for part in sheet.parts
    ]
    heads = ("Mark", "Quantity", "Part or value", "Rating", "What it is for")
    return _table("Resistors and capacitors that were sized are preferred values.", heads, rows)


def bench(sheet: Sheet) -> Markup:
    """Return what the instruments must show, with a box to tick and what to do otherwise."""
    rows = []
    for point in sheet.test_points:
        mark = tag_of(point)
        where = f"{point.point[:1].upper()}{point.point[1:]}"
        what = join(
            tag("strong", f"{mark}: {where}" if mark else where),
            f", {point.condition}" if point.condition else "", f"; {point.instrument}.",
        )  # fmt: skip
        said = tag(
            "div",
            tag("p", tag("span", class_="tick"), " ", Markup(printed(what))),
            tag("p", printed(f"Expect {point.expected.rstrip('.')}.")),
        )
        otherwise = f"Otherwise: {point.otherwise.rstrip('.')}." if point.otherwise else ""
        rows.append(tag("li", said, tag("p", printed(otherwise), class_="margin"), class_="line"))
    return tag("ol", *rows, class_="bench")


def assumed(sheet: Sheet) -> Markup:
    """Return what the design file left open, and who says what was taken instead."""
    if not sheet.assumed:
        return tag("p", "Nothing: the design file says it all.")
    rows = [(entry.id, printed(shown(entry)), printed(entry.source)) for entry in sheet.assumed]
    return _table("State these in the design file once you know them.", ("What", "Taken", "From"),
                  rows)  # fmt: skip


def cautions(sheet: Sheet) -> Markup:
    """Return the cautions."""
    return tag("ul", *(tag("li", tag("p", one)) for one in sheet.cautions), class_="cautions")
