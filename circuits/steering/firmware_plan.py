"""What a step function meets, from a planned loop."""

import tempfile
import textwrap
from collections.abc import Callable
from pathlib import Path

import numpy as np

from calc.regulator import RegulatorConstants
from circuits import VERSION
from circuits.errors import DesignFileError
from circuits.face_json import finding_entry, json_text
from circuits.format_quantity import DAY
from circuits.ledger import Finding, Ledger, Severity
from circuits.stages.steering_loop import SteeringResult
from circuits.stages.timing import ALLOWED
from circuits.steering.constants import firmware_constants
from circuits.steering.constants_source import source_text
from circuits.steering.course import YEAR, Course, course_of
from circuits.steering.firmware import FirmwareTrial, findings_of, try_firmware
from circuits.steering.firmware_course import ROWS_A_DAY, FirmwareCourse
from circuits.steering.plan import SteeringPlan
from circuits.steering.simulation import edges_at, settled_at, shares_over

POINTS = 120
OF_THE_LOOP = ("error", "latched", "arc")
"""Breaks that the loop itself may be too weak for, whatever the code."""
SETTLED = 14.0
"""Time constants of the loop after which it must have settled."""


def course_for(
    loop: SteeringResult, constants: RegulatorConstants, course: Course, *, arc_least: float,
    allowed_error: float | None,
) -> FirmwareCourse:  # fmt: skip
    """Return what a step function meets in a planned loop's year.

    Parameters
    ----------
    loop : SteeringResult
        The loop and its plant.
    constants : RegulatorConstants
        The planned constants: limits of the width and interval.
    course : Course
        Weather, crystal and cells.
    arc_least : float
        Arc below which the movement stops or is no longer seen [rad].
    allowed_error : float, optional
        Time error allowed in a day [s].
    """
    fresh, spent = loop.curves.fresh, loop.curves.spent
    low = min(fresh.widths[0], spent.widths[0], constants.width_min * loop.tick)
    high = max(fresh.widths[-1], spent.widths[-1], loop.width_max)
    shares = shares_over(course.fresh)
    edges = [edges_at(loop, float(share)) for share in shares]
    widths = np.unique(np.concatenate([np.geomspace(0.5 * low, high, POINTS), *edges]))
    tables = [settled_at(loop, widths, float(share)) for share in shares]
    return FirmwareCourse(
        tick=loop.tick, beat=loop.beat, beats_per_correction=loop.beats_per_correction,
        time_constant=(loop.fresh.time_constant + loop.spent.time_constant) / 2,
        slope_prompt=(loop.fresh.slope_prompt + loop.spent.slope_prompt) / 2,
        jitter=loop.jitter / np.sqrt(2), width_start=loop.fresh.width,
        width_min=constants.width_min, width_max=constants.width_max,
        arc_least=max(arc_least, 1e-3 * loop.fresh.arc),
        allowed=ALLOWED if allowed_error is None else allowed_error,
        settled_after=max(SETTLED * loop.time_constant, DAY), widths=widths,
        shares=shares, rates=np.array([rate for rate, _ in tables]),
        arcs=np.array([arc for _, arc in tables]), course_step=course.step, weather=course.weather,
        crystal=course.crystal, fresh=course.fresh, days=course.days,
    )  # fmt: skip


def try_plan(
    plan: SteeringPlan, path: str | Path, told: Callable[[], None] = lambda: None
) -> tuple[FirmwareTrial, tuple[Finding, ...]]:
    """Try a step function against a planned loop's year, in which the cells run down whole.

    Parameters
    ----------
    plan : SteeringPlan
        A plan with a loop.
    path : str or Path
        The step function's C file.
    told : callable, optional
        Called before each run of it.

    Returns
    -------
    trial : FirmwareTrial
        Row by row.
    findings : tuple of Finding
        What broke, the first first; or that nothing did.

    Raises
    ------
    CompilerMissing
        Where no compiler is found, or no program can be started.
    DesignFileError
        Where no loop can be planned, or the file does not compile.
    """
    loop, constants, design = plan.loop, plan.constants, plan.design
    if loop is None or constants is None:
        raise DesignFileError(
            file=design.file, section="rate", found="a movement that no loop can steer",
            wanted="run 'steer' without --firmware and cure what it says",
        )  # fmt: skip
    life = None if plan.life is None else min(plan.life, YEAR * DAY)
    course = course_for(
        loop, constants,
        course_of(design, Ledger(), days=YEAR, life=life, run_down=plan.run_down),
        arc_least=plan.arc_least, allowed_error=design.rate.allowed_error,
    )  # fmt: skip
    header = firmware_constants(design).header()
    trial = try_firmware(course, path, header, told)
    findings = findings_of(trial, course)
    if any(each.kind in OF_THE_LOOP for each in trial.breaks):
        findings += _written(course, header, told)
    return trial, findings


def _written(
    course: FirmwareCourse, header: str, told: Callable[[], None]
) -> tuple[Finding, ...]:  # fmt: skip
    """Say whether the step function that we write ourselves breaks in this year, too."""
    with tempfile.TemporaryDirectory(prefix="coilwright-") as home:
        path = Path(home) / "step.c"
        path.write_text(source_text(), encoding="utf-8")
        own = try_firmware(course, path, header, told)
    if own.first is None:
        return ()
    return (
        Finding(
            id="firmware.written", severity=Severity.MIND,
            text="The step function that 'constants --source' writes breaks in this year, too, on "
            f"day {int(own.first.day) + 1}: {own.first.text}.",
            remedy="Look at the loop before the code: 'steer' says what it lacks.",
        ),
    )  # fmt: skip


def trial_text(trial: FirmwareTrial, findings: tuple[Finding, ...], title: str) -> str:
    """Return what a trial shows, in words."""
    lines = [f"{title}: {trial.file} in its trial year", ""]
    first = trial.first
    if first is None:
        lines.append("Nothing broke.")
    else:
        lines.append(f"It breaks on day {int(first.day) + 1}.")
    for finding in findings:
        word = finding.severity.value
        label = f"  {word.upper() if finding.severity is Severity.FAILS else word}".ljust(9)
        lines += textwrap.wrap(
            f"{finding.text} ({finding.id})", 80, initial_indent=label,
            subsequent_indent=" " * 9, break_on_hyphens=False,
        )  # fmt: skip
        if finding.remedy:
            lines += textwrap.wrap(
                finding.remedy, 80, initial_indent=" " * 9, subsequent_indent=" " * 9,
                break_on_hyphens=False,
            )  # fmt: skip
    return "\n".join(lines) + "\n"


def trial_json(trial: FirmwareTrial, findings: tuple[Finding, ...], title: str) -> str:
    """Return a trial as JSON: findings as on the sheet, and a row a day."""
    rows = trial.rows
    days = [
        {name: float(rows.column(name)[k]) for name in ("time", "error", "width_last", "arc_low")}
        for k in range(ROWS_A_DAY - 1, len(rows), ROWS_A_DAY)
    ]
    values = {
        "firmware.breaks_on": {
            "value": trial.first.day * DAY, "unit": "s", "low": None, "high": None,
            "basis": "computed",
        }
    } if trial.first else {}  # fmt: skip
    content = {
        "title": title, "version": VERSION, "values": values,
        "findings": [finding_entry(finding) for finding in findings], "assumed": [],
        "days": days,
    }  # fmt: skip
    return json_text(content)
