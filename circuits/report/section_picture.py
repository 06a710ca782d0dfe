"""Coil and magnet in section, to scale, with gap and flange dimensioned."""

from dataclasses import dataclass, field

from calc.linkage_parts import MagnetShape
from circuits.format_quantity import show
from circuits.report.beat_pictures import hatch
from circuits.report.chart import SMALL, WIDTH
from circuits.report.figure import Picture
from circuits.report.gap_curves import magnet_of
from circuits.report.ink import LIGHT, Stroke, arrow, box, segment, words, words_width
from circuits.report.markup import Markup, number, tag
from circuits.report.scales import step_of
from circuits.report.typography import printed
from circuits.stage_pass import StagePass
from circuits.stages.coil import CoilResult
from circuits.stages.linkage import LinkageResult
from circuits.stages.movement import MovementResult

TALL = 330.0
ROOM = 150.0
"""Room for dimensions at either side."""
EDGE = Stroke(colour="ink", width=1.4)
THIN = Stroke(colour="soft", width=1.0)
AXIS = Stroke(colour="soft", dashes="12 3 2 3", width=1.0)
PATH = Stroke(colour="three", dashes="2 3", width=1.4)


@dataclass(slots=True, kw_only=True)
class _Sheet:
    """A drawing to scale: millimetres from the coil's axis and upward from its face."""

    scale: float
    zero_x: float
    zero_y: float
    pieces: list[Markup] = field(default_factory=list)

    def x(self, millimetres: float) -> float:
        return self.zero_x + self.scale * millimetres

    def y(self, millimetres: float) -> float:
        return self.zero_y - self.scale * millimetres

    def add(self, *pieces: Markup) -> None:
        self.pieces += pieces

    def winding(self, r_inner: float, r_outer: float, top: float, height: float, centre: float
                ) -> None:  # fmt: skip
        """Add a winding: a hatched rectangle to either side of its axis."""
        wide = self.scale * (r_outer - r_inner)
        for left in (centre - r_outer, centre + r_inner):
            self.add(
                box(self.x(left), self.y(top), wide, self.scale * height, "one",
                    pattern="section-copper", edge="ink")
            )  # fmt: skip
        bottom = top - height
        self.add(segment(self.x(centre), self.y(top + 4), self.x(centre), self.y(bottom - 3), AXIS))

    def lying(self, left: float, right: float, y: float, label: str) -> None:
        """Add a dimension between two uprights, its figure below the line."""
        a, b, place = self.x(left), self.x(right), y
        middle = (a + b) / 2
        figure = words(middle, place + 15, label, anchor="middle", size=SMALL, backed=True)
        self.add(arrow(middle, place, a, place), arrow(middle, place, b, place), figure)

    def upright(self, low: float, high: float, x: float, label: str, *, left: bool = False) -> None:
        """Add a dimension between two heights; arrows point inward where it is short."""
        a, b = self.y(low), self.y(high)
        if a - b > 22:
            middle = (a + b) / 2
            self.add(arrow(x, middle, x, a), arrow(x, middle, x, b))
        else:
            self.add(arrow(x, a + 20, x, a), arrow(x, b - 20, x, b))
        side = -7 if left else 7
        self.add(
            words(x + side, (a + b) / 2 + 4, label, anchor="end" if left else "start", size=SMALL)
        )

    def edge(self, x_1: float, x_2: float, height: float) -> None:
        """Add a thin line from a body to its dimension."""
        self.add(segment(x_1, self.y(height), x_2, self.y(height), THIN))


