"""What the filter lets through, and what an oscilloscope shows at each test point."""

import numpy as np
from numpy.typing import NDArray

from calc.ladder import response
from circuits.format_quantity import percent, show
from circuits.report.beat_curves import BeatCurves, StateCurves
from circuits.report.chart import LEFT, WIDTH, Panel, legend, panel
from circuits.report.figure import Picture
from circuits.report.ink import FRESH, LIMIT, PLAIN, SPENT, Stroke, words
from circuits.report.markup import Markup
from circuits.report.scales import handy, padded
from circuits.report.typography import printed
from circuits.stage_pass import StagePass
from circuits.stages.emf import EmfResult
from circuits.stages.filter import FilterResult

Array = NDArray[np.float64]

HARMONICS = (1, 2, 3)
DEPTH = 1e-3
MAINS = Stroke(colour="two", marks="diamond")
SIGNAL = Stroke(colour="three", dashes="2 3", width=1.6)
GUTTER = 62.0


def _gain(f: FilterResult, frequency: Array) -> Array:
    gains = [
        response(
            f=one, gain_dc=1.0, tau_high=f.tau_high, tau_slow=f.tau_slow, tau_fast=f.tau_fast
        ).gain
        for one in frequency.tolist()
    ]
    return np.array(gains)


def filter_response(done: StagePass) -> Picture:
    """Return the filter's gain over frequency, with the mains and the lobes."""
    f: FilterResult = done.result("filter")
    emf: EmfResult = done.result("emf")
    lobes = 1 / (2 * emf.peak_spacing)
    low = min(0.3 * lobes, 0.3 * f.f_c)
    high = max(4 * f.f_mains * HARMONICS[-1] / 3, 3 * f.f_c)
    frequency = np.geomspace(low, high, 160)
    gain = _gain(f, frequency)
    floor = max(min(float(gain.min()), 0.1) * 0.6, DEPTH)
    at = panel(x=(low, high), y=(floor, 1.5), top=36, height=220, x_log=True, y_log=True)
    at.curve(frequency, np.maximum(gain, floor), PLAIN)
    at.upright(lobes, SIGNAL)
    at.upright(f.f_c, LIMIT, f"cut-off {printed(show(f.f_c, 'Hz'))}")
    left: list[str] = []
    for order in HARMONICS:
        mains = order * f.f_mains
        here = float(_gain(f, np.array([mains]))[0])
        if mains < high and here > floor:
            at.point(mains, here, MAINS)
            if order == 1:
                at.note(mains, here, f"{show(mains, 'Hz')}: {percent(here)}", dx=8, dy=-8)
        left.append(f"{percent(here)} at {show(mains, 'Hz')}")
    drawing = Markup(
        legend([(PLAIN, "gain"), (MAINS, "mains, overtones"),
                (SIGNAL, "the lobes")], 20)
        + at.axes(x_name="frequency [Hz]", y_name="gain over the pass band's")
    )  # fmt: skip
    return Picture(
        name="filter-response", title="What the filter lets through", width=WIDTH, height=304,
        drawing=drawing,
        alternative=f"Gain over frequency on logarithmic axes, flat at low frequencies and 3 dB "
        f"down at {show(f.f_c, 'Hz')}. Left of the mains: {', '.join(left)}.",
        caption=printed(
            f"The lobes alternate as a sine of {show(lobes, 'Hz')} would, and must pass; the mains "
            f"must not: {', '.join(left)}. The cut-off holds with winding, divider and pin as they "
            "are."
        ),
    )  # fmt: skip


def _one(at: Panel, t: Array, waves: list[Array], name: str, unit: str) -> Markup:
    for wave, stroke in zip(waves, (FRESH, SPENT), strict=False):
        at.curve(t, wave, stroke)
    point, _, rest = name.partition(" ")
    head = words(at.left, at.top - 8, point, strong=True)
    head = Markup(head + words(at.left + 36, at.top - 8, f"{rest} [{unit}]"))
    return Markup(head + at.axes(y_most=4, x_most=5))


def oscilloscope(curves: BeatCurves, points: dict[str, str]) -> Picture:
    """Return what to expect at each electrical test point about one pulse."""
    before, after = 0.55 * curves.width, 0.9 * curves.width
    start, stop = curves.t_on - before, curves.t_on + curves.width + after
    inside = (curves.t >= start) & (curves.t <= stop)
    t = (curves.t[inside] - curves.t_on) * 1e3

    def of(state: StateCurves) -> dict[str, Array]:
        return {
            "base": state.base[inside], "node": state.node[inside], "current": state.i[inside],
            "tap": state.tap[inside], "pin": state.rest + state.pin[inside],
        }  # fmt: skip

    seen = [of(state) for state in curves.shown]
    pieces = [legend(curves.states.names, 20)]
    width = (WIDTH - 2 * GUTTER - 14 + 20) / 2
    listed: list[str] = []
    for number, (key, name) in enumerate(points.items()):
        unit = "A" if key == "current" else "V"
        scaled = handy(max(float(np.abs(state[key]).max()) for state in seen), unit)
        left = GUTTER - 14 + (number % 2) * (width + GUTTER - 6)
        waves = [state[key] / scaled.size for state in seen]
        at = panel(
            x=(float(t[0]), float(t[-1])), y=padded(*waves, zero=key in ("base", "current")),
            top=62 + (number // 2) * 158, height=104, left=left, right=left + width,
        )  # fmt: skip
        at.band(0.0, curves.width * 1e3, fill="wash")
        pieces.append(_one(at, t, waves, name, scaled.name))
        listed.append(
            f"{name}: {float(waves[0].min()):.3g} to {float(waves[0].max()):.3g} {scaled.name}"
        )
    rows = (len(points) + 1) // 2
    height = 62 + rows * 158
    pieces.append(
        words(WIDTH / 2, height - 12, "time from the start of the pulse [ms]", anchor="middle")
    )
    return Picture(
        name="oscilloscope", title="What the oscilloscope shows", width=WIDTH, height=height,
        drawing=Markup("".join(pieces)),
        alternative=f"Small charts about one pulse, {curves.states.at_first}: "
        f"{'; '.join(listed)}.",
        caption=printed(
            f"One pulse of {show(curves.width, 's')} at each test point of the circuit, against "
            "ground; the wash marks how long the switch is closed. The current is what a shunt in "
            "the coil's lead shows. The kick is as short as it looks: set the time base to it once."
        ),
    )  # fmt: skip


__all__ = ["LEFT", "filter_response", "oscilloscope"]
