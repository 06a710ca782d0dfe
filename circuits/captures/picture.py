"""The picture of a capture with what was found marked on it, as a file of its own."""

import numpy as np
from numpy.typing import NDArray

from circuits.captures.measured import Curve, Note, Panel
from circuits.report.chart import LEFT, RIGHT, SMALL, WIDTH, legend, panel
from circuits.report.chart import Panel as Axes
from circuits.report.figure import Picture
from circuits.report.ink import Stroke, mark, polyline, words, words_width
from circuits.report.markup import Markup
from circuits.report.scales import padded, tick_text
from circuits.report.standalone import standalone

Array = NDArray[np.float64]
BINS = 450
"""A longer curve is drawn by least and greatest of so many stretches: one for each unit or so."""
HEAD, GAP, TALL, FOOT = 34.0, 44.0, 190.0, 44.0
ROW = 17.0
STROKES = {
    "data": Stroke(colour="one", width=1.1),
    "points": Stroke(colour="one", width=0.0, marks="disc"),
    "fit": Stroke(colour="ink", width=1.8, dashes="7 4"),
    "level": Stroke(colour="soft", width=1.3, dashes="2 3"),
    "odd": Stroke(colour="two", width=0.0, marks="diamond"),
}
"""Told apart by dashes and marks as well as by colours, which differ in lightness too."""
FEW = 60
"""So few points are drawn larger."""
UPRIGHT = Stroke(colour="soft", width=1.0, dashes="3 3")
FOUND = Stroke(colour="ink", marks="square")


def thinned(x: Array, y: Array, bins: int = BINS) -> tuple[Array, Array]:
    """Return a curve with no more points than a picture can show, its extremes kept."""
    known = np.isfinite(x) & np.isfinite(y)
    x, y = x[known], y[known]
    if x.size <= 3 * bins:
        return x, y
    size = -(-x.size // bins)
    count = x.size // size
    parts = y[: count * size].reshape(count, size)
    starts = np.arange(count) * size
    both = np.stack([parts.argmin(axis=1) + starts, parts.argmax(axis=1) + starts], axis=1)
    keep = np.unique(np.concatenate((both.ravel(), [0, x.size - 1])))
    return x[keep], y[keep]


def picture(title: str, panels: list[Panel]) -> str:
    """Return the panels as one SVG file, the same bytes for the same figures.

    Parameters
    ----------
    title : str
        What stands above them.
    panels : list of Panel
        From above to below.

    Returns
    -------
    svg : str
    """
    pieces = [words(LEFT, 18, _fitting(title, WIDTH - LEFT - RIGHT), strong=True)]
    top = HEAD
    for one in panels:
        pieces.append(_drawn(one, top))
        top += GAP + TALL + FOOT
    told = " ".join(_told(one) for one in panels)
    return standalone(
        Picture(
            name="capture", title=title, alternative=told or "Nothing to draw.", caption="",
            width=WIDTH, height=top, drawing=Markup("".join(pieces)),
        )
    )  # fmt: skip


def _fitting(text: str, room: float) -> str:
    """Return a heading cut to the room that it has; the file's own title keeps it whole."""
    most = len(text)
    while most > 1 and words_width(text[:most]) > room:
        most -= 1
    return text if most == len(text) else text[: most - 1] + "\u2026"


def _told(one: Panel) -> str:
    """Return in words what a panel shows."""
    x, y = _everything(one.curves, 0), _everything(one.curves, 1)
    text = f"{one.title}: {one.y_label} from {_span(y)} over {one.x_label} from {_span(x)}."
    if one.notes:
        marks = "; ".join(f"{note.text} at {tick_text(note.x)}" for note in one.notes[:12])
        more = f"; and {len(one.notes) - 12} more" if len(one.notes) > 12 else ""
        text += f" Marked: {marks}{more}."
    return text


def _span(values: Array) -> str:
    if not values.size:
        return "nothing"
    low, high = (tick_text(float(f"{value:.4g}")) for value in (values.min(), values.max()))
    return f"{low} to {high}"


def _everything(curves: tuple[Curve, ...], axis: int) -> Array:
    """Return all places of a panel's curves along one axis that can be drawn."""
    found = [thinned(curve.x, curve.y)[axis] for curve in curves]
    return np.concatenate(found) if found else np.zeros(0)


def _drawn(one: Panel, top: float) -> Markup:
    x, y = _everything(one.curves, 0), _everything(one.curves, 1)
    rows = _rows(one.notes, x)
    span = padded(y if y.size else np.zeros(1), room=0.06)
    # The notes beside upright lines stand above the curves.
    room = (max(rows, default=-1) + 1) * ROW + 4
    axes = panel(
        x=padded(x if x.size else np.zeros(1), room=0.012),
        y=(span[0], span[1] + (span[1] - span[0]) * room / (TALL - room)),
        top=top + GAP, height=TALL,
    )  # fmt: skip
    for curve in one.curves:
        _add(axes, curve)
    lines = [note for note in one.notes if note.y is None]
    for note, row in zip(lines, rows, strict=True):
        axes.upright(note.x, UPRIGHT, note.text, drop=row * ROW)
    for note in one.notes:
        if note.y is not None:
            axes.point(note.x, note.y, FOUND)
            axes.note(note.x, note.y, note.text)
    named = [(STROKES[curve.style], curve.label) for curve in one.curves if curve.label]
    pieces = [
        words(LEFT, top + 16, one.title, size=SMALL, strong=True),
        axes.axes(x_name=one.x_label, y_name=one.y_label, zero=True),
    ]
    if named:
        pieces.append(legend(named, top + 35))
    return Markup("".join(pieces))


def _rows(notes: tuple[Note, ...], x: Array) -> list[int]:
    """Return for each note at an upright line the row in which it covers no other."""
    if not x.size:
        return [0 for note in notes if note.y is None]
    low, high = padded(x, room=0.012)
    scale = (WIDTH - LEFT - RIGHT) / (high - low)
    taken: list[list[tuple[float, float]]] = []
    rows = []
    for note in notes:
        if note.y is not None:
            continue
        width = words_width(note.text, SMALL) + 8
        left = (note.x - low) * scale
        if left + width >= WIDTH - LEFT - RIGHT:
            left -= width
        row = 0
        while row < len(taken) and any(
            left < end and left + width > start for start, end in taken[row]
        ):
            row += 1
        if row == len(taken):
            taken.append([])
        taken[row].append((left, left + width))
        rows.append(row)
    return rows


def _add(axes: Axes, curve: Curve) -> None:
    stroke = STROKES[curve.style]
    if not stroke.marks:
        x, y = thinned(curve.x, curve.y)
        if x.size > 1:
            axes.between.append(polyline(axes.x.many(x), axes.y.many(y), stroke))
        return
    x, y = thinned(curve.x, curve.y, BINS // 2)
    size = 4.5 if curve.style == "odd" else 3.4 if x.size < FEW else 2.2
    places = zip(axes.x.many(x).tolist(), axes.y.many(y).tolist(), strict=True)
    axes.between.extend(mark(a, b, stroke, size) for a, b in places)
