"""Rate: nut, temperature, gravity, impulse, air, support and crystal."""

import numpy as np
import pytest
from scipy.linalg import expm
from scipy.optimize import brentq

from calc.calculator import OutOfRangeError
from calc.disturbance import buoyancy_rate, impulse_rate, support_rate
from calc.gravity import gravity_at_height, gravity_at_latitude, rate_from_gravity
from calc.pendulum import effective_length, small_arc_period
from calc.rate import (
    crystal_rate,
    length_change,
    nut_turns,
    rate_against_target,
    temperature_rate,
)
from tests.sources import Kind, source

DAY = 86400.0
HIPP = "model-engineer.co.uk, thread on an electric clock"
FACTS = "worked apart from handbook expansion coefficients, from memory"


@source(
    Kind.PUBLISHED,
    "crystal maker's sheet, 32.768 kHz tuning fork: -0.030 ppm/K^2, 45 degC, turnover 25 degC",
    printed="-12.0 ppm",
)
def test_crystal_twenty_kelvin_off() -> None:
    rate = crystal_rate(coefficient=-0.030e-6, temperature=318.15, turnover=298.15)
    assert 1e6 * rate == pytest.approx(-12.0, abs=0.05)


@source(Kind.IDENTITY, "the usual -0.034 ppm/K^2 worked apart", printed="-13.6 ppm = -1.175 s/day")
def test_crystal_with_the_usual_coefficient() -> None:
    rate = crystal_rate(coefficient=-0.034e-6, temperature=318.15, turnover=298.15)
    assert 1e6 * rate == pytest.approx(-13.6, abs=0.05)
    assert DAY * rate == pytest.approx(-1.175, abs=0.5e-3)
    cold = crystal_rate(coefficient=-0.034e-6, temperature=278.15, turnover=298.15)
    assert cold == pytest.approx(rate, rel=1e-12)


@pytest.mark.parametrize(
    ("degrees", "printed", "digit"),
    [(0, 9.7803253359, 1e-10), (45, 9.8061978, 1e-7), (90, 9.8321849378, 1e-10)],
)
@source(
    Kind.PUBLISHED,
    "World Geodetic System 1984, normal gravity; the value at 45 degrees worked apart",
    printed="9.7803253359 / 9.8061978 / 9.8321849378",
)
def test_normal_gravity(degrees: float, printed: float, digit: float) -> None:
    """A whole last digit: at the pole the printed constant is cut, not rounded (…93786)."""
    g = gravity_at_latitude(latitude=float(np.radians(degrees)))
    assert g == pytest.approx(printed, abs=digit)
    assert gravity_at_latitude(latitude=float(np.radians(-degrees))) == g


@source(Kind.IDENTITY, "seconds pendulum at 51.48 N worked apart", printed="0.994165 m")
def test_seconds_pendulum_at_the_latitude_of_london() -> None:
    g = gravity_at_latitude(latitude=float(np.radians(51.48)))
    assert effective_length(period=2.0, g=g) == pytest.approx(0.994165, abs=0.5e-6)


@source(Kind.FROM_MEMORY, "free-air gradient", printed="0.0136 s/day lost per m up")
def test_a_floor_up_loses() -> None:
    higher = gravity_at_height(g=9.80665, height=1.0)
    assert DAY * rate_from_gravity(g_from=9.80665, g_to=higher) == pytest.approx(-0.0136, abs=5e-5)


@source(Kind.IDENTITY, "periods at the two places")
def test_moving_house_shifts_the_rate() -> None:
    lengths = effective_length(period=2.0, g=9.8061978)
    there = small_arc_period(effective_length=lengths, g=9.8125)
    rate = rate_from_gravity(g_from=9.8061978, g_to=9.8125)
    assert rate == pytest.approx(2.0 / there - 1, rel=1e-10)


@pytest.mark.parametrize(
    ("expansion", "printed", "digit"),
    [(1.2e-6, 0.052, 1e-3), (0.3e-6, 0.013, 1e-3), (0.5e-6, 0.022, 1e-3), (11.5e-6, 0.50, 1e-2),
     (19e-6, 0.82, 1e-2)],
    ids=["invar", "super invar", "fused silica", "steel", "brass"],
)  # fmt: skip
@source(Kind.IDENTITY, FACTS, printed="0.052 / 0.013 / 0.022 / 0.50 / 0.82 s/day/K")
def test_rods_of_several_materials(expansion: float, printed: float, digit: float) -> None:
    rate = temperature_rate(expansion=expansion, temperature_change=1.0)
    assert -DAY * rate == pytest.approx(printed, abs=0.5 * digit)


