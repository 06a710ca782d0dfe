"""Period, circular error and energy of a pendulum."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import ellipk

from calc.calculator import OutOfRangeError, on_samples
from calc.pendulum import (
    circular_error,
    circular_error_series,
    circular_slope,
    effective_length,
    period_at_arc,
    small_arc_period,
)
from calc.ringdown import swing_loss
from calc.swing import Swing
from calc.swing_energy import (
    arc_from_energy,
    balance_energy,
    pendulum_energy,
    pendulum_swing_loss,
)
from calc.swing_speed import drop_height, pendulum_speed, speed_after_drop
from tests.sources import Kind, source

DATA = Path(__file__).parents[1] / "data"
REFERENCE: dict[str, Any] = json.loads((DATA / "pendulum.json").read_text())
DRIVEN: dict[str, Any] = json.loads((DATA / "driven_swing.json").read_text())
ROWS = REFERENCE["T0_2s"]["rows"]
DAY = 86400.0
ARCS = np.radians([0.01, 0.3, 2.0, 20.0, 89.0, 150.0, 179.0])


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['deg']} deg")
@source(Kind.REFERENCE_LIBRARY, "independent reference (NumPy, SciPy), case T0_2s")
def test_period_and_rate_at_an_arc(row: dict[str, float]) -> None:
    """1e-12; the reference took its rates from rounded periods: two ulp a day, 4e-11 s/day."""
    arc = float(np.radians(row["deg"]))
    assert period_at_arc(period=2.0, arc=arc) == pytest.approx(row["T"], rel=1e-12)
    rate = DAY * circular_error(arc=arc)
    assert rate == pytest.approx(row["rate_s_per_day"], rel=1e-12, abs=4e-11)
    series = DAY * circular_error_series(arc=arc)
    assert series == pytest.approx(row["rate_A2_16_11A4_3072"], rel=1e-12, abs=4e-11)


@source(Kind.REFERENCE_LIBRARY, "independent reference (NumPy, SciPy), case T0_2s")
def test_length_of_a_seconds_pendulum_to_the_last_digit() -> None:
    expected = REFERENCE["T0_2s"]["length_m"]
    assert effective_length(period=2.0) == pytest.approx(expected, rel=1e-14)
    assert small_arc_period(effective_length=expected) == pytest.approx(2.0, rel=1e-14)


@pytest.mark.parametrize(
    ("g", "printed"),
    [
        (9.80665, 0.993621),
        (9.7803253359, 0.990954),
        (9.8061978, 0.993576),
        (9.8321849378, 0.996209),
    ],
    ids=["standard", "equator", "45 deg", "pole"],
)
@source(
    Kind.IDENTITY,
    "g / pi^2 worked apart",
    printed="0.993621 m at g 9.80665; 0.990954 equator, 0.993576 at 45, 0.996209 pole",
)
def test_length_of_a_seconds_pendulum_at_four_places(g: float, printed: float) -> None:
    assert effective_length(period=2.0, g=g) == pytest.approx(printed, abs=0.5e-6)


@pytest.mark.parametrize(
    ("degrees", "printed"), [(1, 1.6449), (2, 6.5797), (3, 14.8042), (5, 41.1217)]
)
@source(
    Kind.IDENTITY,
    "exact elliptic integral, T/T0 = 2K(sin(arc/2))/pi, worked apart",
    printed="loses 1.6449, 6.5797, 14.8042, 41.1217 s/day",
)
def test_circular_error_of_small_arcs(degrees: float, printed: float) -> None:
    assert -DAY * circular_error(arc=float(np.radians(degrees))) == pytest.approx(
        printed, abs=0.5e-4
    )


@source(Kind.FROM_MEMORY, "clockmakers' rule: 1.645 s/day times the square of the arc in degrees")
def test_circular_error_by_the_clockmakers_rule() -> None:
    """The rule is the first term: at 3 degrees it is 3e-5 high; half its last digit is 3e-4."""
    for degrees in (0.5, 1.0, 2.0, 3.0):
        rate = -DAY * circular_error(arc=float(np.radians(degrees)))
        assert rate == pytest.approx(1.645 * degrees**2, rel=3e-4)


@source(Kind.IDENTITY, "pi / (2 K) - 1 with SciPy's complete elliptic integral")
def test_circular_error_against_the_elliptic_integral() -> None:
    """4e-16 absolute: near zero the subtraction costs the comparison its digits, not us."""
    ours = on_samples(circular_error, arc=ARCS)
    assert np.allclose(
        ours, np.pi / (2 * ellipk(np.sin(ARCS / 2) ** 2)) - 1, rtol=1e-14, atol=4e-16
    )


@source(Kind.IDENTITY, "2 K / pi with SciPy's complete elliptic integral")
def test_period_at_arc_against_the_elliptic_integral() -> None:
    ours = on_samples(period_at_arc, period=0.8, arc=ARCS)
    assert np.allclose(ours, 1.6 / np.pi * ellipk(np.sin(ARCS / 2) ** 2), rtol=1e-14)


@source(Kind.IDENTITY, "leading term arc^2/16 of the series")
def test_circular_error_of_a_tiny_arc_keeps_its_digits() -> None:
    """The next term is 1e-13 of the first; a plain difference would keep six digits here."""
    arc = 1e-5
    assert circular_error(arc=arc) == pytest.approx(-(arc**2) / 16, rel=1e-10)


@source(Kind.IDENTITY, "central difference of the circular error")
def test_circular_slope_is_the_derivative_of_the_circular_error() -> None:
    """1e-7: a step of 1e-4 of the arc leaves its square times a third, and rounding 1e-11."""
    for arc in ARCS[1:-1]:
        step = 1e-4 * arc
        ends = on_samples(circular_error, arc=np.array([arc - step, arc + step]))
        assert circular_slope(arc=arc) == pytest.approx((ends[1] - ends[0]) / (2 * step), rel=1e-6)


@pytest.mark.parametrize("row", REFERENCE["energy_balance"], ids=lambda row: str(row["A_deg"]))
@source(Kind.REFERENCE_LIBRARY, "independent reference (NumPy, SciPy), case energy_balance")
def test_loss_and_energy_of_the_exact_swing(row: dict[str, float]) -> None:
    inertia = row["m"] * effective_length(period=row["T0"]) ** 2
    arc = row["A_rad_exact_orbit"]
    loss = pendulum_swing_loss(inertia=inertia, period=row["T0"], arc=arc, q_factor=row["Q"])
    assert loss == pytest.approx(row["W_per_halfswing_J"], rel=1e-12)
    energy = pendulum_energy(inertia=inertia, period=row["T0"], arc=arc)
    assert energy == pytest.approx(row["energy_J"], rel=1e-12)
    assert 2 * loss / row["T0"] == pytest.approx(row["power_W"], rel=1e-12)
    back = arc_from_energy(energy=energy, inertia=inertia, period=row["T0"])
    assert back == pytest.approx(arc, rel=1e-12)


@source(Kind.IDENTITY, "work of a drag proportional to speed, integrated along the swing")
def test_pendulum_swing_loss_is_drag_times_speed_along_the_swing() -> None:
    swing = Swing(kind="pendulum", omega=4.0, arc=1.3, radius=1.0)
    inertia, q_factor = 0.02, 70.0
    half = swing.period / 2
    path = quad(lambda t: float(swing.speed(np.float64(t))) ** 2, -half / 2, half / 2, epsabs=0)[0]
    loss = pendulum_swing_loss(inertia=inertia, period=2 * np.pi / 4.0, arc=1.3, q_factor=q_factor)
    assert loss == pytest.approx(inertia * 4.0 / q_factor * path, rel=1e-10)


@source(Kind.IDENTITY, "pi E / Q for a small arc")
def test_loss_of_a_small_arc_is_that_of_a_balance() -> None:
    """1e-9: the two differ by about arc^2/100."""
    period, inertia, arc = 1.3, 0.07, 1e-4
    energy = pendulum_energy(inertia=inertia, period=period, arc=arc)
    assert energy == pytest.approx(
        balance_energy(inertia=inertia, period=period, arc=arc), rel=1e-8
    )
    loss = pendulum_swing_loss(inertia=inertia, period=period, arc=arc, q_factor=300.0)
    assert loss == pytest.approx(swing_loss(energy=energy, q_factor=300.0), rel=1e-8)


@pytest.mark.parametrize(
    "row", DRIVEN["driven_from_the_centre"], ids=lambda row: f"{row['w_ms']} ms"
)
@source(Kind.REFERENCE_LIBRARY, "independent reference (NumPy, SciPy, magpylib), case P2")
def test_free_swing_stands_for_a_swing_driven_at_the_centre(row: dict[str, float]) -> None:
    """The driven swing departs from the free one by its own loss, a thousandth of the energy.

    Its loss agrees to 4e-5; its speed at the centre has lost a quarter swing, exp(-pi/4Q), and
    agrees with that to 1e-6; the circular error is a matter of arc alone, to 1e-9 s/day.
    """
    plant = DRIVEN["plant"]
    arc, inertia = row["A_rad"], plant["m"] * plant["l"] ** 2
    loss = pendulum_swing_loss(inertia=inertia, period=plant["T0"], arc=arc, q_factor=plant["Q"])
    assert loss == pytest.approx(row["loss_J"], rel=4e-5)
    speed = pendulum_speed(period=plant["T0"], radius=plant["l"], arc=arc)
    assert speed * np.exp(-np.pi / (4 * plant["Q"])) == pytest.approx(row["v_on_mps"], rel=4e-6)
    assert DAY * circular_error(arc=arc) == pytest.approx(row["rate_circ"], abs=1e-9)


@pytest.mark.parametrize(("speed", "degrees"), [(0.6, 20), (0.75, 25), (1.0, 34)])
@source(
    Kind.IDENTITY,
    "v = sqrt(2 g L (1 - cos arc)) for the drop described at moosteria.blogspot.com, October 2021",
    printed="drop angle about 25 deg on 0.3 m; v=0.6 -> 20 deg, 0.75 -> 25 deg, 1.0 -> 34 deg",
)
def test_drop_angle_for_a_speed_on_a_300_mm_rod(speed: float, degrees: float) -> None:
    height = drop_height(radius=0.3, arc=float(np.radians(degrees)))
    assert speed_after_drop(height=height) == pytest.approx(speed, abs=0.5 * 1.7 * np.pi / 180)
    low = speed_after_drop(height=drop_height(radius=0.3, arc=float(np.radians(degrees - 0.5))))
    high = speed_after_drop(height=drop_height(radius=0.3, arc=float(np.radians(degrees + 0.5))))
    assert low < speed < high


@source(Kind.IDENTITY, "energy of the drop is the energy of the swing")
def test_drop_and_swing_give_the_same_speed() -> None:
    length = effective_length(period=1.1)
    dropped = speed_after_drop(height=drop_height(radius=length, arc=0.6))
    assert pendulum_speed(period=1.1, radius=length, arc=0.6) == pytest.approx(dropped, rel=1e-14)


@source(Kind.IDENTITY, "arc^2/16 at two arcs, for a tuning log that a public page gives")
def test_circular_error_of_an_electronic_clock_between_two_arcs() -> None:
    """9 to 11.5 degrees: 1544 to 2524 ppm of the period by the first term, slower by 85 s/day.

    The exact figures are up to 0.3 % greater. The log saw the opposite sign, twenty times as
    strong: spring magnets, which no pendulum formula knows.
    """
    arcs = np.radians([9.0, 11.5])
    longer = on_samples(period_at_arc, period=1.0, arc=arcs) - 1
    assert 1e6 * longer == pytest.approx([1544, 2524], rel=3e-3)
    slower = DAY * (longer[1] - longer[0])
    assert slower == pytest.approx(85, abs=0.5)
    observed = DAY * 20e-3
    assert observed == pytest.approx(1728)
    assert observed / slower == pytest.approx(20, abs=0.5)


def test_a_pendulum_that_turns_over_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="180 degrees"):
        circular_error(arc=3.2)
    with pytest.raises(OutOfRangeError, match="over the top"):
        arc_from_energy(energy=5.0, inertia=0.02, period=1.0)
