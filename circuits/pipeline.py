"""Runs the stages of one design in their order and puts its sheet together."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial

import numpy as np

from calc.calculator import OutOfRangeError
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.design_write import with_changes
from circuits.errors import DesignFileError
from circuits.ledger import Finding, Ledger, Severity
from circuits.remedies import Changes, try_remedies
from circuits.sheet import Cure, Sheet, compose
from circuits.stages import (
    cells,
    clamp,
    coil,
    drive,
    emf,
    energy,
    linkage,
    movement,
    pickup,
    pulse,
    rails,
    rate,
    supply,
    timing,
)
from circuits.stages import filter as filter_stage

SECTION = {
    "rails": "supply",
    "pickup coil": "pickup_coil",
    "linkage": "magnet",
    "emf": "movement",
    "pulse": "drive",
    "timing": "filter",
    "energy": "supply",
    "cells": "supply",
}
"""The section to look at when a stage finds no answer, where it is not the stage's own name."""


@contextmanager
def _stage(name: str, design: Design) -> Iterator[None]:
    """Turn a calculator's refusal into one message about the design file.

    Floating-point overflow and division by zero are refusals too: they come from figures that
    are possible one by one and absurd together.
    """
    try:
        with np.errstate(over="raise", divide="raise", invalid="raise"):
            yield
    except (OutOfRangeError, ArithmeticError) as error:
        reason, _, repair = str(error).partition(";")
        raise DesignFileError(
            file=design.file,
            section=SECTION.get(name, name),
            found=f"figures for which the {name} stage has no answer ({reason.strip()})",
            wanted=repair.strip() or "check these figures and their units",
        ) from error


def run(design: Design, catalogue: Catalogue) -> Ledger:
    """Run every stage once.

    Parameters
    ----------
    design : Design
        The design file.
    catalogue : Catalogue
        The parts, the design's own among them.

    Returns
    -------
    ledger : Ledger
        What the stages entered, in their order.

    Raises
    ------
    DesignFileError
        Where a stage cannot use the figures it is given.
    """
    ledger = Ledger()
    _question_doubts(design, ledger)
    given = (design, catalogue, ledger)
    with _stage("rails", design):
        the_rails = rails.size(*given)
    with _stage("coil", design):
        the_coil = coil.size(*given)
    with _stage("pickup coil", design):
        the_pickup_coil = coil.size_pickup(*given)
    with _stage("linkage", design):
        the_linkage = linkage.size(*given, the_coil, the_pickup_coil)
    with _stage("movement", design):
        the_movement = movement.size(*given, the_linkage)
    with _stage("emf", design):
        the_emf = emf.size(*given, the_linkage, the_movement)
    with _stage("drive", design):
        the_drive = drive.size(*given, the_rails, the_coil)
    with _stage("clamp", design):
        the_clamp = clamp.size(*given, the_rails, the_coil, the_emf, the_drive)
    with _stage("pickup", design):
        the_pickup = pickup.size(
            *given, the_rails, the_coil, the_pickup_coil, the_linkage, the_emf, the_drive, the_clamp
        )
    with _stage("filter", design):
        the_filter = filter_stage.size(
            *given, the_rails, the_coil, the_movement, the_emf, the_drive, the_pickup
        )
    with _stage("pulse", design):
        the_pulse = pulse.size(
            *given, the_rails, the_coil, the_movement, the_emf, the_drive, the_clamp, the_filter
        )
    with _stage("timing", design):
        timing.size(*given, the_rails, the_movement, the_emf, the_pickup, the_filter, the_pulse)
    with _stage("energy", design):
        the_energy = energy.size(*given, the_rails, the_movement, the_drive, the_pickup, the_pulse)
    with _stage("supply", design):
        supply.size(*given, the_rails, the_coil, the_pulse, the_energy)
    with _stage("rate", design):
        rate.size(*given, the_movement)
    with _stage("cells", design):
        cells.size(*given, the_rails, the_energy)
    return ledger


def _question_doubts(design: Design, ledger: Ledger) -> None:
    for doubt in design.doubts:
        ledger.say(
            f"design.{doubt.section}_{doubt.key}",
            Severity.MIND,
            f"[{doubt.section}] {doubt.key} = {doubt.found} is unusual (usual: {doubt.usual}): "
            "is the unit right?",
        )


def _rerun(design: Design, catalogue: Catalogue, changes: Changes) -> dict[str, Finding] | None:
    try:
        return run(with_changes(design, changes), catalogue).findings
    except DesignFileError:
        return None


def compute(design: Design, *, remedies: bool = True) -> Sheet:
    """Size and check a whole design, and try out what cures what fails.

    Parameters
    ----------
    design : Design
        The design file.
    remedies : bool
        Whether to try the remedies out; they cost a run of the stages each.

    Returns
    -------
    sheet : Sheet

    Raises
    ------
    DesignFileError
        Where a stage cannot use the figures it is given.
    """
    catalogue = Catalogue(design.part, design.file)
    ledger = run(design, catalogue)
    findings: tuple[Finding, ...] = tuple(ledger.findings.values())
    cures: tuple[Cure, ...] = ()
    if remedies:
        findings, cures = try_remedies(findings, partial(_rerun, design, catalogue))
    return compose(design.design.title or design.file, ledger, findings, cures)


def compute_with(design: Design, changes: Changes) -> Sheet | None:
    """Compute the sheet of a changed design; None where the changes cannot be used."""
    try:
        return compute(with_changes(design, changes))
    except DesignFileError:
        return None
