"""Rails: what the coil and the logic are fed with, from fresh and from spent cells."""

from dataclasses import dataclass, replace

from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.errors import DesignFileError
from circuits.format_quantity import percent, show
from circuits.ledger import Basis, Change, Ledger, Severity

PLANNED_CUTOFF = 0.9
"""V; a nearly empty cell of 1.5 V gives little beyond it (common practice, no source)."""
SPENT_RESISTANCE = 4.0
"""A spent cell's resistance over a fresh one's (3 to 10 times, from memory)."""
LEAST_LOGIC = 1.8
"""V; small controllers are rarely specified below it (from memory)."""
MOST_LOGIC = 5.5
"""V; small controllers are rarely specified above it (from memory)."""
DROPOUT = 0.3
QUIESCENT = 5e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Rail:
    """One state of the supply."""

    state: str
    v_coil: float
    v_logic: float
    r_source: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rails:
    """The supply when fresh, when spent, and at its highest."""

    fresh: Rail
    spent: Rail
    v_max: float
    n_series: int
    cutoff_per_cell: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Source:
    """The cells or the stated voltage before any regulator."""

    v_fresh: float
    v_spent: float
    v_max: float
    r_fresh: float
    r_spent: float
    n_series: int
    cutoff: float | None
    rule: str
    stated: bool


def size(design: Design, catalogue: Catalogue, ledger: Ledger) -> Rails:
    """Return what feeds coil and logic, and enter it into the sheet."""
    supply = design.supply
    source = _cells(design, catalogue, ledger) if supply.cell else _voltage(design, ledger)
    source = _not_below_brown_out(design, catalogue, ledger, source)
    output = supply.regulator_output
    regulated = supply.coil_rail == "regulated"
    if regulated and output is None:
        raise DesignFileError(
            file=design.file, section="supply", key="coil_rail", found='"regulated"',
            wanted='state regulator_output, such as "3.3 V", or write coil_rail = "cells"',
        )  # fmt: skip
    dropout = 0.0
    if output is not None:
        dropout = _dropout(design, ledger)
        lowest = output + dropout
        ledger.at_least(
            "supply.regulator", source.v_spent, lowest, "V",
            f"Spent cells give {show(source.v_spent, 'V')}; the regulator needs "
            f"{show(lowest, 'V')} for its {show(output, 'V')}.",
            soft=True,
            remedy="More cells in series, or a regulator with less output or less drop-out; below "
            "that its output follows the cells down.",
        )  # fmt: skip

    def rail(state: str, v_in: float, r_source: float) -> Rail:
        regulated_to = v_in if output is None else max(min(output, v_in - dropout), 0.05)
        return Rail(
            state=state,
            v_coil=regulated_to if regulated else v_in,
            v_logic=regulated_to,
            r_source=0.0 if regulated else r_source,
        )

    fresh = rail("fresh", source.v_fresh, source.r_fresh)
    spent = rail("spent", source.v_spent, source.r_spent)
    basis = Basis.STATED if source.stated else Basis.CATALOGUE
    for one in (fresh, spent):
        ledger.value(
            f"supply.v_coil_{one.state}", one.v_coil, "V",
            words=f"coil's rail, {one.state}", basis=basis, rule=source.rule, state=one.state,
        )  # fmt: skip
        ledger.value(
            f"supply.v_logic_{one.state}", one.v_logic, "V",
            words=f"controller's rail, {one.state}", basis=basis, rule=source.rule, state=one.state,
        )  # fmt: skip
    ledger.value(
        "supply.r_source", source.r_fresh, "ohm", words="resistance of the supply, fresh",
        basis=basis, rule=source.rule, state="fresh",
    )  # fmt: skip
    return Rails(
        fresh=fresh, spent=spent, v_max=source.v_max, n_series=source.n_series,
        cutoff_per_cell=source.cutoff,
    )  # fmt: skip


def _cells(design: Design, catalogue: Catalogue, ledger: Ledger) -> _Source:
    supply = design.supply
    cell = catalogue.cell(supply.cell or "")
    series, parallel = supply.series or 1, supply.parallel or 1
    cutoff = supply.cutoff_per_cell
    if cutoff is None:
        cutoff = max(cell.cutoff_typ, PLANNED_CUTOFF) if cell.v_nominal < 2 else cell.cutoff_typ
        ledger.assume(
            "supply.cutoff_per_cell", cutoff, "V",
            f"catalogue's {show(cell.cutoff_typ, 'V')} for {cell.name}, not below "
            f"{show(PLANNED_CUTOFF, 'V')} (common practice, no source)",
        )  # fmt: skip
    if not cutoff < cell.v_fresh:
        raise DesignFileError(
            file=design.file, section="supply", key="cutoff_per_cell", found=show(cutoff, "V"),
            wanted=f"state less than the fresh cell's {show(cell.v_fresh, 'V')}",
        )  # fmt: skip
    one = cell.r_internal
    if one is None:
        one = 0.3
        ledger.assume("supply.r_internal", one, "ohm", f"{cell.name}: none known; usual, no source")
    spent_one = cell.r_internal_spent
    if spent_one is None:
        spent_one = SPENT_RESISTANCE * one
        ledger.assume(
            "supply.r_internal_spent", spent_one, "ohm",
            "four times the fresh cell's (3 to 10 times, from memory)",
        )  # fmt: skip
    extra = supply.resistance or 0.0
    ledger.part("B1", "cell", cell.name, f"{show(cell.v_nominal, 'V')} each", series * parallel)
    v_max = (cell.v_fresh_max or 1.05 * cell.v_fresh) * series
    return _Source(
        v_fresh=cell.v_fresh * series, v_spent=cutoff * series, v_max=v_max,
        r_fresh=one * series / parallel + extra, r_spent=spent_one * series / parallel + extra,
        n_series=series, cutoff=cutoff, stated=False,
        rule=f"{series} x {cell.name}" + (f", {parallel} in parallel" if parallel > 1 else ""),
    )  # fmt: skip


