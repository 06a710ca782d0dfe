"""The pickup path and the filter in a simulator: over frequency, and in time on the real EMF."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from netlists.deck import GROUND, Analysis, Deck, sweep, transient
from netlists.runner import Run

BLEED = 1e12
START, END, PER_DECADE = 1e-2, 1e5, 200
HALF_POWER = 1 / np.sqrt(2)


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterCircuit:
    """A ladder: source, divider (lower None: there is none), then one or two poles and a load."""

    r_source: float
    r_upper: float
    r_lower: float | None
    r: tuple[float, ...]
    c: tuple[float, ...]
    r_load: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterFigures:
    """What the simulator found over frequency."""

    f_c: float
    gain: float
    mains_gain: float


def _ladder(deck: Deck, circuit: FilterCircuit, start: float) -> str:
    """Add the ladder behind node n1; return the pin's node."""
    deck.resistor("1", "n1", "n2", max(circuit.r_source + circuit.r_upper, 1e-3))
    if circuit.r_lower is not None:
        deck.resistor("2", "n2", GROUND, circuit.r_lower)
    node = "n2"
    for stage, (r, c) in enumerate(zip(circuit.r, circuit.c, strict=True), start=3):
        following = f"n{stage}"
        deck.resistor(str(stage), node, following, max(r, 1e-3))
        deck.capacitor(str(stage), following, GROUND, c, start)
        node = following
    deck.resistor("9", node, GROUND, BLEED if circuit.r_load is None else circuit.r_load)
    return node


def response_deck(circuit: FilterCircuit) -> tuple[str, Analysis, str]:
    """Return the deck over frequency, its run and the pin's vector."""
    deck = Deck()
    deck.test_signal("1", "n1", GROUND)
    node = _ladder(deck, circuit, 0.0)
    analysis = sweep(start=START, end=END, per_decade=PER_DECADE, vectors=[f"v({node})"])
    return deck.finished(analysis), analysis, f"v({node})"


def response_figures(run: Run, vector: str, mains: float) -> FilterFigures:
    """Return the figures of a finished sweep; the gains are relative to that at rest."""
    frequency, gain = run.real("frequency"), np.abs(run.phasor(vector))
    relative = gain / gain[0]
    below = int(np.flatnonzero(relative <= HALF_POWER)[0])
    log_f, log_g = np.log(frequency), np.log(relative)
    # Between two points of 200 in a decade the curve is straight on these axes to 1e-5.
    f_c = np.exp(np.interp(-np.log(HALF_POWER), -log_g[: below + 1], log_f[: below + 1]))
    return FilterFigures(
        f_c=float(f_c),
        gain=float(gain[0]),
        mains_gain=float(np.exp(np.interp(np.log(mains), log_f, log_g))),
    )


def crossing_deck(
    circuit: FilterCircuit, t: NDArray[np.float64], signal: NDArray[np.float64]
) -> tuple[str, Analysis, str]:
    """Return the deck in time on a waveform at the filter's input, its run and the pin's vector.

    Parameters
    ----------
    circuit : FilterCircuit
        The ladder.
    t : numpy.ndarray
        Times of the samples, rising, any origin [s].
    signal : numpy.ndarray
        Departure of the source from rest [V].
    """
    deck = Deck()
    points = list(zip((t - t[0]).tolist(), signal.tolist(), strict=True))
    deck.waveform("1", "n1", GROUND, points)
    node = _ladder(deck, circuit, 0.0)
    span = float(t[-1] - t[0])
    analysis = transient(end=span, step_max=min(span / 2000, 5e-5), vectors=[f"v({node})", "v(n1)"])
    return deck.finished(analysis), analysis, f"v({node})"


def crossing_time(run: Run, vector: str, t_first: float, near: float) -> float:
    """Return the time, on the samples' clock, at which the pin crosses its baseline.

    Parameters
    ----------
    run : Run
        A finished run in time.
    vector : str
        The pin's vector.
    t_first : float
        Time of the first sample [s].
    near : float
        The crossing nearest to this time is meant [s].
    """
    t, v = run.real("time") + t_first, run.real(vector)
    change = np.flatnonzero(np.sign(v[:-1]) * np.sign(v[1:]) < 0)
    crossings = t[change] - v[change] * (t[change + 1] - t[change]) / (v[change + 1] - v[change])
    return float(crossings[np.argmin(np.abs(crossings - near))])
