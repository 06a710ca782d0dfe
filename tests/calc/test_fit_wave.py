"""Waves of a free swing and of a pass, with noise and hum: the truth found again."""

import numpy as np
import pytest

from calc.calculator import OutOfRangeError
from calc.fit_decay import fit_decay
from calc.fit_pass import fit_hum, fit_pass, three_alike
from calc.fit_wave import even, is_sine, sine_passes, wave_period
from calc.linkage import straight_linkage
from calc.linkage_curve import LinkageCurve
from calc.linkage_parts import MagnetShape, WindingShape
from calc.swing import Swing
from tests.sources import Kind, source

SEEDS = range(5)


@source(Kind.IDENTITY, "an invented sine with noise and hum")
def test_decaying_sine_window_by_window() -> None:
    """Q within four standard deviations and the period within 5e-6; five seeds."""
    t = np.arange(0.0, 300.0, 0.01)
    clean = 0.5 + 0.16 * np.exp(-np.pi * t / 1.37 / 500) * np.sin(2 * np.pi * t / 1.37 + 1)
    hum = 3e-3 * np.sin(2 * np.pi * 50 * t)
    for seed in SEEDS:
        wave = clean + hum + np.random.default_rng(seed).normal(0, 2e-3, t.size)
        assert is_sine(t, wave)
        passes = sine_passes(t=t, wave=wave, period=wave_period(*even(t, wave)))
        decay = fit_decay(periods=passes.beats / 2, arcs=passes.size, weights=1 / passes.size_sigma)
        assert abs(decay.q_factor(0.05) - 500) < 4 * decay.q_sigma(0.05)
        assert np.polyfit(passes.beats / 2, passes.t, 1)[0] == pytest.approx(1.37, rel=5e-6)


@source(Kind.IDENTITY, "an invented hum seen only between passes")
def test_hum_between_the_passes() -> None:
    t = np.arange(0.0, 2.0, 1 / 2000)
    quiet = np.mod(t, 0.8) > 0.25
    for seed in SEEDS:
        wave = 0.01 + 0.02 * np.cos(2 * np.pi * 59.94 * t + 0.7)
        wave += np.random.default_rng(seed).normal(0, 5e-3, t.size)
        hum = fit_hum(t=t[quiet], wave=wave[quiet], lowest=40.0, highest=70.0)
        assert abs(hum.frequency - 59.94) < 4 * hum.frequency_sigma
        assert abs(hum.amplitude - 0.02) < 4 * hum.amplitude_sigma
        assert hum.noise == pytest.approx(5e-3, rel=0.05)
        assert hum.seen


@source(Kind.IDENTITY, "noise alone")
def test_noise_is_no_hum() -> None:
    t = np.arange(0.0, 1.0, 1 / 2000)
    for seed in SEEDS:
        wave = np.random.default_rng(seed).normal(0, 5e-3, t.size)
        hum = fit_hum(t=t, wave=wave, lowest=49.0, highest=51.0)
        assert not hum.seen


MAGNET = MagnetShape(round=True, lying=False, b_r=1.25, along=0.016, across=0.016, depth=0.007)
WINDING = WindingShape(n_turns=1500, r_inner=0.008, r_outer=0.019, height=0.009)
SWING = Swing(kind="pendulum", omega=2 * np.pi / 1.7, arc=0.08, radius=0.7)


def curve_at(gap: float) -> LinkageCurve:
    return straight_linkage(magnet=MAGNET, winding=WINDING, gap=gap)


T = np.arange(-0.2, 0.2, 1 / 4000)


def captured(seed: int) -> np.ndarray:
    """A pass at a gap of 6 mm with a magnet 8 % stronger than MAGNET, upside down."""
    clean = -1.08 * curve_at(0.006).slope(SWING.path(T)) * SWING.speed(T) + 0.02
    return np.asarray(clean + np.random.default_rng(seed).normal(0, 3e-3, T.size))


@source(Kind.IDENTITY, "a pass made from the linkage itself")
def test_known_pass_is_found_again() -> None:
    """Two of strength, gap and speed free, the third held at its truth: within four sigmas."""
    truth = {"strength": 1.08, "gap": 0.006, "speed": SWING.speed_at_centre}
    for seed in range(3):
        for free in (("strength", "speed"), ("strength", "gap")):
            found = fit_pass(
                T, captured(seed), curve_at, crossing=0.003, free=free, swing=SWING,
                gap=0.0075 if "gap" in free else 0.006,
                speed=0.7 * truth["speed"] if "speed" in free else truth["speed"],
            )  # fmt: skip
            for name in free:
                apart = getattr(found, name) - truth[name]
                assert abs(apart) < 4 * getattr(found, f"{name}_sigma"), (name, seed)
            assert found.sign == -1
            assert abs(found.crossing) < 1e-4
            assert found.baseline == pytest.approx(0.02, abs=5e-4)


@source(Kind.IDENTITY, "height and length are two figures, remanence, gap and speed are three")
def test_remanence_and_gap_go_together() -> None:
    found = fit_pass(
        T, captured(1), curve_at, crossing=0.0, free=("strength", "speed"), swing=SWING,
        gap=0.006, speed=SWING.speed_at_centre,
    )  # fmt: skip
    likeness, gap_sigma = three_alike(T, captured(1), curve_at, found, SWING)
    assert likeness > 0.97
    assert gap_sigma > 5 * found.speed_sigma / found.speed


def test_too_few_samples_are_refused() -> None:
    with pytest.raises(OutOfRangeError, match="sixteen samples"):
        fit_pass(T[:9], T[:9], curve_at, gap=0.006, speed=0.2, crossing=0.0, free=("gap", "speed"))


def test_a_wave_that_is_mostly_gaps_is_refused() -> None:
    """Sixty samples a microsecond apart and two a day later would make 1e11 even ones."""
    t = np.concatenate((1e-6 * np.arange(60.0), [86400.0, 86401.0]))
    with pytest.raises(OutOfRangeError, match="gaps must be shorter"):
        even(t, np.sin(t))
