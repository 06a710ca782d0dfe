"""The scale of the arc in true size, marked where to push to."""

from dataclasses import dataclass
from math import cos, degrees, pi, radians, sin

from circuits.format_quantity import show
from circuits.report.ink import LIGHT
from circuits.report.markup import Markup, number, tag
from circuits.report.scales import step_of
from circuits.report.starting import Push, push_of
from circuits.report.true_size import WIDE, line, says, true_sheet
from circuits.sheet import Sheet
from circuits.stage_pass import StagePass
from circuits.stages.movement import MovementResult

FAR = 60.0
"""Degrees; a movement that turns farther gets its scale about the staff."""
CIRCLE = 42.0
"""Radius of such a scale [mm]."""
INNER, OUTER = 15.0, 9.0
"""How far marks and letters reach to either side of the line [mm]."""
POINTS = 96


@dataclass(frozen=True, slots=True, kw_only=True)
class _Arc:
    """A circle's arc about a pivot; angles count from straight below."""

    radius: float
    most: float
    x: float
    y: float

    def at(self, angle: float, out: float = 0.0) -> tuple[float, float]:
        reach = self.radius + out
        return self.x + reach * sin(angle), self.y + reach * cos(angle)

    def tick(self, angle: float, inner: float, outer: float, width: float = 0.25) -> Markup:
        return line(*self.at(angle, inner), *self.at(angle, outer), width=width)


def _placed(radius: float, most: float, push: float) -> tuple[_Arc, float, float]:
    """Return the arc at its place, and width and height of its drawing."""
    far = (radius + OUTER) * (1.0 if most > pi / 2 else sin(most)) + 9
    ends = [(radius + out) * cos(angle) for out in (-INNER, OUTER) for angle in (most, push)]
    lift = 5.0 - min(ends)
    return _Arc(radius=radius, most=most, x=far, y=lift), 2 * far, lift + radius + OUTER + 3


def arc_scale(sheet: Sheet, done: StagePass) -> Markup:
    """Return a scale of the arc, marked where to push to and which arc it is to keep."""
    movement: MovementResult = done.result("movement")
    push = push_of(sheet)
    most = max(1.2 * push.arc, 1.2 * movement.arc, radians(1.0))
    radius = 1e3 * movement.radius
    far = degrees(most) > FAR
    if far:
        most, radius = min(most, 0.97 * pi), CIRCLE
    else:
        # A little inside the width, so that letters at the ends have room.
        radius = min(radius, (WIDE / 2 - 20) / sin(most))
    arc, width, height = _placed(radius, most, push.arc)
    pieces = [_scale(arc), *_marks(arc, push, movement.arc)]
    return true_sheet(
        "template-arc", "Arc scale", _words(movement, push, radius, far), width, height, *pieces
    )


def _scale(arc: _Arc) -> Markup:
    """Return the line with its degrees."""
    curve = [arc.at(arc.most * (2 * k / POINTS - 1)) for k in range(POINTS + 1)]
    d = "M" + "L".join(f"{number(x)} {number(y)}" for x, y in curve)
    pieces = [tag("path", d=d, fill="none", stroke=LIGHT["ink"], stroke_width=0.35, class_="s-ink")]
    step = step_of(0.0, degrees(arc.most), 8)
    count = int(degrees(arc.most) / step)
    for k in range(-count, count + 1):
        angle = radians(k * step)
        pieces.append(arc.tick(angle, 0.0, 3.0))
        x, y = arc.at(angle, 6.6)
        pieces.append(says(x, y + 1.1, f"{abs(k * step):g}\u00b0", anchor="middle"))
    return Markup("".join(pieces))


def _marks(arc: _Arc, push: Push, wanted: float) -> list[Markup]:
    pieces: list[Markup] = []
    near = abs(push.arc) * arc.radius < 12
    for side in (-1, 1):
        pieces.append(arc.tick(side * push.arc, -8.0, 0.0, 0.8))
        pieces.append(arc.tick(side * wanted, -4.5, 0.0, 0.4))
        x, y = arc.at(side * push.arc, -10.0)
        anchor = "middle" if not near else "end" if side < 0 else "start"
        if degrees(arc.most) > FAR:
            anchor = "start" if side < 0 else "end"
            x, y = arc.at(side * push.arc, -11.0)
        pieces.append(says(x, y, "push to here", anchor=anchor, strong=True))
    return pieces


def _words(movement: MovementResult, push: Push, radius: float, far: bool) -> str:
    where, away = "with its middle on the staff", ""
    if not far:
        where = f"with its line {show(radius / 1e3, 'm')} below the pivot"
    if movement.kind == "pendulum":
        away = f", which is {show(push.arc * movement.radius, 'm')} at the magnet"
    return (
        f"Fix it behind the movement {where} and 0\u00b0 at rest. Long marks: push to here, "
        f"{show(push.arc, 'rad')} to either side{away}. Short marks: the arc that it is to keep, "
        f"{show(movement.arc, 'rad')}."
    )
