"""Runs the stages of one design in their order and puts its sheet together."""

from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.design_write import with_changes
from circuits.errors import DesignFileError
from circuits.ledger import Finding, Ledger, Severity
from circuits.remedies import Changes, try_remedies
from circuits.reruns import Reruns
from circuits.sheet import Cure, Sheet, compose
from circuits.stage_pass import StagePass
from circuits.stages import (
    cells,
    clamp,
    coil,
    drive,
    emf,
    energy,
    linkage,
    log_output,
    movement,
    passes,
    pickup,
    pulse,
    rails,
    rate,
    running,
    settled,
    steering,
    supply,
    timing,
)
from circuits.stages import filter as filter_stage
from circuits.supply_words import reword


def run(
    design: Design, catalogue: Catalogue, earlier: StagePass | None = None, until: str = ""
) -> StagePass:
    """Run every stage once, in the order in which they need each other.

    Parameters
    ----------
    design : Design
        The design file.
    catalogue : Catalogue
        The parts, the design's own among them.
    earlier : StagePass, optional
        A run of a similar design, whose first stages may stand.
    until : str
        Id of a finding; the run ends with the stage in which it fails.

    Returns
    -------
    done : StagePass
        With the ledger that the stages filled.

    Raises
    ------
    DesignFileError
        Where a stage cannot use the figures it is given.
    StillFailsError
        Where the finding fails to which the run was to be followed.
    """
    done = StagePass(design, earlier, until)
    step, parts = done.step, catalogue
    _question_doubts(design, done.ledger)
    the_rails = step("rails", lambda d, log: rails.size(d, parts, log))
    the_coil = step("coil", lambda d, log: coil.size(d, parts, log))
    the_pickup_coil = step("pickup_coil", lambda d, log: coil.size_pickup(d, parts, log))
    the_linkage = step(
        "linkage", lambda d, log: linkage.size(d, parts, log, the_coil, the_pickup_coil)
    )
    the_movement = step("movement", lambda d, log: movement.size(d, parts, log, the_linkage))
    the_emf = step("emf", lambda d, log: emf.size(d, parts, log, the_linkage, the_movement))
    the_drive = step("drive", lambda d, log: drive.size(d, parts, log, the_rails, the_coil))
    the_clamp = step(
        "clamp",
        lambda d, log: clamp.size(d, parts, log, the_rails, the_coil, the_emf, the_drive),
    )
    the_pickup = step(
        "pickup",
        lambda d, log: pickup.size(
            d, parts, log, the_rails, the_coil, the_pickup_coil, the_linkage, the_emf,
            the_drive, the_clamp,
        ),
    )  # fmt: skip
    the_filter = step(
        "filter",
        lambda d, log: filter_stage.size(
            d, parts, log, the_rails, the_coil, the_movement, the_emf, the_drive, the_pickup
        ),
    )

    the_pulse = step(
        "pulse",
        lambda d, log: pulse.size(
            d, parts, log, the_rails, the_coil, the_movement, the_emf, the_drive, the_clamp,
            the_filter, the_linkage,
        ),
    )  # fmt: skip
    the_timing = step(
        "timing",
        lambda d, log: timing.size(
            d, parts, log, the_rails, the_movement, the_emf, the_pickup, the_filter, the_pulse
        ),
    )
    the_passes = step(
        "passes",
        lambda d, log: passes.size(
            d, parts, log, the_rails, the_coil, the_movement, the_emf, the_drive, the_clamp,
            the_pickup, the_filter, the_pulse, the_timing,
        ),
    )  # fmt: skip
    the_energy = step(
        "energy",
        lambda d, log: energy.size(
            d, parts, log, the_rails, the_movement, the_drive, the_pickup, the_pulse, the_clamp
        ),
    )
    step(
        "supply",
        lambda d, log: supply.size(d, parts, log, the_rails, the_coil, the_pulse, the_energy),
    )
    the_rate = step("rate", lambda d, log: rate.size(d, parts, log, the_movement))
    the_settled = step(
        "settled",
        lambda d, log: settled.size(
            d, parts, log, the_rails, the_coil, the_linkage, the_movement, the_emf, the_drive,
            the_clamp, the_pickup, the_filter, the_pulse, the_passes,
        ),
    )  # fmt: skip
    the_running = step(
        "running",
        lambda d, log: running.size(d, parts, log, the_rails, the_drive, the_energy, the_settled),
    )
    step(
        "cells",
        lambda d, log: cells.size(
            d, parts, log, the_rails, the_energy, the_coil, the_movement, the_drive, the_passes,
            the_pulse, the_settled, the_running,
        ),
    )  # fmt: skip
    the_steering = step(
        "steering",
        lambda d, log: steering.size(
            d, parts, log, the_rails, the_coil, the_linkage, the_movement, the_emf, the_drive,
            the_clamp, the_filter, the_pulse, the_timing, the_passes, the_rate, the_settled,
        ),
    )  # fmt: skip
    step(
        "log_output",
        lambda d, log: log_output.size(d, parts, log, the_rails, the_pulse, the_steering),
    )
    if design.supply.cell is None:
        reword(done.ledger, one_voltage=not design.tolerance.supply)
    return done


def _question_doubts(design: Design, ledger: Ledger) -> None:
    for doubt in design.doubts:
        ledger.say(
            f"design.{doubt.section}_{doubt.key}",
            Severity.MIND,
            f"[{doubt.section}] {doubt.key} = {doubt.found} is unusual (usual: {doubt.usual}): "
            "is the unit right?",
        )


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
    return compute_whole(design, remedies=remedies)[0]


def compute_whole(design: Design, *, remedies: bool = True) -> tuple[Sheet, StagePass]:
    """Do what `compute` does, and return the stages' results beside the sheet."""
    catalogue = Catalogue(design.part, design.file)
    done = run(design, catalogue)
    findings: tuple[Finding, ...] = tuple(done.ledger.findings.values())
    cures: tuple[Cure, ...] = ()
    if remedies:
        tried = Reruns(done, lambda d, earlier, until: run(d, catalogue, earlier, until))
        findings, cures = try_remedies(findings, tried.findings, still_fails=tried.still_fails)
    return compose(design.design.title or design.file, done.ledger, findings, cures), done


def compute_with(design: Design, changes: Changes) -> Sheet | None:
    """Compute the sheet of a changed design; None where the changes cannot be used."""
    try:
        return compute(with_changes(design, changes))
    except DesignFileError:
        return None
