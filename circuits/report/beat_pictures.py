"""One driven pass in milliseconds and millimetres, and the same pass at three gaps."""

import numpy as np
from numpy.typing import NDArray

from circuits.format_quantity import percent, show
from circuits.report.beat_curves import BeatCurves
from circuits.report.chart import LEFT, RIGHT, SMALL, WIDTH, Panel, legend, panel
from circuits.report.figure import Picture
from circuits.report.gap_curves import GapCurves
from circuits.report.ink import FRESH, LIMIT, PLAIN, SPENT, THIRD, Stroke, segment, words
from circuits.report.markup import Markup, tag
from circuits.report.scales import even, handy, padded, tick_text
from circuits.report.typography import printed

Array = NDArray[np.float64]

MS, MM = 1e3, 1e3
TICK = Stroke(colour="soft", width=1.0)
EVENT = Stroke(colour="ink", dashes="2 3", width=1.4)
LOBES = 3.4
"""How far beyond the lobes the pin's picture reaches; pulse and kick go far beyond."""


def hatch(name: str, colour: str = "#8b887f") -> Markup:
    """Return a pattern of slanting lines."""
    return tag(
        "pattern",
        tag("path", d="M-2 2L2 -2M0 8L8 0M6 10L10 6", stroke=colour, stroke_width=1.1,
            class_="s-soft"),
        id=name, width=8, height=8, patternUnits="userSpaceOnUse",
    )  # fmt: skip


def _millimetres(curves: BeatCurves, at: Panel) -> Markup:
    """Return the upper axis: where the magnet is."""
    places = curves.path * MM
    rising = places[np.concatenate([[True], np.diff(np.maximum.accumulate(places)) > 0])]
    times = curves.t[np.concatenate([[True], np.diff(np.maximum.accumulate(places)) > 0])]
    pieces: list[Markup] = [segment(at.left, at.top, at.right, at.top, TICK)]
    last = -1e9
    for place in even(float(rising[0]), float(rising[-1]), 9):
        x = at.x.at(float(np.interp(place, rising, times)) * MS)
        pieces.append(segment(x, at.top - 5, x, at.top, TICK))
        if x - last > 34:
            pieces.append(
                words(x, at.top - 9, tick_text(place), anchor="middle", size=SMALL, colour="soft")
            )
            last = x
    pieces.append(
        words((at.left + at.right) / 2, at.top - 26, "magnet's place from the coil's axis [mm]",
              anchor="middle")
    )  # fmt: skip
    return Markup("".join(pieces))


def _bands(curves: BeatCurves, at: Panel) -> None:
    start, stop = curves.t_on * MS, (curves.t_on + curves.width) * MS
    at.band(stop, curves.deaf_until * MS, pattern="beat-deaf", opacity=0.55)
    at.band(start, stop, fill="line", opacity=0.85)
    at.upright(curves.event * MS, EVENT)


def one_beat(curves: BeatCurves) -> Picture:
    """Return EMF, pin and current of one pass under each other."""
    t, span = curves.t * MS, (float(curves.t[0]) * MS, float(curves.t[-1]) * MS)
    volts = handy(float(np.abs(curves.back_emf).max()), "V")
    e = curves.back_emf / volts.size
    emf = panel(x=span, y=padded(e), top=96, height=128)
    _bands(curves, emf)
    emf.curve(t, e, PLAIN)
    middle = (curves.t_on + curves.width / 2) * MS
    emf.note(middle, emf.y.low, "pulse", anchor="middle", dx=0, dy=-6)

    free = (curves.t < curves.t_on) if curves.trigger != "previous_pass" else curves.t < 0
    lobe = float(np.abs(curves.fresh.pin[free]).max()) if free.any() else 0.0
    lobe = max(lobe, abs(curves.armed))
    at_pin = handy(lobe, "V")
    reach = LOBES * lobe / at_pin.size
    pins = [state.pin / at_pin.size for state in curves.shown]
    low, high = padded(*pins)
    cut = (max(low, -reach), min(high, reach))
    pin = panel(x=span, y=cut if cut[0] < cut[1] else (-reach, reach), top=250, height=150)
    _bands(curves, pin)
    for values, stroke in zip(pins, (FRESH, SPENT), strict=False):
        pin.curve(t, values, stroke)
    pin.level(curves.armed / at_pin.size, LIMIT)
    threshold = f"threshold {printed(show(abs(curves.armed), 'V'))}"
    deaf = (curves.t_on + curves.width + curves.deaf_until) / 2 * MS
    if curves.deaf_until > curves.t_on + 1.2 * curves.width:
        pin.note(min(deaf, span[1]), pin.y.low, "deaf", anchor="middle", dx=0, dy=-6)

    amperes = handy(max(float(s.i.max()) for s in curves.shown), "A")
    flows = [state.i / amperes.size for state in curves.shown]
    current = panel(x=span, y=padded(*flows, zero=True), top=426, height=104)
    _bands(curves, current)
    for values, stroke in zip(flows, (FRESH, SPENT), strict=False):
        current.curve(t, values, stroke)

    drawing = Markup(
        tag("defs", hatch("beat-deaf"))
        + legend([*curves.states.names, (EVENT, "event seen"), (LIMIT, threshold)], 20)
        + _millimetres(curves, emf)
        + emf.axes(y_name=f"EMF [{volts.name}]", x_labels=False, zero=True)
        + pin.axes(y_name=f"pin [{at_pin.name}]", x_labels=False, zero=True)
        + current.axes(
            x_name="time from the magnet on the coil's axis [ms]", y_name=f"coil [{amperes.name}]"
        )
    )
    return Picture(
        name="one-beat", title="One driven pass", width=WIDTH, height=576, drawing=drawing,
        alternative=_beat_words(curves),
        caption=printed(_beat_caption(curves)),
    )  # fmt: skip


