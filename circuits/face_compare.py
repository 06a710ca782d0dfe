"""A comparison as plain text for people and as JSON for programs."""

import math
import textwrap
from collections.abc import Iterable, Iterator
from typing import Any

from circuits import VERSION
from circuits.comparison import METERED, Comparison, Difference, Pair, Turn
from circuits.face_json import json_text
from circuits.format_quantity import show, show_range
from circuits.ledger import Basis, Severity
from circuits.sheet import is_key_figure
from circuits.sheet_file import Figure

WIDTH = 80


def _wrapped(text: str, indent: int) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * (indent + 2),
        break_on_hyphens=False,
    )  # fmt: skip


def _stands(severity: Severity | None) -> str:
    return "not judged" if severity is None else severity.value


def _turn(turn: Turn) -> str:
    return f"{turn.id}: {_stands(turn.before)}, then {_stands(turn.after)}"


def _difference(difference: Difference) -> Iterator[str]:
    yield from _wrapped(
        f"[{difference.section}] {difference.key}: {difference.first}, then {difference.second}", 2
    )
    moves = [
        f"{effect.id} {show(effect.before, effect.unit)} to {show(effect.after, effect.unit)}"
        for effect in difference.effects
    ]
    said = [*moves, *(_turn(turn) for turn in difference.turns)]
    if difference.not_tried:
        said = [f"Cannot be tried {difference.not_tried}"]
    yield from _wrapped("; ".join(said) or "moves no key figure by itself", 4)


def _pair(pair: Pair) -> list[str]:
    """Return one figure's line; what it may be stands there only where that is judged."""
    first, second = pair.first, pair.second
    text = f"{first.id}: {show(first.value, first.unit)}, then {_second(second)}"
    if pair.agrees is not None and first.span:
        verdict = "within" if pair.agrees else "OUTSIDE"
        text += f"; allowed {show_range(*first.span, first.unit)}: {verdict}"
    return _wrapped(text, 2)


def _second(figure: Figure) -> str:
    """Return a measured figure with as many digits as its uncertainty deserves."""
    if isinstance(figure.value, str) or not figure.span or figure.basis != Basis.MEASURED.value:
        return show(figure.value, figure.unit)
    half = (figure.span[1] - figure.span[0]) / 2
    share = abs(figure.value) / half if half > 0 else 0.0
    digits = min(9, max(3, 2 + math.floor(math.log10(share)))) if share > 0 else 3
    return show(figure.value, figure.unit, digits)


def _section(heading: str, lines: Iterable[str]) -> list[str]:
    told = list(lines)
    return ["", heading, *told] if told else []


def _shown(found: Comparison, *, everything: bool) -> list[Pair]:
    if everything:
        return list(found.pairs)
    return [
        pair
        for pair in found.pairs
        if pair.agrees is False
        or found.measured
        or (pair.moves and is_key_figure(pair.first.id) and not pair.first.id.endswith("_spent"))
    ]


def _verdict(found: Comparison) -> str:
    judged = [pair for pair in found.pairs if pair.agrees is not None]
    outside, breaks = found.outside, found.breaks
    if not found.pairs:
        return "The two have no figure in common: nothing is compared."
    text = f"{len(found.pairs)} figures in common; of {len(judged)} with a tolerance "
    text += f"{len(outside)} lie outside it" if outside else "none lies outside it"
    if breaks:
        text += f"; only the second fails: {', '.join(turn.id for turn in breaks)}"
    return f"{text}."


def comparison_text(found: Comparison, *, everything: bool = False) -> str:
    """Return a comparison as plain text."""
    first, second = found.first, found.second
    lines = _wrapped(f"{first.title} ({first.file}) beside {second.title} ({second.file})", 0)
    lines += ["", *_wrapped(_verdict(found), 0)]
    if found.measured is False:
        told = (line for entry in found.differences for line in _difference(entry))
        lines += _section("What differs in the files, and what each does by itself", told)
        if not found.differences:
            lines += ["", "The files state the same."]
    turned = (line for turn in found.turns for line in _wrapped(_turn(turn), 2))
    lines += _section("Findings that stand otherwise", turned)
    shown = _shown(found, everything=everything)
    lines += _section("Figures", (line for pair in shown for line in _pair(pair)))
    if found.sized_anew:
        names = ", ".join(pair.first.id for pair in found.sized_anew)
        lines += ["", *_wrapped(
            f"Sized anew for the second, since both files leave them out: {names}. If the second "
            "was built with the parts of the first, state them in its file.", 0,
        )]  # fmt: skip
    if first.done is not None:
        limits = [
            f"  {name:<24}{show_range(*span, first.values[name].unit)}"
            for name in METERED
            if name in first.values and (span := first.values[name].span)
        ]
        lines += _section("A copy of the first is accepted within", limits)
    return "\n".join(lines) + "\n"


def _json_pair(pair: Pair) -> dict[str, Any]:
    entry: dict[str, Any] = {
        "id": pair.first.id,
        "unit": pair.first.unit,
        "first": pair.first.value,
        "second": pair.second.value,
    }
    if pair.first.span:
        entry |= {"low": pair.first.span[0], "high": pair.first.span[1]}
    if pair.agrees is not None:
        entry["within"] = pair.agrees
    return entry


def _json_turns(turns: Iterable[Turn]) -> list[dict[str, str | None]]:
    return [
        {
            "id": turn.id,
            "first": turn.before.value if turn.before else None,
            "second": turn.after.value if turn.after else None,
        }
        for turn in turns
    ]


def _json_difference(entry: Difference) -> dict[str, Any]:
    return {
        "section": entry.section,
        "key": entry.key,
        "first": entry.first,
        "second": entry.second,
        "moves": [
            {"id": e.id, "unit": e.unit, "before": e.before, "after": e.after}
            for e in entry.effects
        ],
        "findings": _json_turns(entry.turns),
        "not_tried": entry.not_tried,
    }


def _json_findings(found: Comparison) -> list[dict[str, Any]]:
    bad = [
        (f"compare.{pair.first.id}", f"{pair.first.id} lies outside what the first allows.")
        for pair in found.outside
    ]
    bad += [(f"compare.{turn.id}", f"{turn.id} fails on the second only.") for turn in found.breaks]
    entries = [{"id": name, "severity": Severity.FAILS.value, "text": text} for name, text in bad]
    good = {"id": "compare.figures", "severity": Severity.GOOD.value, "text": _verdict(found)}
    return entries or [good]


def comparison_json(found: Comparison) -> str:
    """Return a comparison for other programs, in SI units."""
    content = {
        "title": f"{found.first.title} beside {found.second.title}",
        "version": VERSION,
        "values": {},
        "findings": _json_findings(found),
        "assumed": [],
        "differences": [_json_difference(entry) for entry in found.differences],
        "turned": _json_turns(found.turns),
        "figures": [_json_pair(pair) for pair in found.pairs],
    }
    return json_text(content)
