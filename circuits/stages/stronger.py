"""Stronger: changes of a design that give its movement more push for the arc it swings."""

import numpy as np

from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.ledger import Change
from circuits.stages.movement import MovementResult

NEAR = 0.6
"""Share of the wanted energy from which one change alone may do."""
LEAST_GAP = 1e-3
"""m; nobody lets a magnet swing nearer to a winding."""
THICKER = 1.2
BIGGER = 1.4

Changes = tuple[Change, ...]


def stronger(
    design: Design, catalogue: Catalogue, movement: MovementResult, share: float
) -> list[Changes]:
    """Return candidates, the mildest that may do first; now the push gives `share` of the loss.

    A push too weak by little is cured by one change; one too weak by far needs several at once.
    """
    gap, gap_far = _gap(design, 0.75), _gap(design, 0.5)
    one, two = _cells(design, 1), _cells(design, 2)
    grade, size, wire = _grade(design, catalogue), _size(design), _wire(design, catalogue)
    less = _less_arc(design, movement, share)
    if share >= NEAR:
        found = [gap, one, grade, wire, (*gap, *two), less]
    else:
        found = [
            (*gap, *two), (*gap_far, *two, *grade), (*gap_far, *size, *grade),
            (*gap_far, *two, *size, *grade), (*gap_far, *two, *size, *grade, *wire), less,
        ]  # fmt: skip
    return list(dict.fromkeys(changes for changes in found if changes))


def _gap(design: Design, share: float) -> Changes:
    gap = design.magnet.gap
    if gap is None or share * gap < LEAST_GAP:
        return ()
    return (Change(section="magnet", key="gap", text=f"{1e3 * share * gap:.3g} mm"),)


def _cells(design: Design, more: int) -> Changes:
    if not design.supply.cell:
        return ()
    cells = (design.supply.series or 1) + more
    return (Change(section="supply", key="series", text=str(cells)),)


def _grade(design: Design, catalogue: Catalogue) -> Changes:
    """Return the strongest grade of the same material."""
    named = design.magnet.grade
    if named is None or design.magnet.remanence is not None:
        return ()
    own = catalogue.magnet(named)
    alike = [grade for grade in catalogue.magnets() if grade.material == own.material]
    best = max(alike, key=lambda grade: grade.b_r_min, default=own)
    if best.b_r_min <= 1.02 * own.b_r_min:
        return ()
    return (Change(section="magnet", key="grade", text=best.name),)


def _size(design: Design) -> Changes:
    """Return a magnet of the same proportions, larger."""
    magnet = design.magnet
    names = ("diameter", "inner_diameter", "length", "width", "height")
    return tuple(
        Change(section="magnet", key=name, text=f"{1e3 * BIGGER * value:.3g} mm")
        for name in names
        if (value := getattr(magnet, name)) is not None
    )


def _wire(design: Design, catalogue: Catalogue) -> Changes:
    """Return a thicker wire in the same window: fewer turns, but more current than they lack."""
    coil = design.coil
    if coil is None or coil.wire is None:
        return ()
    if any(value is not None for value in (coil.turns, coil.wire_length, coil.resistance)):
        return ()
    least = THICKER * coil.wire
    sizes = sorted(size.d_wire for size in catalogue.wires() if size.d_wire >= least)
    if not sizes:
        return ()
    return (Change(section="coil", key="wire", text=f"{1e3 * sizes[0]:.3g} mm"),)


def _less_arc(design: Design, movement: MovementResult, share: float) -> Changes:
    # Both push and loss fall with the arc, the loss with its square: half the shortfall more.
    arc = float(np.degrees(movement.arc)) * 0.9 * float(np.clip(share, 0.2, 0.9))
    if design.movement.arc is not None:
        return (Change(section="movement", key="arc", text=f"{arc:.3g} deg"),)
    travel = 2e3 * movement.radius * np.radians(arc)
    return (Change(section="movement", key="travel", text=f"{travel:.3g} mm"),)
