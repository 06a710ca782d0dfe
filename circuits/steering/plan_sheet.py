"""What the tried loop shows, as values and findings."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.regulator import RegulatorConstants
from calc.steering_cycle import LimitCycle
from circuits.design import Design
from circuits.format_quantity import DAY, percent, show
from circuits.ledger import Basis, Ledger, Severity
from circuits.stages.steering_loop import SteeringResult
from circuits.steering.budget import BudgetRow
from circuits.steering.simulation import LoopRun

OVERSHOOT = 0.5
SMALL_ARC = 0.7
"""Share of the least settled arc below which a run counts as stopped."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepFigures:
    """A step of the rate, held by the loop: largest error, overshoot over it, time to settle."""

    rate: float
    peak: float
    overshoot: float
    settling: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LawFigures:
    """One law on the same step: largest error, what stands for good, how often the width moves."""

    law: str
    peak: float
    standing: float
    moved: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """All runs of one loop."""

    step: LoopRun
    step_figures: StepFigures
    start: LoopRun
    day: LoopRun
    year: LoopRun | None
    cycle: LimitCycle | None
    laws: tuple[LawFigures, ...]
    budget: tuple[BudgetRow, ...]


def enter(
    design: Design, ledger: Ledger, loop: SteeringResult, constants: RegulatorConstants,
    tried: Tried,
) -> None:  # fmt: skip
    """Enter what the runs show."""
    figures = tried.step_figures
    rule = "simulated with the firmware's own integers"
    rows: list[tuple[str, float, str, str]] = [
        ("step_rate", DAY * figures.rate, "s/day", "step of the rate that is tried"),
        ("step_peak", figures.peak, "s", "largest time error after it"),
        ("overshoot", figures.overshoot, "1", "error to the other side over the largest"),
        ("settling", figures.settling, "s", "time until a tenth of the largest error is left"),
        ("start_error", tried.start.largest, "s", "largest time error after a start by hand"),
        ("day_error", float(np.abs(tried.day.seen).max()), "s", "largest time error in a day"),
        ("moved", tried.day.moved, "1", "share of the corrections that move the width"),
    ]  # fmt: skip
    if tried.cycle is not None:
        cycle = tried.cycle
        rows += [
            ("cycle_error", cycle.phase_error, "s",
             "to and fro of the time error by the timer's steps, from peak to peak"),
            ("cycle_width", cycle.width, "s", "to and fro of the width by the timer's steps"),
            ("cycle_period", cycle.period, "s", "mean time of one such to and fro"),
        ]  # fmt: skip
    if tried.year is not None:
        year = tried.year
        rows += [
            ("year_error", year.largest, "s", "largest time error against the crystal in a year"),
            ("year_lost", float(year.error[-1]), "s", "gained against true time after a year"),
            ("year_width_low", float(year.width.min()), "s", "narrowest width in a year"),
            ("year_width_high", float(year.width.max()), "s", "widest width in a year"),
            ("year_moved", year.moved, "1", "share of the corrections that move the width"),
        ]  # fmt: skip
    for name, value, unit, words in rows:
        ledger.value(f"steering.{name}", value, unit, words=words, basis=Basis.COMPUTED, rule=rule)
    _judge_runs(ledger, loop, constants, tried)
    if loop.authority <= 0:
        return  # What else the runs show is that of a loop that stands at its limit.
    _judge_step(ledger, figures)
    _judge_cycle(design, ledger, loop, tried)
    _judge_day(design, ledger, tried)
    _judge_laws(ledger, tried)


def _judge_step(ledger: Ledger, figures: StepFigures) -> None:
    ledger.at_most(
        "steering.overshoot", figures.overshoot, OVERSHOOT, "1",
        f"A step of the rate by {show(DAY * figures.rate, 's/day')} puts it "
        f"{show(figures.peak, 's')} off at most, then {percent(figures.overshoot)} of that to the "
        f"other side; after {show(figures.settling, 's')} a tenth is left.",
        remedy="A larger damping: a larger kp, or a smaller ki."
        if figures.overshoot > 0.9 * OVERSHOOT else "",
        soft=True,
    )  # fmt: skip