def _beat_words(curves: BeatCurves) -> str:
    peak = show(float(np.abs(curves.back_emf).max()), "V")
    return (
        "Three charts under each other over the time of one pass, with the magnet's place along "
        f"the top. The EMF peaks at {peak}; it is above zero where a current pushes. The signal "
        f"at the pin reaches {show(abs(curves.armed), 'V')} from rest, where the input is armed. "
        f"The pulse lasts from {show(curves.t_on, 's')} to "
        f"{show(curves.t_on + curves.width, 's')}, and the coil's current peaks at "
        + " and ".join(
            f"{show(float(state.i.max()), 'A')} {where}"
            for state, where in zip(
                curves.shown, (curves.states.at_first, curves.states.at_last), strict=False
            )
        )
        + "."
    )


def _beat_caption(curves: BeatCurves) -> str:
    start = float(np.interp(curves.t_on, curves.t, curves.path))
    stop = float(np.interp(curves.t_on + curves.width, curves.t, curves.path))
    seen = (
        f"The event is seen at {show(curves.event, 's')}; the"
        if curves.trigger != "previous_pass"
        else "The pulse is timed from the pass before; the"
    )
    return (
        "Where the EMF is above zero a current works on the magnet, below it brakes. "
        f"{seen} pulse runs from {show(start, 'm')} to {show(stop, 'm')} of travel (grey). Until "
        f"{show(curves.deaf_until, 's')} (hatched) pulse and kick still stand in the filter, and "
        "the input must be deaf. The pin is shown from its rest level."
    )


def three_gaps(curves: GapCurves) -> Picture:
    """Return the EMF of a free pass at the gap there is and a millimetre beside it."""
    t = curves.t * MS
    volts = handy(float(np.abs(curves.emf[0]).max()), "V")
    waves = [wave / volts.size for wave in curves.emf]
    at = panel(x=(float(t[0]), float(t[-1])), y=padded(*waves), top=36, height=210)
    strokes = (THIRD, FRESH, SPENT)
    names = []
    for gap, wave, stroke in zip(curves.gaps, waves, strokes, strict=True):
        at.curve(t, wave, stroke)
        names.append((stroke, f"gap {printed(show(gap, 'm'))}"))
    peaks = [float(np.abs(wave).max()) for wave in waves]
    drawing = Markup(
        legend(names, 20)
        + at.axes(x_name="time from the magnet on the coil's axis [ms]",
                  y_name=f"EMF [{volts.name}]", zero=True)
    )  # fmt: skip
    listed = ", ".join(
        f"{peak:.3g} {volts.name} at {show(gap, 'm')}"
        for gap, peak in zip(curves.gaps, peaks, strict=True)
    )
    less, more = peaks[0] / peaks[1] - 1, 1 - peaks[2] / peaks[1]
    return Picture(
        name="three-gaps", title="The EMF at three gaps", width=WIDTH, height=292, drawing=drawing,
        alternative=f"Three curves of the EMF over one free pass. Peaks: {listed}.",
        caption=printed(
            f"The free pass at the coil's open ends: peaks of {listed}. A step nearer gives "
            f"{percent(round(less, 2))} more, a step farther {percent(round(more, 2))} less; what "
            "you see here tells which gap you have."
        ),
    )  # fmt: skip


__all__ = ["LEFT", "RIGHT", "hatch", "one_beat", "three_gaps"]
