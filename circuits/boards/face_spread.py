"""The spread in sentences and tables: in short, or with everything."""

import textwrap
from collections.abc import Iterator, Sequence

import numpy as np

from circuits import VERSION
from circuits.boards.spread_result import ARRAYS, CORNERS, Spread, SpreadCheck, SpreadFigure
from circuits.boards.strength import Strength
from circuits.boards.tolerances import ASSUMED, CATALOGUE, STATED, BoardTolerance
from circuits.boards.width_reserve import HOLDS_ARC, MOST, WidthReserve
from circuits.format_quantity import percent, show, show_alike, show_range, significant
from circuits.sheet import is_key_figure

WIDTH = 80
NAMES = 37
"""Columns of a figure's name and its first number; the longest unit still ends within the width."""
BASES = (STATED, CATALOGUE, ASSUMED)
MOVED = 1e-6
OWN = 0.99
"""Rank correlation from which on a figure is its tolerance in another word."""
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


def _size(one: BoardTolerance) -> str:
    """Return a tolerance in short: one figure where it is the same to both sides."""
    if one.unit == "span" or abs(one.below + one.above) > MOVED * one.above:
        return _ends(one)
    return f"within {percent(one.above) if one.unit == '1' else show(one.above, one.unit)}"


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


def _row(figure: SpreadFigure) -> str:
    """Return a figure's line: its name, four numbers in one unit, and the unit."""
    numbers, unit = show_alike(
        (figure.sheet, figure.low, figure.typical, figure.high), figure.unit
    )  # fmt: skip
    room = NAMES - 2 - len(figure.id)
    first = max(f" {numbers[0]}", numbers[0].rjust(room), key=len)
    others = "".join(f"{number:>10}" for number in numbers[1:])
    return f"  {figure.id}{first}{others} {unit}".rstrip()


def _row_heads() -> str:
    return "Figures" + "sheet".rjust(NAMES - 7) + "".join(
        f"{word:>10}" for word in ("low", "typical", "high")
    )  # fmt: skip


def _figure_lines(found: Spread, figure: SpreadFigure) -> Iterator[str]:
    unit = figure.unit
    worst = show_range(figure.least, figure.most, unit)
    yield _row(figure)
    state = f"{figure.state}; " if figure.state else ""
    rough = ""
    if figure.error > ROUGH * abs(figure.high - figure.low):
        rough = f", the map is off by up to {show(figure.error, unit)}"
    yield from _wrapped(f"{state}worst {worst} ({figure.worst_by}){rough}", "      ", "      ")
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
        f"On {percent(found.failing)} of the boards a check fails. Drawn from seed {found.seed}, "
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


def _behind(found: Spread, strengths: tuple[Strength, ...]) -> str:
    """Return the tolerances behind a figure with their size and basis."""
    known = {one.name: one for one in found.tolerances}
    parts = (known[s.tolerance] for s in strengths)
    return ", ".join(f"{one.words} {_size(one)} ({one.basis})" for one in parts)


def _width_lines(reserve: WidthReserve) -> Iterator[str]:
    """Say which pulse width would do for nearly all boards, and what it costs."""
    if reserve.width is None:
        yield (
            f"What would do: no pulse width alone, on {percent(reserve.without)} of the boards not "
            "even the widest useful one holds the arc. Make the first tolerance smaller (what is "
            "assumed: measure it and state it), or the push stronger: thinner gap, more cells, a "
            "stronger magnet, less arc."
        )
        return
    today = f"today's {show(reserve.now, 's')} " + (
        "was sized for the sheet's own values, without a reserve for other boards"
        if reserve.sized else "is stated"
    )  # fmt: skip
    yield (
        f'What would do: state pulse_width = "{show(reserve.width, "s")}" in [drive]; {today}. '
        f"It holds the arc on {percent(MOST)} of the boards: run whole "
        f"at it, {reserve.held} of the {reserve.tried} that need most of those hold."
    )
    costs = []
    if reserve.worst is not None:
        worst = f"misses by {percent(-reserve.worst)}" if reserve.worst < 0 else "holds too"
        costs.append(f"the worst board of all {worst}")
    if reserve.life is not None and reserve.life_now is not None:
        life, today = show(reserve.life, "s"), show(reserve.life_now, "s")
        costs.append(
            f"cells last as long as today, {life}, at the sheet's values" if life == today else
            f"cells last {life} instead of {today} at the sheet's values"
        )  # fmt: skip
    broken = f"With it fails: {', '.join(reserve.breaks)}." if reserve.breaks else ""
    sentence = "; ".join(costs)
    yield f"{sentence[:1].upper()}{sentence[1:]}. {broken}".strip(" .") + "."


