"""What a set of cells holds under its use, and how long that lasts."""

from dataclasses import dataclass

import numpy as np

from calc.cell_charge import charge_share_at_cutoff, charge_share_at_load, self_discharge_at
from calc.cell_life import cell_life, charge_life, shelf_limited_life
from circuits.catalogue import Cell

ROOM = 293.15
SPREAD_LOW, SPREAD_HIGH = 0.5, 1.2
"""Single cells and makers against the sheet: public tests of alkaline D cells show as much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """How the cells are used: strings side by side, where they stop, how warm they are."""

    parallel: int
    v_cutoff: float
    temperature: float
    i_low: float
    i_typ: float
    i_high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Store:
    """Charge of the whole set, and what it loses by itself."""

    share_cutoff: float
    share_load: float
    low: float
    typ: float
    high: float
    loss: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """How long a set lasts, low, typical and high, and whether the shelf life ends it."""

    low: float
    typ: float
    high: float
    shelved: bool


def _store(cell: Cell, use: Use) -> Store:
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
    return Store(
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


def life_of(cell: Cell, use: Use) -> tuple[Life, Store]:
    """Return how long a set of cells lasts, and what it holds."""
    store = _store(cell, use)
    emptied = _emptied(store.typ, use.i_typ, store.loss)
    life = _capped(emptied, cell.shelf_life)
    low = _capped(_emptied(store.low, use.i_high, store.loss), cell.shelf_life)
    high = _emptied(store.high, use.i_low, store.loss)
    return Life(
        low=low,
        typ=life,
        high=_capped(high, cell.shelf_life_high or cell.shelf_life),
        shelved=life < emptied,
    ), store
