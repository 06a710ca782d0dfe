"""Pulses, logs, steps and a split rate: the truth of invented records found again."""

import numpy as np
import pytest
from scipy.signal import lfilter

from calc.calculator import OutOfRangeError
from calc.fit_coil import fit_coil, fit_rise, release_of
from calc.fit_log import mean_period, outliers, regress, time_to_limit
from calc.fit_step import find_step, fit_step
from calc.rate import temperature_rate
from calc.rate_split import arc_for_rate, bob_for_rate, warming_for_rate
from tests.sources import Kind, source

SEEDS = range(6)


@source(Kind.IDENTITY, "i = V/R (1 - exp(-t R/L))")
def test_rise_of_a_known_coil() -> None:
    t = np.arange(0.0, 4e-3, 2e-5)
    for seed in SEEDS:
        current = 0.04 * -np.expm1(-t / 0.9e-3) + np.random.default_rng(seed).normal(
            0, 2e-4, t.size
        )
        rise = fit_rise(t=t, current=current)
        assert abs(rise.i_end - 0.04) < 4 * rise.i_end_sigma
        assert abs(rise.tau - 0.9e-3) < 4 * rise.tau_sigma


@source(Kind.IDENTITY, "the same, a pulse of a third of the time constant")
def test_short_pulse_does_not_tell_end_from_time_constant() -> None:
    t = np.arange(0.0, 3e-4, 2e-6)
    current = 0.04 * -np.expm1(-t / 0.9e-3) + np.random.default_rng(3).normal(0, 1e-4, t.size)
    rise = fit_rise(t=t, current=current)
    assert rise.likeness > 0.97
    assert rise.i_end / rise.tau == pytest.approx(0.04 / 0.9e-3, rel=0.02)


@source(Kind.IDENTITY, "voltage made as R i + L di/dt")
def test_coil_from_voltage_and_current() -> None:
    """A supply that dips during the pulse: the constant-voltage rise would be wrong by 4 %."""
    t = np.arange(0.0, 5e-3, 1e-5)
    current = 0.04 * -np.expm1(-t / 0.9e-3) - 2.0 * t * np.exp(-t / 4e-3) / 4
    voltage = 75.0 * current + 0.0675 * np.gradient(current, t, edge_order=2)
    for seed in SEEDS:
        noise = np.random.default_rng(seed)
        coil = fit_coil(
            t=t, current=current + noise.normal(0, 5e-5, t.size),
            voltage=voltage + noise.normal(0, 0.01, t.size),
        )  # fmt: skip
        assert coil.resistance == pytest.approx(75.0, rel=5e-3)
        assert coil.inductance == pytest.approx(0.0675, rel=1e-2)


@source(Kind.IDENTITY, "t = tau ln((I0 R + V_F)/(f I0 R + V_F)) for a clamp of constant voltage")
def test_release_through_a_clamp() -> None:
    t = np.arange(-1e-3, 5e-3, 2e-6)
    tau, drop = 0.9e-3, 0.7 / 75
    falling = np.maximum((0.04 + drop) * np.exp(-np.maximum(t, 0) / tau) - drop, 0.0)
    found = release_of(t=t, current=falling, t_off=0.0, noise=0.0)
    assert found.t_decay == pytest.approx(tau * np.log((0.04 + drop) / (0.002 + drop)), rel=2e-3)
    assert found.t_zero == pytest.approx(tau * np.log((0.04 + drop) / drop), rel=2e-3)
    charge = tau * 0.04 - drop * tau * np.log((0.04 + drop) / drop)
    assert found.charge == pytest.approx(charge, rel=2e-3)


@source(Kind.IDENTITY, "an invented log with two outliers and a step")
def test_outliers_are_marked_and_a_step_is_not() -> None:
    for seed in SEEDS:
        values = np.where(np.arange(600) < 300, 5.0, 9.0)
        values = values + np.random.default_rng(seed).normal(0, 0.1, 600)
        values[[111, 444]] += 5.0
        marked = np.flatnonzero(outliers(values=values, window=11))
        assert {111, 444} <= set(marked.tolist())
        assert marked.size <= 3


@source(Kind.IDENTITY, "an invented rate: temperature, pressure and drift at once")
def test_temperature_and_pressure_are_told_apart() -> None:
    t = np.arange(0.0, 14 * 86400.0, 900.0)
    for seed in SEEDS:
        noise = np.random.default_rng(seed)
        warm = 20 + 4 * np.sin(2 * np.pi * t / 86400) + noise.normal(0, 0.2, t.size)
        air = 101300 + 800 * np.sin(2 * np.pi * t / 86400 / 5.3)
        rate = -0.5 * warm + 3e-4 * air + 0.03 * t / 86400 + noise.normal(0, 0.4, t.size)
        found = regress(t, rate, {"temperature": warm, "pressure": air})
        for influence, truth in zip(
            (*found.influences, found.drift), (-0.5, 3e-4, 0.03 / 86400), strict=True
        ):
            assert abs(influence.coefficient - truth) < 4 * influence.sigma
            assert influence.seen