def _failing_lines(found: Spread, check: SpreadCheck) -> Iterator[str]:
    """Say in a few lines on how many boards a check fails, what is behind it and what would do."""
    yield from _wrapped(
        f"{check.id}: {severity_of(check)} on {percent(check.missed)} of the boards. Margin "
        f"{significant(check.centre)} at the sheet's values, {significant(check.least)} at the "
        "worst."
    )
    sentences = [f"On the worst board: {check.said}"] if check.said else []
    if check.strongest:
        sentences.append(f"Behind it: {_behind(found, check.strongest)}.")
    if check.id == HOLDS_ARC and found.reserve is not None:
        sentences += _width_lines(found.reserve)
    elif check.remedy:
        sentences.append(f"What would do: {check.remedy}")
    for sentence in sentences:
        yield from _wrapped(sentence, "    ", "      ")


def _short_checks(found: Spread, checks: Sequence[SpreadCheck]) -> Iterator[str]:
    failing = [check for check in checks if severity_of(check) == "fails"]
    yield "What fails" if failing or found.judged else "Nothing fails on any of the boards."
    for check in failing:
        yield from _failing_lines(found, check)
    for name, share in found.judged.items():
        yield from _wrapped(
            f"{name}: fails on about {percent(share)} of the boards; it has no limit in numbers, "
            "and is told from the boards run whole next to them."
        )
        if found.judged_said.get(name):
            yield from _wrapped(f"On one of them: {found.judged_said[name]}", "    ", "      ")
    mind = [check for check in checks if severity_of(check) == "mind"]
    tight = [check for check in checks if severity_of(check) == "tight"]
    if mind:
        yield "What to mind"
    for check in mind:
        often = "on no board drawn" if not check.missed else f"on {percent(check.missed)} of them"
        behind = _behind(found, check.strongest[:1])
        most = f"; most for {behind}" if behind else ""
        yield from _wrapped(f"{check.id}: {often}{most}. {check.said}".rstrip())
    for check in tight:
        yield from _check_lines(found, check)
    good = len(checks) - len(failing) - len(mind) - len(tight)
    if good:
        yield from _wrapped(f"{good} more hold on every board, the worst included.")


def _short_tolerances(found: Spread) -> Iterator[str]:
    by_basis = {basis: [o for o in found.tolerances if o.basis == basis] for basis in BASES}
    yield from _wrapped(
        f"{len(found.tolerances)} tolerances: "
        + ", ".join(
            f"{len(ones)} {'of the catalogue' if basis == CATALOGUE else basis}"
            for basis, ones in by_basis.items() if ones
        )
        + ". Nobody stated these: "
        + (", ".join(f"{one.words} {_size(one)}" for one in by_basis[ASSUMED]) or "none") + ".",
        "", "  ",
    )  # fmt: skip


def _its_own(figure: SpreadFigure) -> bool:
    """Return whether a figure is a part's value, which only its own tolerance moves."""
    stage = figure.id.partition(".")[0]
    one = figure.strongest[0].tolerance if len(figure.strongest) == 1 else ""
    return one.partition(".")[0] == stage and abs(figure.strongest[0].correlation) > OWN


def _short_figures(found: Spread) -> Iterator[str]:
    yield _row_heads()
    for figure in found.figures:
        if not figure.strongest or not is_key_figure(figure.id) or _its_own(figure):
            continue
        yield _row(figure)


def spread_text(found: Spread, *, everything: bool = False) -> str:
    """Return the spread for people, in short or with everything that is known."""
    order = ("fails", "tight", "mind", "good")
    checks = sorted(
        found.checks, key=lambda c: (order.index(severity_of(c)), -c.missed, c.least)
    )  # fmt: skip
    lines = list(_heading(found))
    lines += _short_checks(found, checks)
    lines.append("")
    if not everything:
        lines += [*_short_tolerances(found), "", *_short_figures(found), ""]
        lines += _wrapped(
            "Low and high are the first and the 99th of a hundred boards. With --all: every "
            "figure, its worst boards, what moves it, each tolerance, and how it was made.",
            "", "",
        )  # fmt: skip
        return "\n".join(lines) + "\n"
    return "\n".join([*lines, *_in_full(found, checks)]) + "\n"


def _in_full(found: Spread, checks: Sequence[SpreadCheck]) -> Iterator[str]:
    yield "Checks"
    for check in checks:
        yield from _check_lines(found, check)
    yield from ("", "Tolerances")
    for one in found.tolerances:
        yield from _wrapped(f"{one.words}: {_ends(one)}, {one.basis} ({one.source})")
    yield from ("", _row_heads())
    for figure in (f for f in found.figures if f.strongest):
        yield from _figure_lines(found, figure)
    still = [f.id for f in found.figures if not f.strongest]
    if still:
        yield from _wrapped(f"No tolerance moves {', '.join(still)}.")
    if found.not_spread:
        yield from ("", "Not spread")
        for name, reason in found.not_spread.items():
            yield from _wrapped(f"{name.removeprefix('check ')}: {reason}")
    yield ""
    yield from _how(found)
