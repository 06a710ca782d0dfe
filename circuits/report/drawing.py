"""The circuit drawing's tools: schemdraw's own SVG, without the plotting library it would load."""

import sys
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, cast
from xml.etree import ElementTree

from circuits.report.ink import LIGHT, Stroke, mark, words, words_width
from circuits.report.markup import Markup, tag

PLOTTING = "schemdraw.backends.mpl"
LETTERS = 12.5
LEADING = 15.0
LINE = 1.6
SCALE = 36.0
"""Units of the picture for one of schemdraw's."""
TEST_POINT = Stroke(colour="two")

Place = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch:
    """Where a transistor's control and its lower end are."""

    control: Place
    lower: Place


def _loaded() -> Any:
    """Return schemdraw, drawing SVG by itself.

    If its bridge to the plotting library can be imported, so is that library, for a third of a
    second and nothing; as if it were not installed, schemdraw does without.
    """
    if "schemdraw" not in sys.modules and PLOTTING not in sys.modules:
        cast(dict[str, Any], sys.modules)[PLOTTING] = None
        try:
            import schemdraw  # noqa: PLC0415 - only a report pays for it
        finally:
            del sys.modules[PLOTTING]
    import schemdraw  # noqa: PLC0415
    from schemdraw import elements  # noqa: F401, PLC0415

    schemdraw.use("svg")
    schemdraw.svgconfig.text = "text"
    return schemdraw


class Sketch:
    """A drawing in which every part is placed by the coordinates of its ends.

    The parts are schemdraw's, the letters beside them the page's own, in the same coordinates.
    """

    def __init__(self) -> None:
        schemdraw = _loaded()
        self._elements = schemdraw.elements
        self._drawing = schemdraw.Drawing(show=False)
        self._drawing.config(lw=LINE)
        self._letters: list[Markup] = []
        self._reach: list[tuple[float, float]] = []

    def part(self, kind: str, start: Place, end: Place) -> None:
        """Add a part with two ends."""
        self._drawing.add(getattr(self._elements, kind)().endpoints(start, end))

    def wire(self, *places: Place) -> None:
        """Add a wire through places."""
        for one, other in pairwise(places):
            self._drawing.add(self._elements.Line().endpoints(one, other))

    def dot(self, x: float, y: float, *, terminal: bool = False) -> None:
        """Add a junction, or a terminal."""
        self._drawing.add(self._elements.Dot(open=terminal).at((x, y)))

    def ground(self, x: float, y: float) -> None:
        """Add a ground."""
        self._drawing.add(self._elements.Ground(lead=False).at((x, y)))

    def switch(self, kind: str, x: float, y: float) -> Switch:
        """Add a transistor by its upper end; return where its control and lower end are."""
        if kind == "nmos":
            part = self._drawing.add(
                self._elements.NMos(diode=True).theta(0).anchor("drain").at((x, y))
            )
            ends = part.absanchors["gate"], part.absanchors["source"]
        else:
            part = self._drawing.add(
                self._elements.BjtNpn(circle=True).right().anchor("collector").at((x, y))
            )
            ends = part.absanchors["base"], part.absanchors["emitter"]
        (control_x, control_y), (lower_x, lower_y) = ((end[0], end[1]) for end in ends)
        return Switch(control=(control_x, control_y), lower=(lower_x, lower_y))

    def words(self, x: float, y: float, *lines: str, anchor: str = "start",
              strong: bool = False) -> None:  # fmt: skip
        """Add lines of letters, centred on a height."""
        top = -y * SCALE - (len(lines) - 1) * LEADING / 2 + 4.5
        for number, line in enumerate(lines):
            place = top + number * LEADING
            self._letters.append(
                words(x * SCALE, place, line, anchor=anchor, size=LETTERS, strong=strong)
            )
            width = words_width(line, LETTERS)
            left = x * SCALE - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
            self._reach += [(left, place - 12), (left + width, place + 5)]

    def mark(self, x: float, y: float, name: str, *, dx: float = 0.28, dy: float = 0.34) -> None:
        """Add a test point: a disc with its name on a patch of paper beside it."""
        self._letters.append(mark(x * SCALE, -y * SCALE, TEST_POINT, 4.5))
        place = (x + dx) * SCALE, -(y + dy) * SCALE + 4.5
        anchor = "start" if dx > 0 else "end"
        self._letters.append(
            words(*place, name, anchor=anchor, size=LETTERS, strong=True, colour="two", backed=True)
        )
        self._reach += [(place[0] - 12, place[1] - 12), (place[0] + 30, place[1] + 5)]

    def svg(self) -> tuple[Markup, float, float]:
        """Return what is inside the drawing's element, its width and its height."""
        raw = ElementTree.fromstring(self._drawing.get_imagedata("svg").decode("utf-8"))
        x, y, width, height = (float(figure) for figure in raw.attrib["viewBox"].split())
        left = min([x, *(place for place, _ in self._reach)]) - 2
        right = max([x + width, *(place for place, _ in self._reach)]) + 2
        top = min([y, *(place for _, place in self._reach)]) - 2
        bottom = max([y + height, *(place for _, place in self._reach)]) + 2
        drawing = tag(
            "g", *(_adopted(element) for element in raw), *self._letters,
            transform=f"translate({-left:.2f} {-top:.2f})",
        )  # fmt: skip
        return drawing, right - left, bottom - top


def _adopted(element: ElementTree.Element) -> Markup:
    """Return an element with its colours as attributes, which the page may change."""
    attributes = {key: value for key, value in element.attrib.items() if key != "style"}
    kept: list[str] = []
    classes: list[str] = []
    for entry in element.get("style", "").rstrip(";").split(";"):
        name, _, value = entry.partition(":")
        if name in ("stroke", "fill"):
            colour = {"black": "ink", "white": "paper"}.get(value, "")
            attributes[name] = LIGHT.get(colour, value)
            classes += [f"{name[0]}-{colour}"] if colour else []
        elif name and value != "-":
            kept.append(f"{name}:{value}")
    # Its name without the namespace, which other libraries may have given a prefix.
    name = element.tag.rpartition("}")[2]
    return tag(name, class_=" ".join(classes), style=";".join(kept), **attributes)
