"""The pulse against an independent simulation, closed forms and its own balance."""

import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from scipy.optimize import root

from calc.calculator import OutOfRangeError
from calc.clamp import clamp_energy, release_time, switch_zener_energy
from calc.clamp_law import ClampLaw, Junction
from calc.pulse import PulseCircuit, coil_pulse, least_pulse_width
from calc.switch_law import SwitchLaw
from tests.sources import Kind, source

DATA = json.loads((Path(__file__).parents[1] / "data" / "pulse.json").read_text())
CASES = DATA["cases"]
V_THERMAL = 1.380649e-23 * 300.15 / 1.602176634e-19
"""k T / q at 27 degC, where the reference was run."""

T = np.linspace(-0.1, 0.15, 1001)
STILL = 0.0 * T


def emf(case: dict[str, Any]) -> Any:
    """The EMF that opposes the current: e = E u exp(0.5 - u^2 / 2), u = t / tau."""
    if case["emf"] is None:
        return STILL
    peak, tau = case["emf"]
    return -peak * T / tau * np.exp(0.5 - (T / tau) ** 2 / 2)


def circuit(case: dict[str, Any], switch: SwitchLaw, clamp: ClampLaw) -> PulseCircuit:
    return PulseCircuit(
        v_supply=case["Vs"], r_source=0.0, r_coil=case["R"], l_coil=case["L"], switch=switch,
        clamp=clamp, duty=1.0, p_base=case["Vdrv"] * case["Ib_end_A"], t_emf=T, emf=emf(case),
    )  # fmt: skip


@dataclass(frozen=True)
class CardTransistor:
    """The reference's own NPN card (Gummel-Poon) behind its base resistor, as a switch law.

    Written from the model's equations; it shares nothing with the product's law, so that the
    solver is judged apart from how well a simpler law fits this transistor.
    """

    v_pin: float
    r_b: float
    resistance: float = 0.8
    i_limit: float = np.inf

    def __post_init__(self) -> None:
        grid = np.concatenate((np.linspace(0, 0.03, 40), np.linspace(0.031, 0.21, 180)))
        x, drops, bases = np.array([0.75, 0.70]), [], []
        for i in grid:
            found = root(self.mismatch, x, args=(i,), method="lm", tol=1e-15)
            if np.abs(self.mismatch(found.x, i)).max() > 1e-9 or found.x[1] < -6:
                break
            x = found.x
            i_b = self.currents(x)[1]
            drops.append(x[0] - x[1] + 0.6 * i + 0.2 * (i + i_b))
            bases.append(i_b)
        object.__setattr__(self, "curve", CubicSpline(grid[: len(drops)], drops))
        object.__setattr__(self, "base", CubicSpline(grid[: len(drops)], bases))

    @staticmethod
    def currents(x: Any) -> tuple[float, float]:
        forward = 1e-14 * np.expm1(x[0] / V_THERMAL)
        reverse = 1e-14 * np.expm1(x[1] / V_THERMAL)
        q_b = (1 + np.sqrt(1 + 4 * forward / 0.3)) / 2 / (1 - x[1] / 80 - x[0] / 20)
        i_c = (forward - reverse) / q_b - reverse / 4
        leak = 1e-14 * np.expm1(x[0] / (1.5 * V_THERMAL))
        return i_c, forward / 200 + leak + reverse / 4

    def mismatch(self, x: Any, i: float) -> list[float]:
        i_c, i_b = self.currents(x)
        return [300 * (i_c - i), self.v_pin - i_b * (self.r_b + 10) - x[0] - 0.2 * (i + i_b)]

    def drop(self, i: Any) -> Any:
        return self.curve(i)  # type: ignore[attr-defined]

    def slope(self, i: Any) -> Any:
        return self.curve(i, 1)  # type: ignore[attr-defined]


CARD_DIODE = Junction(v_log=1.75 * V_THERMAL, i_log=2.5e-9)
CARD_CLAMP = ClampLaw(junctions=(CARD_DIODE,), resistance=0.6)
CARD_ZENER = ClampLaw(
    v_constant=9.1 - V_THERMAL * np.log(1e-3 / 1e-14),
    junctions=(CARD_DIODE, Junction(v_log=V_THERMAL, i_log=1e-14)),
    resistance=1.6,
)

NAMED = pytest.mark.parametrize("name", [n for n in CASES if not n.startswith("C5b")])


