"""A design over the life of its cells: voltage, width and arc against time, ends and drains."""

from dataclasses import dataclass
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError
from circuits.catalogue import Catalogue, Cell
from circuits.cells_circuit import Circuit, stages_of
from circuits.cells_states import exact_states
from circuits.design import Design
from circuits.errors import DesignFileError
from circuits.pipeline import run
from circuits.stage_pass import StagePass
from circuits.stages.cell_life import Life, life_of, stores_of
from circuits.stages.cell_states import Limits, SupplyState, limits_of, states_of
from circuits.stages.cell_store import Case, Use, store_of
from circuits.stages.cells import CellsResult, result_of

Array = NDArray[np.float64]

POINTS = 121
SELF = "the cells themselves, unused"


@dataclass(frozen=True, slots=True, kw_only=True)
class EndRow:
    """When one end comes with poor, usual and good cells; None where they are empty before."""

    name: str
    words: str
    low: float | None
    typ: float | None
    high: float | None
    v_rest: float | None
    from_start: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DrainRow:
    """What one drain takes over the life: its charge, its share, its current at both ends."""

    name: str
    words: str
    charge: float
    share: float
    i_fresh: float
    i_end: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeCourse:
    """The life of usual cells in one design, sampled evenly in time up to the first end.

    Voltages are those of the whole set: at rest, under the mean load, and during the pulse.
    `arc` and `rate` are not a number where no swing is known. `life` holds poor, usual and good
    cells whole. `rate_before_loop` is the rate with new cells while a rate loop still has the
    width that the old ones needed. `swing_unknown` says why no swing could be followed at all;
    then drains, voltages and ends are those that the stages found.
    """

    title: str
    cell: Cell
    use: Use
    steered: bool
    t: Array
    v_rest: Array
    v_load: Array
    v_pulse: Array
    width: Array
    arc: Array
    rate: Array
    i_mean: Array
    ends: tuple[EndRow, ...]
    drains: tuple[DrainRow, ...]
    life: Life
    limits: Limits
    states: tuple[SupplyState, ...]
    result: CellsResult
    v_change: float | None
    arc_wanted: float
    settling: float | None
    rate_before_loop: float | None
    swing_unknown: str | None
    done: StagePass

    @property
    def ended_by(self) -> str:
        """What ends the life of usual cells, in words."""
        return self.life.typ.first.words

    @property
    def last(self) -> int:
        """The last sample at which a swing is known; the last of all where none is."""
        known = np.flatnonzero(np.isfinite(self.arc))
        return int(known[-1]) if known.size else len(self.t) - 1

    @property
    def shift_to_spent(self) -> float | None:
        """Change of the rate from fresh cells to spent ones, as the sheet has it."""
        settled = self.done.result("settled")
        if settled is None or settled.held is None or settled.rate_spent is None:
            return None
        return float(settled.rate_spent - settled.held.rate)

    @property
    def times(self) -> tuple[float, float, float]:
        """Life of poor, usual and good cells."""
        low, high = sorted((self.life.low.life, self.life.high.life))
        return min(low, self.life.typ.life), self.life.typ.life, max(high, self.life.typ.life)