@source(
    Kind.IDENTITY,
    f"303 stainless, 6 to 22 degC, {HIPP}, reworked",
    printed="0.747 s/day/K; 16 K gives 12 s/day; 90 s/day is 1042 ppm; 2.07 mm",
)
def test_ninety_seconds_a_day_are_not_the_temperature() -> None:
    one = -DAY * temperature_rate(expansion=17.3e-6, temperature_change=1.0)
    assert one == pytest.approx(0.747, abs=0.5e-3)
    span = -DAY * temperature_rate(expansion=17.3e-6, temperature_change=16.0)
    assert span == pytest.approx(12, abs=0.5)
    rate = -90 / DAY
    assert -1e6 * rate == pytest.approx(1042, abs=0.5)
    change = length_change(effective_length=0.994, rate=rate)
    assert -1e3 * change == pytest.approx(2.07, abs=0.5e-2)
    assert -100 * change / 0.994 == pytest.approx(0.208, abs=0.5e-3)
    assert span / 90 == pytest.approx(1 / 8, abs=0.01)


@source(Kind.IDENTITY, "the lengthened pendulum keeps the target period")
def test_turning_the_nut_takes_the_rate_away() -> None:
    length, target = 0.3, 1.09
    period = small_arc_period(effective_length=length)
    rate = rate_against_target(period=period, target_period=target)
    change = length_change(effective_length=length, rate=rate)
    assert small_arc_period(effective_length=length + change) == pytest.approx(target, rel=1e-14)
    assert rate < 0 > change  # slower than its target, so the bob goes up
    assert nut_turns(change=change, nut_pitch=0.7e-3) * 0.7e-3 == pytest.approx(change)


@source(
    Kind.IDENTITY,
    "after G. B. Airy, 1826, derived apart",
    printed="impulse at 5 deg after centre, Q 10000: -4.374e-6 = -0.378 s/day",
)
def test_late_impulse_loses() -> None:
    late = impulse_rate(phase=float(np.radians(5)), q_factor=10_000.0)
    assert late == pytest.approx(-4.374e-6, abs=0.5e-9)
    assert DAY * late == pytest.approx(-0.378, abs=0.5e-3)
    assert impulse_rate(phase=float(np.radians(-5)), q_factor=10_000.0) == -late


@source(Kind.IDENTITY, "linear oscillator with drag, kicked at a phase, carried by SciPy's expm")
def test_impulse_rate_of_a_kicked_oscillator() -> None:
    """The kicked swing's own half period; 2 %: terms of order 1/Q that Airy leaves out."""
    q_factor, phase = 200.0, 0.3
    law = np.array([[0.0, 1.0], [-1.0, -1.0 / q_factor]])

    def phase_at_kick(half_period: float) -> float:
        """Phase at which the steady swing arrives when it is kicked every half period."""
        flight = expm(law * half_period)
        steady = np.linalg.solve(np.eye(2) + flight, -flight @ np.array([0.0, 1.0]))
        return float(np.arctan2(steady[0], steady[1]))

    half_period = brentq(lambda t: phase_at_kick(t) - phase, np.pi, np.pi + 0.01, xtol=1e-14)
    rate = np.pi / half_period - 1
    assert rate == pytest.approx(impulse_rate(phase=phase, q_factor=q_factor), rel=0.02)


@pytest.mark.parametrize(("density", "printed"), [(8500.0, 0.0061), (11340.0, 0.0045)])
@source(Kind.IDENTITY, "pure buoyancy worked apart", printed="0.0061 s/day/hPa brass, 0.0045 lead")
def test_air_pressure(density: float, printed: float) -> None:
    """One hectopascal is a 1013th of 1.20 kg/m^3; the printed air was a little lighter or denser.

    Half the last digit, 5e-5 s/day, is 1 %.
    """
    low = buoyancy_rate(density_air=1.2, density_bob=density)
    high = buoyancy_rate(density_air=1.2 * (1 + 1 / 1013.25), density_bob=density)
    assert DAY * (low - high) == pytest.approx(printed, abs=1e-4)


@source(Kind.IDENTITY, "lowest mode of a bob on a pivot mass and a spring, solved by NumPy")
def test_support_rate_is_the_slow_mode_of_bob_and_support() -> None:
    """Pivot mass 1e-9 kg; linear in the angle. 1e-9: the pivot's own inertia."""
    mass, length, stiffness, g, pivot = 0.8, 0.5, 3e3, 9.80665, 1e-9
    inertia = np.array([[mass + pivot, mass * length], [mass * length, mass * length**2]])
    springs = np.diag([stiffness, mass * g * length])
    slow = np.sqrt(np.linalg.eigvals(np.linalg.solve(springs, inertia)).real.max()) ** -1
    rate = slow / np.sqrt(g / length) - 1
    ours = support_rate(mass=mass, effective_length=length, stiffness=stiffness)
    assert ours == pytest.approx(rate, rel=1e-9)
    assert ours == pytest.approx(-mass * g / (2 * stiffness * length), rel=5e-3)


def test_what_has_no_meaning_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="between the poles"):
        gravity_at_latitude(latitude=1.6)
    with pytest.raises(OutOfRangeError, match="turning point"):
        impulse_rate(phase=1.6, q_factor=100.0)
    with pytest.raises(OutOfRangeError, match="slows on both sides"):
        crystal_rate(coefficient=3e-8, temperature=300.0, turnover=298.0)
