"""Cells: how long they last, what ends them, and when to change them."""

from circuits.catalogue import Catalogue, Cell
from circuits.design import Design
from circuits.format_quantity import percent, show
from circuits.ledger import Basis, Ledger, Severity
from circuits.stages.cell_cautions import enter_cautions
from circuits.stages.cell_findings import CellsResult, judge_life, say_ends
from circuits.stages.cell_life import CUT_OFF, SHELF, WORDS, Life, life_of, stores_of
from circuits.stages.cell_states import (
    Limits,
    Stages,
    SupplyState,
    limits_of,
    states_of,
    told,
)
from circuits.stages.cell_store import BAND, ROOM, SPREAD_HIGH, Use
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult
from circuits.stages.energy import EnergyResult
from circuits.stages.firing import PassesResult
from circuits.stages.movement import MovementResult
from circuits.stages.pulse import PulseResult
from circuits.stages.rails import Rails
from circuits.stages.running import RunningResult
from circuits.stages.settled import SettledResult
from circuits.temperature_span import span_of

__all__ = ["EMPTY", "SHELF_LIFE", "CellsResult", "result_of", "size", "use_of"]

EMPTY = WORDS[CUT_OFF]
SHELF_LIFE = WORDS[SHELF]
SHUNT = 10.0
FLAT = 0.02
"""Fall of the rested voltage over most of the life below which it tells nothing."""


def size(
    design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails, energy: EnergyResult,
    coil: CoilResult | None = None, movement: MovementResult | None = None,
    drive: DriveResult | None = None, passes: PassesResult | None = None,
    pulse: PulseResult | None = None, settled: SettledResult | None = None,
    running: RunningResult | None = None,
) -> CellsResult | None:  # fmt: skip
    """Return how long the cells last; None where no cells feed the drive."""
    name = design.supply.cell
    if name is None:
        _no_cells(design, ledger)
        return None
    cell = catalogue.cell(name)
    stages = Stages(
        rails=rails, energy=energy, coil=coil, movement=movement, drive=drive, passes=passes,
        pulse=pulse, settled=settled, running=running,
    )  # fmt: skip
    use = use_of(design, ledger, cell, rails)
    limits = limits_of(design, ledger, use.v_cutoff, stages)
    v_fresh = cell.v_fresh * rails.n_series
    states = states_of(design, catalogue, ledger, v_fresh, limits, stages)
    spread = _coil_spread(coil)
    life = life_of(stores_of(cell, use), states, limits, spread)
    result = result_of(life, use, states, limits, spread)
    _enter(ledger, cell, use, result)
    judge_life(design, catalogue, ledger, result, stages.demand(steered=limits.steered).drains)
    say_ends(ledger, result)
    enter_cautions(
        design, catalogue, ledger, cell, i_mean=float(life.typ.i_mean[0]) / use.parallel,
        v_cutoff=use.v_cutoff,
    )  # fmt: skip
    _test_point(ledger, stages, result)
    if life.typ.first.name == SHELF:
        ledger.say(
            "cells.shelf",
            Severity.GOOD,
            f"Their charge would outlast the shelf life of {show(cell.shelf_life or 0.0, 's')}: "
            "change them by the date printed on them, not when it stops.",
        )
    return result


def result_of(
    life: Life, use: Use, states: tuple[SupplyState, ...], limits: Limits,
    spread: tuple[float, float],
) -> CellsResult:  # fmt: skip
    """Return the stage's result of one life; no voltage to change at where it hardly falls."""
    typ = life.typ
    times = sorted((life.low.life, typ.life, life.high.life))
    v_rest, fresh = typ.v_change, float(typ.store.v_rest[0])
    tells = typ.first.name != SHELF and v_rest < (1 - FLAT) * fresh
    return CellsResult(
        battery_life=typ.life, battery_life_low=times[0], battery_life_high=times[2],
        ended_by=typ.first.words, life=life, use=use, states=states, limits=limits,
        spread=spread, v_change=v_rest if tells else None,
    )  # fmt: skip


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


def use_of(design: Design, ledger: Ledger, cell: Cell, rails: Rails) -> Use:
    """Return how this design uses its cells."""
    cutoff = design.supply.cutoff_per_cell
    if cutoff is None and "supply.cutoff_per_cell" in ledger.assumed:
        cutoff = float(ledger.assumed["supply.cutoff_per_cell"].value)
    if cutoff is None:
        cutoff = rails.cutoff_per_cell or cell.cutoff_typ
    span = span_of(design)
    return Use(
        series=rails.n_series,
        parallel=design.supply.parallel or 1,
        v_cutoff=cutoff,
        temperature=design.design.temperature or ROOM,
        coldest=span[0] if span else None,
        warmest=span[1] if span else None,
    )