def law_of(case: dict[str, Any]) -> SwitchLaw:
    if case["sw"] == "npn":
        return CardTransistor(case["Vdrv"], case["Rb"])  # type: ignore[return-value]
    return SwitchLaw(resistance=case["Vsat_end_of_pulse_V"] / case["I_at_turnoff_A"])


@NAMED
@source(
    Kind.SIMULATOR,
    "independent reference (NumPy, SciPy, magpylib, ngspice), cases C1, C6, C7, C8",
)
def test_currents_and_energies_agree_with_the_simulation(name: str) -> None:
    """Equivalent laws give the reference's pulse.

    2e-5 is the reference's own uncertainty. Its switch opens some 0.4 to 0.6 us late (edge of
    the pin, stored charge), which ours does not model: the lateness is read from the decay and
    added to the width. The drop at the end of C6 moves with stored charge too: 5e-5.
    """
    case = CASES[name]
    clamp = CARD_ZENER if case["clamp"] == "zener" else CARD_CLAMP
    at_once = coil_pulse(
        circuit=circuit(case, law_of(case), clamp), t_on=0.0, pulse_width=case["w"]
    )
    late = case["t_decay_to_5pct_s"] - at_once.t_decay
    assert 0.3e-6 < late < 0.7e-6
    assert at_once.i_off == pytest.approx(case["I_at_turnoff_A"], rel=1e-6)
    assert at_once.i_peak == pytest.approx(case["I_peak_A"], rel=1e-6)
    assert at_once.v_switch_end == pytest.approx(case["Vsat_end_of_pulse_V"], rel=5e-5)
    assert at_once.v_switch_peak == pytest.approx(case["Vc_peak_V"], rel=2e-5)
    outcome = coil_pulse(
        circuit=circuit(case, law_of(case), clamp), t_on=0.0, pulse_width=case["w"] + late
    )
    assert outcome.e_supply == pytest.approx(case["E_supply_J"], rel=2e-5)
    assert outcome.e_copper == pytest.approx(case["E_coil_R_J"], rel=2e-5)
    assert outcome.e_mechanical == pytest.approx(case["E_emf_J"], rel=3e-5)
    # Charging the junctions' capacitance goes to the clamp's account in the reference.
    assert outcome.e_clamp == pytest.approx(case["E_diode_or_clamp_J"], rel=4e-4)


@source(
    Kind.SIMULATOR,
    "independent reference (NumPy, SciPy, magpylib, ngspice), cases C1, C6, C8",
)
@pytest.mark.parametrize("name", ["C1_3V_18ms", "C6_3V_18ms_emf", "C8_6V_8ms_zener"])
def test_switch_takes_what_the_simulation_says(name: str) -> None:
    """The reference's transistor energy holds the base's share too; it is subtracted here.

    6e-3: opening takes a fraction of a microsecond at full current and rising voltage.
    """
    case = CASES[name]
    clamp = CARD_ZENER if case["clamp"] == "zener" else CARD_CLAMP
    outcome = coil_pulse(
        circuit=circuit(case, law_of(case), clamp), t_on=0.0, pulse_width=case["w"]
    )
    in_base = case["E_base_drive_J"] - case["E_Rb_J"]
    assert outcome.e_switch == pytest.approx(case["E_transistor_J"] - in_base, rel=6e-3)
    assert outcome.e_base == pytest.approx(case["E_base_drive_J"], rel=1e-3)


@source(Kind.SIMULATOR, "independent reference (NumPy, SciPy, magpylib, ngspice), case C5b")
def test_starved_base_limits_the_current() -> None:
    """The product's own law on a base that gets 0.22 mA: the switch takes the rest.

    The gain is the reference's at the end of the pulse. 4e-4: the reference's gain rises
    by a per cent with the voltage across the switch (Early effect), which our law leaves out.
    """
    case = CASES["C5b_3V_18ms_Rb10k_starved"]
    i_b = case["Ib_end_A"]
    law = SwitchLaw(
        v_thermal=V_THERMAL, beta_f=case["I_at_turnoff_A"] / i_b, beta_r=4.0, i_b=i_b,
        resistance=0.8,
    )  # fmt: skip
    outcome = coil_pulse(circuit=circuit(case, law, CARD_CLAMP), t_on=0.0, pulse_width=0.018)
    assert outcome.i_peak == pytest.approx(case["I_peak_A"], rel=2e-4)
    assert outcome.i_peak <= law.i_limit * (1 + 1e-6)
    assert outcome.e_supply == pytest.approx(case["E_supply_J"], rel=4e-4)
    assert outcome.v_switch_end == pytest.approx(case["Vsat_end_of_pulse_V"], rel=2e-4)
    in_base = case["E_base_drive_J"] - case["E_Rb_J"]
    assert outcome.e_switch == pytest.approx(case["E_transistor_J"] - in_base, rel=2e-3)


