"""Strokes and letters of the pictures.

Each element carries plain attributes, which print and any viewer obey, and a class, through which
the page's style gives it the colours of a light or a dark screen. No stroke differs from another
by colour alone: each has its own dashes or marks.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuits.report.markup import Markup, number, tag

Array = NDArray[np.float64]

LIGHT = {
    "paper": "#ffffff", "ink": "#1c1c1a", "soft": "#57554f", "line": "#c4c1b8", "wash": "#f1efe9",
    "one": "#0a569b", "two": "#ad3f00", "three": "#00684a", "four": "#7a3687", "five": "#6f5300",
}  # fmt: skip
"""Colours on paper and on a light screen."""

DARK = {
    "paper": "#191a1c", "ink": "#e9e7e1", "soft": "#b3b0a8", "line": "#4d4c49", "wash": "#27282b",
    "one": "#7cb8f2", "two": "#f59b62", "three": "#5fcfa6", "four": "#d59be2", "five": "#dcbb58",
}  # fmt: skip
"""The same on a dark screen."""

LETTERS = 13
FONT = "Seravek, 'Gill Sans Nova', Ubuntu, Calibri, 'DejaVu Sans', sans-serif"
GLYPH = 0.58
"""Width of a middling glyph over the size of its letters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """How a curve is drawn: its colour's name, its dashes, its width and its marks."""

    colour: str
    dashes: str = ""
    width: float = 2.0
    marks: str = ""


FRESH = Stroke(colour="one")
SPENT = Stroke(colour="two", dashes="7 4")
THIRD = Stroke(colour="three", dashes="2 3")
FOURTH = Stroke(colour="four", dashes="9 3 2 3")
PLAIN = Stroke(colour="ink", width=1.6)
LIMIT = Stroke(colour="soft", dashes="5 4", width=1.4)


def polyline(x: Array, y: Array, stroke: Stroke) -> Markup:
    """Return a curve through places."""
    steps = [f"{number(a)} {number(b)}" for a, b in zip(x.tolist(), y.tolist(), strict=True)]
    line = tag(
        "path", d="M" + "L".join(steps), fill="none", stroke=LIGHT[stroke.colour],
        stroke_width=stroke.width, stroke_linejoin="round", class_=f"s-{stroke.colour}",
        stroke_dasharray=stroke.dashes or None,
    )  # fmt: skip
    if not stroke.marks:
        return line
    return Markup(line + "".join(mark(a, b, stroke) for a, b in zip(x, y, strict=True)))


def mark(x: float, y: float, stroke: Stroke, size: float = 4.0) -> Markup:
    """Return one mark: a disc, a square, a diamond, or a hollow disc."""
    fill, kind = LIGHT[stroke.colour], stroke.marks or "disc"
    if kind == "square":
        return tag(
            "rect", x=x - size, y=y - size, width=2 * size, height=2 * size, fill=fill,
            class_=f"f-{stroke.colour}",
        )  # fmt: skip
    if kind == "diamond":
        reach = 1.3 * size
        d = f"M{number(x)} {number(y - reach)}l{reach} {reach}l{-reach} {reach}l{-reach} {-reach}Z"
        return tag("path", d=d, fill=fill, class_=f"f-{stroke.colour}")
    if kind == "hollow":
        return tag(
            "circle", cx=x, cy=y, r=size, fill=LIGHT["paper"], stroke=fill, stroke_width=2,
            class_=f"f-paper s-{stroke.colour}",
        )  # fmt: skip
    return tag("circle", cx=x, cy=y, r=size, fill=fill, class_=f"f-{stroke.colour}")


def segment(x_1: float, y_1: float, x_2: float, y_2: float, stroke: Stroke) -> Markup:
    """Return a straight line."""
    return tag(
        "line", x1=x_1, y1=y_1, x2=x_2, y2=y_2, stroke=LIGHT[stroke.colour],
        stroke_width=stroke.width, stroke_dasharray=stroke.dashes or None,
        class_=f"s-{stroke.colour}",
    )  # fmt: skip


def box(
    x: float, y: float, width: float, height: float, fill: str, *, opacity: float | None = None,
    edge: str = "", pattern: str = "",
) -> Markup:  # fmt: skip
    """Return a rectangle; a pattern is named by its id."""
    return tag(
        "rect", x=x, y=y, width=max(width, 0.0), height=max(height, 0.0),
        fill=f"url(#{pattern})" if pattern else LIGHT[fill], fill_opacity=opacity,
        stroke=LIGHT[edge] if edge else None, stroke_width=1.2 if edge else None,
        class_=" ".join(
            name for name in ("" if pattern else f"f-{fill}", f"s-{edge}" if edge else "") if name
        ) or None,
    )  # fmt: skip


def words_width(content: str, size: float = LETTERS) -> float:
    """Return about how wide a line of text is."""
    return GLYPH * size * len(content)


def words(
    x: float, y: float, content: str, *, anchor: str = "start", size: float = LETTERS,
    colour: str = "ink", strong: bool = False, turned: bool = False, backed: bool = False,
) -> Markup:  # fmt: skip
    """Return a line of text; `backed` lays it on a patch of paper."""
    line = tag(
        "text", content, x=x, y=y, fill=LIGHT[colour], class_=f"f-{colour}",
        text_anchor=None if anchor == "start" else anchor,
        font_size=None if size == LETTERS else size,
        font_weight="600" if strong else None,
        transform=f"rotate(-90 {number(x)} {number(y)})" if turned else None,
    )  # fmt: skip
    if not backed:
        return line
    width = words_width(content, size) + 6
    left = x - 3 - {"start": 0.0, "middle": width / 2 - 3, "end": width - 6}[anchor]
    return Markup(box(left, y - size, width, 1.3 * size, "paper", opacity=0.86) + line)


def arrow(x_1: float, y_1: float, x_2: float, y_2: float, colour: str = "soft") -> Markup:
    """Return a line with a head at its end."""
    angle = np.arctan2(y_2 - y_1, x_2 - x_1)
    fins = [
        (x_2 - 8 * np.cos(angle + turn), y_2 - 8 * np.sin(angle + turn)) for turn in (-0.4, 0.4)
    ]
    d = f"M{number(x_2)} {number(y_2)}" + "".join(f"L{number(a)} {number(b)}" for a, b in fins)
    shaft = segment(x_1, y_1, x_2, y_2, Stroke(colour=colour, width=1.3))
    return Markup(shaft + tag("path", d=f"{d}Z", fill=LIGHT[colour], class_=f"f-{colour}"))
