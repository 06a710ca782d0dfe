"""A picture on the page: a drawing with a title, a text alternative and a caption in words."""

from dataclasses import dataclass

from circuits.report.ink import FONT, LETTERS
from circuits.report.markup import Markup, number, tag


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A drawing of `width` by `height` units, and what it shows in words.

    `alternative` describes the drawing to somebody who does not see it, `caption` says what
    follows from it.
    """

    name: str
    title: str
    alternative: str
    caption: str
    width: float
    height: float
    drawing: Markup


def svg(picture: Picture, **attributes: str) -> Markup:
    """Return the drawing as an element of its own, named and described."""
    return tag(
        "svg",
        tag("title", picture.title, id=f"{picture.name}-title"),
        tag("desc", picture.alternative, id=f"{picture.name}-desc"),
        picture.drawing,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(picture.width)} {number(picture.height)}",
        width=picture.width, height=picture.height, role="img", font_family=FONT,
        font_size=LETTERS, aria_labelledby=f"{picture.name}-title",
        aria_describedby=f"{picture.name}-desc", **attributes,
    )  # fmt: skip


def figure(picture: Picture) -> Markup:
    """Return the picture with its title and caption."""
    return tag(
        "figure",
        tag("div", svg(picture), class_="drawing", tabindex="0", role="group",
            aria_label=f"Picture: {picture.title}"),
        tag("figcaption", tag("strong", f"{picture.title}."), " ", picture.caption),
        id=picture.name,
    )  # fmt: skip
