"""A picture as a file of its own, on its own paper, light or dark as its viewer wants."""

from circuits.report.figure import Picture
from circuits.report.ink import DARK, FONT, LETTERS, LIGHT, box
from circuits.report.markup import Markup, number, tag

ROOM = 14.0


def _colours(colours: dict[str, str]) -> str:
    return "".join(
        f".s-{name}{{stroke:{colour}}}.f-{name}{{fill:{colour}}}"
        for name, colour in colours.items()
    )


def standalone(picture: Picture) -> str:
    """Return a picture as the text of an SVG file."""
    width, height = picture.width + 2 * ROOM, picture.height + 2 * ROOM
    style = f"@media (prefers-color-scheme: dark){{{_colours(DARK)}}}"
    return tag(
        "svg",
        tag("title", picture.title, id=f"{picture.name}-title"),
        tag("desc", picture.alternative, id=f"{picture.name}-desc"),
        tag("style", Markup(_colours(LIGHT) + style)),
        box(0, 0, width, height, "paper"),
        tag("g", picture.drawing, transform=f"translate({number(ROOM)} {number(ROOM)})"),
        xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {number(width)} {number(height)}",
        width=width, height=height, role="img", font_family=FONT, font_size=LETTERS,
        aria_labelledby=f"{picture.name}-title", aria_describedby=f"{picture.name}-desc",
    ) + "\n"  # fmt: skip
