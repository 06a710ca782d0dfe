"""The spread in sentences and tables, as JSON, and board by board as comma-separated values."""

import io
import json
import textwrap
from collections.abc import Iterator
from typing import Any

import numpy as np

from circuits import VERSION
from circuits.boards.spread_result import ARRAYS, CORNERS, Spread, SpreadCheck, SpreadFigure
from circuits.boards.strength import Strength
from circuits.boards.tolerances import ASSUMED, CATALOGUE, STATED, BoardTolerance
from circuits.format_quantity import percent, show, show_range, significant
from circuits.sheet import is_key_figure

WIDTH = 98
BASES = (STATED, CATALOGUE, ASSUMED)
MOVED = 1e-6
ROUGH = 0.1
"""Share of a figure's spread by which the map may be off before the figure is marked."""


def severity_of(check: SpreadCheck) -> str:
    """Return how a check stands: beyond its limit at random, at the worst only, or never."""
    if check.missed > 0:
        return "mind" if check.severity == "mind" else "fails"
    return "tight" if check.least < 0 or check.unconfirmed else "good"


def _ends(one: BoardTolerance) -> str:
    if one.unit == "span":
        return "least to largest"
    scale, unit = (100.0, " %") if one.unit == "1" else (1.0, "")
    if unit:
        ends = [f"{scale * end:+.3g}{unit}" if end else "0" for end in (one.below, one.above)]
    else:
        ends = [("+" if end > 0 else "") + show(end, one.unit) for end in (one.below, one.above)]
    return " to ".join(ends)


def _wrapped(text: str, first: str = "  ", rest: str = "    ") -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )


def _strengths(found: Spread, strengths: tuple[Strength, ...]) -> str:
    known = {one.name: one for one in found.tolerances}
    return ", ".join(
        f"{known[s.tolerance].words} {s.correlation:+.2f} ({known[s.tolerance].basis})"
        for s in strengths
    )


def _rests_on(found: Spread, check: SpreadCheck) -> str:
    known = {one.name: one for one in found.tolerances}
    parts = []
    for basis in BASES:
        words = [known[n].words for n in check.rests_on if known[n].basis == basis]
        if words:
            parts.append(f"{basis}: {', '.join(words)}")
    return "; ".join(parts)


def _check_lines(found: Spread, check: SpreadCheck) -> Iterator[str]:
    severity = severity_of(check)
    if check.missed > 0:
        often = f"misses its limit on {percent(check.missed)} of the boards"
    elif check.unconfirmed:
        often = (
            f"met by every board run whole, though {percent(check.unconfirmed)} of the boards "
            "miss it by the map, which is off there"
        )
    elif check.least < 0:
        often = "missed by none of the boards drawn, but by the worst"
    else:
        often = "met by every board"
    text = (
        f"{check.id}: {severity}, {often}; margin {significant(check.centre)} at the sheet's "
        f"values, {significant(check.typical)} typical, {significant(check.least)} at the worst "
        f"({check.worst_by}{', that board run whole' if check.run_whole else ''})."
    )
    if abs(check.sheet - check.centre) > MOVED * max(1.0, abs(check.centre)):
        text += (
            f" The sheet's own margin is {significant(check.sheet)}: it takes the tolerances' "
            "worst, or sizes anew what a board has fixed."
        )
    if check.absent:
        text += f" {percent(check.absent)} of the boards may not be judged so."
    yield from _wrapped(text)
    if check.strongest:
        yield from _wrapped(f"moved most by {_strengths(found, check.strongest)}", "    ", "      ")
    if check.rests_on and severity != "good":
        yield from _wrapped(f"rests on {_rests_on(found, check)}", "    ", "      ")


def _figure_lines(found: Spread, figure: SpreadFigure) -> Iterator[str]:
    unit = figure.unit
    name = figure.id + (f" ({figure.state})" if figure.state else "")
    cells = [show(v, unit) for v in (figure.sheet, figure.low, figure.typical, figure.high)]
    worst = show_range(figure.least, figure.most, unit)
    yield f"  {name:<34}" + "".join(f" {cell:>12}" for cell in cells)
    rough = ""
    if figure.error > ROUGH * abs(figure.high - figure.low):
        rough = f", the map is off by up to {show(figure.error, unit)}"
    yield from _wrapped(f"worst {worst} ({figure.worst_by}){rough}", "      ", "      ")
    if figure.absent:
        yield from _wrapped(
            f"{percent(figure.absent)} of the boards may not have it and are left out", "      "
        )
    if figure.strongest:
        yield from _wrapped(_strengths(found, figure.strongest), "      ", "      ")


