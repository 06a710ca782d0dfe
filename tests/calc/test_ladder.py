"""Ladders: true cut-off, phase and delay with source and load."""

import json
from math import degrees, inf, log10, nan
from pathlib import Path

import pytest

from calc.calculator import OutOfRangeError
from calc.ladder import Ladder, equal_poles_frequency, ladder, pole_frequency, response
from tests.sources import Kind, source

REFERENCE = json.loads((Path(__file__).parents[1] / "data/filter_reference.json").read_text())
CASES = REFERENCE["filters"]


def solved(circuit: dict[str, float | None]) -> Ladder:
    return ladder(
        l_source=0.0,
        r_source=float(circuit["Rs"] or 0.0),
        r_upper=float(circuit["R1"] or 0.0),
        r_lower=float(circuit["R2"] or inf),
        r_3=float(circuit["R3"] or 0.0),
        c_1=float(circuit["C1"] or nan),
        r_4=float(circuit.get("R4") or 0.0),
        c_2=float(circuit.get("C2") or 0.0),
        r_load=inf,
    )


@source(Kind.REFERENCE_LIBRARY, "independent reference (NumPy, SciPy, magpylib, ngspice), cases"
        " D1_onepole_ideal_source, D2_onepole_divider, D4_twopole_loaded_equal,"
        " D6_twopole_scaled10x")  # fmt: skip
@pytest.mark.parametrize("name", sorted(CASES))
def test_ladders_against_the_reference(name: str) -> None:
    """1e-6 relative, which is the reference's own uncertainty; ours is rounding."""
    case = CASES[name]
    found = solved(case["circuit"])
    assert found.f_c == pytest.approx(case["f3dB_Hz"], rel=1e-6)
    assert found.gain == pytest.approx(case["dc_gain"], rel=1e-6)
    assert found.delay == pytest.approx(case["dc_delay_ms"] * 1e-3, rel=1e-6)
    for f in (1, 5, 10):
        at = response(f=float(f), gain_dc=1.0, tau_high=inf, tau_slow=found.tau_slow,
                      tau_fast=found.tau_fast)  # fmt: skip
        assert degrees(at.phase) == pytest.approx(case[f"phase_deg_{f}Hz"], rel=1e-6)
        assert at.phase_delay == pytest.approx(case[f"phase_delay_ms_{f}Hz"] * 1e-3, rel=1e-6)
        assert at.group_delay == pytest.approx(case[f"group_delay_ms_{f}Hz"] * 1e-3, rel=1e-6)
    for f in (50, 60):
        at = response(f=float(f), gain_dc=1.0, tau_high=inf, tau_slow=found.tau_slow,
                      tau_fast=found.tau_fast)  # fmt: skip
        assert -20 * log10(at.gain) == pytest.approx(case[f"atten_dB_rel_dc_{f}Hz"], rel=1e-6)


@source(Kind.SIMULATOR, "independent reference (NumPy, SciPy, magpylib, ngspice), the same cases by"
        " an AC analysis")  # fmt: skip
@pytest.mark.parametrize("name", sorted(CASES))
def test_ladders_against_the_simulator(name: str) -> None:
    """1e-6: the simulator's own agreement with the reference is 1e-7."""
    case = CASES[name]["ngspice"]
    found = solved(CASES[name]["circuit"])
    assert found.f_c == pytest.approx(case["f3dB"], rel=1e-6)
    for f, gain in case["vm"].items():
        at = response(f=float(f), gain_dc=found.gain, tau_high=inf, tau_slow=found.tau_slow,
                      tau_fast=found.tau_fast)  # fmt: skip
        assert at.gain == pytest.approx(gain, rel=1e-6)
        assert at.phase == pytest.approx(case["vp_rad"][f], rel=1e-6)


@source(Kind.REFERENCE_LIBRARY, "independent reference (NumPy, SciPy, magpylib, ngspice), case"
        " nominal divider with filter")  # fmt: skip
def test_divider_before_the_filter_lowers_its_cut_off() -> None:
    case = REFERENCE["tolerance_nominal"]
    found = ladder(r_source=0.0, r_upper=case["R1"], r_lower=case["R2"], r_3=case["R3"],
                   c_1=case["C"], r_4=0.0, c_2=0.0, r_load=inf, l_source=0.0)  # fmt: skip
    assert found.gain == pytest.approx(case["gain"], rel=1e-12)
    assert found.f_c == pytest.approx(case["fc"], rel=1e-9)


@source(
    Kind.PUBLISHED, "textbook identity: 10 k, 100 nF", printed="159.155 Hz; -3.0103 dB, -45 deg"
)
def test_one_pole_at_its_cut_off() -> None:
    f_c = pole_frequency(r=10e3, c=100e-9)
    assert f_c == pytest.approx(159.155, abs=0.0005)
    at = response(f=f_c, gain_dc=1.0, tau_high=inf, tau_slow=1e-3, tau_fast=0.0)
    assert 20 * log10(at.gain) == pytest.approx(-3.0103, abs=0.00005)
    assert degrees(at.phase) == pytest.approx(-45, abs=1e-9)


@source(Kind.IDENTITY, "two equal loaded poles: 0.3742 of 1/(2 pi R C); 0.6436 needs a buffer")
def test_two_equal_poles_load_each_other() -> None:
    whole = ladder(r_source=0.0, r_upper=0.0, r_lower=inf, r_3=4700.0, c_1=220e-9, r_4=4700.0,
                   c_2=220e-9, r_load=inf, l_source=0.0)  # fmt: skip
    short = equal_poles_frequency(r=4700.0, c=220e-9)
    assert whole.f_c == pytest.approx(short, rel=1e-12)
    assert short / pole_frequency(r=4700.0, c=220e-9) == pytest.approx(0.3742, abs=0.00005)


@source(Kind.IDENTITY, "the phase at low frequency is the delay at zero frequency")
def test_delay_is_the_slope_of_the_phase() -> None:
    found = ladder(r_source=30.0, r_upper=33e3, r_lower=15e3, r_3=22e3, c_1=470e-9, r_4=68e3,
                   c_2=100e-9, r_load=1e6, l_source=0.0)  # fmt: skip
    at = response(f=1e-3, gain_dc=1.0, tau_high=inf, tau_slow=found.tau_slow,
                  tau_fast=found.tau_fast)  # fmt: skip
    assert at.phase_delay == pytest.approx(found.delay, rel=1e-6)
    assert at.group_delay == pytest.approx(found.delay, rel=1e-6)


@source(
    Kind.PUBLISHED,
    "two public forum threads on coil pickups",
    printed="100 nF and 50 k: high-pass 32 Hz; 10 uF: 0.32 Hz",
)
def test_coupling_capacitor_is_a_high_pass() -> None:
    assert pole_frequency(r=50e3, c=100e-9) == pytest.approx(32, abs=0.5)
    assert pole_frequency(r=50e3, c=10e-6) == pytest.approx(0.32, abs=0.005)


def test_impossible_ladders_are_refused() -> None:
    with pytest.raises(OutOfRangeError, match="some resistance must precede"):
        ladder(r_source=0.0, r_upper=0.0, r_lower=inf, r_3=0.0, c_1=1e-6, r_4=0.0, c_2=0.0,
               r_load=inf, l_source=0.0)  # fmt: skip
    with pytest.raises(OutOfRangeError, match="c_1 must be above zero"):
        ladder(r_source=0.0, r_upper=0.0, r_lower=inf, r_3=1e3, c_1=0.0, r_4=0.0, c_2=0.0,
               r_load=inf, l_source=0.0)  # fmt: skip
