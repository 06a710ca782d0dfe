"""Cells: how long they last and what ends them."""

from dataclasses import dataclass, replace

from calc.cell_life import mean_current_for_life
from circuits.catalogue import Catalogue, Cell
from circuits.design import Design
from circuits.format_quantity import YEAR, percent, show, show_range
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.stages.cell_cautions import enter_cautions
from circuits.stages.cell_store import ROOM, SPREAD_HIGH, Store, Use, life_of
from circuits.stages.energy import Drain, EnergyResult
from circuits.stages.rails import Rails

EMPTY = "cells empty to the cut-off"
SHELF = "shelf life"
ENDS = {EMPTY: "Then they are empty to the cut-off.", SHELF: "Then their shelf life is over."}
MOST_PARALLEL = 4
SHUNT = 10.0
SPENT_BY_ITSELF = 20.0
"""Self-discharge times life from which on no drain is small enough: exp(-20) of it is left."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CellsResult:
    """Life in seconds, low, typical and high."""

    battery_life: float
    battery_life_low: float
    battery_life_high: float
    ended_by: str


def size(
    design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails, energy: EnergyResult
) -> CellsResult | None:
    """Return how long the cells last; None where no cells feed the drive."""
    name = design.supply.cell
    if name is None:
        _no_cells(design, ledger)
        return None
    cell = catalogue.cell(name)
    use = _use(design, cell, rails, energy)
    life, store = life_of(cell, use)
    result = CellsResult(
        battery_life=life.typ,
        battery_life_low=life.low,
        battery_life_high=life.high,
        ended_by=SHELF if life.shelved else EMPTY,
    )
    _enter(ledger, cell, use, store, result)
    _judge(design, catalogue, ledger, use, result, store=store, drains=energy.drains)
    enter_cautions(
        design, catalogue, ledger, cell, i_mean=use.i_typ / use.parallel, v_cutoff=use.v_cutoff
    )
    _test_point(ledger, energy)
    if result.ended_by == SHELF:
        ledger.say(
            "cells.shelf",
            Severity.GOOD,
            f"Their charge would outlast the shelf life of {show(cell.shelf_life or 0.0, 's')}: "
            "change them by the date printed on them, not when it stops.",
        )
    return result


def _no_cells(design: Design, ledger: Ledger) -> None:
    wanted = design.supply.wanted_life
    ledger.say(
        "cells.none",
        Severity.GOOD if wanted is None else Severity.MIND,
        "Fed from a stated voltage, not from cells: there is no life to compute.",
        remedy=""
        if wanted is None
        else 'State cell = "LR20" and series in [supply] to have wanted_life checked.',
    )


def _use(design: Design, cell: Cell, rails: Rails, energy: EnergyResult) -> Use:
    low, high = sorted((energy.i_mean, energy.i_mean_spent))
    return Use(
        parallel=design.supply.parallel or 1,
        v_cutoff=rails.cutoff_per_cell or cell.cutoff_typ,
        temperature=design.design.temperature or ROOM,
        i_low=low,
        i_typ=(low + high) / 2,
        i_high=high,
    )


def _enter(ledger: Ledger, cell: Cell, use: Use, store: Store, result: CellsResult) -> None:
    if cell.q_cell_low is None or cell.q_cell_high is None:
        ledger.assume(
            "cells.spread", SPREAD_HIGH, "1",
            "single cells from half to 1.2 times their sheet, after public tests of alkaline cells",
        )  # fmt: skip
    if store.loss is None:
        ledger.assume(
            "cells.self_discharge", 0.0, "1/s", "no figure known: the shelf life stands for it"
        )
    ledger.value(
        "cells.charge", store.typ, "C",
        words=f"charge of the set down to {show(use.v_cutoff, 'V')} a cell",
        basis=Basis.CATALOGUE,
        rule=f"{cell.name}: q_cell x parallel, {percent(store.share_cutoff)} above the cut-off, "
        f"{percent(store.share_load)} at this mean load",
        low=store.low, high=store.high,
    )  # fmt: skip
    ledger.value(
        "cells.battery_life", result.battery_life, "s", words="how long the cells last",
        basis=Basis.COMPUTED,
        rule="ln(1 + k q / i) / k with self-discharge k, at most the shelf life"
        if store.loss is not None else "charge / mean current, at most the shelf life",
        low=result.battery_life_low, high=result.battery_life_high,
    )  # fmt: skip
    ledger.value(
        "cells.ended_by", result.ended_by, None, words="what ends their life",
        basis=Basis.COMPUTED, rule="the first of cut-off and shelf life",
    )  # fmt: skip


def _test_point(ledger: Ledger, energy: EnergyResult) -> None:
    # A shunt drops its voltage at the pulse, many times its drop at the mean: it must be small.
    ledger.test_point(
        "supply lead",
        "running, settled at its arc",
        f"a voltmeter over a shunt of at most {SHUNT:g} ohm, averaged over a minute",
        f"a mean of {show(energy.i_mean, 'A')} from fresh cells, "
        f"{show(energy.i_mean_spent, 'A')} from spent ones",
        "a higher mean means a drain that is not in the file: pull one part after the other",
    )


def _largest(drains: tuple[Drain, ...]) -> str:
    ranked = sorted(drains, key=lambda drain: -(drain.i_fresh + drain.i_spent))
    named = [f"{d.words} {show((d.i_fresh + d.i_spent) / 2, 'A')}" for d in ranked[:2]]
    return f" The largest drains: {', '.join(named)}." if named else ""


def _less(store: Store, cell: Cell, wanted: float) -> str:
    """Return what the fitted cells would need: no more than this drain, if that can be."""
    if cell.shelf_life is not None and cell.shelf_life < wanted:
        return (
            f"The shelf life of {cell.name} is {show(cell.shelf_life, 's', 2)}: take another type, "
            "or change the cells by date."
        )
    if store.loss is not None and store.loss * wanted > SPENT_BY_ITSELF:
        return f"{cell.name} empties itself sooner at this temperature: keep the cells cooler."
    if store.loss is None:
        drain = store.typ / wanted
    else:
        drain = mean_current_for_life(charge=store.typ, life=wanted, self_discharge=store.loss)
    return (
        "Larger cells, more of them side by side, or a mean drain of at most "
        f"{show(drain, 'A', 2)}."
    )


def _judge(
    design: Design,
    catalogue: Catalogue,
    ledger: Ledger,
    use: Use,
    result: CellsResult,
    *,
    store: Store,
    drains: tuple[Drain, ...],
) -> None:
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
    short = result.battery_life < wanted
    ledger.at_least(
        "cells.lasts",
        result.battery_life,
        wanted,
        "s",
        f"The cells last {show(result.battery_life, 's', 2)} ({spread}) at a mean of "
        f"{show(use.i_typ, 'A')} ({'wanted' if asked else 'usual, more than'}: "
        f"{show(wanted, 's', 2)}). {ENDS[result.ended_by]}",
        remedy=f"{_less(store, cell, wanted)}{_largest(drains)}" if short else "",
        changes=_remedies(design, catalogue, use, wanted) if short else (),
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
    design: Design, catalogue: Catalogue, use: Use, wanted: float
) -> tuple[tuple[Change, ...], ...]:
    """Return changes of the cells alone that reach the wanted life, the smallest first."""
    fitted = catalogue.cell(design.supply.cell or "")

    def reaches(cell: Cell, parallel: int) -> bool:
        return life_of(cell, replace(use, parallel=parallel))[0].typ >= wanted

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
    return tuple(sorted(found, key=len)[:4])
