"""A maker's own step function against movement, weather and dying cells for a year."""

import secrets
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from circuits.design_text import file_name
from circuits.format_quantity import DAY, show, significant
from circuits.ledger import Finding, Severity
from circuits.steering.child import Trial
from circuits.steering.firmware_course import FirmwareCourse, Rows, harness_input
from circuits.steering.firmware_judge import Break, breaks_of
from circuits.steering.firmware_wraps import wrapped

EXPLAINED = ("error", "latched", "width", "arc")
"""Breaks whose cause may be a counter that goes round."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FirmwareTrial:
    """A year of a step function: a row a day, and what broke, the first first.

    `listed` tells whether the kernel held it to its list of system calls.
    """

    file: str
    rows: Rows
    breaks: tuple[Break, ...]
    listed: bool

    @property
    def first(self) -> Break | None:
        """What broke first."""
        return self.breaks[0] if self.breaks else None


def try_firmware(course: FirmwareCourse, path: str | Path, header: str) -> FirmwareTrial:
    """Run a step function for a simulated year and say what breaks first.

    Parameters
    ----------
    course : FirmwareCourse
        What it meets.
    path : str or Path
        Its C file, with `void steering_start(uint32_t now)` and
        `int32_t steering_step(uint32_t now)`.
    header : str
        The header of constants that it gets where none lies beside it.

    Returns
    -------
    trial : FirmwareTrial

    Raises
    ------
    CompilerMissing
        Where no compiler is found, or no program can be started.
    DesignFileError
        Where the file cannot be read or does not compile.
    """
    mark = 1.0 + secrets.randbelow(1 << 50)
    with Trial(path, header) as trial:
        run = trial.run(harness_input(course, mark), mark)
        rows, breaks = Rows.of(run), breaks_of(course, run)
        if run.end == "done" and breaks and breaks[0].kind in EXPLAINED:
            cause = wrapped(course, trial, rows, breaks[0], mark)
            if cause is not None:
                breaks = (cause, *breaks)
    return FirmwareTrial(file=file_name(path), rows=rows, breaks=breaks, listed=run.listed)


def findings_of(trial: FirmwareTrial, course: FirmwareCourse) -> tuple[Finding, ...]:
    """Return what a trial shows, as findings of the sheet."""
    found = [
        Finding(
            id=f"firmware.{each.kind}", severity=Severity.FAILS, remedy=each.remedy,
            text=f"{'First, on' if not number else 'On'} day {int(each.day) + 1}: {each.text}.",
            value=each.day * DAY, unit="s",
        )
        for number, each in enumerate(trial.breaks)
    ]  # fmt: skip
    if not trial.breaks:
        rows = trial.rows
        worst = float(np.abs(rows.column("error")).max())
        found.append(
            Finding(
                id="firmware.year", severity=Severity.GOOD, value=worst, unit="s",
                text=f"It steers the movement for {significant(course.days)} days: never more than "
                f"{show(worst, 's')} from the crystal, with pulses of "
                f"{rows.column('width_low').min():.0f} to {rows.column('width_high').max():.0f} "
                "ticks.",
            )
        )  # fmt: skip
    if not trial.listed:
        found.append(
            Finding(
                id="firmware.confined", severity=Severity.MIND,
                text="This system's kernel offers no list of permitted calls: the step function "
                "ran with limits on time, memory and files only.",
                remedy="Run only code that you have read, or try it on Linux.",
            )
        )  # fmt: skip
    return tuple(found)
