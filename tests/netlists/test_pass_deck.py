"""A driven pass up to the pin: coupled windings, the pin's own junctions, what is left."""

import math

import numpy as np
import pytest

from calc.coupling import capacitor_residual, mutual_kick
from calc.crossing import settled_after
from netlists.deck import few_points
from netlists.drive_deck import ClampParts, DriveCircuit
from netlists.model_cards import V_THERMAL, JunctionCard, MosfetCard, junction_card
from netlists.pass_deck import (
    PassCircuit,
    PickupWinding,
    PinCurve,
    PinFigures,
    pass_deck,
    pin_curve,
    pin_figures,
)
from netlists.pickup_path import PickupPath, PinClamp
from netlists.runner import run_deck
from tests.simulator import Simulator
from tests.sources import Kind, source

T = np.linspace(-0.1, 0.1, 801)
BEAT = 0.6
EMF = 0.05 * T / 0.02 * np.exp(0.5 - (T / 0.02) ** 2 / 2)
STILL = 0.0 * T
PIN = JunctionCard(i_saturation=1e-3 / math.expm1(0.6 / V_THERMAL), emission=1.0, resistance=0.0)


def drive(v_supply: float, l_coil: float, emf: np.ndarray) -> DriveCircuit:
    """A stiff supply, a switch of ten milliohms, a diode that holds 0.7 V at 0.1 A."""
    return DriveCircuit(
        v_supply=v_supply, r_source=0.0, r_coil=30.0, l_coil=l_coil, t_emf=T, emf=emf, t_on=0.005,
        pulse_width=0.018, release=0.01, v_pin=5.0, r_drive=100.0, pull_down=1e5,
        switch=MosfetCard(v_threshold=1.0, gain=50.0, r_drain=0.005),
        clamp=ClampParts(
            across_switch=False,
            junction=junction_card(v_log=V_THERMAL, i_log=0.1 / math.expm1(0.7 / V_THERMAL),
                                   resistance=0.0),
        ),
    )  # fmt: skip


def pins(simulator: Simulator, circuit: PassCircuit) -> tuple[PinCurve, PinCurve]:
    """The pin in the free and in the driven pass."""
    found = []
    for pulse in (False, True):
        deck, analysis = pass_deck(circuit, pulse=pulse)
        run = run_deck(deck, program=simulator.program, version=simulator.version,
                       vectors=analysis.vectors, end=analysis.end)  # fmt: skip
        found.append(pin_curve(circuit, run))
    return found[0], found[1]


def figures(simulator: Simulator, circuit: PassCircuit, level: float) -> PinFigures:
    signal = -circuit.drive.emf if circuit.pickup is None else circuit.pickup.signal
    return pin_figures(
        circuit, *pins(simulator, circuit), level=level, near=0.004, signal=signal, side=1
    )


@source(Kind.IDENTITY, "law of induction: M di/dt at either edge of the pulse")
@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_two_windings_on_one_bobbin(simulator: Simulator, sense: float) -> None:
    """Coupling 0.9, turns 3:1, six volts: about 16 V at the pulse and 18 V at the kick.

    2 %: the simulator meets the edge with a current that has begun to change.
    """
    l_coil, l_pickup = 0.01, 0.09
    mutual = sense * 0.9 * math.sqrt(l_coil * l_pickup)
    circuit = PassCircuit(
        drive=drive(6.0, l_coil, STILL),
        path=PickupPath(arrangement="mid_rail", upper=22e3, lower=22e3, bypass=1e-3,
                        r=(1e5,), c=(1e-11,), r_load=1e9),
        v_logic=5.0, beat=BEAT, emf_next=STILL,
        pickup=PickupWinding(r_winding=300.0, l_winding=l_pickup, mutual=mutual, signal=STILL,
                             signal_next=STILL),
    )  # fmt: skip
    _, driven = pins(simulator, circuit)
    expected = mutual_kick(mutual=mutual, l_coil=l_coil, v_drive=6.0, v_clamp=0.72)
    pulse = driven.departure[(driven.t > 0.005) & (driven.t < 0.02)]
    kick = driven.departure[driven.t > 0.0229]
    assert (sense * pulse).min() == pytest.approx(-abs(expected.v_pulse), rel=2e-2)
    assert (sense * kick).max() == pytest.approx(abs(expected.v_kick), rel=2e-2)


@source(Kind.SIMULATOR, "ngspice on our own deck of the same circuit")
def test_pulse_at_the_switch_is_forgotten_when_the_calculator_says(simulator: Simulator) -> None:
    """3 %: the calculator takes the kick as flat."""
    r, c, gain = 22e3, 330e-9, 0.4
    circuit = PassCircuit(
        drive=drive(4.5, 0.012, EMF),
        path=PickupPath(arrangement="at_switch", upper=33e3, lower=22e3, r=(r,), c=(c,)),
        v_logic=4.5, beat=BEAT, emf_next=EMF,
    )  # fmt: skip
    found = figures(simulator, circuit, level=5e-3)
    tau = (r + 33e3 * 22e3 / 55e3) * c
    expected = settled_after(
        t_edges=np.array([0.0, 0.018, 0.0189]), v_steps=np.array([-4.5, 5.2, -0.7]), gain=gain,
        tau_slow=tau, tau_fast=0.0, level=5e-3,
    )  # fmt: skip
    assert found.deaf_until == pytest.approx(expected, rel=3e-2)
    assert found.crossing is not None
    assert found.crossing_next == pytest.approx(found.crossing, abs=1e-6)
    assert abs(found.residual) < 1e-6
    assert found.v_pin_min > 0


@source(Kind.SIMULATOR, "ngspice on our own deck of the same circuit")
@pytest.mark.parametrize("r", [50.0, 10e3])
def test_coupling_capacitor_still_leans_at_the_next_pass(simulator: Simulator, r: float) -> None:
    """10 %: the calculator lets the clamp set in at one moment, 0.6 V below ground."""
    c_coupling, c = 10e-6, 100e-9
    circuit = PassCircuit(
        drive=drive(5.0, 0.012, STILL),
        path=PickupPath(
            arrangement="through_capacitor", upper=100e3, lower=100e3, coupling=c_coupling, r=(r,),
            c=(c,), clamp=PinClamp(junction=PIN, v_logic=5.0),
        ),
        v_logic=5.0, beat=BEAT, emf_next=STILL,
    )  # fmt: skip
    _, driven = pins(simulator, circuit)
    before = driven.t < BEAT - 0.1
    left = float(driven.departure[before][-1])
    expected = capacitor_residual(
        v_step=5.0, v_bias=2.5, v_clamp=0.63, r_clamp=r, t_clamp=r * c * math.log(5 / 1.87),
        width=0.018, r_bias=50e3, c_coupling=c_coupling,
        elapsed=float(driven.t[before][-1]) - 0.023,
    )  # fmt: skip
    assert left == pytest.approx(expected, rel=0.1)
    assert driven.rest + driven.departure.min() > -0.8
    assert 0 < driven.i_ground < 5.0 / r


def test_few_points_stay_near_the_whole_waveform() -> None:
    kept = few_points(T, EMF, share=1e-3)
    assert len(kept) < 150
    assert kept[0] == 0
    assert kept[-1] == len(T) - 1
    line = np.interp(T, T[kept], EMF[kept])
    assert np.abs(line - EMF).max() <= 1e-3 * np.abs(EMF).max()
