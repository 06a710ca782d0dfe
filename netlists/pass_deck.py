"""A driven pass and the next one, with the pin: what the firmware sees, kick included."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from netlists.deck import GROUND, Analysis, Deck, transient
from netlists.drive_deck import DriveCircuit, add_drive
from netlists.filter_deck import crossing_near
from netlists.pickup_path import CLAMP_VECTORS, PickupPath, add_divider, add_filter, pin_vector
from netlists.runner import Run

Array = NDArray[np.float64]
LONGEST_STEP = 5e-5
"""Step of the simulator, at most [s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PickupWinding:
    """A winding that only listens; `signal` is its far end's departure in a free pass.

    `mutual` couples it to the drive coil: a rising drive current pulls its far end down.
    """

    r_winding: float
    l_winding: float
    mutual: float
    signal: Array
    signal_next: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class PassCircuit:
    """Drive, winding and path over two passes, the second `beat` after the first.

    `emf_next` and the pickup's `signal_next` are the second pass on the clock of the first one's
    samples, `drive.t_emf`.
    """

    drive: DriveCircuit
    path: PickupPath
    v_logic: float
    beat: float
    emf_next: Array
    pickup: PickupWinding | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PinCurve:
    """The pin over both passes, on the clock of the EMF, as a departure from its rest."""

    t: Array
    departure: Array
    rest: float
    i_ground: float
    i_rail: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PinFigures:
    """What the simulator found at the pin, times from the magnet on the coil's axis.

    `crossing` and `kept` belong to the pass without a pulse, `crossing_next` to the pass after a
    pulse on its own clock; `deaf_until` counts from the start of the pulse; `i_clamp` is the
    largest current through the pin's own junctions, `residual` what is left of the pulse when the
    next pass begins.
    """

    crossing: float | None
    crossing_next: float | None
    kept: float
    deaf_until: float
    v_pin_max: float
    v_pin_min: float
    i_clamp: float
    residual: float
    curve: PinCurve


def _joined(circuit: PassCircuit, first: Array, second: Array) -> tuple[Array, Array]:
    """Return times and values of both passes; where they overlap each gives way half of it."""
    t = circuit.drive.t_emf - circuit.drive.t_emf[0]
    middle = (float(t[-1]) + circuit.beat) / 2
    early, late = t <= middle, circuit.beat + t > middle
    return (
        np.concatenate((t[early], circuit.beat + t[late])),
        np.concatenate((first[early], second[late])),
    )


def pass_deck(circuit: PassCircuit, *, pulse: bool, portable: bool = False) -> tuple[str, Analysis]:
    """Return the deck of two passes and its run.

    Parameters
    ----------
    circuit : PassCircuit
        Everything between the cells and the pin.
    pulse : bool
        Whether the first pass is driven.
    portable : bool
        Whether other simulators are to read the deck.
    """
    deck = Deck(portable=portable)
    drive, path = circuit.drive, circuit.path
    start = float(drive.t_emf[0])
    t, emf = _joined(circuit, drive.emf, circuit.emf_next)
    add_drive(
        deck, drive, t, emf,
        t_pulse=drive.t_on - start if pulse else None,
    )  # fmt: skip
    if path.arrangement == "at_switch":
        add_filter(deck, path, "n5")
    else:
        deck.source("12", "n12", GROUND, circuit.v_logic)
        begin = add_divider(deck, path, "n12")
        winding = circuit.pickup
        far = "n5" if winding is None else _add_winding(deck, circuit, winding, begin)
        add_filter(deck, path, far)
    vectors = [pin_vector(path), *(CLAMP_VECTORS if path.clamp is not None else ())]
    analysis = transient(
        end=float(t[-1]),
        step_max=min(drive.pulse_width / 200, float(drive.t_emf[-1] - start) / 100, LONGEST_STEP),
        vectors=vectors,
    )
    return deck.finished(analysis), analysis


def _add_winding(deck: Deck, circuit: PassCircuit, winding: PickupWinding, begin: str) -> str:
    """Add the listening winding and its coupling; return its far end."""
    # Behind a capacitor nothing sets the winding's level: it stands on ground.
    foot = begin if circuit.path.arrangement == "mid_rail" else GROUND
    deck.waveform("31", "n31", foot, *_joined(circuit, winding.signal, winding.signal_next))
    deck.resistor("31", "n31", "n32", max(winding.r_winding, 1e-3))
    ends = ("n32", "n33") if winding.mutual >= 0 else ("n33", "n32")
    deck.inductor("31", *ends, winding.l_winding)
    factor = abs(winding.mutual) / np.sqrt(circuit.drive.l_coil * winding.l_winding)
    if factor > 0:
        deck.coupling("1", "1", "31", min(float(factor), 0.999))
    deck.resistor("32", "n33", foot, 1e12)
    return "n33"


def pin_curve(circuit: PassCircuit, run: Run) -> PinCurve:
    """Return the pin of a finished run."""
    level = run.real(pin_vector(circuit.path))
    clamped = circuit.path.clamp is not None
    return PinCurve(
        t=run.real("time") + float(circuit.drive.t_emf[0]),
        departure=level - level[0],
        rest=float(level[0]),
        i_ground=float(run.real(CLAMP_VECTORS[0]).max()) if clamped else 0.0,
        i_rail=float(run.real(CLAMP_VECTORS[1]).max()) if clamped else 0.0,
    )


def pin_figures(
    circuit: PassCircuit,
    free: PinCurve,
    driven: PinCurve,
    *,
    level: float,
    near: float,
    signal: Array,
    side: int,
    lowest: bool = False,
) -> PinFigures:
    """Return the figures of both runs.

    Parameters
    ----------
    circuit : PassCircuit
        What was run.
    free, driven : PinCurve
        Both runs' pins, without and with the pulse.
    level : float
        Within which the pulse's remains count as gone [V].
    near : float
        Where the crossing is expected, on the clock of the EMF [s].
    signal : numpy.ndarray
        Departure of the node on the samples of the EMF, of which the pin keeps a share [V].
    side : int
        On which side of rest the lobe stands that arms the crossing: 1 above, -1 below.
    lowest : bool
        Whether the firmware waits for the lowest lobe instead.
    """
    c = circuit
    first, last = float(c.drive.t_emf[0]), float(c.drive.t_emf[-1])
    own = free.t <= last
    crossing = crossing_near(free.t[own], free.departure[own], near)
    second = driven.t >= c.beat + first
    crossing_next = crossing_near(driven.t[second] - c.beat, driven.departure[second], near)
    until = last if crossing is None else crossing
    if lowest:
        side, until = -1, last
    # Where no such lobe comes before the crossing nothing of it is kept.
    peak = max(float((side * signal[c.drive.t_emf <= until]).max()), 1e-9)
    lobe = side * free.departure[own & (free.t <= until)]
    remains = driven.departure - np.interp(driven.t, free.t, free.departure)
    between = (driven.t >= c.drive.t_on) & (driven.t < c.beat + first)
    left = np.abs(remains[between])
    loud = np.flatnonzero(left > level)
    return PinFigures(
        crossing=crossing,
        crossing_next=crossing_next,
        kept=float(lobe.max()) / peak,
        deaf_until=float(driven.t[between][loud[-1]] - c.drive.t_on) if loud.size else 0.0,
        v_pin_max=driven.rest + float(driven.departure.max()),
        v_pin_min=driven.rest + float(driven.departure.min()),
        i_clamp=max(driven.i_ground, driven.i_rail),
        residual=float(remains[between][-1]),
        curve=driven,
    )
