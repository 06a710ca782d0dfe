"""The loop of a design, planned and tried: steps, a day, a year, and what each cause leaves.

`plan(design)` is the door for every face: `step` and `budget` are what a picture needs.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError
from calc.regulator import LAWS, RegulatorConstants
from calc.steering_cycle import LimitCycle, limit_cycle
from calc.steering_gains import loop_radius
from circuits.catalogue import Catalogue
from circuits.cells_course import life_course
from circuits.design import Design
from circuits.driven import Driven
from circuits.format_quantity import DAY
from circuits.ledger import Ledger
from circuits.pipeline import run as run_stages
from circuits.sheet import Sheet, compose
from circuits.stage_pass import StagePass
from circuits.stages.steering import plan_loop, refuse
from circuits.stages.steering_loop import SteeringResult
from circuits.steering.budget import BudgetRow, budget_of
from circuits.steering.course import RunDown, course_of, quiet
from circuits.steering.loop_constants import regulator_of
from circuits.steering.plan_sheet import LawFigures, StepFigures, Tried, enter
from circuits.steering.simulation import LoopRun, Start, run_loop
from circuits.supply_words import reword

Array = NDArray[np.float64]
Progress = Callable[[int, int, str], None]

STEP_SHARE = 0.25
"""The tried step of the rate over what the disturbances need."""
MOST = 60_000
"""Corrections of a run that is not the year."""
LEAD = 6.0
"""Time constants of the loop before a day or a year is judged: the start is looked at apart."""
LONG = 14.0
"""Time constants of the loop that a step is followed for."""
WIDTH_STEP = 0.05
POINTS = 300
PUSH = 1.2
"""A push over the least arc from which it does not die away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepResponse:
    """What the rate does after the width has been stepped, without a loop."""

    width: float
    time: Array
    rate: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class SteeringPlan:
    """Everything that is known of a design's loop; what needs a plant is None where none is known.

    `step` is the run with a step of the rate, `start` one from a push by hand, `day` and `year`
    have weather, crystal, cells and jitter. `budget` has a row for each cause. `sheet` holds the
    values and findings in words.
    """

    title: str
    design: Design
    sheet: Sheet
    loop: SteeringResult | None
    constants: RegulatorConstants | None
    width_step: StepResponse | None
    step: LoopRun | None
    step_figures: StepFigures | None
    start: LoopRun | None
    day: LoopRun | None
    year: LoopRun | None
    budget: tuple[BudgetRow, ...]
    laws: tuple[LawFigures, ...]
    cycle: LimitCycle | None
    life: float | None
    run_down: RunDown | None
    arc_least: float
    done: StagePass

    @property
    def holds(self) -> bool:
        """Whether there is a loop and nothing of it fails."""
        return self.loop is not None and not self.sheet.fails


def plan(
    design: Design, *, year: bool = False, progress: Progress | None = None
) -> SteeringPlan:  # fmt: skip
    """Plan and try the loop of a design.

    Parameters
    ----------
    design : Design
        The design file.
    year : bool
        Whether a whole year is followed too.
    progress : callable, optional
        Told how many corrections of a run are done, and of how many.

    Returns
    -------
    found : SteeringPlan

    Raises
    ------
    DesignFileError
        If the stages cannot use the figures.
    """
    done = run_stages(design, Catalogue(design.part, design.file))
    driven = driven_from(design, done)
    settled, timing, cells = (done.result(name) for name in ("settled", "timing", "cells"))
    ledger = Ledger()
    title = design.design.title or design.file
    loop = plan_loop(design, ledger, driven, done.result("rate"), settled, timing.jitter)
    life = cells.battery_life if cells is not None else None
    least = settled.fresh.least_start if settled is not None else None
    arc_least = max(least.arc if least is not None else 0.0, driven.trigger().arc_least)

    def without() -> SteeringPlan:
        _in_words_of_the_supply(design, ledger)
        return SteeringPlan(
            title=title, design=design, loop=None, constants=None, width_step=None, step=None,
            step_figures=None, start=None, day=None, year=None, budget=(), laws=(), cycle=None,
            life=life, run_down=None, arc_least=arc_least, done=done,
            sheet=compose(title, ledger, ledger.findings.values()),
        )  # fmt: skip

    if loop is None:
        return without()
    try:
        constants = regulator_of(loop)
        down = _run_down(design, done) if life is not None else None
        life = down.life if down is not None else life
        tried = _tried(design, ledger, loop, constants, (life, down), arc_least, year, progress)
    except OutOfRangeError as error:
        refuse(design, ledger, error)
        return without()
    enter(design, ledger, loop, constants, tried)
    _in_words_of_the_supply(design, ledger)
    return SteeringPlan(
        title=title, design=design, loop=loop, constants=constants, life=life, run_down=down,
        arc_least=arc_least, done=done, sheet=compose(title, ledger, ledger.findings.values()),
        width_step=_width_step(loop), step=tried.step, step_figures=tried.step_figures,
        start=tried.start, day=tried.day, year=tried.year, budget=tried.budget, laws=tried.laws,
        cycle=tried.cycle,
    )  # fmt: skip


