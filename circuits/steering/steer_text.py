"""A planned loop in words, then figures, and its step as a small picture of characters."""

import json
import textwrap
from collections.abc import Iterator
from typing import Any

import numpy as np

from circuits import VERSION
from circuits.face_json import sheet_json
from circuits.format_quantity import DAY, percent, show, significant
from circuits.ledger import Severity
from circuits.sheet_sentences import finding_lines
from circuits.stages.steering_loop import SteeringResult
from circuits.steering.plan import SteeringPlan
from circuits.steering.plan_sheet import gained_by_day
from circuits.steering.simulation import LoopRun
from circuits.steering.stability import Stability, stability_of
from circuits.supply_words import without_cells

WIDTH = 80
COLUMNS, LINES = 60, 11
ROWS = 400


def _wrapped(text: str, indent: str = "", hang: str = "") -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=indent, subsequent_indent=hang, break_on_hyphens=False
    )


def _said(plan: SteeringPlan, text: str) -> str:
    return without_cells(text) if plan.design.supply.cell is None else text


def _answer(plan: SteeringPlan) -> str:
    """Return the answer in two sentences: does it hold, by how much, which sign and why."""
    loop = plan.loop
    if loop is None:
        return "No loop can be planned."
    fails = [f for f in plan.sheet.findings if f.severity is Severity.FAILS]
    slope = 1e-3 * DAY * loop.fresh.slope
    basis = (
        "that was measured" if loop.curves.measured
        else "that is computed from arc and impulse, so measure it before you close the loop"
    )  # fmt: skip
    sign = (
        f"A pulse 1 ms wider makes it {'gain' if slope > 0 else 'lose'} "
        f"{show(abs(slope), 's/day')} once settled, at the {show(loop.fresh.width, 's')} where "
        f"the loop works with fresh cells ({basis}): when it lags, the loop "
        f"{'widens' if slope > 0 else 'narrows'} the pulse."
    )
    if fails:
        first = min(fails, key=lambda f: ROOTS.index(f.id) if f.id in ROOTS else len(ROOTS))
        return f"No: {first.text.rstrip('.')} ({first.id}). {sign}"
    spare = loop.authority / loop.needed if loop.needed else float("inf")
    return (
        f"Yes: the loop holds the movement on its crystal. The widths move the rate by "
        f"{show(DAY * loop.authority, 's/day')}, {significant(spare, 2)} times what the weather, "
        f"the setting and the place ask for. {sign}"
    )


def _picture(run: LoopRun) -> Iterator[str]:
    """Yield the time error after a step of the rate, as lines of characters."""
    last = float(run.time[-1])
    at = np.linspace(0, last, COLUMNS)
    error = np.interp(at, np.append(0.0, run.time), np.append(0.0, run.seen))
    low, high = min(float(error.min()), 0.0), max(float(error.max()), 0.0)
    rows = np.rint((high - error) / ((high - low) or 1.0) * (LINES - 1)).astype(int)
    zero = round(high / ((high - low) or 1.0) * (LINES - 1))
    for line in range(LINES):
        label = {0: show(high, "s"), LINES - 1: show(low, "s"), zero: "0 s"}.get(line, "")
        cells = "".join(
            "*" if row == line else "-" if line == zero else " " for row in rows
        ).rstrip()
        yield f"  {label:>9} |{cells}"
    end = show(last, "s")
    yield f"  {'':>9} 0{end:>{COLUMNS}}"


def _budget(plan: SteeringPlan) -> Iterator[str]:
    yield "What each cause does to the time"
    yield f"  {'cause':<40}{'free':>13}{'held within':>13}{'lost':>13}"
    for row in plan.budget:
        words = textwrap.wrap(row.words, 39)
        lost = show(DAY * row.lost, "s/day") if abs(DAY * row.lost) > 5e-4 else "-"
        free = show(abs(DAY * row.free), "s/day") if row.cause != "jitter" else "-"
        yield f"  {words[0]:<40}{free:>13}{show(row.error, 's'):>13}{lost:>13}"
        yield from (f"    {more}" for more in words[1:])
    yield from _wrapped(
        "Each cause alone, once the loop has it. free: span of the rate without a loop; held "
        "within: the largest time error against the crystal in one run, to either side; lost: "
        "what stays against true time, which no loop sees.", "  ", "  ",
    )  # fmt: skip


