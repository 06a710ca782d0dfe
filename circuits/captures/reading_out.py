"""One capture from file to findings: what it is, what it tells, and what stands beside it."""

import math
import warnings
from dataclasses import dataclass, replace

import numpy as np

from calc.calculator import OutOfRangeError
from circuits.captures.beside import Row, rows_of, say_differences
from circuits.captures.capture import Capture
from circuits.captures.drive_figures import read_drive
from circuits.captures.emf_figures import read_emf
from circuits.captures.kinds import Recognised, recognise
from circuits.captures.log_figures import read_log
from circuits.captures.measured import Against, Asked, Measured
from circuits.captures.ringdown_figures import read_ringdown
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.errors import DesignFileError
from circuits.ledger import Severity
from circuits.pipeline import run as run_stages
from circuits.sheet import Sheet, compose

READERS = {"ringdown": read_ringdown, "emf": read_emf, "drive": read_drive, "log": read_log}
WORDS = {
    "ringdown": "a free swing that dies away",
    "emf": "a magnet passing the coil",
    "drive": "a pulse that drives the coil",
    "log": "a log over time",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadOut:
    """What one capture has told, ready for every face."""

    measured: Measured
    sheet: Sheet
    rows: tuple[Row, ...]
    design: Design | None


def against_of(design: Design) -> Against:
    """Return a design with its stages' results."""
    return Against(
        design=design, done=run_stages(design, Catalogue(design.part, design.file))
    )  # fmt: skip


def _longest(capture: Capture) -> tuple[Capture, slice | None]:
    """Return the longest stretch of rows within which time runs on, and which it is."""
    time = capture.time
    if time is None or len(capture.segments) < 2:
        return capture, None
    known = time[np.isfinite(time)]
    if known.size < 2 or bool(np.all(np.diff(known) > 0)):
        return capture, None
    best = max(capture.segments, key=lambda part: part.stop - part.start)
    rows = best.stop - best.start
    return replace(
        capture,
        time=time[best],
        channels=tuple(replace(one, values=one.values[best]) for one in capture.channels),
        segments=(slice(0, rows),),
        decision=replace(capture.decision, rows=rows),
    ), best  # fmt: skip


def read_out(capture: Capture, asked: Asked, against: Against | None) -> ReadOut:
    """Return what a capture tells.

    Parameters
    ----------
    capture : Capture
        As it was read.
    asked : Asked
        What the maker says of it.
    against : Against or None
        The design that it is held against.

    Returns
    -------
    out : ReadOut

    Raises
    ------
    DesignFileError
        If it cannot be used as what it is.
    """
    capture, stretch = _longest(capture)
    if asked.kind is None:
        what = recognise(capture)
    else:
        what = Recognised(kind=asked.kind, why="told by --as")
    measured = Measured(capture=capture, kind=what.kind, why=what.why)
    measured.text("measured.kind", what.kind, "what was captured", what.why)
    for finding in capture.findings:
        measured.ledger.findings.setdefault(finding.id, finding)
    if stretch is not None:
        measured.mind(
            "capture.stretch",
            f"Time does not run on through the whole file; the longest stretch is used, row "
            f"{stretch.start + 1} to {stretch.stop} of the data.",
            "Cut the file where another stretch is wanted.",
        )
    if not what.sure:
        measured.ledger.say(
            "capture.kind", Severity.GOOD,
            f"Taken for {WORDS[what.kind]}: {what.why}. If it is another, say --as.",
        )  # fmt: skip
    rows: tuple[Row, ...] = ()
    try:
        # Figures without sense give results that are none: they are refused below, in words.
        with np.errstate(all="ignore"), warnings.catch_warnings():
            warnings.simplefilter("ignore", np.exceptions.RankWarning)
            READERS[what.kind](measured, asked, against)
        _check_finite(measured)
    except (OutOfRangeError, ArithmeticError, np.linalg.LinAlgError) as error:
        reason, _, repair = str(error).partition(";")
        raise DesignFileError(
            file=capture.file,
            found=f"figures that tell nothing as {WORDS[what.kind]} ({reason.strip()})",
            wanted=repair.strip() or "look at the columns and their units, or say --as what it is",
        ) from error
    if against is not None:
        rows = rows_of(measured, against)
        say_differences(measured, rows, against)
    sheet = compose(capture.file, measured.ledger, measured.ledger.findings.values())
    return ReadOut(
        measured=measured, sheet=sheet, rows=rows,
        design=None if against is None else against.design,
    )  # fmt: skip


def _check_finite(measured: Measured) -> None:
    for value in measured.ledger.values.values():
        for number in (value.value, value.low, value.high):
            if isinstance(number, float) and not math.isfinite(number):
                raise ArithmeticError(f"no finite {value.words}")