def _magnet(sheet: _Sheet, shape: MagnetShape, gap: float) -> None:
    """Add the magnet over the axis, with the direction of its magnetisation."""
    half, depth = 1e3 * shape.along / 2, 1e3 * shape.depth
    left, top = sheet.x(-half), sheet.y(gap + depth)
    wide, tall = sheet.scale * 2 * half, sheet.scale * depth
    sheet.add(box(left, top, wide, tall, "wash", edge="ink"))
    if shape.bore and not shape.lying:
        bore = sheet.scale * 1e3 * shape.bore
        sheet.add(box(sheet.x(0) - bore / 2, top, bore, tall, "paper", edge="ink"))
    middle = top + tall / 2
    if shape.lying:
        sheet.add(arrow(left + 0.2 * wide, middle, left + 0.8 * wide, middle, "ink"))
        ends = ((left + 0.1 * wide, middle + 4, "S"), (left + 0.9 * wide, middle + 4, "N"))
    else:
        side = left + 0.15 * wide
        sheet.add(arrow(side, top + 0.15 * tall, side, top + 0.85 * tall, "ink"))
        ends = ((side + 14, top + 13, "S"), (side + 14, top + tall - 4, "N"))
    sheet.add(*(words(x, y, pole, anchor="middle", strong=True) for x, y, pole in ends))


def _path(sheet: _Sheet, movement: MovementResult, plane: str, gap: float, reach: float) -> None:
    """Add the way of the magnet's face."""
    if plane == "face":
        sheet.add(segment(sheet.x(-reach), sheet.y(gap), sheet.x(reach), sheet.y(gap), PATH))
        return
    radius = 1e3 * movement.radius
    places = [reach * (k / 24 - 1) for k in range(49)]
    steps = []
    for place in places:
        rise = radius - (max(radius**2 - place**2, 0.0)) ** 0.5
        steps.append(f"{number(sheet.x(place))} {number(sheet.y(gap + rise))}")
    sheet.add(
        tag("path", d="M" + "L".join(steps), fill="none", stroke=LIGHT["three"],
            stroke_width=PATH.width, stroke_dasharray=PATH.dashes, class_="s-three")
    )  # fmt: skip


def section(done: StagePass) -> Picture:
    """Return coil and magnet in section."""
    coil: CoilResult = done.result("coil")
    pickup: CoilResult | None = done.result("pickup_coil")
    linkage: LinkageResult = done.result("linkage")
    shape = magnet_of(done)
    gap, depth, half = 1e3 * linkage.gap, 1e3 * shape.depth, 1e3 * shape.along / 2
    both = coil.count == 2 and coil.sides == "both"
    tall = 1e3 * coil.height
    top = 2 * gap + depth + tall if both else gap + depth
    low, wide, second = -tall, max(1e3 * coil.r_outer, half), 0.0
    position = 0.0
    if pickup is not None:
        keys = done.design.pickup_coil
        position = 1e3 * (keys.position or 0.0) if keys is not None else 0.0
        second = gap - 1e3 * (linkage.pickup_gap or linkage.gap)
        low = min(low, second - 1e3 * pickup.height)
        wide = max(wide, abs(position) + 1e3 * pickup.r_outer)
    scale = min((WIDTH - 2 * ROOM) / (2 * wide), TALL / (top - low), 26.0)
    sheet = _Sheet(scale=scale, zero_x=WIDTH / 2, zero_y=40 + scale * top)
    r_inner, r_outer = 1e3 * coil.r_inner, 1e3 * coil.r_outer
    sheet.winding(r_inner, r_outer, 0.0, tall, 0.0)
    if both:
        sheet.winding(r_inner, r_outer, top, tall, 0.0)
    if pickup is not None:
        sheet.winding(1e3 * pickup.r_inner, 1e3 * pickup.r_outer, second, 1e3 * pickup.height,
                      position)  # fmt: skip
    _path(sheet, done.result("movement"), linkage.plane, gap, wide + 18 / scale)
    _magnet(sheet, shape, gap)
    bottom = sheet.y(low)
    _dimensions(sheet, done, shape, coil, wide)
    if pickup is not None:
        sheet.add(
            words(sheet.x(position), sheet.y(second) + scale * 500 * pickup.height + 4, "L2",
                  anchor="middle", strong=True, backed=True)
        )  # fmt: skip
    sheet.add(
        words(sheet.x(0), sheet.y(0) + scale * tall / 2 + 4, "L1", anchor="middle", strong=True,
              backed=True)
    )  # fmt: skip
    sheet.lying(-r_inner, r_inner, bottom + 16, printed(show(2 * coil.r_inner, "m")))
    sheet.lying(-r_outer, r_outer, bottom + 48, printed(show(2 * coil.r_outer, "m")))
    height = bottom + 104
    sheet.add(_scale_bar(scale, height - 14))
    drawing = Markup(tag("defs", hatch("section-copper")) + "".join(sheet.pieces))
    return Picture(
        name="section", title="Coil and magnet in section", width=WIDTH, height=height,
        drawing=drawing, alternative=_words(done, shape, coil),
        caption=printed(_words(done, shape, coil) + " " + _advice(done, shape)),
    )  # fmt: skip


