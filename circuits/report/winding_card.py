"""The card beside the winder: wire, turns, layers, direction and weight of one coil."""

import numpy as np

from circuits.format_quantity import show_range
from circuits.report.chart import WIDTH
from circuits.report.figure import Picture
from circuits.report.ink import LIGHT, Stroke, box, mark, polyline, segment, words
from circuits.report.markup import Markup, tag
from circuits.report.typography import printed
from circuits.sheet import Sheet
from circuits.sheet_sentences import shown
from circuits.stage_pass import StagePass
from circuits.stages.coil import CoilResult

HEIGHT = 272.0
TURN = Stroke(colour="one", width=1.8)
EDGE = Stroke(colour="ink", width=1.4)
MIDDLE = (122.0, 132.0)
OUTER, INNER = 96.0, 40.0
SPIRAL = 3.15
"""Turns that are drawn; the card says how many there are."""


def _face(name: str) -> Markup:
    """Return the bobbin from the side that faces the magnet, with the way of the wire."""
    x, y = MIDDLE
    angle = np.linspace(0, 2 * np.pi * SPIRAL, 160)
    radius = INNER + 8 + (OUTER - INNER - 20) * angle / angle[-1]
    # On paper the vertical axis points down: this turns clockwise.
    spiral = x + radius * np.cos(angle), y + radius * np.sin(angle)
    end = spiral[0][-1], spiral[1][-1]
    way = np.arctan2(spiral[1][-1] - spiral[1][-3], spiral[0][-1] - spiral[0][-3])
    fins = "L".join(
        f"{end[0] - 11 * np.cos(way + turn):.2f} {end[1] - 11 * np.sin(way + turn):.2f}"
        for turn in (-0.45, 0.45)
    )
    start = spiral[0][0], spiral[1][0]
    return Markup(
        tag("circle", cx=x, cy=y, r=OUTER, fill=LIGHT["wash"], stroke=LIGHT["ink"],
            stroke_width=1.4, class_="f-wash s-ink")
        + tag("circle", cx=x, cy=y, r=INNER, fill=LIGHT["paper"], stroke=LIGHT["ink"],
              stroke_width=1.4, class_="f-paper s-ink")
        + polyline(spiral[0], spiral[1], TURN)
        + tag("path", d=f"M{end[0]:.2f} {end[1]:.2f}L{fins}Z", fill=LIGHT["one"], class_="f-one")
        + mark(start[0], start[1], TURN, 4.5)
        + words(start[0] - 12, start[1] + 5, "S", anchor="end", strong=True)
        + words(x + 0.82 * OUTER, y + 0.82 * OUTER, "F", strong=True)
        + words(x - 12, y + 5, name, anchor="middle", strong=True)
        + words(x, y + OUTER + 22, "seen from the magnet", anchor="middle", colour="soft")
    )  # fmt: skip


def _rows(sheet: Sheet, stage: str, coil: CoilResult) -> list[tuple[str, str]]:
    values = sheet.values

    def of(symbol: str) -> str:
        return printed(shown(values[f"{stage}.{symbol}"]))

    several = f"{coil.count} coils, each " if coil.count > 1 else ""
    r = values[f"{stage}.r_coil"]
    span = ""
    if coil.count == 1 and coil.r_coil_low < coil.r_coil_high:
        span = f" ({printed(show_range(coil.r_coil_low, coil.r_coil_high, 'ohm'))})"
    rows = [
        ("Wire", f"{of('d_wire')} bare, {of('d_overall')} enamelled"),
        ("Turns", f"{several}{of('n_turns')}"),
        ("Layers", f"about {of('layers')} of {of('turns_per_layer')} turns"),
        ("Length", f"{of('wire_length')} wound, buy {of('spool_length')}"),
        ("Weight", f"{of('mass')} on the bobbin, buy {of('spool_mass')}"),
        ("Then measure", f"{printed(shown(r))}{span}"),
    ]
    return [row for row in rows if row[1]]


def winding_card(sheet: Sheet, done: StagePass, stage: str = "coil") -> Picture | None:
    """Return the card of the drive coil or of the pickup coil; None where there is none."""
    coil: CoilResult | None = done.result(stage)
    needed = ("layers", "turns_per_layer", "mass", "spool_mass", "spool_length")
    if coil is None or any(f"{stage}.{symbol}" not in sheet.values for symbol in needed):
        return None
    mark_of = "L1" if stage == "coil" else "L2"
    rows = _rows(sheet, stage, coil)
    pieces = [box(1, 1, WIDTH - 2, HEIGHT - 2, "paper", edge="line"), _face(mark_of)]
    left, top = 254.0, 44.0
    which = "drive coil" if stage == "coil" else "pickup coil"
    pieces.append(words(left, top, f"{mark_of}, {which}", strong=True, size=15))
    for number, (name, content) in enumerate(rows):
        y = top + 32 + number * 29
        pieces.append(words(left, y, name, colour="soft"))
        pieces.append(words(left + 100, y, content))
        pieces.append(segment(left, y + 9, WIDTH - 18, y + 9, Stroke(colour="line", width=0.8)))
    listed = "; ".join(f"{name}: {content}" for name, content in rows)
    return Picture(
        name=f"winding-{stage.replace('_', '-')}", title=f"Winding card of the {which}",
        width=WIDTH, height=HEIGHT, drawing=Markup("".join(pieces)),
        alternative=f"The bobbin seen from the magnet, wound clockwise from start S to finish F. "
        f"{listed}.",
        caption=_advice(stage, coil),
    )  # fmt: skip


def _advice(stage: str, coil: CoilResult) -> str:
    if stage == "coil":
        ends = "start S to the rail, finish F to the switch"
    else:
        ends = "start S to the bias, finish F to the filter"
    several = ""
    if coil.count > 1:
        several = f" Join the {coil.count} coils in {coil.connection} so that their fields add."
    return (
        "Wind all turns the same way and mark the start. Which way matters only for the order of "
        f"the lobes: begin with {ends}, look at the oscilloscope, and swap the two ends if the "
        f"lobes come in the other order. Count the turns; check by weight and by ohms.{several}"
    )