def _coil_spread(coil: CoilResult | None) -> tuple[float, float]:
    if coil is None or coil.r_coil_low <= 0 or coil.r_coil_high <= 0:
        return 1.0, 1.0
    return coil.r_coil / min(coil.r_coil_low, coil.r_coil), coil.r_coil / max(
        coil.r_coil_high, coil.r_coil
    )


def _enter(ledger: Ledger, cell: Cell, use: Use, result: CellsResult) -> None:
    life, store = result.life, result.life.typ.store
    if cell.q_cell_low is None or cell.q_cell_high is None:
        ledger.assume(
            "cells.spread", SPREAD_HIGH, "1",
            "single cells from half to 1.2 times their sheet, after public tests of alkaline cells",
        )  # fmt: skip
    if store.loss is None:
        ledger.assume(
            "cells.self_discharge", 0.0, "1/s", "no figure known: the shelf life stands for it"
        )
    known = len(cell.v_open) > 1
    ledger.assume(
        "cells.v_open_band", cell.v_open_band or BAND, "V",
        f"{cell.name}, voltage at rest against depth of discharge is "
        + ("an approximate model, no published table; this is its band" if known
           else "not known: a straight line from fresh to cut-off, this wide"),
    )  # fmt: skip
    charges = [course.charge_given for course in (life.low, life.typ, life.high)]
    ledger.value(
        "cells.charge", charges[1], "C",
        words=f"charge of the set down to {show(use.v_cutoff, 'V')} a cell",
        basis=Basis.CATALOGUE,
        rule=f"{cell.name}: q_cell x parallel, {percent(charges[1] / store.charge)} of it at "
        "this load", low=charges[0], high=charges[2],
    )  # fmt: skip
    ledger.value(
        "cells.battery_life", result.battery_life, "s", words="how long the cells last",
        basis=Basis.COMPUTED,
        rule=f"charge emptied by a demand that hangs on the voltage; {told(result.limits)}",
        low=result.battery_life_low, high=result.battery_life_high,
    )  # fmt: skip
    ledger.value(
        "cells.ended_by", result.ended_by, None, words="what ends their life",
        basis=Basis.COMPUTED, rule="the first of " + ", ".join(e.words for e in life.typ.ends),
    )  # fmt: skip
    for end in life.typ.ends:
        if end.time is None:
            continue
        low, _, high = life.times(end.name)
        ledger.value(
            f"cells.end_{end.name}", end.time, "s", words=f"until: {end.words}",
            basis=Basis.COMPUTED, rule="along the discharge", low=low, high=high,
        )  # fmt: skip
    if result.v_change is not None:
        ledger.value(
            "cells.v_change", result.v_change, "V", words="change the set when it rests at",
            basis=Basis.COMPUTED, rule="voltage at rest with a tenth of the life left",
            low=result.v_change - store.band, high=result.v_change + store.band,
        )  # fmt: skip


def _running(stages: Stages, result: CellsResult) -> tuple[str, str, str]:
    """Return how it runs on the bench, and the mean currents of fresh and of spent cells there."""
    running = stages.running
    if result.limits.steered or running is None:
        v_fresh = float(result.life.typ.store.v_rest[0])
        v_spent = (stages.rails.cutoff_per_cell or 0.0) * stages.rails.n_series
        i_fresh, i_spent = (
            next((s.i_mean for s in result.states if abs(s.v - v) < 1e-9), none)
            for v, none in (
                (v_fresh, stages.energy.i_mean), (v_spent, stages.energy.i_mean_spent),
            )
        )  # fmt: skip
        return "running, steered to its arc", show(i_fresh, "A"), show(i_spent, "A")
    return (
        "running, settled at its arc",
        f"{show(running.i_mean, 'A')} {running.at_fresh}",
        f"{show(running.i_mean_spent, 'A')} {running.at_spent}",
    )


def _test_point(ledger: Ledger, stages: Stages, result: CellsResult) -> None:
    condition, fresh, spent = _running(stages, result)
    # A shunt drops its voltage at the pulse, many times its drop at the mean: it must be small.
    ledger.test_point(
        "supply lead",
        condition,
        f"a voltmeter over a shunt of at most {SHUNT:g} ohm, averaged over a minute",
        f"a mean of {fresh} from fresh cells, {spent} from spent ones",
        "a higher mean means a drain that is not in the file: pull one part after the other",
    )
    if result.v_change is not None:
        store = result.life.typ.store
        ledger.test_point(
            "cells' terminals",
            "switch off for some minutes, then at rest",
            "voltmeter",
            f"{show(float(store.v_rest[0]), 'V')} fresh; change the set at "
            f"{show(result.v_change, 'V')} (known to {show(store.band, 'V')})",
            "one cell much lower than its neighbours: change all, never one alone",
        )
