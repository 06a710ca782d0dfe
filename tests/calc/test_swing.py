"""The free swing: exact for a pendulum, a sinusoid for a balance."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from calc.calculator import OutOfRangeError
from calc.pendulum import period_at_arc
from calc.swing import Swing
from calc.swing_speed import balance_speed, pendulum_speed
from tests.sources import Kind, source

PENDULUM = Swing(kind="pendulum", omega=3.7, arc=1.1, radius=0.4)
BALANCE = Swing(kind="balance", omega=9.0, arc=3.9, radius=0.03)
BOTH = pytest.mark.parametrize("swing", [PENDULUM, BALANCE], ids=lambda swing: swing.kind)


@source(Kind.IDENTITY, "equation of motion, angle'' = -omega^2 sin(angle), stepped by SciPy")
def test_pendulum_follows_its_equation_of_motion() -> None:
    """A wide arc, one and a half periods; 1e-9: the stepper's own tolerance is 1e-12 a step."""
    t = np.linspace(0, 1.5 * PENDULUM.period, 200)
    start = [0.0, PENDULUM.speed_at_centre / PENDULUM.radius]
    stepped = solve_ivp(
        lambda _, state: [state[1], -(PENDULUM.omega**2) * np.sin(state[0])],
        (0, t[-1]), start, t_eval=t, method="DOP853", rtol=1e-12, atol=1e-13,
    )  # fmt: skip
    assert np.allclose(PENDULUM.angle(t), stepped.y[0], atol=1e-9)
    assert np.allclose(PENDULUM.speed(t), PENDULUM.radius * stepped.y[1], atol=1e-9)


@source(Kind.IDENTITY, "simple harmonic motion")
def test_balance_is_a_sinusoid() -> None:
    t = np.linspace(-1, 1, 50)
    assert np.allclose(BALANCE.angle(t), 3.9 * np.sin(9.0 * t), rtol=1e-14)
    assert BALANCE.period == pytest.approx(2 * np.pi / 9.0, rel=1e-15)


@BOTH
@source(Kind.IDENTITY, "speed is the derivative of the path")
def test_speed_is_the_derivative_of_the_path(swing: Swing) -> None:
    """1e-7 of the peak: central differences at a step of 1e-5 s leave omega^2 dt^2 / 6."""
    t = np.linspace(-0.6 * swing.period, 0.6 * swing.period, 101)
    step = 1e-5
    slope = (swing.path(t + step) - swing.path(t - step)) / (2 * step)
    assert np.allclose(slope, swing.speed(t), atol=1e-7 * swing.speed_at_centre)


@BOTH
@source(Kind.IDENTITY, "time and path are each other's inverse on the positive pass")
def test_time_at_a_point_gives_the_point_back(swing: Swing) -> None:
    path = np.linspace(-1, 1, 41) * swing.arc * swing.radius
    assert np.allclose(swing.path(swing.time_at(path)), path, atol=1e-15, rtol=1e-12)
    assert swing.time_at(np.array([swing.arc * swing.radius]))[0] == pytest.approx(
        swing.period / 4, rel=1e-7
    )  # a turning point is flat: half the digits of the path go into the time


def test_speed_at_centre_and_period_agree_with_the_calculators() -> None:
    period = 2 * np.pi / PENDULUM.omega
    speed = pendulum_speed(period=period, radius=0.4, arc=1.1)
    assert PENDULUM.speed_at_centre == pytest.approx(speed, rel=1e-14)
    assert PENDULUM.period == pytest.approx(period_at_arc(period=period, arc=1.1), rel=1e-14)
    assert BALANCE.speed_at_centre == pytest.approx(
        balance_speed(period=2 * np.pi / 9.0, radius=0.03, arc=3.9), rel=1e-14
    )


def test_a_single_number_is_taken_too() -> None:
    assert float(PENDULUM.angle(np.float64(0.0))) == 0.0
    assert float(PENDULUM.speed(np.float64(0.0))) == PENDULUM.speed_at_centre


@pytest.mark.parametrize(
    "changes",
    [
        {"kind": "wheel"},
        {"omega": 0.0},
        {"radius": -0.1},
        {"arc": float("nan")},
        {"arc": np.pi},
    ],
    ids=str,
)
def test_what_cannot_swing_is_refused(changes: dict[str, object]) -> None:
    fields: dict[str, object] = {"kind": "pendulum", "omega": 3.0, "arc": 0.1, "radius": 0.2}
    with pytest.raises(OutOfRangeError, match="swing: "):
        Swing(**{**fields, **changes})  # type: ignore[arg-type]


def test_a_point_beyond_the_turning_point_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="within the swing"):
        PENDULUM.time_at(np.array([0.0, 0.45]))