@NAMED
@source(Kind.REFERENCE_LIBRARY, "independent reference (NumPy, SciPy, magpylib, ngspice), closed")
def test_ideal_switch_and_constant_clamp_give_the_closed_form(name: str) -> None:
    """No EMF, no drop, 0.7 V (9.8 V with the zener): closed forms to 1e-8."""
    case = CASES[name]
    closed = case["closed_ideal_Vsat0_Vd0p7"]
    clamp = ClampLaw(v_constant=9.8 if case["clamp"] == "zener" else 0.7)
    bare = {**case, "emf": None}
    outcome = coil_pulse(circuit=circuit(bare, SwitchLaw(), clamp), t_on=0.0, pulse_width=case["w"])
    assert outcome.e_supply == pytest.approx(closed["E_supply_J"], rel=1e-8)
    assert outcome.i_peak == pytest.approx(closed["I_peak_A"], rel=1e-8)
    assert outcome.t_decay == pytest.approx(closed["t_decay_to_5pct_s"], rel=1e-8)
    # Ours ends at a millionth of the current, theirs at zero.
    assert outcome.t_zero == pytest.approx(closed["t_zero_s"], rel=1e-5)
    assert outcome.e_clamp == pytest.approx(closed["E_diode_J"], rel=1e-6)
    assert outcome.e_copper == pytest.approx(closed["E_coil_R_total_J"], rel=1e-7)


def example(**changes: Any) -> PulseCircuit:
    case = CASES["C6_3V_18ms_emf"]
    law = SwitchLaw(v_thermal=V_THERMAL, beta_f=150.0, beta_r=4.0, i_b=0.0046, resistance=0.85)
    return replace(circuit(case, law, CARD_CLAMP), **changes)


CIRCUITS = {
    "diode": {},
    "wrong way round": {"emf": -emf(CASES["C6_3V_18ms_emf"])},
    "driven on beyond the knee": {"emf": -6 * emf(CASES["C6_3V_18ms_emf"])},
    "resistor": {"clamp": ClampLaw(resistance=680.0)},
    "zener in series": {"clamp": CARD_ZENER},
    "zener across the switch": {
        "clamp": ClampLaw(v_constant=6.2, resistance=8.0, from_supply=True), "r_source": 0.6,
    },
    "cells' resistance": {"r_source": 1.5},
    "chopped": {"duty": 0.4},
    "chopped onto a zener across the switch": {
        "duty": 0.7, "r_source": 0.6, "clamp": ClampLaw(v_constant=6.2, from_supply=True),
    },
    "starved": {
        "switch": SwitchLaw(v_thermal=V_THERMAL, beta_f=170.0, beta_r=4.0, i_b=2e-4),
    },
    "barely saturated": {
        "switch": SwitchLaw(v_thermal=V_THERMAL, beta_f=100.0, beta_r=4.0, i_b=0.00093),
    },
    "slow coil": {"l_coil": 1.2},
    "fast coil": {"l_coil": 1.2e-4},
}  # fmt: skip


@pytest.mark.parametrize("changes", CIRCUITS.values(), ids=CIRCUITS.keys())
@source(Kind.IDENTITY, "energy in = energy out; each term is integrated on its own")
def test_balance_of_the_pulse_closes(changes: dict[str, Any]) -> None:
    """To 1e-6 of the supplied energy, with every kind of clamp and switch."""
    outcome = coil_pulse(circuit=example(**changes), t_on=0.001, pulse_width=0.018)
    assert abs(outcome.balance_error) < 1e-6


def test_balance_can_be_wrong() -> None:
    """A trajectory solved with another EMF than the one billed would show at once."""
    outcome = coil_pulse(circuit=example(), t_on=0.0, pulse_width=0.018)
    cheated = replace(outcome, e_mechanical=1.001 * outcome.e_mechanical)
    assert abs(cheated.balance_error) > 1e-5


@source(Kind.IDENTITY, "the current halfway must not depend on how far the solution goes on")
def test_the_driven_phase_does_not_depend_on_the_width() -> None:
    short = coil_pulse(circuit=example(), t_on=0.002, pulse_width=0.009)
    long = coil_pulse(circuit=example(), t_on=0.002, pulse_width=0.03)
    on = long.t <= 0.032
    there = CubicSpline(long.t[on], long.i[on])(0.011)
    assert short.i_off == pytest.approx(float(there), rel=1e-5)


