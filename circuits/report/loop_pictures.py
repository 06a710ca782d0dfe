"""The rate loop's answer to a step, and what each cause asks of it, in seconds a day."""

import numpy as np

from circuits.format_quantity import DAY, show, significant
from circuits.report.chart import SMALL, WIDTH, panel
from circuits.report.figure import Picture
from circuits.report.ink import LIMIT, PLAIN, Stroke, box, segment, words
from circuits.report.loop_curves import LoopCurves
from circuits.report.markup import Markup
from circuits.report.scales import Handy, handy, padded
from circuits.report.typography import printed

HOUR = 3600.0
NAMES, FIGURES = 246.0, 132.0
ROW, TOP = 30.0, 34.0
ZERO = Stroke(colour="soft", width=1.0)


def _time_unit(span: float) -> Handy:
    if span > 4 * DAY:
        return Handy(name="days", size=DAY)
    return Handy(name="hours", size=HOUR) if span > 3 * HOUR else Handy(name="min", size=60.0)


def loop_step(curves: LoopCurves) -> Picture:
    """Return time error and pulse width after a step of the rate."""
    step = curves.step
    unit = _time_unit(float(step.time[-1]))
    t = step.time / unit.size
    seconds = handy(float(np.abs(step.seen).max()) or 1e-6, "s")
    seen = step.seen / seconds.size
    widths = 1e3 * step.width
    error = panel(x=(0.0, float(t[-1])), y=padded(seen, zero=True), top=16, height=150)
    error.curve(t, seen, PLAIN)
    width = panel(x=(0.0, float(t[-1])), y=padded(widths, room=0.12), top=194, height=110)
    width.curve(t, widths, PLAIN)
    width.level(1e3 * curves.loop.width_max, LIMIT, "width_max", after=True)
    width.level(1e3 * curves.loop.width_min, LIMIT, "width_min", after=True)
    drawing = Markup(
        error.axes(y_name=f"off by [{seconds.name}]", x_labels=False, zero=True)
        + width.axes(x_name=f"time after the step [{unit.name}]", y_name="width [ms]", y_most=4)
    )
    said = (
        f"A step of the rate of {show(DAY * curves.offset, 's/day')}: the movement is off by "
        f"{show(step.largest, 's')} at most and comes back, while the pulse goes from "
        f"{show(float(step.width[0]), 's', 4)} to {show(float(step.width[-1]), 's', 4)}."
    )
    return Picture(
        name="loop-step", title="The rate loop after a step", width=WIDTH, height=350,
        drawing=drawing, alternative=f"Two charts over time, time error and pulse width. {said}",
        caption=printed(
            f"If a loop steers the pulse width: {said} The loop's time constant is "
            f"{show(curves.loop.time_constant, 's')}; a correction comes every "
            f"{show(curves.loop.interval, 's')}."
        ),
    )  # fmt: skip


def budget(curves: LoopCurves) -> Picture | None:
    """Return what each cause does to the rate beside what the width can move; None without any."""
    loop = curves.loop
    if not loop.disturbances:
        return None
    rows = [(d.words, DAY * d.low, DAY * d.high, "one") for d in loop.disturbances]
    rows.append(("all of it together", sum(r[1] for r in rows), sum(r[2] for r in rows), "two"))
    reach = DAY * abs(loop.authority)
    rows.append(("what the width can move", -reach / 2, reach / 2, "three"))
    low, high = min(r[1] for r in rows), max(r[2] for r in rows)
    room = WIDTH - NAMES - FIGURES
    zero = NAMES + room * -low / (high - low)
    pieces = []
    for number, (name, start, stop, colour) in enumerate(rows):
        y = TOP + number * ROW
        left, right = (zero + room * edge / (high - low) for edge in (start, stop))
        pieces.append(words(NAMES - 12, y + 13, _short(name), anchor="end"))
        pieces.append(box(left, y + 2, max(right - left, 1.5), 14, colour))
        pieces.append(words(NAMES + room + 10, y + 13, _span(start, stop), size=SMALL))
    end = TOP + len(rows) * ROW
    pieces.append(segment(zero, TOP - 6, zero, end, ZERO))
    pieces.append(words(zero, TOP - 12, "0", anchor="middle", size=SMALL, colour="soft"))
    pieces.append(words(NAMES + room + 10, TOP - 12, "from, to [s/day]", size=SMALL, colour="soft"))
    needed = rows[-2][2] - rows[-2][1]
    enough = "is enough" if loop.authority >= needed / DAY else "is not enough"
    listed = "; ".join(f"{name} {_span(start, stop)}" for name, start, stop, _ in rows)
    return Picture(
        name="budget", title="What moves the rate, and what can move it back", width=WIDTH,
        height=end + 12, drawing=Markup("".join(pieces)),
        alternative=f"Bars in seconds a day from zero: {listed}.",
        caption=printed(
            f"Together the causes move the rate over {show(needed, 's/day')}; the pulse width "
            f"moves it over {show(reach, 's/day')} with fresh and with spent cells alike, which "
            f"{enough}."
        ),
    )  # fmt: skip


def _span(low: float, high: float) -> str:
    return f"{significant(low, 2)}, {significant(high, 2)}".replace("-", "\u2212")


def _short(name: str) -> str:
    return name if len(name) <= 32 else name[:31] + "\u2026"