def _judge_cycle(design: Design, ledger: Ledger, loop: SteeringResult, tried: Tried) -> None:
    cycle, allowed = tried.cycle, design.rate.allowed_error
    if cycle is None:
        return
    if not cycle.period:
        ledger.say(
            "steering.cycle", Severity.GOOD,
            "Followed without noise, half a tick beside a width, the loop comes to rest.",
        )  # fmt: skip
        return
    ticks = round(cycle.width / loop.tick)
    text = (
        f"The timer's steps leave a to and fro of {show(cycle.phase_error, 's')} from peak to peak "
        f"and {ticks} tick{'' if ticks == 1 else 's'} of width, once in {show(cycle.period, 's')} "
        "(followed without noise, the needed width half-way between two ticks)."
    )
    if allowed is None:
        ledger.say("steering.cycle", Severity.GOOD, text, value=cycle.phase_error, unit="s")
        return
    ledger.at_most(
        "steering.cycle", cycle.phase_error, allowed, "s", text,
        remedy="A finer tick of the timer." if cycle.phase_error > 0.9 * allowed else "",
        soft=True,
    )  # fmt: skip


def _judge_runs(
    ledger: Ledger, loop: SteeringResult, constants: RegulatorConstants, tried: Tried
) -> None:
    runs = [tried.step, tried.start, tried.day, *([tried.year] if tried.year else [])]
    ends = np.array([constants.width_min, constants.width_max]) * loop.tick
    for run in runs:
        share = float(np.mean((run.width <= ends[0]) | (run.width >= ends[1])))
        if not share:
            continue
        ledger.say(
            f"steering.saturated_{run.name}",
            Severity.FAILS if run.name in ("day", "year") else Severity.MIND,
            f"In {run.words} the width stands at a limit for {percent(share)} of the corrections: "
            "meanwhile nothing is corrected; the sum of errors is held there, so that it does not "
            "run away.",
            remedy="A wider range of widths, or a movement that is set nearer to the middle of it.",
            value=share, unit="1",
        )  # fmt: skip
    low = min(float(run.arc.min()) for run in runs if run.name != "start")
    floor = SMALL_ARC * float(loop.curves.fresh.arcs[0])
    if low < floor:
        ledger.say(
            "steering.stops", Severity.FAILS,
            f"The arc falls to {show(low, 'rad')}: at so narrow a width the movement stops.",
            remedy="Raise width_min above the least width that holds an arc with the cells' state.",
        )  # fmt: skip


def gained_by_day(run: LoopRun) -> NDArray[np.float64]:
    """Return what each whole day of a run gains against true time, or all of a shorter one."""
    time, error = np.append(0.0, run.time), np.append(0.0, run.error)
    days = np.arange(0.0, run.time[-1] + 1e-6, DAY)
    if len(days) < 2:
        return np.array([error[-1]])
    return np.diff(np.interp(days, time, error))


def _judge_day(design: Design, ledger: Ledger, tried: Tried) -> None:
    """Hold what a day costs, the crystal included, to what is allowed."""
    run = tried.year or tried.day
    worst = float(np.abs(gained_by_day(run)).max())
    allowed = design.rate.allowed_error
    which = "the worst day of the year" if tried.year else "the day"
    text = (
        f"Held, {which} that was tried costs {show(worst, 's')} against true time, the "
        f"crystal's own error included; against the crystal it is never more than "
        f"{show(run.largest, 's')} off."
    )
    if allowed is None:
        ledger.say("steering.holds", Severity.GOOD, text, value=worst, unit="s/day")
        return
    ledger.at_most(
        "steering.holds", worst, allowed, "s/day", text,
        remedy="See the budget for the largest cause." if worst > 0.9 * allowed else "",
    )  # fmt: skip


def _judge_laws(ledger: Ledger, tried: Tried) -> None:
    by_law = {law.law: law for law in tried.laws}
    alone, tick = by_law["integral"], by_law["tick"]
    ledger.say(
        "steering.laws", Severity.GOOD,
        "Simpler laws on the same step of the rate: trimmed by the time error alone it stays "
        f"{show(abs(alone.standing), 's')} off for good, since a standing correction needs a "
        "standing error; one tick up or down holds the rate only and lets the time wander by "
        f"{show(tick.peak, 's')}, moving the width at {percent(tick.moved)} of the corrections.",
    )  # fmt: skip
