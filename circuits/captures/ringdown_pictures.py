"""Pictures of a free swing: the capture, the fall of its arc, its beats."""

from math import pi

import numpy as np
from numpy.typing import NDArray

from calc.fit_decay import Decay
from circuits.captures.measured import Curve, Measured, Note, Panel
from circuits.captures.swings import Swings
from circuits.format_quantity import significant

Array = NDArray[np.float64]


def draw_sizes(measured: Measured, swings: Swings, sizes: Array, decay: Decay | None) -> None:
    """Add the capture and the fall of its arc, with the fitted law."""
    if swings.wave is not None:
        t, wave = swings.wave
        ends: tuple[Note, ...] = () if swings.times is None else (
            Note(x=float(swings.times[0]), y=None, text="first crossing counted"),
            Note(x=float(swings.times[-1]), y=None, text="last"),
        )  # fmt: skip
        measured.panels.append(
            Panel(title="The capture", x_label="time (s)", y_label="as captured",
                  curves=(Curve(x=t, y=wave, style="data"),), notes=ends)
        )  # fmt: skip
    periods = swings.beats / 2
    degrees = swings.unit == "rad"
    factor = 180 / pi if degrees else 1.0
    curves = [Curve(x=periods, y=sizes * factor, style="points", label="measured")]
    notes: tuple[Note, ...] = ()
    if decay is not None:
        fine = np.linspace(periods[0], periods[-1], 200)
        curves.append(Curve(x=fine, y=decay.arc(fine) * factor, style="fit", label="fitted law"))
        middle = float(periods[len(periods) // 2])
        height = float(decay.arc(np.array([middle]))[0]) * factor
        q_text = f"Q = {significant(decay.q_factor(height / factor), 3)} here"
        notes = (Note(x=middle, y=height, text=q_text),)
    measured.panels.append(
        Panel(title="The fall of the arc", x_label="whole periods",
              y_label="arc (deg)" if degrees else "in proportion to the arc",
              curves=tuple(curves), notes=notes)
    )  # fmt: skip


def draw_times(measured: Measured, swings: Swings) -> None:
    """Add the time from crossing to crossing."""
    assert swings.times is not None
    steps = np.diff(swings.beats)
    beats = np.diff(swings.times) / steps
    measured.panels.append(
        Panel(title="Time from crossing to crossing", x_label="whole periods",
              y_label="beat (ms)",
              curves=(Curve(x=swings.beats[1:] / 2, y=beats * 1e3, style="points"),))
    )  # fmt: skip