def _dimensions(
    sheet: _Sheet, done: StagePass, shape: MagnetShape, coil: CoilResult, wide: float
) -> None:
    linkage: LinkageResult = done.result("linkage")
    gap, depth, half = 1e3 * linkage.gap, 1e3 * shape.depth, 1e3 * shape.along / 2
    right, left = sheet.x(wide) + 26, sheet.x(-wide) - 26
    for height, start in ((0.0, 1e3 * coil.r_outer), (gap, half)):
        sheet.edge(sheet.x(start) + 3, right + 6, height)
    name = f"gap {printed(show(linkage.gap, 'm'))}"
    sheet.upright(0.0, gap, right, name)
    for height, start in ((-1e3 * coil.height, 1e3 * coil.r_outer), (0.0, 1e3 * coil.r_outer)):
        sheet.edge(left - 6, sheet.x(-start) - 3, height)
    sheet.upright(-1e3 * coil.height, 0.0, left, printed(show(coil.height, "m")), left=True)
    for height in (gap, gap + depth):
        sheet.edge(left - 6, sheet.x(-half) - 3, height)
    sheet.upright(gap, gap + depth, left, printed(show(shape.depth, "m")), left=True)
    sheet.lying(-half, half, sheet.y(gap + depth) - 24, printed(show(shape.along, "m")))
    flange = done.design.magnet.flange
    if flange:
        high = 1e3 * flange
        inner = 1e3 * coil.r_inner
        sheet.add(
            box(sheet.x(-1e3 * coil.r_outer), sheet.y(high), sheet.scale * 2e3 * coil.r_outer,
                sheet.scale * high, "wash", edge="soft")
        )  # fmt: skip
        del inner
        sheet.edge(sheet.x(1e3 * coil.r_outer) + 3, right + 66, high)
        label = f"flange {printed(show(flange, 'm'))}"
        sheet.add(words(right + 10, sheet.y(0.0) + 18, label, size=SMALL))


def _scale_bar(scale: float, y: float) -> Markup:
    """Return a bar of round length, so that the drawing's scale can be read."""
    length = step_of(0.0, 120.0 / scale, 1) / 2
    length = next((one for one in (20.0, 10.0, 5.0, 2.0, 1.0) if one * scale <= 130.0), length)
    end = 20 + length * scale
    label = printed(f"{length:g} mm")
    return Markup(
        segment(20, y, end, y, EDGE) + segment(20, y - 4, 20, y + 4, EDGE)
        + segment(end, y - 4, end, y + 4, EDGE)
        + words(min(20 + length * scale + 8, WIDTH - words_width(label)), y + 4, label, size=SMALL)
    )  # fmt: skip


def _words(done: StagePass, shape: MagnetShape, coil: CoilResult) -> str:
    linkage: LinkageResult = done.result("linkage")
    lies = "along the motion" if shape.lying else "along the coil's axis"
    body = f"{show(shape.along, 'm')} along its way and {show(shape.depth, 'm')} high"
    return (
        f"To scale: the magnet, {body}, magnetised {lies}, "
        f"passes {show(linkage.gap, 'm')} above a winding of {show(2 * coil.r_inner, 'm')} inside, "
        f"{show(2 * coil.r_outer, 'm')} outside and {show(coil.height, 'm')} high."
    )


def _advice(done: StagePass, shape: MagnetShape) -> str:
    linkage: LinkageResult = done.result("linkage")
    peak = linkage.drive.path_peak
    poles = (
        "Either pole may face the coil; the other one swaps the lobes." if not shape.lying else ""
    )
    if not peak:
        return f"EMF and push are greatest over the axis. {poles}"
    return (
        f"Over the axis there is neither EMF nor push; both are greatest {show(peak, 'm')} to "
        f"either side of it. {poles}"
    )
