"""Coupling through a capacitor, and between two windings on one bobbin."""

from math import inf, pi, sqrt

import numpy as np
import pytest

from calc.coupling import capacitor_residual, coupled_ladder, mutual_kick
from calc.crossing import filtered_wave, level_crossings
from calc.ladder import response
from tests.calc.test_crossing import A1
from tests.sources import Kind, source


@source(Kind.IDENTITY, "the network's node equations solved with complex numbers")
@pytest.mark.parametrize("second", [(0.0, 0.0), (68e3, 47e-9)])
@pytest.mark.parametrize("load", [inf, 1e6])
def test_coupled_ladder_solves_its_own_nodes(second: tuple[float, float], load: float) -> None:
    """1e-9: both are linear algebra in double precision."""
    r_source, c_c, r_bias, r_3, c_1 = 2.2e3, 330e-9, 47e3, 33e3, 220e-9
    r_4, c_2 = second
    found = coupled_ladder(r_source=r_source, c_coupling=c_c, r_bias=r_bias, r_3=r_3, c_1=c_1,
                           r_4=r_4, c_2=c_2, r_load=load, l_source=0.0)  # fmt: skip
    for f in (0.3, 3.0, 30.0):
        s = 2j * pi * f
        y_2 = 1 / load + s * c_2
        y_1 = s * c_1 + y_2 / (1 + r_4 * y_2)
        y_b = 1 / r_bias + y_1 / (1 + r_3 * y_1)
        exact = 1 / (1 + (r_source + 1 / (s * c_c)) * y_b) / (1 + r_3 * y_1) / (1 + r_4 * y_2)
        at = response(f=f, gain_dc=found.gain, tau_high=found.tau_high, tau_slow=found.tau_slow,
                      tau_fast=found.tau_fast)  # fmt: skip
        assert at.gain == pytest.approx(abs(exact), rel=1e-9)
        assert at.phase == pytest.approx(float(np.unwrap([0.0, np.angle(exact)])[1]), abs=1e-9)


@source(Kind.COMMON_PRACTICE, "no source; design figure of the project: with 10 uF and 50 kohm a"
        " quarter of a volt is still there at the next pass")  # fmt: skip
def test_large_coupling_capacitor_still_leans_at_the_next_pass() -> None:
    """5 V rail, bias at half of it, clamp at 0.65 V below ground, passes one second apart; the
    bias resistors add 6 % while an 18 ms pulse lasts, and a hundredth of the capacitor none."""
    case = {"v_step": 5.0, "v_bias": 2.5, "v_clamp": 0.65, "r_clamp": 1.0, "t_clamp": 0.0,
            "r_bias": 50e3, "elapsed": 1.0}  # fmt: skip
    left = capacitor_residual(width=1e-3, c_coupling=10e-6, **case)
    assert left == pytest.approx(0.25, abs=0.005)
    assert 1.05 < capacitor_residual(width=0.018, c_coupling=10e-6, **case) / left < 1.07
    assert capacitor_residual(width=0.018, c_coupling=100e-9, **case) < 1e-12


@source(Kind.IDENTITY, "the same charge, integrated in small steps")
@pytest.mark.parametrize("width", [2e-3, 18e-3, 0.3])
@pytest.mark.parametrize("r_clamp", [100.0, 10e3, 100e3])
def test_clamp_behind_a_filter_charges_the_capacitor_slowly(width: float, r_clamp: float) -> None:
    """1 %: the calculator lets the bias act after the clamp where here it begins before it."""
    v_step, v_hold, r_bias, c, t_clamp = 5.0, 3.15, 50e3, 10e-6, 1e-3
    charge, steps = 0.0, 40_000
    dt = width / steps
    for k in range(steps):
        over = v_step - charge - v_hold if k * dt >= t_clamp else 0.0
        charge += dt / c * ((v_step - charge) / r_bias + max(over, 0.0) / r_clamp)
    left = capacitor_residual(
        v_step=v_step, v_bias=2.5, v_clamp=0.65, r_clamp=r_clamp, t_clamp=t_clamp, width=width,
        r_bias=r_bias, c_coupling=c, elapsed=1.0,
    )  # fmt: skip
    assert left == pytest.approx(charge * np.exp(-1.0 / (r_bias * c)), rel=1e-2)


@source(Kind.COMMON_PRACTICE, "no source; design figure of the project: with 100 nF the crossing"
        " comes 19 ms early")  # fmt: skip
def test_small_coupling_capacitor_brings_the_crossing_forward() -> None:
    """The figure's own speed is not known; at 0.3 m/s behind a filter of 40 Hz, 50 kohm bias and
    100 nF the pass crosses 19 ms early, against 4 ms late without the capacitor."""
    t = np.linspace(-0.4, 0.4, 1601)
    emf = 0.3 * A1.slope(0.3 * t)
    times = []
    for tau_high in (100e-9 * 50e3, inf):
        wave = filtered_wave(t=t, wave=emf, gain=1.0, tau_high=tau_high, tau_slow=1 / (2 * pi * 40),
                             tau_fast=0.0)  # fmt: skip
        falls = level_crossings(t=t, wave=wave.wave, slope=wave.slope, level=0.0, direction=-1)
        times.append(min((fall.t for fall in falls), key=abs))
    assert times[0] == pytest.approx(-19e-3, abs=0.5e-3)
    assert times[1] == pytest.approx(3.9e-3, abs=0.1e-3)


@source(
    Kind.COMMON_PRACTICE,
    "no source; design figure of the project: coupling 0.9, turns 3:1",
    printed="about 16 V and 18 V",
)
def test_pulse_and_kick_reach_the_listening_winding() -> None:
    """Six volts across the drive winding, a diode of 0.7 V; inductance goes as turns squared."""
    mutual = 0.9 * sqrt(0.01 * 9 * 0.01)
    found = mutual_kick(mutual=mutual, l_coil=0.01, v_drive=6.0, v_clamp=0.7)
    assert found.v_pulse == pytest.approx(16, abs=0.5)
    assert found.v_kick == pytest.approx(18, abs=0.5)