def _heading(found: Spread) -> Iterator[str]:
    yield f"{found.title}: {found.boards} boards of it (coilwright {VERSION})"
    yield ""
    yield from _wrapped(
        f"On {percent(found.failing)} of the boards something fails. Seed {found.seed}, drawn "
        + ("evenly over each tolerance." if found.distribution == "uniform"
           else "normally, each tolerance at three sigma."), "", "",
    )  # fmt: skip
    if any(one.name == "supply.life" for one in found.tolerances):
        yield from _wrapped(
            "A board stands anywhere between fresh and spent cells: what the sheet calls fresh is "
            "here over their whole life, what it calls spent at its end. How long they last does "
            "not depend on where a board stands.", "", "",
        )  # fmt: skip
    for one in found.refused:
        yield from _wrapped(f"{percent(one.share)} of the boards have no sheet: {one.reason}")
    yield ""


def _how(found: Spread) -> Iterator[str]:
    exact = sum(figure.made_by == ARRAYS for figure in found.figures)
    spans = [(f.error, f.high - f.low) for f in found.figures if f.made_by != ARRAYS]
    off = [error / span for error, span in spans if span > 0 and error > 0]
    yield "How it was made"
    yield from _wrapped(
        f"{exact} figures are computed for every board by the sheet's own calculators. The other "
        f"{len(found.figures) - exact} need pulse, crossing or settled arc: the stages ran whole "
        f"at {found.runs} boards, each tolerance alone at its ends and the strongest in pairs, and "
        "between them a figure or its logarithm is followed. Boards run whole at random lie off by "
        f"{percent(float(np.median(off)) if off else 0.0)} of a figure's low to high at the "
        "median figure; where it is more than a tenth, the figure says so."
    )
    corners = sum(f.worst_by == CORNERS for f in found.figures if f.strongest)
    searched = sum(f.worst_by != CORNERS for f in found.figures if f.strongest)
    yield from _wrapped(
        f"Low and high are the first and the 99th of a hundred boards. The worst boards: {corners} "
        f"figures only rise or only fall along each tolerance and have them in its corners, "
        f"{searched} do not or turn with another, and were searched. Figures after a tolerance: "
        "rank correlation, 1 rises with it, -1 falls."
    )


def spread_text(found: Spread, *, everything: bool = False) -> str:
    """Return the spread for people; lesser figures and good checks only with `everything`."""
    lines = list(_heading(found))
    order = ("fails", "tight", "mind", "good")
    checks = sorted(
        found.checks, key=lambda c: (order.index(severity_of(c)), -c.missed, c.least)
    )  # fmt: skip
    bad = [check for check in checks if severity_of(check) != "good"]
    lines.append("Checks")
    for check in checks if everything else bad:
        lines += _check_lines(found, check)
    good = len(checks) - len(bad)
    if good and not everything:
        lines += _wrapped(f"{good} more hold on every board, the worst included.")
    for name, share in found.judged.items():
        lines += _wrapped(
            f"{name}: fails on some of the boards that were run whole; {percent(share)} of the "
            "boards lie about them. It has no limit in numbers: an estimate."
        )
    lines += ["", "Tolerances"]
    for one in found.tolerances:
        lines += _wrapped(f"{one.words}: {_ends(one)}, {one.basis} ({one.source})")
    head = "".join(f"{word:>13}" for word in ("sheet", "low", "typical", "high"))
    lines += ["", f"{'Figures':<36}{head}"]
    shown = [f for f in found.figures if f.strongest and (everything or is_key_figure(f.id))]
    for figure in shown:
        lines += _figure_lines(found, figure)
    still = [f.id for f in found.figures if not f.strongest]
    moved = len(found.figures) - len(still) - len(shown)
    if moved:
        lines += _wrapped(f"{moved} lesser figures are shown with --all.")
    if everything:
        lines += _wrapped(f"No tolerance moves {', '.join(still)}.")
    if found.not_spread:
        lines += ["", "Not spread"]
        for name, reason in found.not_spread.items():
            lines += _wrapped(f"{name.removeprefix('check ')}: {reason}")
    lines += ["", *_how(found)]
    return "\n".join(lines) + "\n"