@pytest.mark.parametrize("wanted", [2e-6, 3e-5, 1.5e-4, 2.4e-4])
@source(Kind.IDENTITY, "the pulse of the found width, computed afresh, gives the wanted energy")
def test_least_width_gives_the_wanted_energy(wanted: float) -> None:
    found = least_pulse_width(circuit=example(), t_on=0.0, e_wanted=wanted, width_max=0.06)
    assert found.reached
    afresh = coil_pulse(circuit=example(), t_on=0.0, pulse_width=found.width)
    assert afresh.e_mechanical == pytest.approx(wanted, rel=2e-6)
    less = coil_pulse(circuit=example(), t_on=0.0, pulse_width=0.98 * found.width)
    assert less.e_mechanical < wanted


def test_least_width_says_when_no_width_is_enough() -> None:
    found = least_pulse_width(circuit=example(), t_on=0.0, e_wanted=1e-2, width_max=0.06)
    assert not found.reached
    assert found.e_mechanical < 1e-2


@source(Kind.PUBLISHED, "thread on a zener across an inductive switch (itecnotes.com copy)")
@pytest.mark.parametrize(
    ("v_clamp", "t_tenth", "t_zero"), [(0.7, 19.0, 29.0), (12.7, 5.7, None), (24.7, 3.5, 4.0),
                                       (36.7, 2.5, None)]
)  # fmt: skip
def test_release_of_a_valve(v_clamp: float, t_tenth: float, t_zero: float | None) -> None:
    """12 V, 0.5 A, L/R taken as 10 ms: printed to a tenth of a millisecond or a millisecond.

    The diode's own drop of 0.7 V stands beside the zener.
    """
    coil = {"i_coil": 0.5, "r_coil": 24.0, "l_coil": 0.24, "v_clamp": v_clamp}
    assert release_time(**coil, fraction=0.1) * 1e3 == pytest.approx(t_tenth, abs=0.1)
    if t_zero is not None:
        whole = release_time(**coil, fraction=0.0) * 1e3
        assert whole == pytest.approx(t_zero, abs=0.5 if t_zero > 10 else 0.06)
    solved = coil_pulse(
        circuit=PulseCircuit(
            v_supply=12.0, r_source=0.0, r_coil=24.0, l_coil=0.24, switch=SwitchLaw(), duty=1.0,
            clamp=ClampLaw(v_constant=v_clamp), p_base=0.0, t_emf=T, emf=STILL,
        ),
        t_on=0.0, pulse_width=0.1,
    )  # fmt: skip
    assert solved.e_clamp == pytest.approx(clamp_energy(**coil), rel=1e-3)
    if v_clamp in (0.7, 24.7):
        assert solved.e_clamp == pytest.approx({0.7: 2.9e-3, 24.7: 22.8e-3}[v_clamp], rel=0.02)


def test_zener_across_the_switch_takes_the_supplys_share() -> None:
    """With the coil's resistance negligible: 1/2 L I^2 Vz / (Vz - V); 1 % for the resistance."""
    outcome = coil_pulse(
        circuit=PulseCircuit(
            v_supply=5.0, r_source=0.0, r_coil=1.0, l_coil=0.1, switch=SwitchLaw(), duty=1.0,
            clamp=ClampLaw(v_constant=50.0, from_supply=True), p_base=0.0, t_emf=T, emf=STILL,
        ),
        t_on=0.0, pulse_width=0.01,
    )  # fmt: skip
    closed = switch_zener_energy(i_coil=outcome.i_off, l_coil=0.1, v_z=50.0, v_supply=5.0)
    assert outcome.e_clamp == pytest.approx(closed, rel=0.01)


@pytest.mark.parametrize(
    "bad", [{"v_supply": 0.0}, {"r_coil": -1.0}, {"duty": 1.5}, {"duty": 0.0}, {"l_coil": 0.0},
            {"r_source": -0.1}, {"p_base": -1.0}, {"emf": STILL[:3]}]
)  # fmt: skip
def test_impossible_circuits_are_refused(bad: dict[str, Any]) -> None:
    with pytest.raises(OutOfRangeError):
        coil_pulse(circuit=example(**bad), t_on=0.0, pulse_width=0.01)


def test_a_pulse_outside_the_sampled_pass_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="t_on"):
        coil_pulse(circuit=example(), t_on=3.0, pulse_width=0.01)
