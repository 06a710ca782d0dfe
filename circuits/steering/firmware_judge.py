"""In which ways a step function broke in its year, and on which day first."""

from dataclasses import dataclass

import numpy as np

from circuits.format_quantity import DAY, show, significant
from circuits.steering.child import ChildRun
from circuits.steering.firmware_course import ROWS_A_DAY, Array, FirmwareCourse, Rows

STUCK_DAYS = 2
"""So long at a limit, with the error growing, is latched and not a cold night."""
STEADY_DAYS = 3
GROWS = 0.1
"""Share of the allowed error by which a day must add to it to count as growing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """One way in which it broke, and the day, counted from 0, on which it first did."""

    kind: str
    day: float
    text: str
    remedy: str


ENDS = {
    "forbidden": (
        "it asks the system for what a step function never needs (a file, another process, the "
        "network, an abort) and is stopped there",
        "Leave nothing in it but arithmetic.",
    ),
    "time": ("it does not come back", "Look for a loop that does not end in this state."),
    "output": ("it writes without end to standard output", "Let it print nothing."),
    "garbage": ("it prints to standard output, where the results go", "Let it print nothing."),
    "runaway": (
        "the rate leaves every bound", "Look at the sign and at the limits of the width.",
    ),
}  # fmt: skip
SIGNALS = {
    4: "an instruction that does not exist", 7: "a wrong address", 8: "a division by zero",
    11: "an access outside its memory",
}  # fmt: skip


def breaks_of(course: FirmwareCourse, run: ChildRun) -> tuple[Break, ...]:
    """Return every way in which it broke, the earliest first."""
    rows = Rows.of(run)
    found = [_ending(course, run, rows)]
    if len(rows):
        found += [
            _width(course, rows), _arc(course, rows), _error(course, rows), _latched(course, rows),
        ]  # fmt: skip
    return tuple(sorted((f for f in found if f is not None), key=lambda f: f.day))


def _ending(course: FirmwareCourse, run: ChildRun, rows: Rows) -> Break | None:
    time = float(rows.column("time")[-1]) if len(rows) else 0.0
    if run.end == "done":
        lost = len(rows) and rows.column("arc_low")[-1] < course.arc_least
        if lost or time > (course.corrections - 1.5) * course.interval * 0.5:
            return None
        return Break(
            kind="exit", day=time / DAY, text="it ends the whole program",
            remedy="Leave the loop and the end to the caller.",
        )  # fmt: skip
    if run.end in ENDS:
        text, remedy = ENDS[run.end]
        return Break(kind=run.end, day=time / DAY, text=text, remedy=remedy)
    what = SIGNALS.get(run.signal, f"signal {run.signal}" if run.signal else "a way out of its own")
    return Break(
        kind="crash", day=time / DAY, text=f"it stops by {what}",
        remedy="Look for what the counts have reached by then.",
    )  # fmt: skip


def _width(course: FirmwareCourse, rows: Rows) -> Break | None:
    low, high = rows.column("width_low"), rows.column("width_high")
    outside = np.flatnonzero((low < course.width_min) | (high > course.width_max))
    if not outside.size:
        return None
    k = int(outside[0])
    worst = float(low[k] if low[k] < course.width_min else high[k])
    return Break(
        kind="width", day=rows.begins(k),
        text=f"it asks for a pulse of {worst:.0f} ticks ({show(worst * course.tick, 's')}); "
        f"{course.width_min} to {course.width_max} are allowed",
        remedy="Clamp the width to STEERING_WIDTH_MIN and STEERING_WIDTH_MAX at the very end.",
    )  # fmt: skip


def _arc(course: FirmwareCourse, rows: Rows) -> Break | None:
    if rows.column("arc_low")[-1] >= course.arc_least:
        return None
    return Break(
        kind="arc", day=float(rows.column("time")[-1]) / DAY,
        text=f"the arc falls below {show(course.arc_least, 'rad')} and the movement stops",
        remedy="Raise width_min, or turn the sign of the loop if it is wrong.",
    )  # fmt: skip


def _error(course: FirmwareCourse, rows: Rows) -> Break | None:
    time, error = rows.column("time"), rows.column("error")
    judged = time > course.settled_after
    if not judged.any():
        return None
    first = int(np.argmax(judged))
    # What the start has cost is not the year's: the error counts from where it is judged.
    base = float(error[first])
    worst = np.maximum(np.abs(rows.column("error_low")), np.abs(rows.column("error_high")))
    beyond = np.flatnonzero(
        judged & (worst > course.allowed) & (np.abs(error - base) > course.allowed)
    )
    if not beyond.size:
        return None
    k = int(beyond[0])
    now = float(error[k])
    days = max(float(time[k] - time[first]) / DAY, 1 / ROWS_A_DAY)
    drift = (now - base) / days
    text = (
        f"the movement is {show(abs(now), 's')} {'late' if now > 0 else 'early'}, more than the "
        f"{show(course.allowed, 's')} allowed in a day; since it should have settled it "
        f"{'loses' if drift > 0 else 'gains'} {show(abs(drift), 's/day')}"
    )
    stood = (rows.column("at_min") + rows.column("at_max"))[first : k + 1].sum()
    limited = stood > 0.5 * rows.column("steps")[first : k + 1].sum()
    if not limited and _steady(error[first : k + 1]):
        ticks = abs(drift) / DAY * course.interval / course.tick
        return Break(
            kind="rounded", day=rows.begins(k),
            text=f"{text}, day for day alike, as from an interval that is {significant(ticks)} "
            f"ticks {'long' if drift > 0 else 'short'}: a rounded constant",
            remedy="Keep the interval with its fraction, as STEERING_NOMINAL does.",
        )  # fmt: skip
    return Break(
        kind="error", day=rows.begins(k), text=text,
        remedy="The width stands at a limit: look at the authority, the loop's sign, and the nut."
        if limited else "Look at the loop's sign, and at limits that are missing.",
    )  # fmt: skip


def _steady(error: Array) -> bool:
    """Whether an error grows by the same from day to day."""
    added = np.diff(error[::ROWS_A_DAY])
    return len(added) >= STEADY_DAYS and float(np.ptp(added)) < 0.5 * abs(float(added.mean()))


def _latched(course: FirmwareCourse, rows: Rows) -> Break | None:
    error = rows.column("error")
    judged = rows.column("time") > course.settled_after
    for name, which, words in (
        ("at_max", course.width_max, "widest"), ("at_min", course.width_min, "narrowest"),
    ):  # fmt: skip
        stuck = (rows.column(name) >= rows.column("steps")) & judged
        run = 0
        for k, is_stuck in enumerate(stuck):
            run = run + 1 if is_stuck else 0
            if run < STUCK_DAYS * ROWS_A_DAY:
                continue
            added = float(abs(error[k]) - abs(error[k - ROWS_A_DAY]))
            if added > GROWS * course.allowed:
                return Break(
                    kind="latched", day=rows.begins(k - run + 1),
                    text=f"it stays at its {words} pulse ({which} ticks) while the error grows by "
                    f"{show(added, 's')} a day",
                    remedy="Look at the loop's sign, at a width beyond the turning point, and at "
                    "the authority.",
                )  # fmt: skip
    return None
