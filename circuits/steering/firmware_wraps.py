"""Whether a counter that goes round is why a step function broke: found by experiment."""

from dataclasses import replace

import numpy as np

from circuits.format_quantity import DAY, show, significant
from circuits.steering.child import Trial
from circuits.steering.firmware_course import Array, FirmwareCourse, Rows, harness_input
from circuits.steering.firmware_judge import Break, breaks_of

SHORT = (8, 16, 24)
"""Bits of counters that hold less than the timer's 32."""
SUMS = (15, 16, 23, 24, 31, 32)
"""Bits at which a sum leaves its range, signed or not."""
TRIED, LATE_AT = 60, 20
"""Corrections of a short run, and the one that is made late."""
ORIGIN = 3 << 30


def wrapped(
    course: FirmwareCourse, trial: Trial, rows: Rows, first: Break, mark: float
) -> Break | None:
    """Return the counter that goes round, if that is the cause.

    A firmware must not care where the timer's count stands at the beginning, and it must see an
    interval that is longer by exactly 2**16 ticks. What neither shows may still be a sum since
    the start that passes its range on the very day.
    """
    return (
        _short(course, trial, mark)
        or _placed(course, trial, first, mark)
        or _gathered(course, rows, first)
    )


def _widths(
    course: FirmwareCourse, trial: Trial, mark: float, extra_ticks: int
) -> Array:  # fmt: skip
    """Return the width after each correction of a short run without jitter."""
    given = harness_input(
        replace(course, jitter=0.0), mark, row=course.interval / 2, corrections=TRIED,
        extra_at=LATE_AT if extra_ticks else 0, extra_ticks=extra_ticks,
    )  # fmt: skip
    return Rows.of(trial.run(given, mark)).column("width_last")


def _short(course: FirmwareCourse, trial: Trial, mark: float) -> Break | None:
    asked = course.interval / course.tick
    plain = _widths(course, trial, mark, 0)
    for bits in SHORT:
        if 1 << bits >= asked:
            break
        late = int(min(0.2 * course.beat / course.tick, 1 << (bits - 2)))
        seen = _widths(course, trial, mark, late)
        longer = _widths(course, trial, mark, late + (1 << bits))
        if not np.array_equal(seen, plain) and np.array_equal(seen, longer):
            return Break(
                kind="wrapped", day=0.0,
                text=f"a counter of {bits} bits goes round every "
                f"{show(course.tick * (1 << bits), 's')}, while an interval lasts "
                f"{show(course.interval, 's')}: one that is longer by a whole turn looks the same",
                remedy="Keep counts of ticks in uint32_t and subtract them as such.",
            )  # fmt: skip
        if len(set(seen)) == 1 and np.array_equal(seen, longer):
            return Break(
                kind="wrapped", day=0.0,
                text=f"the width does not answer to a late interval: of its {asked:.0f} ticks a "
                f"counter of {bits} bits keeps no more than {1 << bits}",
                remedy="Keep counts of ticks in uint32_t and subtract them as such.",
            )  # fmt: skip
    return None


def _placed(course: FirmwareCourse, trial: Trial, first: Break, mark: float) -> Break | None:
    moved = trial.run(harness_input(course, mark, origin=ORIGIN), mark)
    again = breaks_of(course, moved)
    if again and abs(again[0].day - first.day) < 1.0:
        return None
    span = (1 << 32) * course.tick
    then = f"on day {significant(again[0].day + 1, 4)}" if again else "not at all"
    return Break(
        kind="wrapped", day=first.day,
        text="where the timer's count stands at the beginning makes a difference: begun near its "
        f"end it breaks {then}; the count of 32 bits goes round every {show(span, 's')}",
        remedy="Subtract counts as uint32_t; never compare them with < or > and never widen them "
        "before the subtraction.",
    )  # fmt: skip


def _gathered(course: FirmwareCourse, rows: Rows, first: Break) -> Break | None:
    time, steps = rows.column("time"), rows.column("steps").cumsum()
    k = int(np.searchsorted(time, (first.day + 0.5) * DAY))
    if k >= len(steps) or len(steps) < 2:
        return None
    for words, unit in (
        ("ticks", course.interval / course.tick),
        ("beats", float(course.beats_per_correction)),
        ("corrections", 1.0),
    ):
        before, after = (float(steps[k - 1]) if k else 0.0) * unit, float(steps[k]) * unit
        for bits in SUMS:
            if before < 1 << bits <= after:
                held = bits + 1 if bits % 8 else bits
                return Break(
                    kind="wrapped", day=first.day,
                    text=f"on this day the {words} since the start pass {1 << bits} (2^{bits}), "
                    f"where a {'signed ' if bits % 8 else ''}counter of {held} bits goes round",
                    remedy="Give the sum more bits, or sum differences instead of counts.",
                )  # fmt: skip
    return None
