"""What a set of cells holds: its charge, its voltage at rest and what it opposes to a load."""

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from calc.calculator import on_samples
from calc.cell_charge import self_discharge_at
from calc.cell_curve import aged_resistance, resistance_at_end, rest_curve, sustained_resistance
from circuits.catalogue import Cell

Array = NDArray[np.float64]

ROOM = 293.15
SPREAD_LOW, SPREAD_HIGH = 0.5, 1.2
"""Single cells and makers against the sheet: public tests of alkaline D cells show as much."""
BAND = 0.05
"""V; of a voltage at rest of which nobody has said how well it is known."""
R_FRESH, AGED = 0.3, 4.0
"""Where the catalogue knows no resistance: usual, no source."""
POOR, GOOD = 2.0, 0.6
"""Spent cells' resistance is 3 to 10 times the fresh one's where the catalogue says 5."""
SPARE = 0.95
PLACES = 241
FULL_TEST = 0.985
"""A test that took more than this out of the cell says nothing of its resistance."""


class Case(Enum):
    """Poor, usual and good cells and circumstances."""

    LOW = "low"
    TYP = "typ"
    HIGH = "high"


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """How the cells are used: in series, side by side, to which cut-off, how warm."""

    series: int
    parallel: int
    v_cutoff: float
    temperature: float = ROOM
    coldest: float | None = None
    warmest: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Store:
    """A set along its discharge: voltage and resistances are the set's, not one cell's."""

    case: Case
    depth: Array
    v_rest: Array
    r_pulse: Array
    r_sustained: Array
    charge: float
    loss: float | None
    shelf_life: float | None
    band: float


def _depths() -> Array:
    """Return places that are dense at both ends, where the voltage falls fast."""
    return np.asarray((1 - np.cos(np.pi * np.linspace(0, 1, PLACES))) / 2)


def rest_voltage(cell: Cell, depth: Array) -> tuple[Array, float]:
    """Return one cell's voltage at rest, and the band in which it is known."""
    points = sorted(cell.v_open, key=lambda point: point.depth)
    if len(points) < 2:
        # A straight line between the only two voltages that are known.
        depths, v_opens = np.array([0.0, 1.0]), np.array([cell.v_fresh, cell.cutoff_typ])
    else:
        depths = np.array([point.depth for point in points])
        v_opens = np.minimum([point.v_open for point in points], cell.v_fresh)
        v_opens[0] = cell.v_fresh
    band = cell.v_open_band or BAND
    v_empty = min(cell.cutoff_typ, float(v_opens[-1]))
    return rest_curve(depth=depth, depths=depths, v_opens=v_opens, v_empty=v_empty), band


def _charge(cell: Cell, case: Case) -> float:
    if case is Case.LOW:
        return cell.q_cell_low or SPREAD_LOW * cell.q_cell
    if case is Case.HIGH:
        return cell.q_cell_high or SPREAD_HIGH * cell.q_cell
    return cell.q_cell


def _loss(cell: Cell, use: Use, case: Case) -> float | None:
    if not cell.self_discharge:
        return None
    temperature = {Case.LOW: use.warmest, Case.HIGH: use.coldest}.get(case)
    return self_discharge_at(
        self_discharge=cell.self_discharge, temperature=temperature or use.temperature,
        t_reference=ROOM,
    )  # fmt: skip


def _resistances(cell: Cell, depth: Array, v_rest: Array, case: Case) -> tuple[Array, Array]:
    """Return one cell's resistance to a pulse and to a lasting load."""
    r_fresh = cell.r_internal or R_FRESH
    r_spent = max(cell.r_internal_spent or AGED * r_fresh, r_fresh)
    if case is Case.LOW:
        r_fresh = max(cell.r_internal_max or r_fresh, r_fresh)
        r_spent = POOR * max(r_spent, r_fresh)
    elif case is Case.HIGH:
        r_spent = max(GOOD * r_spent, r_fresh)
    pulse = on_samples(aged_resistance, r_fresh=r_fresh, r_spent=r_spent, depth=depth)
    tested = [
        *((point, True) for point in cell.capacity if point.v_cutoff == cell.cutoff_typ),
        *((point, False) for point in cell.loaded),
    ]
    ends: list[tuple[float, float]] = []
    for point, whole in sorted(tested, key=lambda entry: -entry[0].q_cell):
        at = point.q_cell / cell.q_cell
        v_open = float(np.interp(at, depth, v_rest))
        if at >= FULL_TEST or v_open <= point.v_cutoff or (ends and at >= ends[0][0]):
            continue
        r = resistance_at_end(v_open=v_open, v_cutoff=point.v_cutoff, i_load=point.i_load)
        heavier = [(p.i_load, p.v_cutoff) for p, done in tested if done and p.q_cell > point.q_cell]
        if not whole and heavier:
            # A heavier load meets less: it must not end on its way to where its own test ended.
            i_most, v_least = max(heavier)
            r = min(r, SPARE * (v_open - v_least) / i_most)
        ends.insert(0, (at, max(r, r_fresh)))
    if not ends:
        return pulse, pulse
    lasting = sustained_resistance(
        depth=depth, depths=np.array([at for at, _ in ends]),
        resistances=np.array([r for _, r in ends]), r_fresh=r_fresh,
    )  # fmt: skip
    return pulse, np.maximum(lasting, pulse)


def store_of(cell: Cell, use: Use, case: Case = Case.TYP) -> Store:
    """Return the set of cells, typical or at one end of what is known of them."""
    depth = _depths()
    v_rest, band = rest_voltage(cell, depth)
    pulse, lasting = _resistances(cell, depth, v_rest, case)
    shift = {Case.LOW: -band, Case.HIGH: band}.get(case, 0.0)
    # At the very end the voltage falls through every cut-off, whatever the band.
    v_rest = v_rest + shift * np.minimum((1 - depth) / 0.02, 1)
    shelf_life = cell.shelf_life
    if case is Case.HIGH:
        shelf_life = cell.shelf_life_high or cell.shelf_life
    strings = use.series / use.parallel
    return Store(
        case=case, depth=depth, v_rest=use.series * v_rest, r_pulse=strings * pulse,
        r_sustained=strings * lasting, charge=use.parallel * _charge(cell, case),
        loss=_loss(cell, use, case), shelf_life=shelf_life, band=use.series * band,
    )  # fmt: skip
