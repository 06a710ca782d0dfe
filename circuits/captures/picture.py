"""The picture of a capture with what was found marked on it: plain SVG, text as text."""

import io
from typing import Any

import numpy as np
from numpy.typing import NDArray

from circuits.captures.measured import Curve, Panel

Array = NDArray[np.float64]
BINS = 900
"""A curve of more samples is drawn by least and greatest of so many stretches."""
STYLES: dict[str, dict[str, object]] = {
    "data": {"color": "#0072b2", "linewidth": 0.9},
    "points": {"color": "#0072b2", "linestyle": "none", "marker": "o", "markersize": 2.6},
    "fit": {"color": "#000000", "linewidth": 1.3, "linestyle": "--"},
    "level": {"color": "#000000", "linewidth": 0.8, "linestyle": ":"},
    "odd": {"color": "#d55e00", "linestyle": "none", "marker": "x", "markersize": 6.0,
            "markeredgewidth": 1.4},
}  # fmt: skip
"""Told apart by dash and mark as well as by a colour that most colour-blind people tell."""


def thinned(x: Array, y: Array) -> tuple[Array, Array]:
    """Return a curve with no more points than a picture can show, its extremes kept."""
    if x.size <= 3 * BINS:
        return x, y
    size = -(-x.size // BINS)
    count = x.size // size
    parts = y[: count * size].reshape(count, size)
    starts = np.arange(count) * size
    both = np.stack([parts.argmin(axis=1) + starts, parts.argmax(axis=1) + starts], axis=1)
    keep = np.unique(np.concatenate((both.ravel(), [0, x.size - 1])))
    return x[keep], y[keep]


def picture(title: str, panels: list[Panel]) -> str:
    """Return the panels as one SVG text, the same bytes for the same figures.

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
    import matplotlib  # noqa: PLC0415 - only who draws waits for it
    from matplotlib.backends.backend_svg import FigureCanvasSVG  # noqa: PLC0415
    from matplotlib.figure import Figure  # noqa: PLC0415

    settings: Any = {
        "svg.fonttype": "none",
        "svg.hashsalt": "coilwright",
        "font.family": "sans-serif",
        "font.sans-serif": ["DejaVu Sans"],
        "font.size": 9,
        "axes.formatter.use_mathtext": False,
        "path.simplify": False,
    }
    with matplotlib.rc_context(settings):
        figure = Figure(figsize=(7.2, 0.5 + 2.7 * max(len(panels), 1)), layout="constrained")
        FigureCanvasSVG(figure)
        figure.suptitle(title.replace("$", r"\$"))
        axes = figure.subplots(max(len(panels), 1), 1, squeeze=False)[:, 0]
        for panel, axis in zip(panels, axes, strict=False):
            _draw(panel, axis)
        target = io.StringIO()
        figure.savefig(target, format="svg", metadata={"Date": None, "Creator": None})
    return target.getvalue()


def _draw(panel: Panel, axis: object) -> None:
    from matplotlib.axes import Axes  # noqa: PLC0415

    assert isinstance(axis, Axes)
    for curve in panel.curves:
        _curve(curve, axis)
    bottom, top = axis.get_ylim()
    axis.set_ylim(bottom, top + 0.14 * (top - bottom))
    for number, note in enumerate(panel.notes):
        if note.y is None:
            axis.axvline(note.x, color="#000000", linewidth=0.6, linestyle=":")
            # Neighbouring texts stand at two heights so that they do not cover each other.
            height = 0.98 - 0.07 * (number % 2)
            axis.annotate(
                note.text.replace("$", r"\$"), (note.x, height), xytext=(2, 0),
                xycoords=("data", "axes fraction"), textcoords="offset points", va="top",
                fontsize=7,
            )  # fmt: skip
        else:
            axis.plot([note.x], [note.y], color="#000000", marker="s", markersize=3)
            axis.annotate(
                note.text.replace("$", r"\$"), (note.x, note.y), xytext=(5, 4),
                textcoords="offset points", fontsize=8,
            )  # fmt: skip
    axis.set_title(panel.title.replace("$", r"\$"), fontsize=9, loc="left")
    axis.set_xlabel(panel.x_label)
    axis.set_ylabel(panel.y_label)
    axis.grid(visible=True, linewidth=0.3, color="#b0b0b0")
    if any(curve.label for curve in panel.curves):
        axis.legend(fontsize=7, loc="upper right")


def _curve(curve: Curve, axis: object) -> None:
    from matplotlib.axes import Axes  # noqa: PLC0415

    assert isinstance(axis, Axes)
    x, y = thinned(curve.x, curve.y)
    axis.plot(x, y, label=curve.label or None, **STYLES[curve.style])  # type: ignore[arg-type]