def _figures(plan: SteeringPlan) -> Iterator[str]:
    loop, constants = plan.loop, plan.constants
    assert loop is not None
    assert constants is not None
    yield "The loop"
    rows = (
        f"Each {loop.beats_per_correction} beats ({show(loop.interval, 's')}): width = "
        f"{show(loop.fresh.width, 's')} + kp x lag + ki x sum of lags, within "
        f"{show(loop.width_min, 's')} and {show(loop.width_max, 's')}.",
        f"kp = {significant(loop.kp)} (s of width for each s of lag), ki = {significant(loop.ki)} "
        "(the same for each s of lag summed once a correction).",
        f"Time constant {show(loop.time_constant, 's')}, damping {loop.damping:g}; the arc "
        f"follows in {show(loop.fresh.time_constant, 's')}.",
        f"Phase margin {show(loop.margins.phase_margin, 'rad')} at its least, with "
        f"{loop.margins_at}; gain margin {significant(loop.margins.gain_margin)}.",
        _on_time(loop),
    )
    for row in rows:
        yield from _wrapped(_said(plan, row), "  ", "    ")


def _on_time(loop: SteeringResult) -> str:
    spent = loop.spent.width
    text = f"On time with a pulse of {show(loop.fresh.width, 's')}"
    if loop.curves.fresh is not loop.curves.spent:
        text += f" with fresh cells and of {show(spent, 's')} with spent ones"
    return f"{text}, at an arc of {show(loop.fresh.arc, 'rad')}."


def _runs(plan: SteeringPlan) -> Iterator[str]:
    stepped = plan.width_step
    if stepped is not None:
        yield from _wrapped(
            f"Unsteered, a pulse wider by {show(stepped.width, 's')} moves the rate by "
            f"{show(DAY * float(stepped.rate[0]), 's/day')} at once and by "
            f"{show(DAY * float(stepped.rate[-1]), 's/day')} after "
            f"{show(float(stepped.time[-1]), 's')}.", "  ", "    ",
        )  # fmt: skip
    if plan.start is not None:
        yield from _wrapped(
            f"Started by hand it is up to {show(plan.start.largest, 's')} off before the loop has "
            f"it, and {show(abs(float(plan.start.seen[-1])), 's')} off after "
            f"{show(float(plan.start.time[-1]), 's')}.", "  ", "    ",
        )  # fmt: skip
    for run in (plan.day, plan.year):
        if run is None:
            continue
        worn = "" if plan.design.supply.cell is None else ", cells"
        yield from _wrapped(
            f"Over {run.words} with weather, crystal{worn} and jitter it is never more than "
            f"{show(run.largest, 's')} off its crystal and {_ends(run)} true time; "
            f"the width moves at {percent(run.moved)} of {len(run.time)} corrections, "
            f"from {show(float(run.width.min()), 's')} to {show(float(run.width.max()), 's')}.",
            "  ", "    ",
        )  # fmt: skip


def _ends(run: LoopRun) -> str:
    """Return where the run ends against true time, a day's by the figure that is judged."""
    days = gained_by_day(run)
    end = float(days[0]) if len(days) == 1 else float(run.error[-1])
    return f"ends {show(abs(end), 's')} {'before' if end > 0 else 'behind'}"


def _stability(found: Stability | None) -> Iterator[str]:
    if found is None:
        return
    yield ""
    yield "How steady (Allan deviation against true time)"
    for span, deviation in zip(found.span, found.deviation, strict=True):
        rate = show(DAY * deviation, "s/day", 2)
        yield f"  {show(span, 's'):>12}{significant(deviation, 2):>12}   {rate}"


