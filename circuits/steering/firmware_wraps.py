"""Why a step function broke: its answer to a late interval, and counters that go round."""

from dataclasses import replace
from math import ceil, log2

import numpy as np

from circuits.format_quantity import DAY, show
from circuits.steering.child import ChildRun, Trial
from circuits.steering.firmware_course import ROW, Array, FirmwareCourse, Rows, harness_input
from circuits.steering.firmware_judge import Break

SHORT = (24, 16, 8)
"""Bits of counters that hold less than the timer's 32."""
SUMS = (15, 16, 23, 24, 31, 32)
"""Bits at which a sum leaves its range, signed or not."""
TRIED, LATE_AT = 40, 4
"""Corrections of a short run, and the one that is made late: before a wrong sign has run away."""
ORIGIN = 3 << 30
JUMP = 0.4
"""Share of the width's range that is a jump within an hour."""
UNSIGNED = "Keep counts of ticks in uint32_t, and subtract them as such before all else."


def run_course(
    course: FirmwareCourse, trial: Trial, mark: float, *, row: float = ROW,
    corrections: int | None = None, origin: int = 0, extra_at: int = 0, extra_ticks: int = 0,
) -> ChildRun:  # fmt: skip
    """Run a step function along a course; the last arguments as for `harness_input`."""
    given = harness_input(
        course, mark, row=row, corrections=corrections, origin=origin, extra_at=extra_at,
        extra_ticks=extra_ticks,
    )  # fmt: skip
    return trial.run(given, mark, course.corrections if corrections is None else corrections)


def _widths(course: FirmwareCourse, trial: Trial, mark: float, extra_ticks: int) -> Array:
    """Return the width after each correction of a short run in which nothing else happens."""
    still = np.zeros(2)
    quiet = replace(course, jitter=0.0, weather=still, crystal=still, fresh=still + 1.0)
    run = run_course(
        quiet, trial, mark, row=course.interval / 2, corrections=TRIED,
        extra_at=LATE_AT if extra_ticks else 0, extra_ticks=extra_ticks,
    )  # fmt: skip
    return Rows.of(run).column("width_last")


def cause_of(
    course: FirmwareCourse, trial: Trial, rows: Rows, day: float, mark: float
) -> Break | None:  # fmt: skip
    """Return why it broke on that day, if an experiment tells.

    An interval that is late must move the width to the side that makes the movement gain, and one
    that is longer by exactly 2**16 ticks must not look the same. What shows neither may still be a
    sum since the start that leaves its range in the hour in which the width jumps.
    """
    plain = _widths(course, trial, mark, 0)
    late = max(int(0.2 * course.beat / course.tick), 1)
    return (
        _short(course, trial, mark, plain)
        or _answer(course, _widths(course, trial, mark, late), plain, day)
        or _gathered(course, rows)
    )


def _short(course: FirmwareCourse, trial: Trial, mark: float, plain: Array) -> Break | None:
    asked = course.interval / course.tick
    for bits in SHORT:
        if 1 << bits >= asked:
            continue
        late = int(min(0.2 * course.beat / course.tick, 1 << (bits - 2)))
        seen = _widths(course, trial, mark, late)
        longer = _widths(course, trial, mark, late + (1 << bits))
        if not np.array_equal(seen, plain) and np.array_equal(seen, longer):
            return Break(
                kind="wrapped", day=0.0,
                text=f"a counter of {bits} bits goes round every "
                f"{show(course.tick * (1 << bits), 's')}, while an interval lasts "
                f"{show(course.interval, 's')}: one that is longer by a whole turn looks the same",
                remedy=UNSIGNED,
            )  # fmt: skip
    return None


def _answer(course: FirmwareCourse, seen: Array, plain: Array, day: float) -> Break | None:
    if len(seen) < TRIED or len(plain) < TRIED or course.width_min == course.width_max:
        return None
    moved = float((seen - plain)[LATE_AT:].sum())
    if moved == 0:
        asked = course.interval / course.tick
        held = [bits for bits in SHORT if 1 << bits < asked]
        kept = (
            f"; if it counts ticks in {held[0]} bits: an interval of {asked:.0f} needs "
            f"{ceil(log2(asked))}, and the counter goes round {asked / (1 << held[0]):.3g} times"
            if held else ""
        )  # fmt: skip
        return Break(
            kind="deaf", day=0.0,
            text=f"the width does not answer to a late interval{kept}",
            remedy=UNSIGNED if held else "Let the width follow the time error.",
        )  # fmt: skip
    slope = course.slope()
    if moved * slope < 0:
        return Break(
            kind="sign", day=day,
            text=f"it answers a late movement with a {'wider' if moved > 0 else 'narrower'} "
            f"pulse, and that makes it lose still more: {show(slope * DAY, 's/day/s')}",
            remedy="Turn the sign of the loop (STEERING_DIRECTION).",
        )  # fmt: skip
    return None


def placed(course: FirmwareCourse, trial: Trial, rows: Rows, mark: float) -> Break | None:
    """Return the counter that goes round, if it matters where the timer's count begins.

    To a correct firmware it cannot matter: it sees differences only, and they are the same to the
    last tick.
    """
    moved = Rows.of(run_course(course, trial, mark, origin=ORIGIN))
    names = ("width_low", "width_high", "width_last")
    count = min(len(rows), len(moved))
    same = np.all(
        [rows.column(n)[:count] == moved.column(n)[:count] for n in names], axis=0
    )  # fmt: skip
    if bool(same.all()) and len(rows) == len(moved):
        return None
    half = (1 << 31) * course.tick / DAY
    # Half a turn is where a signed count goes round, a whole turn where an unsigned one does.
    turns = [k * half for k in (1, 2) if _jumps(course, rows, k * half)]
    day = turns[0] if turns else half
    return Break(
        kind="wrapped", day=day,
        text="it matters where the timer's count stands at the beginning: the count of 32 bits "
        f"goes round every {show(2 * half * DAY, 's')}, and the widths then differ",
        remedy=f"{UNSIGNED} Never compare them with < or >.",
    )  # fmt: skip


def _jumps(course: FirmwareCourse, rows: Rows, day: float) -> bool:
    """Whether the width jumps within the hour of a day, and did not in the hours before."""
    k = int(np.searchsorted(rows.column("time"), day * DAY))
    spread = rows.column("width_high") - rows.column("width_low")
    if not 0 < k < len(spread):
        return False
    before = float(spread[max(k - 6, 0) : k].max())
    after = float(spread[k : k + 2].max())
    return after > JUMP * (course.width_max - course.width_min) and after > 3 * before


def _gathered(course: FirmwareCourse, rows: Rows) -> Break | None:
    time, steps = rows.column("time"), rows.column("steps").cumsum()
    for words, unit in (
        ("ticks", course.interval / course.tick),
        ("beats", float(course.beats_per_correction)),
        ("corrections", 1.0),
    ):
        for bits in SUMS:
            k = int(np.searchsorted(steps * unit, float(1 << bits)))
            if k >= len(steps) or not _jumps(course, rows, float(time[k]) / DAY):
                continue
            held = bits + 1 if bits % 8 else bits
            return Break(
                kind="wrapped", day=float(time[k]) / DAY,
                text=f"in this hour the {words} since the start pass {1 << bits} (2^{bits}) and "
                f"the width jumps: a {'signed ' if bits % 8 else ''}counter of {held} bits goes "
                "round",
                remedy="Give the sum more bits, or sum differences instead of counts.",
            )  # fmt: skip
    return None