def life_course(
    design: Design, *, steered: bool | None = None, done: StagePass | None = None
) -> LifeCourse | None:
    """Return a design over the life of its cells, its swing followed at each voltage.

    Parameters
    ----------
    design : Design
        The design file.
    steered : bool, optional
        Whether a rate loop widens the pulse as the cells sag; as the file's [rate] says if left
        out.
    done : StagePass, optional
        The stages' pass, if they have run.

    Returns
    -------
    course : LifeCourse or None
        None where no cells feed the drive.

    Raises
    ------
    DesignFileError
        If the stages cannot use the figures.
    """
    catalogue = Catalogue(design.part, design.file)
    done = run(design, catalogue) if done is None else done
    result: CellsResult | None = done.result("cells")
    if result is None or design.supply.cell is None:
        return None
    cell = catalogue.cell(design.supply.cell)
    stages, use = stages_of(done), result.use
    limits = limits_of(design, done.ledger, use.v_cutoff, stages, steered=steered)
    store = store_of(cell, use, Case.TYP)
    first, unknown = None, None
    try:
        with np.errstate(all="ignore"):
            try:
                circuit = Circuit(design, catalogue, done, store, limits)
                states = exact_states(circuit)
            except OutOfRangeError as error:
                # Without a swing the drains still empty the cells: as the stages found them.
                unknown, circuit = str(error).partition(";")[0].partition(":")[2].strip(), None
                v_fresh = float(store.v_rest[0])
                states = states_of(design, catalogue, done.ledger, v_fresh, limits, stages)
            life = life_of(stores_of(cell, use), states, limits, result.spread)
            if limits.steered and circuit is not None:
                first = _before_loop(circuit, life)
    except OutOfRangeError as error:
        reason, _, repair = str(error).partition(";")
        raise DesignFileError(
            file=design.file,
            section="supply",
            found=f"figures with which the cells cannot be followed ({reason.strip()})",
            wanted=repair.strip() or "run 'design' first and cure what fails",
        ) from error
    return _sampled(design, done, cell, result, limits, states, life, first, unknown)


def _sampled(
    design: Design, done: StagePass, cell: Cell, result: CellsResult, limits: Limits,
    states: tuple[SupplyState, ...], life: Life, before_loop: float | None, unknown: str | None,
) -> LifeCourse:  # fmt: skip
    typ, settled = life.typ, done.result("settled")
    t = np.linspace(0.0, typ.life, POINTS)

    def at(values: Array) -> Array:
        return np.asarray(np.interp(t, typ.t, values))

    held = settled.held if settled is not None else None
    change = result_of(life, result.use, states, limits, result.spread)
    return LifeCourse(
        title=design.design.title or design.file, cell=cell, use=result.use,
        steered=limits.steered, t=t, v_rest=at(typ.store.v_rest), v_load=at(typ.v_load),
        v_pulse=at(typ.v_load - typ.dip), width=at(typ.width), arc=at(typ.arc), rate=at(typ.rate),
        i_mean=at(typ.i_mean), ends=_end_rows(life), drains=_drain_rows(done, life), life=life,
        limits=limits, states=states, result=change, v_change=change.v_change,
        arc_wanted=done.result("movement").arc,
        settling=held.time_constant if held is not None and isfinite(held.time_constant) else None,
        rate_before_loop=before_loop, swing_unknown=unknown, done=done,
    )  # fmt: skip


def _before_loop(circuit: Circuit, life: Life) -> float | None:
    course = life.typ
    width = float(np.interp(0.98 * course.life, course.t, course.width))
    rows = circuit.rows(float(course.store.v_rest[0]), np.array([width]))
    return rows[-1][2] if rows else None


def _end_rows(life: Life) -> tuple[EndRow, ...]:
    rows = []
    for end in life.typ.ends:
        low, typ, high = life.times(end.name)
        rows.append(
            EndRow(
                name=end.name, words=end.words, low=low, typ=typ, high=high, v_rest=end.v_rest,
                from_start=end.from_start,
            )
        )  # fmt: skip
    return tuple(sorted(rows, key=lambda row: np.inf if row.typ is None else row.typ))


def _drain_rows(done: StagePass, life: Life) -> tuple[DrainRow, ...]:
    words = {drain.name: drain.words for drain in done.result("energy").drains}
    course = life.typ
    charges = course.charges()
    whole = sum(charges.values()) or 1.0
    loss = (course.store.loss or 0.0) * course.store.charge
    left = float(np.interp(course.life, course.t, 1 - course.store.depth))
    rows = [
        DrainRow(
            name=name, words=words.get(name, SELF), charge=charge, share=charge / whole,
            i_fresh=float(course.drains[name][0]) if name in course.drains else loss,
            i_end=float(np.interp(course.life, course.t, course.drains[name]))
            if name in course.drains else loss * left,
        )
        for name, charge in charges.items() if charge > 0
    ]  # fmt: skip
    return tuple(sorted(rows, key=lambda row: -row.charge))