def _in_words_of_the_supply(design: Design, ledger: Ledger) -> None:
    if design.supply.cell is None:
        reword(ledger, one_voltage=not design.tolerance.supply)


def driven_from(design: Design, done: StagePass) -> Driven:
    """Return the moving system of a design whose stages have run."""
    names = ("rails", "coil", "linkage", "movement", "emf", "drive", "clamp", "filter", "passes")
    pulse = done.result("pulse")
    return Driven(
        design=design, width=pulse.width, t_on=pulse.t_on,
        **{name: done.result(name) for name in names},
    )  # fmt: skip


def _run_down(design: Design, done: StagePass) -> RunDown | None:
    """Return how the cells run down while the loop widens the pulse, None where it is not known."""
    rails = done.result("rails")
    fresh, spent = rails.fresh.v_coil, rails.spent.v_coil
    if not fresh > spent:
        return None
    course = life_course(design, steered=True, done=done)
    if course is None or len(course.t) < 2 or not course.t[-1] > 0:
        return None
    share = np.clip((course.v_load - spent) / (fresh - spent), 0.0, 1.0)
    return RunDown(
        life=float(course.t[-1]), over=course.t / course.t[-1], fresh=np.minimum.accumulate(share)
    )


def _tried(
    design: Design, ledger: Ledger, loop: SteeringResult, constants: RegulatorConstants,
    cells: tuple[float | None, RunDown | None], arc_least: float, year: bool,
    progress: Progress | None,
) -> Tried:  # fmt: skip
    life, down = cells
    kind = design.movement.kind or "pendulum"
    days = LONG * loop.time_constant / DAY
    still = quiet(loop, days)
    offset = STEP_SHARE * max(loop.needed, 0.1 * abs(loop.authority))

    def stepped(law: str) -> LoopRun:
        return run_loop(
            loop, constants if law == "pi" else regulator_of(loop, law), still, name="step",
            words="a step of the rate", offset=offset, jitter=False, kind=kind, progress=progress,
        )  # fmt: skip

    runs = {law: stepped(law) for law in LAWS}
    wanted = loop.fresh.arc
    push = max(0.5 * wanted, PUSH * arc_least)
    start = run_loop(
        loop, constants, still, name="start", words="a start by hand", kind=kind,
        progress=progress, start=Start(arc=min(push, wanted)),
    )  # fmt: skip
    lead = LEAD * loop.time_constant / DAY

    def lived(days: float, name: str, words: str) -> LoopRun:
        course = course_of(design, ledger, days=lead + days, life=life, run_down=down)
        run = run_loop(
            loop, constants, course, name=name, words=words, kind=kind, progress=progress
        )
        return run.after(lead * DAY)

    day = lived(1.0, "day", "a day")
    whole = lived(365.0, "year", "a year") if year else None
    own: dict[str, Any] = {
        "slope": loop.fresh.slope, "slope_prompt": loop.fresh.slope_prompt,
        "time_constant": loop.fresh.time_constant, "interval": loop.interval, "kp": loop.kp,
        "ki": loop.ki,
    }  # fmt: skip
    cycle = None
    if loop_radius(**own) < 1:
        cycle = limit_cycle(**own, width_step=loop.tick, clock_step=loop.tick, off_step=0.5)
    short = min(60.0, max(MOST * loop.interval / DAY, 2.0))
    return Tried(
        step=runs["pi"], step_figures=_figures(runs["pi"], offset), start=start, day=day,
        year=whole, cycle=cycle, laws=tuple(_law(law, run) for law, run in runs.items()),
        budget=budget_of(
            design, ledger, loop, constants, days=short, life=life, kind=kind, run_down=down,
            lead=lead, progress=progress,
        ),
    )  # fmt: skip


def _width_step(loop: SteeringResult) -> StepResponse:
    """Return what a width wider by a twentieth does: at once, and as the arc follows."""
    point = loop.fresh
    step = WIDTH_STEP * point.width
    t = np.linspace(0, 5 * point.time_constant, POINTS)
    fading = (point.slope_prompt - point.slope) * np.exp(-t / point.time_constant)
    return StepResponse(width=step, time=t, rate=step * (point.slope + fading))


def _figures(run: LoopRun, offset: float) -> StepFigures:
    sign = 1 if offset > 0 else -1
    along = sign * run.seen
    peak = float(along.max())
    outside = np.flatnonzero(np.abs(along) > 0.1 * peak)
    last = int(outside[-1]) if outside.size else 0
    return StepFigures(
        rate=offset, peak=peak, overshoot=max(float(-along.min()) / peak, 0.0) if peak > 0 else 0.0,
        settling=float(run.time[last]),
    )  # fmt: skip


def _law(law: str, run: LoopRun) -> LawFigures:
    last = run.seen[-max(len(run.seen) // 5, 1) :]
    return LawFigures(
        law=law, peak=run.largest, standing=float(last.mean()), moved=run.moved
    )  # fmt: skip
