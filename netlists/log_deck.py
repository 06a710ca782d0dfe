"""The log output in a simulator: a PWM through its RC sections into a logger."""

from dataclasses import dataclass

import numpy as np

from netlists.deck import GROUND, Analysis, Deck, transient
from netlists.runner import Run

EDGE = 1e-3
"""Rise and fall of the PWM as a share of its period."""
STEPS = 60
"""Steps of the simulator in a period, at least."""
LASTS = 9.0
"""Slowest time constants after which what is left of the start counts for nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogCircuit:
    """A PWM pin, one or two equal sections, and the logger's input resistance."""

    v_high: float
    f_pwm: float
    duty: float
    r: float
    c: float
    poles: int
    r_load: float

    @property
    def periods(self) -> int:
        """Periods from rest until the output repeats itself."""
        slow = self.r * self.c * (1.0 if self.poles == 1 else 2.7)
        return int(np.ceil(LASTS * slow * self.f_pwm)) + 2


@dataclass(frozen=True, slots=True, kw_only=True)
class LogFigures:
    """Ripple from peak to peak and mean, over the last whole period."""

    ripple: float
    mean: float


def log_deck(circuit: LogCircuit, *, portable: bool = False) -> tuple[str, Analysis]:
    """Return the deck of the output from rest until it repeats itself, and its run."""
    deck = Deck(portable=portable)
    period = 1 / circuit.f_pwm
    edge = EDGE * period
    points = [(0.0, 0.0)]
    for k in range(circuit.periods):
        begin, fall = k * period, (k + circuit.duty) * period
        points += [(begin + edge, circuit.v_high), (fall, circuit.v_high), (fall + edge, 0.0)]
        points.append(((k + 1) * period, 0.0))
    deck.steps("1", "n1", GROUND, points)
    deck.resistor("1", "n1", "n2", circuit.r)
    deck.capacitor("1", "n2", GROUND, circuit.c)
    end = "n2"
    if circuit.poles == 2:
        deck.resistor("2", "n2", "n3", circuit.r)
        deck.capacitor("2", "n3", GROUND, circuit.c)
        end = "n3"
    deck.resistor("3", end, GROUND, circuit.r_load)
    analysis = transient(
        end=circuit.periods * period, step_max=period / STEPS, vectors=[f"v({end})"]
    )
    return deck.finished(analysis), analysis


def log_figures(circuit: LogCircuit, run: Run, analysis: Analysis) -> LogFigures:
    """Return the figures of a finished run."""
    t, v = run.real("time"), run.real(analysis.vectors[0])
    last = t >= (circuit.periods - 1) / circuit.f_pwm
    t, v = t[last], v[last]
    return LogFigures(
        ripple=float(np.ptp(v)), mean=float(np.trapezoid(v, t) / (t[-1] - t[0]))
    )  # fmt: skip
