"""The trials of a search as a picture: what each aim costs in another."""

import numpy as np

from circuits.boards.face_seek import verdict
from circuits.boards.seeking import Found
from circuits.boards.trial import Row
from circuits.format_quantity import YEAR
from circuits.report.chart import WIDTH, legend, panel
from circuits.report.figure import Picture, svg
from circuits.report.ink import FOURTH, FRESH, SPENT, THIRD, Stroke
from circuits.report.markup import Markup
from circuits.report.scales import padded

HEIGHT = 400.0
TOP, TALL = 48.0, 310.0
UNITS = {
    "energy": ("energy per swing [mJ]", 1e-3),
    "life": ("life of the cells [years]", YEAR),
    "coil": ("mass of the coil's wire [g]", 1e-3),
}
GOOD = Stroke(colour="soft", marks="hollow", width=0.0)
FRONT = Stroke(colour=FRESH.colour, width=FRESH.width, marks="disc")
BEST = Stroke(colour=SPENT.colour, width=0.0, marks="diamond")
FILE = Stroke(colour=THIRD.colour, width=0.0, marks="square")
FAILS = Stroke(colour=FOURTH.colour, width=0.0, marks="disc")


def _axes(found: Found) -> tuple[str, str]:
    """Return the figures across and up: the aim stands upright."""
    across = "energy" if found.aim == "coil" else "coil"
    return across, found.aim


def _places(rows: list[Row], across: str, up: str) -> tuple[np.ndarray, np.ndarray]:
    kept = [row.figures for row in rows if across in row.figures and up in row.figures]
    x = np.array([figures[across] / UNITS[across][1] for figures in kept])
    y = np.array([figures[up] / UNITS[up][1] for figures in kept])
    return x, y


def front_picture(found: Found, title: str) -> str | None:
    """Return the picture as an SVG file; None where no trial has both figures.

    Parameters
    ----------
    found : Found
        What the search found.
    title : str
        The design's title.

    Returns
    -------
    text : str or None
    """
    across, up = _axes(found)
    sorts = [
        ("fails", FAILS, [row for row in found.rows if row.fails]),
        ("passes", GOOD, [row for row in found.rows if row.good]),
        ("beaten by none", FRONT, list(found.front)),
        ("the file", FILE, [found.start]),
        ("best", BEST, [found.best] if found.best is not None else []),
    ]
    placed = [(words, stroke, *_places(rows, across, up)) for words, stroke, rows in sorts]
    placed = [entry for entry in placed if len(entry[2])]
    if not placed:
        return None
    axes = panel(
        x=padded(*(x for _, _, x, _ in placed)), y=padded(*(y for _, _, _, y in placed)),
        top=TOP, height=TALL,
    )  # fmt: skip
    for _, stroke, x, y in placed:
        for one, other in zip(x.tolist(), y.tolist(), strict=True):
            axes.point(one, other, stroke)
    drawing = Markup(
        legend([(stroke, words) for words, stroke, _, _ in placed], TOP - 22)
        + axes.axes(x_name=UNITS[across][0], y_name=UNITS[up][0])
    )
    counts = ", ".join(f"{len(x)} {words}" for words, _, x, _ in placed)
    return svg(
        Picture(
            name="trials", title=f"{title}: {UNITS[up][0]} against {UNITS[across][0]}",
            alternative=f"{verdict(found)} Marked: {counts}.", caption="", width=WIDTH,
            height=HEIGHT, drawing=drawing,
        )
    )  # fmt: skip