def _voltage(design: Design, ledger: Ledger) -> _Source:
    supply = design.supply
    if supply.voltage is None:
        raise DesignFileError(
            file=design.file, section="supply", key="cell", found="neither cell nor voltage",
            wanted='state the cells, such as cell = "LR20" and series = 2, or voltage = "5 V"',
        )  # fmt: skip
    spread = design.tolerance.supply or 0.0
    if supply.resistance is None:
        ledger.assume("supply.resistance", 0.0, "ohm", "a stiff supply; state resistance if not")
    return _Source(
        v_fresh=supply.voltage, v_spent=supply.voltage * (1 - spread),
        v_max=supply.voltage * (1 + spread), r_fresh=supply.resistance or 0.0,
        r_spent=supply.resistance or 0.0, n_series=1, cutoff=None, stated=True,
        rule="stated voltage" + (f", lowest {percent(spread)} below" if spread else ""),
    )  # fmt: skip


def _dropout(design: Design, ledger: Ledger) -> float:
    if design.supply.regulator_dropout is not None:
        return design.supply.regulator_dropout
    ledger.assume("supply.regulator_dropout", DROPOUT, "V", "usual low-drop regulator; no source")
    return DROPOUT


def _brown_out(design: Design, catalogue: Catalogue, ledger: Ledger) -> float | None:
    """Return where the controller stops; none where the stated pin level shows another supply."""
    keys = design.controller
    if keys.brown_out is not None:
        return keys.brown_out
    if isinstance(keys.pin_high, float):
        return None
    listed = catalogue.pin(keys.chip).v_min if keys.chip else None
    least = LEAST_LOGIC if listed is None else listed
    ledger.assume(
        "controller.brown_out", least, "V",
        f"least supply of {keys.chip}" if listed is not None
        else "least supply of most small controllers, from memory; state it from the data sheet",
    )  # fmt: skip
    return least


def _too_much(design: Design, ledger: Ledger, source: _Source) -> None:
    """Warn of a rail that small controllers do not bear; which one it is the file need not say."""
    if design.supply.regulator_output is not None or isinstance(design.controller.pin_high, float):
        return
    if source.v_fresh > MOST_LOGIC:
        ledger.say(
            "supply.controller_voltage", Severity.MIND,
            f"The supply gives the controller up to {show(source.v_fresh, 'V')}; most small "
            f"controllers bear {show(MOST_LOGIC, 'V')} at most, many of 32 bits 3.6 V (from "
            "memory).",
            remedy="Look it up in its data sheet; else less voltage, or a regulator: "
            "regulator_output in [supply].",
        )  # fmt: skip


def _not_below_brown_out(
    design: Design, catalogue: Catalogue, ledger: Ledger, source: _Source
) -> _Source:
    """Return the source with its spent state no lower than where the controller stops."""
    brown_out = _brown_out(design, catalogue, ledger)
    if brown_out is None:
        return source
    _too_much(design, ledger, source)
    dropout = 0.0 if design.supply.regulator_output is None else _dropout(design, ledger)
    least = brown_out + dropout
    if source.v_fresh <= least:
        more = int(source.n_series * least / source.v_fresh) + 1
        ledger.say(
            "supply.brown_out_at_rest", Severity.FAILS,
            f"Fresh, the supply gives {show(source.v_fresh, 'V')}; the controller stops at "
            f"{show(least, 'V')}.",
            remedy="More cells in series, or a controller that runs on less.",
            changes=() if source.stated else ((
                Change(section="supply", key="series", text=str(more)),
            ),),
        )  # fmt: skip
        return source
    if source.v_spent >= least:
        return source
    ledger.say(
        "supply.brown_out_ends", Severity.MIND,
        f"The controller stops at {show(least, 'V')}, before the supply is spent at "
        f"{show(source.v_spent, 'V')}: taken as the end.",
        remedy="Set the brown-out lower if the controller allows it, or use more cells in series.",
    )  # fmt: skip
    return replace(
        source, v_spent=least, cutoff=None if source.cutoff is None else least / source.n_series
    )