@source(Kind.IDENTITY, "invented answers of first and second order")
def test_step_of_first_and_second_order() -> None:
    """Overshoot of a damping ratio z is exp(-pi z/sqrt(1 - z^2)): 16.3 % for 0.5."""
    t = np.arange(0.0, 12000.0, 20.0)
    u = np.maximum(t - 3000, 0.0)
    for seed in SEEDS:
        noise = np.random.default_rng(seed).normal(0, 0.2, t.size)
        first = fit_step(t=t, values=5 - 20 * -np.expm1(-u / 800) + noise, t_step=3000.0)
        assert abs(first.tau - 800) < 4 * first.tau_sigma
        assert abs(first.after + 15) < 4 * first.after_sigma
        assert first.overshoot == 0
        assert first.settling == pytest.approx(800 * np.log(20), rel=0.05)
        w, z = 2 * np.pi / 3000, 0.5
        wd = w * np.sqrt(1 - z**2)
        swing = np.exp(-z * w * u) * (np.cos(wd * u) + z / np.sqrt(1 - z**2) * np.sin(wd * u))
        second = fit_step(t=t, values=-15 + 20 * swing + noise, t_step=3000.0)
        assert second.overshoot == pytest.approx(np.exp(-np.pi * z / np.sqrt(1 - z**2)), abs=0.02)
        assert second.ringing == pytest.approx(wd / 2 / np.pi, rel=0.05)


@source(Kind.IDENTITY, "a step and a slope")
def test_a_slope_is_no_step() -> None:
    t = np.arange(0.0, 1000.0)
    noise = np.random.default_rng(4).normal(0, 1e-5, t.size)
    assert find_step(t, np.where(t < 400, 0.012, 0.014) + noise) == pytest.approx(399, abs=1)
    assert find_step(t, 0.012 + 2e-6 * t + noise) is None
    assert find_step(t, 0.012 + noise) is None


@source(Kind.IDENTITY, "way over drift")
def test_life_left_from_the_trend() -> None:
    trend = time_to_limit(level=14e-3, slope=1e-10, slope_sigma=1e-11, limit=20e-3)
    assert trend.at == pytest.approx(6e7)
    assert trend.low == pytest.approx(5e7)
    assert trend.high == pytest.approx(7.5e7)
    with pytest.raises(OutOfRangeError, match="towards its limit"):
        time_to_limit(level=14e-3, slope=-1e-10, slope_sigma=0.0, limit=20e-3)


@source(Kind.IDENTITY, "periods from crossings whose single errors cancel, and ones that wander")
def test_mean_of_wandering_periods() -> None:
    """The stated spread covers the true mean: within four of it on each seed."""
    for seed in SEEDS:
        noise = np.random.default_rng(seed)
        crossings = 1.5 * np.arange(2001) + noise.normal(0, 1e-4, 2001)
        plain = mean_period(periods=np.diff(crossings))
        assert abs(plain.period - 1.5) < 4 * plain.period_sigma
        wander = np.convolve(noise.normal(0, 1e-5, 2100), np.ones(60), mode="valid")[:2000]
        slow = mean_period(periods=1.5 + wander)
        assert abs(slow.period - 1.5) < 4 * slow.period_sigma
        assert slow.likeness > 0.9


@pytest.mark.parametrize(("memory", "most"), [(1, 1.2), (20, 1.5), (50, 1.9)])
@source(Kind.IDENTITY, "a first-order wander about a known mean, 200 records")
def test_the_spread_of_a_mean_covers_it(memory: int, most: float) -> None:
    """Error over spread, root mean square: one where the ten stretches are independent.

    400 periods; a memory of 50 outlasts a stretch of 40, so a part of it is not seen.
    """
    pulls = []
    for seed in range(200):
        noise = np.random.default_rng(seed)
        steps = noise.normal(0, 1e-4, 400 + 8 * memory)
        wander = lfilter([1.0], [1.0, -(1 - 1 / memory)], steps)[8 * memory :]
        found = mean_period(periods=1.5 + wander)
        pulls.append((found.period - 1.5) / found.period_sigma)
    assert 0.8 < np.sqrt(np.mean(np.square(pulls))) < most


@source(
    Kind.IDENTITY,
    "an electric clock of model-engineer.co.uk, thread on an electric clock, reworked",
    printed="lost 1.5 min in 24 h; workshop 6-22 C; 1/4 inch 303 stainless rod",
)
def test_ninety_seconds_a_day_are_not_temperature() -> None:
    """2.07 mm of bob, 0.208 %; 16 K of 303 stainless steel give 12 s/day, an eighth."""
    rate = -90 / 86400
    part = bob_for_rate(rate=rate, effective_length=0.994)
    assert part.share == pytest.approx(0.00208, abs=1.5e-5)
    assert part.change * 1e3 == pytest.approx(2.07, abs=0.006)
    warm = temperature_rate(expansion=17.3e-6, temperature_change=16.0)
    assert -86400 * warm == pytest.approx(12, abs=0.5)
    assert warm / rate == pytest.approx(1 / 8, abs=0.01)
    assert warming_for_rate(rate=rate, expansion=17.3e-6) > 7 * 16


@source(Kind.IDENTITY, "circular error, arc squared over sixteen")
def test_arc_that_a_rate_would_take() -> None:
    lost = 86400 * (0.06**2 - 0.05**2) / 16
    assert arc_for_rate(rate=-lost / 86400, arc=0.05) == pytest.approx(0.06, rel=1e-12)
    assert arc_for_rate(rate=1e-3, arc=0.05) == 0
