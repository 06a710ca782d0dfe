"""What a filter does to the pass of a magnet, held to a microsecond."""

import json
from math import inf, log, pi
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError
from calc.crossing import (
    FilteredWave,
    filtered_wave,
    level_crossings,
    settled_after,
    wave_peak,
)
from calc.ladder import ladder
from calc.linkage import straight_linkage
from calc.linkage_parts import MagnetShape, WindingShape
from calc.swing import Swing
from tests.sources import Kind, source

REFERENCE = json.loads((Path(__file__).parents[1] / "data/filter_reference.json").read_text())
PASSES = REFERENCE["passes"]
SPEED = 0.3
A1 = straight_linkage(
    magnet=MagnetShape(round=True, lying=False, b_r=1.2, along=10e-3, across=10e-3, depth=5e-3),
    winding=WindingShape(n_turns=1000, r_inner=5e-3, r_outer=12.5e-3, height=8e-3),
    gap=4e-3,
)
ROWS = [(name, row) for name, case in PASSES.items() for row in case["rows"]]


def passed(name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The unfiltered pass, positive before the crossing."""
    if name.startswith("pend"):
        # The reference swings as a sine of time, not as a pendulum of finite arc.
        swing = Swing(kind="balance", omega=pi, arc=0.1, radius=9.80665 / pi**2)
        t = np.linspace(-0.5, 0.5, 2001)
        return t, swing.speed(t) * A1.slope(swing.path(t))
    # The reference lets the EMF begin 0.3 s before the crossing.
    t = np.linspace(-0.5, 0.5, 4001)
    return t, np.where(t < -0.3 - 1e-9, 0.0, SPEED * A1.slope(SPEED * t))


def filtered(name: str, tau: float) -> tuple[NDArray[np.float64], FilteredWave, float]:
    t, emf = passed(name)
    second = 1.0 if name.endswith("pole2") else 0.0
    poles = ladder(l_source=0.0, r_source=0.0, r_upper=0.0, r_lower=inf, r_3=1e4, c_1=tau / 1e4,
                   r_4=second * 1e4, c_2=second * tau / 1e4, r_load=inf)  # fmt: skip
    wave = filtered_wave(t=t, wave=emf, gain=1.0, tau_high=inf, tau_slow=poles.tau_slow,
                         tau_fast=poles.tau_fast)  # fmt: skip
    falls = level_crossings(t=t, wave=wave.wave, slope=wave.slope, level=0.0, direction=-1)
    return t, wave, next(fall.t for fall in falls if -0.01 < fall.t < 0.2)


@source(Kind.REFERENCE_LIBRARY, "independent reference (NumPy, SciPy, magpylib, ngspice), cases"
        " v0.3_pole1, v0.3_pole2 and pend_T2_A0.1_pole1")  # fmt: skip
@pytest.mark.parametrize(("name", "row"), ROWS, ids=lambda v: v if isinstance(v, str) else "")
def test_crossing_delay_and_peaks_of_a_pass(name: str, row: dict[str, float]) -> None:
    """The delay to 1 us as stated; the peaks to 2e-5, since the parabola through three samples
    0.25 ms or 0.5 ms apart is that good."""
    t, wave, crossing = filtered(name, row["tau_ms"] * 1e-3)
    assert crossing == pytest.approx(row["zero_cross_delay_ms"] * 1e-3, abs=1e-6)
    first = wave_peak(t=t, wave=wave.wave, after=-0.3, before=crossing, direction=1)
    second = wave_peak(t=t, wave=wave.wave, after=crossing, before=0.5, direction=-1)
    peak = PASSES[name]["emf_peak"]
    assert first.height / peak == pytest.approx(row["peak1_ratio"], abs=2e-5)
    assert -second.height / peak == pytest.approx(row["peak2_ratio"], abs=2e-5)


@source(Kind.IDENTITY, "the crossing's delay is neither RC nor independent of the speed")
def test_delay_is_not_the_time_constant() -> None:
    shares = [row["delay_over_tau"] for row in PASSES["v0.3_pole1"]["rows"]]
    for row, share in zip(PASSES["v0.3_pole1"]["rows"], shares, strict=True):
        _, _, crossing = filtered("v0.3_pole1", row["tau_ms"] * 1e-3)
        assert crossing / (row["tau_ms"] * 1e-3) == pytest.approx(share, rel=1e-5)
    assert shares[0] < 0.4
    assert 0.99 < shares[-1] < 1


@source(Kind.IDENTITY, "a ramp lags by the sum of the time constants once both have settled")
def test_ramp_through_two_poles_lags_by_both() -> None:
    t = np.linspace(0.0, 1.0, 501)
    found = filtered_wave(t=t, wave=3.0 * t, gain=0.5, tau_high=inf, tau_slow=0.02, tau_fast=0.005)
    assert found.wave[-1] == pytest.approx(1.5 * (1.0 - 0.025), rel=1e-12)
    assert found.slope[-1] == pytest.approx(1.5, rel=1e-12)


@source(Kind.IDENTITY, "a sine through one pole: gain 1/sqrt(1+(w tau)^2), lag arctan(w tau)")
@pytest.mark.parametrize("tau", [1e-6, 1e-4, 2e-3, 0.05, 5.0])
def test_sine_through_one_pole_of_any_speed(tau: float) -> None:
    """1e-7: the spline through 100 samples a period; the slowest pole starts settled at zero."""
    w = 2 * pi * 5
    t = np.linspace(0.0, 2.0, 1001)
    found = filtered_wave(t=t, wave=np.sin(w * t), gain=1.0, tau_high=inf, tau_slow=tau,
                          tau_fast=0.0)  # fmt: skip
    k = w * tau
    exact = (np.sin(w * t) - k * np.cos(w * t) + k * np.exp(-t / tau)) / (1 + k * k)
    assert np.abs(found.wave - exact).max() < 1e-6 * max(1.0, 1.0 / (1.0 + k))


@source(Kind.IDENTITY, "uneven samples give the same answer as even ones")
def test_samples_need_not_be_even() -> None:
    """1e-5: the spline's own error at the coarser end."""
    even = np.linspace(-1.0, 1.0, 2001)
    uneven = np.sign(even) * even**2
    ends = []
    for t in (even, np.unique(uneven)):
        found = filtered_wave(t=t, wave=np.exp(-((t / 0.2) ** 2)), gain=1.0, tau_high=0.5,
                              tau_slow=0.05, tau_fast=0.01)  # fmt: skip
        ends.append(float(np.interp(0.1, t, found.wave)))
    assert ends[0] == pytest.approx(ends[1], abs=1e-5)


@source(Kind.IDENTITY, "sin crosses one half at a twelfth of the period")
def test_sine_crosses_where_it_must() -> None:
    """1e-9: the cubic between 400 samples a period."""
    t = np.linspace(0.0, 2.0, 801)
    wave, slope = np.sin(2 * pi * t), 2 * pi * np.cos(2 * pi * t)
    rises = level_crossings(t=t, wave=wave, slope=slope, level=0.5, direction=1)
    falls = level_crossings(t=t, wave=wave, slope=slope, level=0.5, direction=-1)
    assert [rise.t for rise in rises] == pytest.approx([1 / 12, 13 / 12], abs=1e-9)
    assert [fall.t for fall in falls] == pytest.approx([5 / 12, 17 / 12], abs=1e-9)
    assert rises[0].slope == pytest.approx(2 * pi * np.sqrt(0.75), rel=1e-6)


@source(Kind.IDENTITY, "the highest point of a sine is one, a quarter of the way")
def test_peak_of_a_sine_stands_between_samples() -> None:
    """1e-6: a parabola through samples of 1/127 of the period."""
    t = np.linspace(0.0, 1.0, 128)
    found = wave_peak(t=t, wave=np.sin(2 * pi * t), after=0.0, before=1.0, direction=1)
    assert found.t == pytest.approx(0.25, abs=1e-4)
    assert found.height == pytest.approx(1.0, abs=1e-6)
    low = wave_peak(t=t, wave=np.sin(2 * pi * t), after=0.0, before=1.0, direction=-1)
    assert low.height == pytest.approx(-1.0, abs=1e-6)


@source(Kind.IDENTITY, "one pole decays by its logarithm: tau ln(v/level) after the step back")
def test_recovery_from_a_step_takes_its_logarithm() -> None:
    """1e-7 of the time: four refinements of a grid of 200."""
    width, tau, level = 0.02, 0.01, 0.04
    found = settled_after(t_edges=np.array([0.0, width]), v_steps=np.array([-4.0, 4.0]), gain=0.3,
                          tau_slow=tau, tau_fast=0.0, level=level)  # fmt: skip
    reached = 0.3 * 4.0 * (1 - np.exp(-width / tau))
    assert found == pytest.approx(width + tau * log(reached / level), rel=1e-7)


@source(Kind.IDENTITY, "steps in the filter's sight as a sampled wave and in closed form")
def test_recovery_agrees_with_the_sampled_filter() -> None:
    """0.2 ms: the sampled wave has ramps of 0.1 ms where the closed form has steps."""
    t = np.linspace(0.0, 0.4, 4001)
    wave = np.where(t < 0.018, -3.0, np.where(t < 0.020, 0.8, 0.0))
    wave[0] = 0.0
    found = filtered_wave(t=t, wave=wave, gain=0.5, tau_high=inf, tau_slow=0.015, tau_fast=0.004)
    sampled = t[np.flatnonzero(np.abs(found.wave) > 0.05)[-1]]
    closed = settled_after(t_edges=np.array([0.0, 0.018, 0.020]), v_steps=np.array([-3, 3.8, -0.8]),
                           gain=0.5, tau_slow=0.015, tau_fast=0.004, level=0.05)  # fmt: skip
    assert closed == pytest.approx(sampled, abs=2e-4)


def test_unusable_waves_are_refused() -> None:
    t = np.linspace(0.0, 1.0, 11)
    with pytest.raises(OutOfRangeError, match="t must rise"):
        filtered_wave(t=t[::-1], wave=t, gain=1.0, tau_high=inf, tau_slow=0.1, tau_fast=0.0)
    with pytest.raises(OutOfRangeError, match="must be finite"):
        filtered_wave(t=t, wave=t * np.nan, gain=1.0, tau_high=inf, tau_slow=0.1, tau_fast=0.0)
    with pytest.raises(OutOfRangeError, match="direction must be 1"):
        level_crossings(t=t, wave=t, slope=t, level=0.5, direction=0)
    with pytest.raises(OutOfRangeError, match="must add to zero"):
        settled_after(t_edges=np.array([0.0]), v_steps=np.array([1.0]), gain=1.0, tau_slow=0.1,
                      tau_fast=0.0, level=0.01)  # fmt: skip
