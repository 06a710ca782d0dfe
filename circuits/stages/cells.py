"""Cells: how long they last and what ends them."""

from dataclasses import dataclass, replace

import numpy as np

from calc.cell_charge import charge_share_at_cutoff, charge_share_at_load, self_discharge_at
from calc.cell_life import cell_life, charge_life, shelf_limited_life
from circuits.catalogue import Catalogue, Cell
from circuits.design import Design
from circuits.format_quantity import YEAR, percent, show, show_range
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.stages.cell_cautions import enter_cautions
from circuits.stages.energy import Drain, EnergyResult
from circuits.stages.rails import Rails

EMPTY = "cells empty to the cut-off"
SHELF = "shelf life"
ROOM = 293.15
SPREAD_LOW, SPREAD_HIGH = 0.5, 1.2
"""Single cells and makers against the sheet: public tests of alkaline D cells show as much."""

MOST_PARALLEL = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class CellsResult:
    """Life in seconds, low, typical and high."""

    battery_life: float
    battery_life_low: float
    battery_life_high: float
    ended_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Use:
    """How the cells are used: strings side by side, where they stop, how warm they are."""

    parallel: int
    v_cutoff: float
    temperature: float
    i_low: float
    i_typ: float
    i_high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Store:
    """Charge of the whole set, and what it loses by itself."""

    share_cutoff: float
    share_load: float
    low: float
    typ: float
    high: float
    loss: float | None


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
    result, store = _life(cell, use)
    _enter(ledger, cell, use, store, result)
    _judge(design, catalogue, ledger, use, result, drains=energy.drains)
    enter_cautions(
        design, catalogue, ledger, cell, i_mean=use.i_typ / use.parallel, v_cutoff=use.v_cutoff
    )
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


def _use(design: Design, cell: Cell, rails: Rails, energy: EnergyResult) -> _Use:
    low, high = sorted((energy.i_mean, energy.i_mean_spent))
    return _Use(
        parallel=design.supply.parallel or 1,
        v_cutoff=rails.cutoff_per_cell or cell.cutoff_typ,
        temperature=design.design.temperature or ROOM,
        i_low=low,
        i_typ=(low + high) / 2,
        i_high=high,
    )


def _store(cell: Cell, use: _Use) -> _Store:
    at_cutoff, at_load = 1.0, 1.0
    if cell.remaining:
        points = sorted(cell.remaining, key=lambda point: point.v_cutoff)
        at_cutoff = charge_share_at_cutoff(
            v_cutoff=use.v_cutoff,
            v_cutoffs=np.array([point.v_cutoff for point in points]),
            shares=np.array([point.fraction for point in points]),
        )
    tested = sorted(
        (point for point in cell.capacity if point.v_cutoff == cell.cutoff_typ),
        key=lambda point: point.i_load,
    )
    if len(tested) > 1:
        # A test at a lighter load than that of the stated charge promises no more than it.
        shares = np.minimum.accumulate([min(1.0, point.q_cell / cell.q_cell) for point in tested])
        at_load = charge_share_at_load(
            i_load=use.i_typ / use.parallel,
            i_loads=np.array([point.i_load for point in tested]),
            shares=shares,
        )
    share = use.parallel * at_cutoff * at_load
    loss = None
    if cell.self_discharge:
        loss = self_discharge_at(
            self_discharge=cell.self_discharge, temperature=use.temperature, t_reference=ROOM
        )
    return _Store(
        share_cutoff=at_cutoff,
        share_load=at_load,
        low=share * (cell.q_cell_low or SPREAD_LOW * cell.q_cell),
        typ=share * cell.q_cell,
        high=share * (cell.q_cell_high or SPREAD_HIGH * cell.q_cell),
        loss=loss,
    )


def _emptied(charge: float, i_mean: float, loss: float | None) -> float:
    if loss is None:
        return charge_life(charge=charge, i_mean=i_mean)
    return cell_life(charge=charge, i_mean=i_mean, self_discharge=loss)


def _capped(life: float, shelf_life: float | None) -> float:
    return life if shelf_life is None else shelf_limited_life(life=life, shelf_life=shelf_life)


def _life(cell: Cell, use: _Use) -> tuple[CellsResult, _Store]:
    store = _store(cell, use)
    emptied = _emptied(store.typ, use.i_typ, store.loss)
    life = _capped(emptied, cell.shelf_life)
    return CellsResult(
        battery_life=life,
        battery_life_low=_capped(_emptied(store.low, use.i_high, store.loss), cell.shelf_life),
        battery_life_high=_capped(
            _emptied(store.high, use.i_low, store.loss), cell.shelf_life_high or cell.shelf_life
        ),
        ended_by=EMPTY if life == emptied else SHELF,
    ), store


def _enter(ledger: Ledger, cell: Cell, use: _Use, store: _Store, result: CellsResult) -> None:
    if cell.q_cell_low is None or cell.q_cell_high is None:
        ledger.assume(
            "cells.spread", SPREAD_HIGH, "1",
            "single cells from half to 1.2 times their sheet; public tests of alkaline D cells "
            "(bigclive.youtubersblog.com, practical-sailor.com, rightbattery.com)",
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


def _largest(drains: tuple[Drain, ...]) -> str:
    ranked = sorted(drains, key=lambda drain: -(drain.i_fresh + drain.i_spent))
    named = [f"{d.words} {show((d.i_fresh + d.i_spent) / 2, 'A')}" for d in ranked[:2]]
    return f" The largest drains: {', '.join(named)}." if named else ""


def _judge(
    design: Design,
    catalogue: Catalogue,
    ledger: Ledger,
    use: _Use,
    result: CellsResult,
    *,
    drains: tuple[Drain, ...],
) -> None:
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
        f"{show(use.i_typ, 'A')}; {show(wanted, 's', 2)} "
        f"{'is wanted' if asked else 'would be usual'}. {result.ended_by.capitalize()} ends it.",
        remedy=f"Larger cells, more of them side by side, or less drain.{_largest(drains)}",
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
    design: Design, catalogue: Catalogue, use: _Use, wanted: float
) -> tuple[tuple[Change, ...], ...]:
    """Return changes of the cells alone that reach the wanted life, the smallest first."""
    fitted = catalogue.cell(design.supply.cell or "")

    def reaches(cell: Cell, parallel: int) -> bool:
        return _life(cell, replace(use, parallel=parallel))[0].battery_life >= wanted

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
