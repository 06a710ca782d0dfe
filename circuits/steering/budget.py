"""The error budget: what each cause alone does to the time, without the loop and with it."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from calc.regulator import RegulatorConstants
from circuits.design import Design
from circuits.format_quantity import DAY
from circuits.ledger import Ledger
from circuits.stages.steering_loop import SteeringResult
from circuits.steering.course import Course, RunDown, course_of, quiet
from circuits.steering.simulation import LoopRun, run_loop


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetRow:
    """One cause: the span of the free rate, the largest error held, what is lost for good.

    `free` and `lost` are ratios; `lost` is the mean rate that the loop leaves against true time.
    `error` is against the crystal [s].
    """

    cause: str
    words: str
    free: float
    error: float
    lost: float


def budget_of(
    design: Design, ledger: Ledger, loop: SteeringResult, constants: RegulatorConstants, *,
    days: float, life: float | None, kind: str, lead: float = 0.0,
    run_down: RunDown | None = None,
    progress: Callable[[int, int, str], None] | None = None,
) -> tuple[BudgetRow, ...]:  # fmt: skip
    """Return what each cause alone leaves, followed for so many days.

    Parameters
    ----------
    design : Design
        The design file.
    ledger : Ledger
        Takes what is assumed.
    loop : SteeringResult
        The loop.
    constants : RegulatorConstants
        The firmware's constants.
    days : float
        How long each cause is followed [days].
    life : float or None
        Life of the cells [s].
    kind : str
        pendulum or balance.
    lead : float
        How long the loop has run before a cause is looked at [days]: its start is none of them.
    run_down : RunDown, optional
        How the cells run down; evenly if left out.
    progress : callable, optional
        Told how many corrections of a run are done, and of how many.
    """
    days += lead
    whole = course_of(design, ledger, days=days, life=life, run_down=run_down)
    still = quiet(loop, days)
    rows: list[BudgetRow] = []

    def add(cause: str, words: str, free: float, run: LoopRun) -> None:
        lost = float(run.error[-1] - run.seen[-1]) / float(run.time[-1])
        rows.append(
            BudgetRow(cause=cause, words=words, free=free, error=run.largest, lost=lost)
        )  # fmt: skip

    def tried(course: Course, **how: Any) -> LoopRun:
        run = run_loop(
            loop, constants, course, name="", words="", kind=kind, progress=progress, **how
        )
        return run.after(lead * DAY)

    spans = {cause.name: cause for cause in loop.disturbances}
    if np.ptp(whole.weather) > 0 and "rod" in spans:
        course = replace(still, weather=whole.weather)
        add("rod", spans["rod"].words, spans["rod"].span, tried(course, jitter=False))
    course = replace(still, crystal=whole.crystal)
    add("crystal", "the crystal: tolerance, temperature, ageing", float(np.ptp(whole.crystal)),
        tried(course, jitter=False))  # fmt: skip
    sag = loop.shift
    if sag is None:
        sag = loop.curves.spent.at(loop.spent.width).rate - loop.rate_at(loop.spent.width)
    if life is not None and sag:
        course = replace(still, fresh=whole.fresh)
        add("cells", "the cells running down, fresh to spent", sag, tried(course, jitter=False))
    for name in ("bob", "place"):
        if name in spans:
            add(name, spans[name].words, spans[name].span,
                tried(still, jitter=False, offset=spans[name].high,
                      offset_after=lead * DAY))  # fmt: skip
    add("jitter", "jitter of the timed event", np.sqrt(2.0) * loop.jitter / DAY, tried(still))
    at = loop.fresh.width / loop.tick
    off = (np.floor(at) + 0.5 - at) * loop.tick
    half = replace(still, weather=still.weather - loop.fresh.slope * off)
    add("steps", "steps of the timer", abs(loop.fresh.slope) * loop.tick,
        tried(half, jitter=False))  # fmt: skip
    return tuple(rows)
