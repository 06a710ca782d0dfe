"""Our decks with the cards of an independent run, against its printed results."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from netlists.drive_deck import (
    ClampParts,
    DriveCircuit,
    drive_analysis,
    drive_deck,
    drive_figures,
)
from netlists.model_cards import BipolarCard, JunctionCard, MosfetCard, ZenerCard
from netlists.runner import run_deck
from tests.simulator import Simulator
from tests.sources import Kind, source

CASES = json.loads((Path(__file__).parents[1] / "data" / "pulse.json").read_text())["cases"]
T = np.linspace(-0.05, 0.06, 4401)


@dataclass(frozen=True, slots=True, kw_only=True)
class GummelPoon(BipolarCard):
    """The run's own transistor: early effect, high injection and leakage beside our parameters."""

    def parameters(self) -> dict[str, float]:
        return {
            "is": 1e-14, "bf": 200.0, "nf": 1.0, "vaf": 80.0, "ikf": 0.3, "ise": 1e-14, "ne": 1.5,
            "br": 4.0, "nr": 1.0, "var": 20.0, "rb": 10.0, "rc": 0.6, "re": 0.2,
        }  # fmt: skip


DIODE = JunctionCard(i_saturation=2.5e-9, emission=1.75, resistance=0.6)
# The run's zener is a sharp breakdown of 9.1 V at 1 mA with one ohm, as a logarithm of V_T.
ZENER = ZenerCard(
    v_constant=9.1 - 0.0257 * np.log(1e-3 / 1e-14),
    breakdown=JunctionCard(i_saturation=1e-14, emission=1.0, resistance=1.0),
    forward=JunctionCard(i_saturation=1e-14, emission=1.1, resistance=1.0),
)


def circuit_of(case: dict[str, Any]) -> DriveCircuit:
    emf = 0.0 * T
    if case["emf"] is not None:
        peak, tau = case["emf"]
        emf = -peak * T / tau * np.exp(0.5 - (T / tau) ** 2 / 2)
    mosfet = case["sw"] == "mos"
    return DriveCircuit(
        v_supply=case["Vs"],
        r_source=0.0,
        r_coil=case["R"],
        l_coil=case["L"],
        t_emf=T,
        emf=emf,
        t_on=0.0,
        pulse_width=case["w"],
        release=3 * case["t_decay_to_5pct_s"],
        v_pin=case["Vdrv"],
        r_drive=case["Rb"],
        pull_down=1e5 if mosfet else None,
        switch=MosfetCard(v_threshold=1.1, gain=8.0, r_drain=0.07)
        if mosfet
        else GummelPoon(beta_f=200.0, beta_r=4.0, r_collector=0.6, r_base=10.0),
        clamp=ClampParts(
            across_switch=False,
            junction=DIODE,
            zener=ZENER if case["clamp"] == "zener" else None,
        ),
    )


@source(Kind.SIMULATOR, "independent reference (NumPy, SciPy, magpylib, ngspice), cases C1 to C8")
@pytest.mark.parametrize("name", CASES)
def test_our_deck_gives_the_reference(simulator: Simulator, name: str) -> None:
    """1e-3 in energy and current, 1 % in release, 2 % in what the clamp takes.

    The reference ran at 27 degrees, ours runs at 25: junctions stand 3 mV higher, of 3 V. Its cards
    carry charge storage too, which acts for nanoseconds.
    """
    case = CASES[name]
    circuit = circuit_of(case)
    analysis = drive_analysis(circuit)
    run = run_deck(drive_deck(circuit), program=simulator.program, version=simulator.version,
                   vectors=analysis.vectors, end=analysis.end)  # fmt: skip
    found = drive_figures(circuit, run)
    starved = 1e-2 if "starved" in name else 1e-3
    assert found.e_pulse == pytest.approx(case["E_supply_J"], rel=starved)
    assert found.i_peak == pytest.approx(case["I_peak_A"], rel=starved)
    assert found.e_copper == pytest.approx(case["E_coil_R_J"], rel=2 * starved)
    assert found.t_decay == pytest.approx(case["t_decay_to_5pct_s"], rel=1e-2)
    assert found.v_switch_peak == pytest.approx(case["Vc_peak_V"], rel=1e-2)
    assert found.v_switch == pytest.approx(case["Vsat_end_of_pulse_V"], rel=1e-2)
    assert found.e_clamp == pytest.approx(case["E_diode_or_clamp_J"], rel=2e-2)
    if case["emf"] is not None:
        assert found.e_mechanical == pytest.approx(case["E_emf_J"], rel=1e-3)
