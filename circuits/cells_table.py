"""Life of one design against the number, the size and the chemistry of its cells."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from circuits.catalogue import Catalogue, Cell
from circuits.cells_course import LifeCourse
from circuits.design import Design
from circuits.design_write import with_changes
from circuits.errors import DesignFileError
from circuits.ledger import Change
from circuits.pipeline import run
from circuits.stages.cell_life import life_of, stores_of
from circuits.stages.cells import CellsResult
from circuits.stages.rails import PLANNED_CUTOFF

MOST = 16
ALIKE = (0.7, 1.4)
"""Ratio of nominal voltages within which one cell stands for another."""

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetRow:
    """One set of cells: life of poor, usual and good ones; zero where it does not run."""

    cell: str
    chemistry: str
    series: int
    parallel: int
    low: float
    typ: float
    high: float
    ended_by: str
    mass: float | None


def _cutoff(cell: Cell) -> float:
    return max(cell.cutoff_typ, PLANNED_CUTOFF) if cell.v_nominal < 2 else cell.cutoff_typ


def _row(
    cell: Cell, result: CellsResult, series: int, parallel: int, stated: float | None
) -> SetRow:
    use = replace(
        result.use, series=series, parallel=parallel,
        v_cutoff=_cutoff(cell) if stated is None else stated,
    )  # fmt: skip
    limits = replace(result.limits, v_cutoff=use.v_cutoff * series)
    with np.errstate(all="ignore"):
        life = life_of(stores_of(cell, use), result.states, limits, result.spread)
    stopped = life.typ.never_runs
    if stopped:
        times, ended_by = (0.0, 0.0, 0.0), f"does not run: {stopped[0].words}"
    else:
        low, typ, high = life.low.life, life.typ.life, life.high.life
        times, ended_by = (min(low, typ), typ, max(typ, high)), life.typ.first.words
    mass = None if cell.mass is None else cell.mass * series * parallel
    return SetRow(
        cell=cell.name, chemistry=cell.chemistry, series=series, parallel=parallel,
        low=times[0], typ=times[1], high=times[2], ended_by=ended_by, mass=mass,
    )  # fmt: skip


def _counts(cell: Cell, fitted: Cell, known: tuple[int, ...]) -> dict[int, int]:
    """Return how many in series, and the number of fitted cells whose circuit comes nearest."""
    if ALIKE[0] < cell.v_nominal / fitted.v_nominal < ALIKE[1]:
        return {series: series for series in known}
    counts: dict[int, int] = {}
    for like in known:
        v = like * fitted.v_nominal
        series = max(1, round(v / cell.v_nominal))
        miss = abs(series * cell.v_nominal - v)
        best = counts.get(series)
        if best is None or miss < abs(series * cell.v_nominal - best * fitted.v_nominal):
            counts[series] = like
    return counts


def sets(course: LifeCourse, design: Design, progress: Progress) -> tuple[SetRow, ...]:
    """Return the life of other sets, the circuit sized anew for each number in series.

    Sizes and chemistries of one number in series see the same circuit; a cell of another voltage
    is used in the number that comes nearest.
    """
    catalogue = Catalogue(design.part, design.file)
    fitted, use = course.cell, course.use
    results: dict[int, CellsResult] = {}
    for series in sorted({max(use.series - 1, 1), use.series, min(use.series + 1, MOST)}):
        progress(f"{series} in series")
        change = Change(section="supply", key="series", text=str(series))
        try:
            done = run(with_changes(design, (change,)), catalogue, course.done)
        except DesignFileError:
            continue
        found: CellsResult | None = done.result("cells")
        if found is not None:
            results[series] = found
    rows: list[SetRow] = []
    for cell in sorted(catalogue.cells(), key=lambda c: (c.name != fitted.name, -c.q_cell)):
        stated = design.supply.cutoff_per_cell if cell.v_nominal == fitted.v_nominal else None
        for series, like in _counts(cell, fitted, tuple(results)).items():
            rows.append(_row(cell, results[like], series, use.parallel, stated))
            if like == use.series:
                rows.append(_row(cell, results[like], series, use.parallel + 1, stated))
    return tuple(rows)
