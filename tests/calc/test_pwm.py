"""Ripple and settling of a PWM behind RC sections."""

import numpy as np
import pytest
from scipy.linalg import expm

from calc.pwm import pwm_ripple, pwm_tau, pwm_two_sections, rc_settling
from tests.sources import Kind, source

ARTICLE = "circuitcellar.com, quick bits, PWM DAC ripple reduction (stored copy)"


@source(
    Kind.PUBLISHED, ARTICLE,
    printed="8-bit, ripple limited to one LSB: RC time constant 64 T_PWM; settling 355 T_PWM",
)  # fmt: skip
def test_eight_bits_need_sixty_four_periods() -> None:
    """Half the last printed digit."""
    period = 1e-4
    tau = pwm_tau(ripple_share=1 / 256, f_pwm=1 / period)
    assert tau / period == pytest.approx(64, abs=0.5)
    assert rc_settling(tau=tau, share=1 / 256) / period == pytest.approx(355, abs=0.5)


@source(Kind.PUBLISHED, ARTICLE, printed="10 kHz PWM: 35 ms at 8 bits, 177 ms at 10 bits")
@pytest.mark.parametrize(("bits", "printed", "half"), [(8, 35e-3, 0.5e-3), (10, 177e-3, 0.5e-3)])
def test_settling_at_ten_kilohertz(bits: int, printed: float, half: float) -> None:
    tau = pwm_tau(ripple_share=2.0**-bits, f_pwm=10e3)
    assert rc_settling(tau=tau, share=2.0**-bits) == pytest.approx(printed, abs=half)


@source(Kind.IDENTITY, "pwm_ripple at half the duty gives the share back")
def test_time_constant_and_ripple_are_each_others_inverse() -> None:
    tau = pwm_tau(ripple_share=0.01, f_pwm=500.0)
    ripple = pwm_ripple(v_high=3.3, duty=0.5, f_pwm=500.0, tau=tau)
    assert ripple == pytest.approx(0.033, rel=1e-12)


def run_of_the_circuit(
    duty: float, f_pwm: float, r: float, c: float, r_load: float
) -> tuple[float, float]:
    """Return ripple and mean of the second section, by exact small steps until it repeats."""
    n, y = 2000, np.zeros(2)
    rates = np.array([[-2 / (r * c), 1 / (r * c)], [1 / (r * c), -(1 / r + 1 / r_load) / c]])
    step = expm(rates / f_pwm / n)
    push = np.linalg.solve(rates, step - np.eye(2)) @ np.array([1 / (r * c), 0.0])
    for _ in range(60):
        seen = []
        for k in range(n):
            y = step @ y + push * (1.0 if k < round(duty * n) else 0.0)
            seen.append(y[1])
    return float(np.ptp(seen)), float(np.mean(seen))


@pytest.mark.parametrize(
    ("duty", "f_pwm", "r_load"), [(0.5, 1000.0, 1e6), (0.1, 1000.0, 1e5), (0.8, 300.0, 22e3)]
)
@source(Kind.IDENTITY, "the circuit stepped by its matrix exponential until it repeats itself")
def test_two_sections_agree_with_a_run_of_the_circuit(
    duty: float, f_pwm: float, r_load: float
) -> None:
    """1e-4: the run sees the extremes only to a two-thousandth of the period."""
    found = pwm_two_sections(
        v_high=1.0, duty=duty, f_pwm=f_pwm, r=10e3, c=100e-9, r_load=r_load, share=0.01
    )
    ripple, mean = run_of_the_circuit(duty, f_pwm, 10e3, 100e-9, r_load)
    assert found.ripple == pytest.approx(ripple, rel=1e-4)
    assert found.gain * duty == pytest.approx(mean, rel=1e-4)
