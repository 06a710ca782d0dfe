"""A maker's own step function against movement, weather and dying cells for a year."""

import secrets
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from circuits.design_text import file_name
from circuits.format_quantity import DAY, show, significant
from circuits.ledger import Finding, Severity
from circuits.steering.child import Trial
from circuits.steering.firmware_course import ROW, ROWS_A_DAY, FirmwareCourse, Rows
from circuits.steering.firmware_judge import Break, breaks_of
from circuits.steering.firmware_wraps import cause_of, placed, run_course

EXPLAINED = ("error", "rounded", "latched", "width", "arc")
"""Breaks whose cause an experiment may tell."""
PUSH_DAYS, PUSHED_ON = 8.0, 5.0
PUSH = 2.0
"""Times what the pulse can correct, by which the rate is off for an hour."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FirmwareTrial:
    """A year of a step function: a row a day, and what broke, the first first.

    `listed` tells whether the kernel held it to its list of system calls, `plain_int` whether the
    file has integers without a stated width.
    """

    file: str
    rows: Rows
    breaks: tuple[Break, ...]
    listed: bool
    plain_int: bool = False

    @property
    def first(self) -> Break | None:
        """What broke first."""
        return self.breaks[0] if self.breaks else None


def try_firmware(
    course: FirmwareCourse, path: str | Path, header: str,
    told: Callable[[], None] = lambda: None,
) -> FirmwareTrial:  # fmt: skip
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
    told : callable, optional
        Called before each run of it.

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
    with Trial(path, header, told) as trial:
        run = run_course(course, trial, mark)
        rows, breaks = Rows.of(run), breaks_of(course, run)
        if run.end == "done" and not any(each.kind == "exit" for each in breaks):
            breaks = (*_causes(course, trial, rows, breaks, mark), *breaks)
        breaks = tuple(sorted(breaks, key=lambda each: each.day))
        plain = trial.plain_int
    return FirmwareTrial(
        file=file_name(path), rows=rows, breaks=breaks, listed=run.listed, plain_int=plain
    )  # fmt: skip


def _causes(
    course: FirmwareCourse, trial: Trial, rows: Rows, breaks: tuple[Break, ...], mark: float
) -> tuple[Break, ...]:
    """Return what further experiments find, and put a cause before what it causes."""
    found = [placed(course, trial, rows, mark)]
    if found[0] is None and breaks and breaks[0].kind in EXPLAINED:
        found.append(cause_of(course, trial, rows, breaks[0].day, mark))
    if not any(each.kind == "width" for each in breaks):
        found.append(_pushed(course, trial, mark))
    day = min((each.day for each in breaks), default=course.days)
    # What an experiment names as the cause of a break stands no later than the break.
    return tuple(replace(each, day=min(each.day, day)) for each in found if each is not None)


def _pushed(course: FirmwareCourse, trial: Trial, mark: float) -> Break | None:
    """Return what breaks when the rate is off for an hour by more than the pulse can correct."""
    reach = abs(course.slope()) * (course.width_max - course.width_min) * course.tick
    hours = np.arange(int(PUSH_DAYS * ROWS_A_DAY) + 2)
    on = (hours >= PUSHED_ON * ROWS_A_DAY) & (hours < PUSHED_ON * ROWS_A_DAY + 1)
    back = (hours >= PUSHED_ON * ROWS_A_DAY + 30) & (hours < PUSHED_ON * ROWS_A_DAY + 31)
    # As far as an interval is still believed.
    most = min(PUSH * reach, max(0.4 / course.beats_per_correction, 0.01))
    pushed = replace(
        course, days=PUSH_DAYS, course_step=ROW, weather=most * (on * 1.0 - back * 1.0),
        crystal=np.zeros(len(hours)), fresh=np.ones(len(hours)),
    )  # fmt: skip
    run = run_course(pushed, trial, mark)
    for each in breaks_of(pushed, run):
        if each.kind not in ("error", "rounded", "latched", "arc"):
            return replace(
                each, text=f"in a trial in which the rate is off by {show(most * DAY, 's/day')} "
                f"for an hour, {each.text}",
            )  # fmt: skip
    return None


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
    if trial.plain_int:
        found.append(
            Finding(
                id="firmware.plain_int", severity=Severity.MIND,
                text="It uses int, short or long. On a controller of 8 bits an int goes round at "
                "32768; in this trial it had 32 bits, so that is not tried here.",
                remedy="Write int32_t, uint32_t and their like for every count.",
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