def _moves(strengths: tuple[Strength, ...]) -> list[dict[str, Any]]:
    return [{"tolerance": s.tolerance, "correlation": s.correlation} for s in strengths]


def _value(figure: SpreadFigure) -> dict[str, Any]:
    entry = {
        "value": figure.sheet, "unit": figure.unit, "low": figure.low, "high": figure.high,
        "basis": "computed", "typical": figure.typical, "centre": figure.centre,
        "least": figure.least, "most": figure.most, "worst_by": figure.worst_by,
        "made_by": figure.made_by, "error": figure.error, "strongest": _moves(figure.strongest),
    }  # fmt: skip
    return entry | ({"absent": figure.absent} if figure.absent else {})


def _finding(check: SpreadCheck) -> dict[str, Any]:
    entry = {
        "id": check.id, "severity": severity_of(check), "value": check.missed, "limit": 0.0,
        "unit": "1", "margin": -check.missed,
        "margin_centre": check.centre, "margin_sheet": check.sheet,
        "margin_low": check.low, "margin_typical": check.typical, "margin_least": check.least,
        "worst_by": check.worst_by, "worst_run_whole": check.run_whole,
        "error": check.error, "strongest": _moves(check.strongest),
        "rests_on": list(check.rests_on),
        "text": f"{percent(check.missed)} of the boards miss the limit of {check.id}.",
    }  # fmt: skip
    extra = {"absent": check.absent, "unconfirmed": check.unconfirmed}
    return entry | {name: share for name, share in extra.items() if share}


def spread_json(found: Spread) -> str:
    """Return the spread for programs: SI values, ASCII, finite numbers."""
    content = {
        "title": found.title,
        "version": VERSION,
        "boards": found.boards,
        "seed": found.seed,
        "distribution": found.distribution,
        "failing": found.failing,
        "runs": found.runs,
        "values": {figure.id: _value(figure) for figure in found.figures},
        "findings": [_finding(check) for check in found.checks],
        "assumed": [
            {"id": one.name, "value": one.above or one.below, "unit": one.unit,
             "source": one.source}
            for one in found.tolerances if one.basis == ASSUMED
        ],
        "tolerances": [
            {"id": one.name, "words": one.words, "below": one.below, "above": one.above,
             "unit": one.unit, "basis": one.basis, "source": one.source}
            for one in found.tolerances
        ],
        "refused": [{"share": one.share, "reason": one.reason} for one in found.refused],
        "not_spread": dict(found.not_spread),
        "judged": dict(found.judged),
    }  # fmt: skip
    return json.dumps(content, indent=1, ensure_ascii=True, allow_nan=False) + "\n"


def spread_csv(found: Spread, *, everything: bool = False) -> str:
    """Return one row a board: its place in each tolerance, its figures in SI units, its margins.

    A place is a share: 0 the sheet's value, -1 the least, 1 the most that the tolerance allows.
    """
    samples = found.samples
    figures = [f.id for f in found.figures if f.strongest and (everything or is_key_figure(f.id))]
    checks = [c.id for c in found.checks if everything or severity_of(c) != "good"]
    names = [f"share {one.name}" for one in found.tolerances]
    columns = [*samples.shares.T, *(samples.column(name) for name in figures)]
    columns += [samples.column(f"check {name}") for name in checks]
    columns.append(samples.refused_any.astype(np.float64))
    heading = ["board", *names, *figures, *(f"margin {name}" for name in checks), "no_sheet"]
    text = io.StringIO()
    text.write(",".join(heading) + "\n")
    rows = np.column_stack([np.arange(1, len(samples.shares) + 1), *columns])
    np.savetxt(text, rows, fmt=["%d", *["%.7g"] * (len(columns) - 1), "%d"], delimiter=",")
    return text.getvalue()
