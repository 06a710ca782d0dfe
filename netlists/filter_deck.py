"""Pickup and filter in a simulator while nothing is driven: over frequency, and in a free pass."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from netlists.deck import GROUND, Analysis, Deck, sweep, transient
from netlists.pickup_path import PickupPath, add_divider, add_filter
from netlists.runner import Run

START, END, PER_DECADE = 1e-3, 1e5, 100
HALF_POWER = 1 / np.sqrt(2)
_SAMPLES_LEFT = 100
"""Steps that a burst of the EMF gets at least."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ListeningCircuit:
    """A winding and its path to the pin; the rail feeds divider and bias."""

    v_rail: float
    r_winding: float
    l_winding: float
    path: PickupPath


@dataclass(frozen=True, slots=True, kw_only=True)
class ResponseFigures:
    """What the simulator found over frequency; gains count from the EMF to the pin.

    `gain` is the largest, in the pass band; `mains_gain` is relative to it.
    """

    f_c: float
    gain: float
    mains_gain: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PassFigures:
    """What the simulator found in a free pass, on the clock of the samples.

    `crossing` is when the pin crosses its rest between the lobes, None if it does not; `kept` is
    how much of the first lobe's peak reaches the pin, divider and filter together.
    """

    crossing: float | None
    kept: float
    pin: NDArray[np.float64]
    t: NDArray[np.float64]


def _winding(deck: Deck, circuit: ListeningCircuit, begin: str) -> str:
    """Add winding and path behind the source between begin and n31; return the pin's node."""
    deck.resistor("31", "n31", "n32", max(circuit.r_winding, 1e-3))
    deck.inductor("31", "n32", "n33", circuit.l_winding)
    # With no divider and no load the far end would float.
    deck.resistor("32", "n33", begin, 1e12)
    return add_filter(deck, circuit.path, "n33")


def response_deck(circuit: ListeningCircuit, *, portable: bool = False) -> tuple[str, Analysis]:
    """Return the deck over frequency and its run; the pin is its only vector."""
    deck = Deck(portable=portable)
    deck.source("1", "n1", GROUND, circuit.v_rail)
    begin = add_divider(deck, circuit.path, "n1")
    deck.test_signal("31", "n31", begin)
    pin = _winding(deck, circuit, begin)
    analysis = sweep(start=START, end=END, per_decade=PER_DECADE, vectors=[f"v({pin})"])
    return deck.finished(analysis), analysis


def response_figures(run: Run, analysis: Analysis, mains: float) -> ResponseFigures:
    """Return the figures of a finished sweep."""
    frequency, gain = run.real("frequency"), np.abs(run.phasor(analysis.vectors[0]))
    top = int(np.argmax(gain))
    relative = gain / gain[top]
    log_f, log_g = np.log(frequency), np.log(relative)
    below = top + int(np.flatnonzero(relative[top:] <= HALF_POWER)[0])
    # Between two points of 100 in a decade the curve is straight on these axes to 1e-4.
    f_c = np.exp(
        np.interp(-np.log(HALF_POWER), -log_g[below - 1 : below + 1], log_f[below - 1 : below + 1])
    )
    return ResponseFigures(
        f_c=float(f_c),
        gain=float(gain[top]),
        mains_gain=float(np.exp(np.interp(np.log(mains), log_f, log_g))),
    )


def free_pass_deck(
    circuit: ListeningCircuit,
    t: NDArray[np.float64],
    signal: NDArray[np.float64],
    *,
    portable: bool = False,
) -> tuple[str, Analysis]:
    """Return the deck of a free pass and its run; the pin is its only vector.

    Parameters
    ----------
    circuit : ListeningCircuit
        Winding and path.
    t : numpy.ndarray
        Times of the samples, rising, any origin [s].
    signal : numpy.ndarray
        By how much the winding's far end departs from rest, unloaded [V].
    portable : bool
        Whether other simulators are to read the deck.
    """
    deck = Deck(portable=portable)
    deck.source("1", "n1", GROUND, circuit.v_rail)
    begin = add_divider(deck, circuit.path, "n1")
    deck.waveform("31", "n31", begin, t - t[0], signal)
    pin = _winding(deck, circuit, begin)
    span = float(t[-1] - t[0])
    analysis = transient(end=span, step_max=min(span / (10 * _SAMPLES_LEFT), 5e-5),
                         vectors=[f"v({pin})"])  # fmt: skip
    return deck.finished(analysis), analysis


def free_pass_figures(
    run: Run,
    analysis: Analysis,
    t: NDArray[np.float64],
    signal: NDArray[np.float64],
    near: float,
) -> PassFigures:
    """Return the figures of a finished free pass; the crossing nearest to a time is meant."""
    times, level = run.real("time") + float(t[0]), run.real(analysis.vectors[0])
    pin = level - level[0]
    peak, first = first_lobe(t, signal)
    # The filter's lag may carry the lobe's peak beyond the crossing of the EMF itself.
    before = times <= first + 2 * abs(first) + 1e-12 if first < 0 else np.full(len(times), True)
    lobe = np.sign(peak) * pin
    kept = float(lobe[before].max()) / abs(peak)
    return PassFigures(crossing=crossing_near(times, pin, near), kept=kept, pin=pin, t=times)


def first_lobe(t: NDArray[np.float64], signal: NDArray[np.float64]) -> tuple[float, float]:
    """Return height and time of the first lobe that reaches half of the greatest."""
    large = np.abs(signal) >= 0.5 * np.abs(signal).max()
    start = int(np.argmax(large))
    sign = np.sign(signal[start])
    following = np.flatnonzero(sign * signal[start:] <= 0)
    end = start + (int(following[0]) if following.size else len(signal) - start)
    top = start + int(np.argmax(sign * signal[start:end]))
    return float(signal[top]), float(t[top])


def crossing_near(t: NDArray[np.float64], v: NDArray[np.float64], near: float) -> float | None:
    """Return the time nearest to another at which a signal changes its sign, if it does."""
    at = np.flatnonzero(np.sign(v[:-1]) * np.sign(v[1:]) < 0)
    if not at.size:
        return None
    found = t[at] - v[at] * (t[at + 1] - t[at]) / (v[at + 1] - v[at])
    return float(found[np.argmin(np.abs(found - near))])