def steer_text(plan: SteeringPlan) -> str:
    """Return the plan in words first, then in figures."""
    lines = [f"{plan.title}, steered by its pulse (coilwright {VERSION})", ""]
    lines += _wrapped(_said(plan, _answer(plan)))
    lines += ["", "Findings"]
    good = 0
    for finding in plan.sheet.findings:
        if finding.severity is Severity.GOOD and finding.id not in SPOKEN:
            good += 1
            continue
        lines += finding_lines(finding)
    if good:
        lines.append(f"  good     {good} more checks are good; --json has them.")
    if plan.loop is not None and plan.step is not None and plan.step_figures is not None:
        lines += ["", *_figures(plan), "", *_budget(plan), ""]
        lines.append(
            "Time error against the crystal after a step of the rate by "
            f"{show(DAY * plan.step_figures.rate, 's/day')}"
        )
        lines += [*_picture(plan.step), "", "In time", *_runs(plan)]
        run = plan.year or plan.day
        lines += _stability(stability_of(run) if run is not None else None)
    if plan.sheet.assumed:
        lines += ["", "Assumed"]
        for entry in plan.sheet.assumed:
            lines += _wrapped(
                f"{entry.id} = {show(entry.value, entry.unit)}: {entry.source}", "  ", "    "
            )
    return "\n".join(lines) + "\n"


ROOTS = ("steering.plan", "steering.sign", "steering.turning", "steering.turned_fresh",
         "steering.turned_spent", "steering.sag", "steering.authority")  # fmt: skip
"""Findings from which others follow, the deepest first."""

SPOKEN = ("steering.authority", "steering.phase_margin", "steering.setting", "steering.overshoot",
          "steering.holds", "steering.laws", "steering.cycle", "steering.sag")  # fmt: skip
"""Findings that are worth reading when they are good, too."""


def _table(run: LoopRun) -> dict[str, Any]:
    every = max(len(run.time) // ROWS, 1)
    return {
        name: getattr(run, name)[::every].tolist()
        for name in ("time", "error", "seen", "width", "arc", "rate")
    }


def steer_json(plan: SteeringPlan) -> str:
    """Return values and findings like the sheet's, with the runs as tables in SI units."""
    content: dict[str, Any] = json.loads(sheet_json(plan.sheet))
    for name in ("step", "start", "day", "year"):
        run = getattr(plan, name)
        if run is not None:
            content[name] = _table(run)
    if plan.width_step is not None:
        content["width_step"] = {
            "width": plan.width_step.width, "time": plan.width_step.time.tolist(),
            "rate": plan.width_step.rate.tolist(),
        }  # fmt: skip
    content["budget"] = [
        {"cause": row.cause, "words": row.words, "free": row.free, "error": row.error,
         "lost": row.lost}
        for row in plan.budget
    ]  # fmt: skip
    content["laws"] = [
        {"law": law.law, "peak": law.peak, "standing": law.standing, "moved": law.moved}
        for law in plan.laws
    ]
    run = plan.year or plan.day
    steady = stability_of(run) if run is not None else None
    if steady is not None:
        content["allan"] = {"span": list(steady.span), "deviation": list(steady.deviation)}
    return json.dumps(content, indent=1, allow_nan=False) + "\n"


def steer_csv(plan: SteeringPlan) -> str:
    """Return the year, or else the step, a row a correction."""
    run = plan.year or plan.step
    heading = "time_s,error_s,error_on_crystal_s,width_s,arc_rad,rate\n"
    if run is None:
        return heading
    columns = (run.time, run.error, run.seen, run.width, run.arc, run.rate)
    return heading + "".join(
        ",".join(f"{value:.9g}" for value in row) + "\n" for row in zip(*columns, strict=True)
    )
