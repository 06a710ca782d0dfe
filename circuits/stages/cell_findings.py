"""What the sheet says of the cells' life: long enough or not, what ends it, what would do."""

from dataclasses import dataclass, replace

from calc.cell_life import mean_current_for_life
from circuits.catalogue import Catalogue, Cell
from circuits.design import Design
from circuits.format_quantity import YEAR, show, show_range
from circuits.ledger import Change, Ledger, Severity
from circuits.stages.cell_life import CUT_OFF, SHELF, Life, course_of
from circuits.stages.cell_states import Limits, SupplyState
from circuits.stages.cell_store import Use, store_of
from circuits.stages.energy import Drain

MOST_PARALLEL = 4
SPENT_BY_ITSELF = 20.0
"""Self-discharge times life from which on no drain is small enough: exp(-20) of it is left."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CellsResult:
    """Life in seconds, low, typical and high, and what it was computed from."""

    battery_life: float
    battery_life_low: float
    battery_life_high: float
    ended_by: str
    life: Life
    use: Use
    states: tuple[SupplyState, ...]
    limits: Limits
    spread: tuple[float, float]
    v_change: float | None


def say_ends(ledger: Ledger, result: CellsResult) -> None:
    """Say which end comes first, when the others would, and when to change the cells."""
    course = result.life.typ
    later = [
        f"{end.words} after {show(end.time, 's', 2)}"
        for end in sorted(course.ends, key=lambda end: end.time or 0.0)
        if end.time is not None and end is not course.first and not end.from_start
    ]
    never = [end.words for end in course.ends if end.time is None]
    already = [end.words for end in course.ends if end.from_start]
    first = course.first
    at = f", at {show(first.v_rest, 'V')} at rest" if first.v_rest is not None else ""
    text = f"First: {first.words}, after {show(first.time or 0.0, 's', 2)}{at}."
    if later:
        text += f" The others: {', '.join(later)}."
    if never:
        text += f" Not before the cells are empty: {', '.join(never)}."
    if already:
        text += f" With fresh cells already, and not counted: {', '.join(already)}."
    if result.v_change is None:
        text += " Their voltage tells nothing of what is left: change them by date."
    else:
        text += (
            f" Change the set when it rests at {show(result.v_change, 'V')}, or after "
            f"{show(0.9 * result.battery_life_low, 's', 2)} to be safe from poor cells."
        )
    ledger.say("cells.ends", Severity.GOOD, text)


def _largest(drains: tuple[Drain, ...]) -> str:
    ranked = sorted(drains, key=lambda drain: -(drain.i_fresh + drain.i_spent))
    named = [f"{d.words} {show((d.i_fresh + d.i_spent) / 2, 'A')}" for d in ranked[:2]]
    return f" The largest drains: {', '.join(named)}." if named else ""


def _less(result: CellsResult, cell: Cell, wanted: float) -> str:
    """Return what the fitted cells would need: no more than this drain, if that can be."""
    store = result.life.typ.store
    if cell.shelf_life is not None and cell.shelf_life < wanted:
        return (
            f"The shelf life of {cell.name} is {show(cell.shelf_life, 's', 2)}: take another type, "
            "or change the cells by date."
        )
    if store.loss is not None and store.loss * wanted > SPENT_BY_ITSELF:
        return f"{cell.name} empties itself sooner at this temperature: keep the cells cooler."
    if result.life.typ.first.name != CUT_OFF:
        return (
            f"{result.ended_by.capitalize()} leaves charge in the cells: cure that first, or take "
            "more cells in series."
        )
    if store.loss is None:
        drain = store.charge / wanted
    else:
        drain = mean_current_for_life(charge=store.charge, life=wanted, self_discharge=store.loss)
    return (
        "Larger cells, more of them side by side, or a mean drain of at most "
        f"{show(drain, 'A', 2)}."
    )


def judge_life(
    design: Design, catalogue: Catalogue, ledger: Ledger, result: CellsResult,
    drains: tuple[Drain, ...],
) -> None:  # fmt: skip
    """Judge the life against the wanted one, with changes of the cells that reach it."""
    cell = catalogue.cell(design.supply.cell or "")
    wanted = design.supply.wanted_life
    asked = wanted is not None
    if wanted is None:
        wanted = YEAR
        ledger.assume(
            "cells.wanted_life",
            wanted,
            "s",
            "more than a year is usual; common practice, no source",
        )
    spread = show_range(result.battery_life_low, result.battery_life_high, "s", 2)
    never = result.life.typ.never_runs
    if never:
        more = Change(section="supply", key="series", text=str(result.use.series + 1))
        ledger.say(
            "cells.from_start", Severity.FAILS,
            f"With fresh cells already: {', '.join(end.words for end in never)}. It does not run, "
            "so there is no life to count; the one told is that of a circuit that is cured.",
            remedy="First cure what stops it: more cells in series, or what the other findings "
            "offer.",
            changes=((more,),),
        )  # fmt: skip
    short = result.battery_life < wanted
    taken = result.life.typ.charges()
    taken.pop("self_discharge", None)
    mean = sum(taken.values()) / max(result.battery_life, 1.0)
    ledger.at_least(
        "cells.lasts",
        result.battery_life,
        wanted,
        "s",
        f"The cells {'would ' if never else ''}last {show(result.battery_life, 's', 2)} "
        f"({spread}) at a mean of {show(mean, 'A')} ({'wanted' if asked else 'usual, more than'}: "
        f"{show(wanted, 's', 2)}). What ends it: {result.ended_by}.",
        remedy=f"{_less(result, cell, wanted)}{_largest(drains)}" if short else "",
        changes=_remedies(catalogue, cell, result, wanted) if short else (),
        soft=not asked,
    )
    if asked and not short and result.battery_life_low < wanted:
        ledger.say(
            "cells.spread",
            Severity.MIND,
            f"Poor cells end after {show(result.battery_life_low, 's', 2)}, before the "
            f"{show(wanted, 's', 2)} that are wanted.",
            remedy="Buy a make whose sheet you have read, or allow for a change in between.",
        )


def _remedies(
    catalogue: Catalogue, fitted: Cell, result: CellsResult, wanted: float
) -> tuple[tuple[Change, ...], ...]:
    """Return changes of the cells alone that reach the wanted life, the smallest first."""
    use = result.use

    def reaches(cell: Cell, parallel: int) -> bool:
        store = store_of(cell, replace(use, parallel=parallel))
        return course_of(store, result.states, result.limits).life >= wanted

    def side_by_side(parallel: int) -> Change:
        return Change(section="supply", key="parallel", text=str(parallel))

    larger = sorted(
        (c for c in catalogue.cells() if c.v_nominal == fitted.v_nominal and c.name != fitted.name),
        key=lambda c: (c.chemistry != fitted.chemistry, c.q_cell),
    )
    more = range(use.parallel + 1, MOST_PARALLEL + 1)
    found: list[tuple[Change, ...]] = []
    found += [(side_by_side(n),) for n in more if reaches(fitted, n)][:1]
    for cell in larger:
        swap = Change(section="supply", key="cell", text=cell.name)
        if reaches(cell, use.parallel):
            found.append((swap,))
            continue
        found += [(swap, side_by_side(n)) for n in more if reaches(cell, n)][:1]
    if result.life.typ.first.name not in (CUT_OFF, SHELF):
        found.append((Change(section="supply", key="series", text=str(use.series + 1)),))
    return tuple(sorted(found, key=len)[:4])
