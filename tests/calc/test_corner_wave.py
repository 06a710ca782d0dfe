"""Waveforms of straight pieces behind one or two poles."""

import numpy as np
import pytest

from calc.corner_wave import cornered_wave
from calc.crossing import filtered_wave
from tests.sources import Kind, source


@source(Kind.IDENTITY, "step response of two poles: 1 - (a exp(-t/a) - b exp(-t/b)) / (a - b)")
def test_a_step_through_two_poles_takes_its_exponentials() -> None:
    slow, fast = 0.013, 0.004
    t = np.concatenate([[-1e-3, -1e-12], np.linspace(1e-12, 0.08, 4001)])
    step = np.where(t > 0, 0.7, 0.0)
    found = cornered_wave(t=t, wave=step, gain=0.6, tau_high=np.inf, tau_slow=slow, tau_fast=fast)
    since = np.maximum(t, 0.0)
    rest = (slow * np.exp(-since / slow) - fast * np.exp(-since / fast)) / (slow - fast)
    # Between the poles the waveform bends by up to 0.42 / (4 ms)^2 a second squared; straight
    # pieces of 20 us miss an eighth of the bend times their square, 1.3e-6.
    assert found.wave == pytest.approx(0.42 * (1 - rest), abs=1.3e-6)
    slope = (np.exp(-since / slow) - np.exp(-since / fast)) / (slow - fast)
    assert found.slope == pytest.approx(0.42 * np.where(t > 0, slope, 0.0), abs=1.3e-6 / fast)


@source(Kind.IDENTITY, "a capacitor before the filter lets nothing of a steady level through")
def test_a_coupling_capacitor_forgets_a_step() -> None:
    t = np.concatenate([[0.0, 0.1], 0.1 + np.linspace(1e-9, 1.0, 400)])
    step = np.where(t > 0.1, 2.0, 0.0)
    found = cornered_wave(t=t, wave=step, gain=1.0, tau_high=0.05, tau_slow=0.0, tau_fast=0.0)
    assert found.wave == pytest.approx(
        np.where(t > 0.1, 2.0 * np.exp(-(t - 0.1) / 0.05), 0.0), abs=1e-6
    )


@source(Kind.IDENTITY, "a smooth waveform has no corners: the cubic routine finds the same")
def test_a_smooth_wave_agrees_with_the_cubic_solution() -> None:
    t = np.linspace(-0.1, 0.1, 4001)
    wave = t * np.exp(-((t / 0.03) ** 2))
    given = {"t": t, "wave": wave, "gain": 0.8, "tau_high": 0.4, "tau_slow": 0.01,
             "tau_fast": 0.002}  # fmt: skip
    straight, cubic = cornered_wave(**given), filtered_wave(**given)  # type: ignore[arg-type]
    # Straight pieces of 50 us miss the curve by an eighth of the bend times their square.
    assert straight.wave == pytest.approx(cubic.wave, abs=2e-6 * float(np.abs(wave).max()))
