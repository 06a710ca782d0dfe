"""Charts of curves over axes, drawn as SVG.

Measured before it was written: the plotting library that the project has costs 0.3 s to import
and 25 ms for each pair of axes, about 0.9 s for the report's twenty, against 0.02 s here, where
sheet and report together may take two seconds; and its drawings carry fixed colours, while these
follow the screen, light or dark, through the page's style.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from circuits.report.ink import (
    FRESH,
    LETTERS,
    Stroke,
    box,
    mark,
    polyline,
    segment,
    words,
    words_width,
)
from circuits.report.markup import Markup
from circuits.report.scales import Scale, tick_text

Array = NDArray[np.float64]

WIDTH = 640.0
LEFT, RIGHT = 66.0, 14.0
SMALL = 12
GRID = Stroke(colour="line", width=0.7)
FRAME = Stroke(colour="soft", width=1.0)
ZERO = Stroke(colour="soft", width=1.0)
PATH_POINTS = 420
"""More points than this do not show at this size."""


def thinned(x: Array, y: Array) -> tuple[Array, Array]:
    """Return a curve with as many points as show, its extremes and corners among them."""
    if len(x) <= PATH_POINTS:
        return x, y
    keep = np.linspace(0, len(x) - 1, PATH_POINTS).astype(int)
    bend = np.abs(np.diff(y, 2, prepend=y[0], append=y[-1]))
    extra = np.argsort(bend)[-60:]
    index = np.unique(np.concatenate([keep, extra, [int(np.argmin(y)), int(np.argmax(y))]]))
    return x[index], y[index]


@dataclass(slots=True, kw_only=True)
class Panel:
    """One pair of axes; what is added is drawn in three layers: bands, curves, notes."""

    x: Scale
    y: Scale
    below: list[Markup] = field(default_factory=list)
    between: list[Markup] = field(default_factory=list)
    above: list[Markup] = field(default_factory=list)

    @property
    def left(self) -> float:
        """The left edge."""
        return self.x.start

    @property
    def right(self) -> float:
        """The right edge."""
        return self.x.end

    @property
    def top(self) -> float:
        """The upper edge."""
        return self.y.end

    @property
    def bottom(self) -> float:
        """The lower edge."""
        return self.y.start

    def curve(self, x: Array, y: Array, stroke: Stroke = FRESH) -> None:
        """Add a curve, cut where it leaves the panel sideways, flattened where it leaves upward."""
        inside = (x >= self.x.low) & (x <= self.x.high)
        if int(inside.sum()) < 2:
            return
        thin_x, thin_y = thinned(x[inside], np.clip(y[inside], self.y.low, self.y.high))
        self.between.append(polyline(self.x.many(thin_x), self.y.many(thin_y), stroke))

    def point(self, x: float, y: float, stroke: Stroke) -> None:
        """Add one mark."""
        self.above.append(mark(self.x.at(x), self.y.at(y), stroke, 5.0))

    def band(
        self, low: float, high: float, *, fill: str = "wash", pattern: str = "",
        opacity: float | None = None,
    ) -> None:  # fmt: skip
        """Add an upright band between two figures of the x axis."""
        a, b = (min(max(self.x.at(v), self.left), self.right) for v in (low, high))
        if b > a:
            self.below.append(
                box(a, self.top, b - a, self.bottom - self.top, fill, pattern=pattern,
                    opacity=opacity)
            )  # fmt: skip

    def level(self, value: float, stroke: Stroke, note: str = "", *, after: bool = False) -> None:
        """Add a line across the panel, with a note at its right end or behind its left one."""
        if not self.y.low <= value <= self.y.high:
            return
        y = self.y.at(value)
        self.between.append(segment(self.left, y, self.right, y, stroke))
        if note:
            under = y - 4 > self.top + LETTERS
            self.above.append(
                words(self.left + 6 if after else self.right - 5, y - 4 if under else y + 13, note,
                      anchor="start" if after else "end", size=SMALL, colour="soft", backed=True)
            )  # fmt: skip

    def upright(self, value: float, stroke: Stroke, note: str = "", *, drop: float = 0) -> None:
        """Add a line from top to bottom, with a note beside its upper end."""
        if not self.x.low <= value <= self.x.high:
            return
        x = self.x.at(value)
        self.between.append(segment(x, self.top, x, self.bottom, stroke))
        if note:
            room = words_width(note, SMALL) + 8
            fits = x + room < self.right
            self.above.append(
                words(x + 5 if fits else x - 5, self.top + 14 + drop, note, size=SMALL,
                      anchor="start" if fits else "end", colour="soft", backed=True)
            )  # fmt: skip

    def note(self, x: float, y: float, content: str, *, anchor: str = "start", dx: float = 7,
             dy: float = -7, colour: str = "ink") -> None:  # fmt: skip
        """Add a note beside a place, kept inside the panel."""
        px, py = self.x.at(x) + dx, self.y.at(y) + dy
        width = words_width(content, SMALL) + 6
        if anchor == "start" and px + width > self.right:
            anchor, px = "end", min(px - 2 * dx, self.right - 4)
        elif anchor == "end" and px - width < self.left:
            anchor, px = "start", max(px + 2 * abs(dx), self.left + 4)
        py = min(max(py, self.top + 14), self.bottom - 5)
        self.above.append(
            words(px, py, content, anchor=anchor, size=SMALL, colour=colour, backed=True)
        )

    def axes(
        self, *, x_name: str = "", y_name: str = "", x_most: int = 8, y_most: int = 5,
        x_labels: bool = True, zero: bool = False,
    ) -> Markup:  # fmt: skip
        """Return the panel with grid, ticks and all that was added."""
        grid: list[Markup] = []
        for value in self.x.ticks(x_most):
            place = self.x.at(value)
            grid.append(segment(place, self.top, place, self.bottom, GRID))
            if x_labels:
                grid.append(
                    words(place, self.bottom + 16, tick_text(value), anchor="middle", size=SMALL,
                          colour="soft")
                )  # fmt: skip
        for value in self.y.ticks(y_most):
            place = self.y.at(value)
            grid.append(segment(self.left, place, self.right, place, GRID))
            grid.append(
                words(self.left - 6, place + 4, tick_text(value), anchor="end", size=SMALL,
                      colour="soft")
            )  # fmt: skip
        if zero and self.y.low < 0 < self.y.high:
            place = self.y.at(0.0)
            grid.append(segment(self.left, place, self.right, place, ZERO))
        frame = [
            segment(self.left, self.bottom, self.right, self.bottom, FRAME),
            segment(self.left, self.top, self.left, self.bottom, FRAME),
        ]
        names: list[Markup] = []
        if x_name:
            middle = (self.left + self.right) / 2
            names.append(words(middle, self.bottom + 34, x_name, anchor="middle"))
        if y_name:
            names.append(
                words(self.left - 48, (self.top + self.bottom) / 2, y_name, anchor="middle",
                      turned=True)
            )  # fmt: skip
        layers = [*self.below, *grid, *frame, *self.between, *self.above, *names]
        return Markup("".join(layers))


def legend(entries: list[tuple[Stroke, str]], y: float, left: float = LEFT) -> Markup:
    """Return one row of samples, each beside its name."""
    pieces: list[Markup] = []
    x = left
    for stroke, name in entries:
        ends = np.array([x, x + 28.0])
        pieces.append(
            polyline(
                ends,
                np.full(2, y - 4.0),
                Stroke(colour=stroke.colour, dashes=stroke.dashes, width=stroke.width),
            )
        )
        if stroke.marks:
            pieces.append(mark(x + 14, y - 4, stroke))
        pieces.append(words(x + 34, y, name, size=SMALL))
        x += 34 + words_width(name, SMALL) + 18
    return Markup("".join(pieces))


def panel(
    *, x: tuple[float, float], y: tuple[float, float], top: float, height: float,
    left: float = LEFT, right: float = WIDTH - RIGHT, x_log: bool = False, y_log: bool = False,
) -> Panel:  # fmt: skip
    """Return a panel over a span of figures, at its place in the drawing."""
    return Panel(
        x=Scale(low=x[0], high=x[1], start=left, end=right, log=x_log),
        y=Scale(low=y[0], high=y[1], start=top + height, end=top, log=y_log),
    )
