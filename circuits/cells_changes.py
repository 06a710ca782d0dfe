"""What would make the cells last longer: each change tried on the whole design."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from circuits.catalogue import Catalogue, Cell
from circuits.cells_course import LifeCourse, life_course
from circuits.design import Design
from circuits.design_write import with_changes
from circuits.errors import DesignFileError
from circuits.format_quantity import show
from circuits.ledger import Change, Ledger, Severity
from circuits.pipeline import run
from circuits.preferred_values import next_higher
from circuits.stages.cells import CellsResult

BEST = 3
WORTH = 1.05
"""Gain of life below which a change is not worth telling."""
SLEEP, IDLE_SLEEP = 2e-6, 5e-6
MOST = 16

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Longer:
    """One change of the design, its life and by how much that is longer."""

    words: str
    changes: tuple[Change, ...]
    life: float
    gain: float
    ended_by: str


def failing(ledger: Ledger) -> set[str]:
    """Return what fails apart from the life itself."""
    return {
        f.id for f in ledger.findings.values()
        if f.severity is Severity.FAILS and f.id != "cells.lasts"
    }  # fmt: skip


def _one(section: str, key: str, text: str) -> tuple[Change, ...]:
    return (Change(section=section, key=key, text=text),)


def _cells(design: Design, catalogue: Catalogue, cell: Cell) -> Iterator[tuple[str, Change]]:
    supply = design.supply
    parallel, series = supply.parallel or 1, supply.series or 1
    if parallel < MOST:
        yield (
            f"{parallel + 1} strings of cells side by side",
            Change(section="supply", key="parallel", text=str(parallel + 1)),
        )
    alike = [c for c in catalogue.cells() if c.v_nominal == cell.v_nominal]
    larger = [c for c in alike if c.chemistry == cell.chemistry and c.q_cell > 1.2 * cell.q_cell]
    other = [c for c in alike if c.size == cell.size and c.chemistry != cell.chemistry]
    for one in sorted(larger, key=lambda c: c.q_cell)[:2] + other:
        yield (
            f"{one.name} instead of {cell.name}",
            Change(section="supply", key="cell", text=one.name),
        )
    if series < MOST:
        yield (
            "one cell more in series",
            Change(section="supply", key="series", text=str(series + 1)),
        )
    if series > 1:
        yield (
            "one cell less in series",
            Change(section="supply", key="series", text=str(series - 1)),
        )


def _circuit(design: Design, ledger: Ledger) -> Iterator[tuple[str, tuple[Change, ...]]]:
    value = {name: entry.value for name, entry in ledger.values.items()}
    upper, lower = value.get("pickup.r_upper"), value.get("pickup.r_lower")
    if isinstance(upper, float) and isinstance(lower, float) and upper > 0 and lower < 1e9:
        bigger = tuple(
            Change(section="pickup", key=key, text=f"{next_higher(3 * r):.6g} ohm")
            for key, r in (("upper", upper), ("lower", lower))
        )
        yield "divider resistors three times as large", bigger
    controller = design.controller
    if (controller.sleep_current or 0.0) > IDLE_SLEEP:
        yield (
            f"a controller that sleeps at {show(SLEEP, 'A')}",
            _one("controller", "sleep_current", f"{SLEEP * 1e6:g} uA"),
        )
    if controller.active_time:
        yield (
            "a controller awake for half the time",
            _one("controller", "active_time", f"{0.5e3 * controller.active_time:.6g} ms"),
        )
    r_b, r_b_max = value.get("drive.r_b"), value.get("drive.r_b_max")
    if isinstance(r_b, float) and isinstance(r_b_max, float) and r_b_max > 1.1 * r_b:
        yield (
            f"a base resistor of {show(0.95 * r_b_max, 'ohm')}",
            _one("drive", "base_resistor", f"{0.95 * r_b_max:.4g} ohm"),
        )
    if design.indicator is not None and isinstance(value.get("indicator.r"), float):
        yield (
            "an indicator a tenth as bright",
            _one("indicator", "resistor", f"{10 * float(value['indicator.r']):.6g} ohm"),
        )
    if design.clamp.kind == "resistor":
        yield "a diode as clamp", _one("clamp", "kind", "diode")
    if design.magnet.gap:
        yield (
            f"a gap of {show(0.75 * design.magnet.gap, 'm')}",
            _one("magnet", "gap", f"{0.75e3 * design.magnet.gap:.4g} mm"),
        )
    reservoir = design.supply.reservoir
    yield (
        "a reservoir three times as large" if reservoir else "a reservoir of 470 uF",
        _one("supply", "reservoir", f"{next_higher(3e6 * (reservoir or 157e-6), 'E6'):.6g} uF"),
    )


def candidates(
    design: Design, catalogue: Catalogue, ledger: Ledger
) -> Iterator[tuple[str, tuple[Change, ...]]]:
    """Yield every change that is tried, in words and as keys of the design file."""
    cell = catalogue.cell(design.supply.cell or "")
    for words, change in _cells(design, catalogue, cell):
        yield words, (change,)
    yield from _circuit(design, ledger)


def longer(course: LifeCourse, design: Design, progress: Progress) -> tuple[Longer, ...]:
    """Return the changes that lengthen the life most, without letting anything else fail."""
    catalogue = Catalogue(design.part, design.file)
    base: CellsResult = course.done.result("cells")
    bad = failing(course.done.ledger)
    whole = course.times[1]
    found: list[Longer] = []
    for words, changes in candidates(design, catalogue, course.done.ledger):
        progress(words)
        try:
            other = run(with_changes(design, changes), catalogue, course.done)
        except DesignFileError:
            continue
        result: CellsResult | None = other.result("cells")
        if result is None or failing(other.ledger) - bad or base.battery_life <= 0:
            continue
        gain = result.battery_life / base.battery_life
        found.append(
            Longer(
                words=words, changes=changes, life=gain * whole, gain=gain,
                ended_by=result.ended_by,
            )
        )  # fmt: skip
    if not course.steered:
        steered = life_course(design, steered=True, done=course.done)
        if steered is not None and whole > 0:
            found.append(
                Longer(
                    words="a rate loop that keeps the arc by narrowing the pulse of fresh cells",
                    changes=(), life=steered.times[1], gain=steered.times[1] / whole,
                    ended_by=steered.ended_by,
                )
            )  # fmt: skip
    worth = [one for one in found if one.gain >= WORTH]
    return tuple(sorted(worth, key=lambda one: -one.gain)[:BEST])
