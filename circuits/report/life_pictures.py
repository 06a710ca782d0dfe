"""The life of the cells: voltage, pulse width and arc over the months."""

import numpy as np

from circuits.cells_course import LifeCourse
from circuits.format_quantity import DAY, YEAR, show
from circuits.report.chart import WIDTH, legend, panel
from circuits.report.figure import Picture
from circuits.report.ink import FRESH, LIMIT, PLAIN, SPENT, THIRD
from circuits.report.markup import Markup
from circuits.report.scales import Handy, padded
from circuits.report.typography import printed

MONTH = YEAR / 12
LONG_LIFE = 3 * YEAR


def _unit(life: float) -> Handy:
    """Return the unit in which a life is read best."""
    if life > LONG_LIFE:
        return Handy(name="years", size=YEAR)
    return Handy(name="months", size=MONTH) if life > 2 * MONTH else Handy(name="days", size=DAY)


def life(course: LifeCourse) -> Picture:
    """Return voltage, width and arc of usual cells up to their end."""
    low, typ, high = course.times
    unit = _unit(typ)
    t = course.t / unit.size
    span = (0.0, 1.04 * float(t[-1]))
    volts = panel(
        x=span, y=padded(course.v_rest, course.v_load, course.v_pulse, room=0.1), top=40,
        height=150,
    )  # fmt: skip
    for wave, stroke in (
        (course.v_rest, FRESH), (course.v_load, THIRD), (course.v_pulse, SPENT),
    ):  # fmt: skip
        volts.curve(t, wave, stroke)
    widths = 1e3 * course.width
    width = panel(x=span, y=_steady(widths), top=216, height=84)
    width.curve(t, widths, PLAIN)
    arcs = np.degrees(course.arc)
    known = np.isfinite(arcs)
    pieces = [
        legend([(FRESH, "at rest"), (THIRD, "under the mean load"), (SPENT, "in the pulse")], 20),
    ]
    wanted = float(np.degrees(course.arc_wanted))
    arc = panel(
        x=span, y=padded(arcs[known], np.array([wanted])) if known.any() else (0.0, 1.0),
        top=326, height=104,
    )  # fmt: skip
    if known.sum() > 1:
        arc.curve(t[known], arcs[known], PLAIN)
    arc.level(wanted, LIMIT, "wanted")
    for at in (volts, width, arc):
        at.upright(typ / unit.size, LIMIT)
        if low < 0.98 * typ:
            at.band(low / unit.size, typ / unit.size, fill="wash")
    name = f"time with usual cells [{unit.name}]"
    pieces += [
        volts.axes(y_name="cells [V]", x_labels=False),
        width.axes(y_name="width [ms]", x_labels=False, y_most=3),
        arc.axes(x_name=name, y_name="arc [\u00b0]", y_most=4),
    ]
    said = (
        f"Usual cells last {show(typ, 's', 2)}, poor ones {show(low, 's', 2)} (from there on "
        f"shaded), good ones {show(high, 's', 2)}; {course.ended_by} ends it."
    )
    return Picture(
        name="life", title="The life of the cells", width=WIDTH, height=476,
        drawing=Markup("".join(pieces)),
        alternative=f"Three charts over time: the cells' voltage falls from "
        f"{show(float(course.v_rest[0]), 'V')} to {show(float(course.v_rest[-1]), 'V')} at rest; "
        f"the pulse width goes from {show(float(course.width[0]), 's')} to "
        f"{show(float(course.width[-1]), 's')}; {_arc_words(course)}. {said}",
        caption=printed(f"{said} {_steered(course)}"),
    )  # fmt: skip


def _steady(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> tuple[float, float]:
    """Return the span of an axis that shows a steady value as steady."""
    low, high = float(values.min()), float(values.max())
    middle = (low + high) / 2
    half = max(0.6 * (high - low), 0.25 * middle)
    return max(middle - half, 0.0), middle + half


def _arc_words(course: LifeCourse) -> str:
    known = course.arc[np.isfinite(course.arc)]
    if not known.size:
        return "no arc is known"
    return f"the arc goes from {show(float(known[0]), 'rad')} to {show(float(known[-1]), 'rad')}"


def _steered(course: LifeCourse) -> str:
    words = _arc_words(course)
    first = words[:1].upper() + words[1:]
    if course.steered:
        return f"The loop widens the pulse as the cells sag. {first}."
    return f"The width stays as it is. {first}."
