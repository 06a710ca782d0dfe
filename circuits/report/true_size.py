"""Drawings in true size: one unit is a millimetre, and they are as wide as they say."""

from circuits.report.ink import FONT, LIGHT
from circuits.report.markup import Markup, number, tag
from circuits.report.typography import printed

WIDE = 178.0
"""What fits on A4 and on Letter alike [mm]."""
TEXT = 3.2


def line(x_1: float, y_1: float, x_2: float, y_2: float, *, dashes: str = "",
          width: float = 0.3) -> Markup:  # fmt: skip
    """Return a straight line."""
    return tag(
        "line", x1=x_1, y1=y_1, x2=x_2, y2=y_2, stroke=LIGHT["ink"], stroke_width=width,
        stroke_dasharray=dashes or None, class_="s-ink",
    )  # fmt: skip


def circle(x: float, y: float, radius: float, *, dashes: str = "") -> Markup:
    """Return a circle."""
    return tag(
        "circle", cx=x, cy=y, r=radius, fill="none", stroke=LIGHT["ink"], stroke_width=0.3,
        stroke_dasharray=dashes or None, class_="s-ink",
    )  # fmt: skip


def says(x: float, y: float, content: str, *, anchor: str = "start", strong: bool = False
          ) -> Markup:  # fmt: skip
    """Return a line of letters."""
    return tag(
        "text", content, x=x, y=y, fill=LIGHT["ink"], class_="f-ink", font_size=TEXT,
        text_anchor=None if anchor == "start" else anchor, font_weight="600" if strong else None,
    )  # fmt: skip


def true_sheet(name: str, title: str, alternative: str, width: float, height: float,
           *pieces: Markup) -> Markup:  # fmt: skip
    """Return a drawing of so many millimetres with its title and what to do with it."""
    drawing = tag(
        "svg", tag("title", title, id=f"{name}-title"),
        tag("desc", alternative, id=f"{name}-desc"), *pieces,
        xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {number(width)} {number(height)}",
        width=f"{number(width)}mm", height=f"{number(height)}mm", role="img", font_family=FONT,
        aria_labelledby=f"{name}-title", aria_describedby=f"{name}-desc", class_="true-size",
    )  # fmt: skip
    return tag(
        "figure",
        tag("div", drawing, class_="template", tabindex="0", role="group",
            aria_label=f"Template: {title}"),
        tag("figcaption", tag("strong", f"{title}."), " ", printed(alternative)),
        id=name, class_="true",
    )  # fmt: skip
