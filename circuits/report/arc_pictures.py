"""Which arcs die, grow and settle, and how the settled rate goes with the pulse width."""

import numpy as np

from circuits.format_quantity import DAY, show
from circuits.report.arc_curves import ArcCurves, RateRow
from circuits.report.beat_pictures import hatch
from circuits.report.chart import WIDTH, legend, panel
from circuits.report.figure import Picture
from circuits.report.ink import FRESH, LIMIT, SPENT, Stroke
from circuits.report.markup import Markup, tag
from circuits.report.scales import padded
from circuits.report.typography import printed

SETTLES = Stroke(colour="one", marks="disc")
STARTS = Stroke(colour="one", marks="hollow")
SMALL_GROWTH = 0.05
"""Degrees; a smaller growth a beat reads better in thousandths."""
NOW = Stroke(colour="ink", dashes="2 3", width=1.4)


def _degrees(arc: float) -> float:
    return float(np.degrees(arc))


def arc_map(curves: ArcCurves) -> Picture:
    """Return how much each arc grows or shrinks in a beat."""
    states = curves.states
    changes = (curves.fresh, curves.spent) if states.lowest else (curves.fresh,)
    most = max(float(np.abs(np.degrees(change.growth)).max()) for change in changes)
    unit, size = ("degrees", 1.0) if most > SMALL_GROWTH else ("degrees/1000", 1e3)
    grows = [size * np.degrees(change.growth) for change in changes]
    arcs = np.degrees(curves.fresh.arcs)
    at = panel(x=(0.0, float(arcs[-1])), y=padded(*grows, zero=True), top=36, height=214)
    dies = max(curves.arc_seen, curves.start.arc if curves.start else 0.0)
    if dies:
        at.band(0.0, _degrees(dies), pattern="arc-dies", opacity=0.6)
        at.note(_degrees(dies) / 2, at.y.low, "dies", anchor="middle", dx=0, dy=-6)
    for change, grown, stroke in zip(changes, grows, (FRESH, SPENT), strict=False):
        at.curve(np.degrees(change.arcs), grown, stroke)
    at.upright(_degrees(curves.wanted), LIMIT, "wanted")
    first = states.at_first[:1].upper() + states.at_first[1:]
    said = f"{first} no arc is held."
    if curves.held is not None:
        held = _degrees(curves.held.arc)
        at.point(held, 0.0, SETTLES)
        at.note(held, 0.0, "settles", dx=8, dy=-10)
        said = f"{first} it settles at {show(curves.held.arc, 'rad')}."
        middle = (max(_degrees(dies), 0.0) + held) / 2
        at.note(middle, 0.0, "grows", anchor="middle", dx=0, dy=-8)
        if held < 0.9 * float(arcs[-1]):
            at.note(float(arcs[-1]), 0.0, "shrinks", anchor="end", dx=-6, dy=18)
    if curves.start is not None:
        at.point(_degrees(curves.start.arc), 0.0, STARTS)
    low = (
        f"Below {show(dies, 'rad')} it dies away: push it farther than that by hand."
        if dies
        else "Every smaller arc looked at grows: a small push starts it."
    )
    drawing = Markup(
        tag("defs", hatch("arc-dies"))
        + legend([*states.names, (LIMIT, "wanted arc")], 20)
        + at.axes(x_name="arc, half the swing [degrees]", y_name=f"growth a beat [{unit}]",
                  zero=True)
    )  # fmt: skip
    return Picture(
        name="arc-map", title="Which arcs die, grow and settle", width=WIDTH, height=298,
        drawing=drawing,
        alternative=f"Growth of the arc in a beat over the arc. {said} {low}",
        caption=printed(
            f"Above the line an arc grows, below it shrinks; where the curve falls through zero "
            f"it settles. {said} {low} Wanted are {show(curves.wanted, 'rad')}."
        ),
    )  # fmt: skip


def rate_map(curves: ArcCurves) -> Picture | None:
    """Return the settled rate over the pulse width; None where hardly any width holds an arc."""
    states = curves.states
    rows = [(row, stroke, name) for row, stroke, name in (
        (curves.rate_fresh, FRESH, states.first), (curves.rate_spent, SPENT, states.lowest),
    ) if row is not None and name]  # fmt: skip
    if not rows:
        return None
    every = [row for row, _, _ in rows]
    low = min(float(row.widths[0]) for row in every)
    high = max(float(row.widths[-1]) for row in every)
    rates = [DAY * row.rates for row in every]
    at = panel(
        x=(max(0.0, 1e3 * (low - 0.1 * (high - low))), 1e3 * high), y=padded(*rates), top=36,
        height=214,
    )  # fmt: skip
    turn = curves.turning
    if turn is not None and turn < high:
        at.band(1e3 * turn, 1e3 * high, pattern="rate-beyond", opacity=0.6)
        at.note(1e3 * high, at.y.high, "forbidden to a steering loop", anchor="end", dx=-6, dy=16)
    if curves.least is not None and curves.least < high:
        at.band(at.x.low, 1e3 * curves.least, fill="wash")
        at.upright(1e3 * curves.least, LIMIT, "no arc below")
    for row, stroke, _ in rows:
        at.curve(1e3 * row.widths, DAY * row.rates, stroke)
    at.upright(1e3 * curves.width, NOW, "this pulse", drop=18)
    names = [(stroke, name) for _, stroke, name in rows if states.lowest]
    drawing = Markup(
        tag("defs", hatch("rate-beyond"))
        + legend([*names, (NOW, "this pulse")], 20)
        + at.axes(x_name="pulse width [ms]", y_name="settled rate [s/day]")
    )
    return Picture(
        name="rate-map", title="The settled rate against the pulse width", width=WIDTH, height=298,
        drawing=drawing,
        alternative=_rate_words(rows[0][0], curves),
        caption=printed(_rate_words(rows[0][0], curves) + _beyond(curves)),
    )  # fmt: skip


def _rate_words(row: RateRow, curves: ArcCurves) -> str:
    first, last = DAY * float(row.rates[0]), DAY * float(row.rates[-1])
    return (
        f"Settled rate against the smallest free swing: {show(first, 's/day')} at "
        f"{show(float(row.widths[0]), 's')}, {show(last, 's/day')} at "
        f"{show(float(row.widths[-1]), 's')}; this pulse is {show(curves.width, 's')} wide. "
    )


def _beyond(curves: ArcCurves) -> str:
    if curves.turning is None:
        return "Over these widths the curve does not turn, so one sign of correction holds."
    return (
        f"Beyond {show(curves.turning, 's')} (hatched) a wider pulse no longer does what it did "
        "before: a loop of fixed sign would run away there."
    )
