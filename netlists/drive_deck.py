"""The drive pulse in a simulator: supply, coil, passing magnet, switch and clamp."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from netlists.deck import GROUND, Analysis, Deck, transient
from netlists.model_cards import BipolarCard, Card, JunctionCard, MosfetCard, ZenerCard
from netlists.runner import Run

LEAD = 2e-4
"""Time before the pulse in which the node settles [s]."""
EDGE = 1e-7
"""Rise and fall of the pin [s]."""
BLEED = 1e7
"""Leakage of the open switch: without it the simulator loses itself where nothing conducts [Ω]."""
JUNCTION_LEAK, JUNCTION_STORE = 1e8, 10e-12
"""Leakage and capacitance of a closed junction, far below what the pulse feels [Ω, F]."""
DECAYED = 0.05
PERIODS_PER_TAU, MOST_PERIODS = 8, 400
"""How finely a chopped pulse is cut where the design file does not say how fast it is."""
VECTORS = (
    "v(n1)", "v(n4)", "v(n5)", "v(n6)", "v(n8)", "i(v1)", "i(v2)", "i(v4)", "i(v5)",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class ClampParts:
    """What stands across the coil, or across the switch, as cards and plain values."""

    across_switch: bool
    junction: JunctionCard | None = None
    zener: ZenerCard | None = None
    resistance: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveCircuit:
    """One pulse of one state of the supply; `t_emf` and `emf` as the calculators have them.

    `release` is how long to follow the coil's current after the switch has opened; `duty` below
    one chops the pulse.
    """

    v_supply: float
    r_source: float
    r_coil: float
    l_coil: float
    t_emf: NDArray[np.float64]
    emf: NDArray[np.float64]
    t_on: float
    pulse_width: float
    release: float
    v_pin: float
    r_drive: float
    pull_down: float | None
    switch: BipolarCard | MosfetCard
    clamp: ClampParts
    reservoir: float | None = None
    duty: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveFigures:
    """What the simulator found, by quadrature of its own vectors."""

    e_pulse: float
    e_base: float
    e_copper: float
    e_switch: float
    e_clamp: float
    e_mechanical: float
    i_peak: float
    v_switch: float
    v_switch_peak: float
    v_rail_least: float
    t_decay: float


def drive_analysis(circuit: DriveCircuit) -> Analysis:
    """Return the run that a pulse needs: steps that resolve pulse, pass and release."""
    burst = float(circuit.t_emf[-1] - circuit.t_emf[0])
    return transient(
        end=LEAD + circuit.pulse_width + circuit.release,
        step_max=min(
            circuit.pulse_width / 200, burst / 100, circuit.release / 60, 5e-5,
            _chopped(circuit)[1] / 20,
        ),
        vectors=VECTORS,
    )  # fmt: skip


def drive_deck(circuit: DriveCircuit, *, portable: bool = False) -> str:
    """Return the deck of one pulse."""
    deck = Deck(portable=portable)
    add_drive(deck, circuit, circuit.t_emf - circuit.t_on + LEAD, circuit.emf, t_pulse=LEAD)
    return deck.finished(drive_analysis(circuit))


def add_drive(
    deck: Deck,
    circuit: DriveCircuit,
    t_emf: NDArray[np.float64],
    emf: NDArray[np.float64],
    *,
    t_pulse: float | None,
) -> None:
    """Add supply, coil, switch and clamp; without a time of the pulse the pin stays low.

    Nodes: n1 rail behind the cells' resistance, n3 behind the coil's copper, n4 behind its
    inductance, n5 the switch, n6 the pin, n7 base or gate, n8 behind the collector's ammeter,
    n9 behind the clamp's, n11 between coil and its ammeter.
    """
    c = circuit
    deck.source("1", "n2", GROUND, c.v_supply)
    deck.resistor("1", "n2", "n1", max(c.r_source, 1e-9))
    if c.reservoir is not None:
        deck.capacitor("1", "n1", GROUND, c.reservoir)
    deck.source("5", "n1", "n11", 0.0)
    deck.resistor("2", "n11", "n3", c.r_coil)
    deck.inductor("1", "n3", "n4", c.l_coil)
    deck.waveform("1", "n4", "n5", t_emf, emf)
    deck.resistor("3", "n5", GROUND, BLEED)
    deck.source("3", "n5", "n8", 0.0)
    if t_pulse is None:
        deck.source("2", "n6", GROUND, 0.0)
    else:
        deck.steps("2", "n6", GROUND, _pin_steps(c, t_pulse))
    deck.resistor("4", "n6", "n7", max(c.r_drive, 1e-3))
    if c.pull_down is not None:
        deck.resistor("5", "n7", GROUND, c.pull_down)
    _add_card(deck, "m1", c.switch)
    if isinstance(c.switch, BipolarCard):
        deck.bipolar("1", "n8", "n7", GROUND, "m1")
    else:
        deck.mosfet("1", "n8", "n7", GROUND, "m1")
        deck.resistor("6", "n7", GROUND, BLEED)
    _add_clamp(deck, c.clamp)


def _chopped(circuit: DriveCircuit) -> tuple[int, float]:
    """Return into how many periods a chopped pulse is cut, and how long one lasts."""
    if circuit.duty >= 1:
        return 1, circuit.pulse_width
    tau = circuit.l_coil / circuit.r_coil
    count = int(np.clip(PERIODS_PER_TAU * circuit.pulse_width / tau, 20, MOST_PERIODS))
    return count, circuit.pulse_width / count


def _pin_steps(circuit: DriveCircuit, t_pulse: float) -> list[tuple[float, float]]:
    count, period = _chopped(circuit)
    steps = [(0.0, 0.0)]
    for number in range(count):
        on = t_pulse + number * period
        off = on + circuit.duty * period
        steps += [(on, 0.0), (on + EDGE, circuit.v_pin), (off, circuit.v_pin), (off + EDGE, 0.0)]
    return steps


def _add_card(deck: Deck, name: str, card: Card) -> None:
    deck.model(name, card.kind, **card.parameters())


def _add_clamp(deck: Deck, clamp: ClampParts) -> None:
    to = GROUND if clamp.across_switch else "n1"
    deck.source("4", "n5", "n9", 0.0)
    if clamp.resistance is not None:
        deck.resistor("7", "n9", to, clamp.resistance)
        return
    middle = to
    if clamp.junction and clamp.zener:
        # Between two closed junctions nothing else holds the node.
        middle = "n10"
        deck.resistor("8", "n10", "n9", JUNCTION_LEAK)
        deck.resistor("9", "n10", to, JUNCTION_LEAK)
        deck.capacitor("8", "n10", to, JUNCTION_STORE)
    if clamp.zener:
        add_zener(deck, "3", "n9", middle, clamp.zener)
    if clamp.junction:
        _add_card(deck, "m2", clamp.junction)
        deck.diode("2", middle if clamp.zener else "n9", to, "m2")


def add_zener(deck: Deck, name: str, cathode: str, anode: str, card: ZenerCard) -> None:
    """Add a zener: its breakdown behind a constant voltage, and its forward junction."""
    inner, models = f"n4{name}", (f"m3{name}", f"m4{name}")
    _add_card(deck, models[0], card.breakdown)
    _add_card(deck, models[1], card.forward)
    deck.diode(f"3{name}", cathode, inner, models[0])
    deck.source(f"3{name}", inner, anode, card.v_constant)
    deck.diode(f"4{name}", anode, cathode, models[1])


def drive_figures(circuit: DriveCircuit, run: Run) -> DriveFigures:
    """Return the figures of a finished run."""
    t = run.real("time")
    i, v_switch = run.real("i(v5)"), run.real("v(n8)")
    # A resistor draws current backwards while the switch is closed; that is a drain of its own.
    i_clamp = np.maximum(run.real("i(v4)"), 0.0)
    across = run.real("v(n5)") - (0.0 if circuit.clamp.across_switch else run.real("v(n1)"))
    branch = i - i_clamp
    off = LEAD + circuit.pulse_width

    def total(power: NDArray[np.float64]) -> float:
        return float(np.trapezoid(power, t))

    # A chopped pulse ends with a part in which the switch is open already.
    closed = off - (1 - circuit.duty) * _chopped(circuit)[1]
    i_off = float(np.interp(off, t, i))
    after = (t >= off) & (i <= DECAYED * i_off)
    first = int(np.flatnonzero(after)[0])
    share = (i[first - 1] - DECAYED * i_off) / (i[first - 1] - i[first])
    t_decay = float(t[first - 1] + share * (t[first] - t[first - 1]) - off)
    return DriveFigures(
        e_pulse=total(circuit.v_supply * (i if circuit.clamp.across_switch else branch)),
        e_base=total(-run.real("v(n6)") * run.real("i(v2)")),
        e_copper=total(circuit.r_coil * i**2),
        e_switch=total(v_switch * branch),
        e_clamp=total(across * i_clamp),
        e_mechanical=total((run.real("v(n4)") - run.real("v(n5)")) * i),
        i_peak=float(i.max()),
        v_switch=float(np.interp(closed, t, v_switch)),
        v_switch_peak=float(v_switch.max()),
        v_rail_least=float(run.real("v(n1)").min()),
        t_decay=t_decay,
    )
