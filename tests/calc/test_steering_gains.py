"""Gains and margins of the loop that trims the pulse width, against another library."""

import warnings

import numpy as np
import pytest

from calc.calculator import OutOfRangeError
from calc.steering_gains import loop_poles, loop_radius, pi_gains, quickest_loop
from calc.steering_margins import error_gain, loop_margins
from calc.steering_plant import daily_error, held_width, reversal
from tests.sources import Kind, source

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import control

PLANTS = {
    "slow pendulum that loses": {"slope": -0.33, "slope_prompt": -0.018, "time_constant": 780.0},
    "springs make it gain": {"slope": 2.4, "slope_prompt": 0.02, "time_constant": 25.0},
    "balance, mostly at once": {"slope": -0.006, "slope_prompt": -0.032, "time_constant": 16.0},
    "opposing": {"slope": -0.2, "slope_prompt": 0.03, "time_constant": 300.0},
}
EACH = pytest.mark.parametrize("name", PLANTS)


def loop(name: str, interval: float, wanted: float) -> dict[str, float]:
    plant = PLANTS[name]
    gains = pi_gains(**plant, interval=interval, wanted=wanted, damping=0.7)
    return {**plant, "interval": interval, "kp": gains.kp, "ki": gains.ki}


def sampled(plant: dict[str, float], interval: float) -> "control.TransferFunction":
    """Return phase error over width, put together and sampled by the library alone."""
    s, prompt, tau = plant["slope"], plant["slope_prompt"], plant["time_constant"]
    rate = control.tf([prompt * tau, s], [tau, 1])
    return control.sample_system(rate * control.tf([1], [1, 0]), interval, method="zoh")


def law(kp: float, ki: float, interval: float) -> "control.TransferFunction":
    return control.tf([kp + ki, -kp], [1, -1], interval)


@EACH
@source(Kind.REFERENCE_LIBRARY, "python-control, plant sampled behind a zero-order hold")
def test_held_width_is_the_sampled_plant(name: str) -> None:
    """1e-9: both are closed forms of the same plant; its sampling goes through a matrix power."""
    plant, interval = PLANTS[name], 7.0
    held = held_width(**plant, interval=interval)
    ours = control.tf(
        [held.by_width, held.by_arc * (1 - held.fade) - held.by_width * held.fade],
        [1, -1 - held.fade, held.fade], interval,
    )  # fmt: skip
    for omega in (0.001, 0.03, 0.3):
        one, other = (
            ours(np.exp(1j * omega * interval)),
            sampled(plant, interval)(np.exp(1j * omega * interval)),
        )
        assert abs(one / other - 1) < 1e-8


@EACH
@source(Kind.REFERENCE_LIBRARY, "python-control, margins of the sampled loop")
def test_margins_agree_with_the_library(name: str) -> None:
    """1e-6: both find roots of one frequency response."""
    tau = PLANTS[name]["time_constant"]
    own = loop(name, tau / 20, 4 * tau)
    found = loop_margins(**own, delay=0.0)
    chain = sampled(PLANTS[name], own["interval"]) * law(own["kp"], own["ki"], own["interval"])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        _, phase, _, crossover = control.margin(chain)
        edges = control.stability_margins(chain, returnall=True)[0]
    assert np.degrees(found.phase_margin) == pytest.approx(phase, abs=1e-4)
    assert found.crossover == pytest.approx(crossover, rel=1e-5)
    above = [g for g in edges if g > 1]
    if above and np.isfinite(min(above)):
        assert found.gain_margin == pytest.approx(min(above), rel=1e-4)


@EACH
@source(Kind.IDENTITY, "a loop that pulls harder by its gain margin swings with constant height")
def test_the_gain_margin_is_where_it_begins_to_swing(name: str) -> None:
    tau = PLANTS[name]["time_constant"]
    own = loop(name, tau / 20, 4 * tau)
    found = loop_margins(**own, delay=0.0)
    edge = {**own, "kp": own["kp"] * found.gain_margin, "ki": own["ki"] * found.gain_margin}
    assert loop_radius(**edge) == pytest.approx(1.0, abs=1e-6)


@EACH
@source(Kind.IDENTITY, "the pair that was asked for is an eigenvalue of one interval")
def test_the_placed_pair_stands_among_the_poles(name: str) -> None:
    tau = PLANTS[name]["time_constant"]
    own = loop(name, tau / 15, 4 * tau)
    wanted = np.exp(complex(-1, np.sqrt(1 / 0.7**2 - 1)) * own["interval"] / (4 * tau))
    assert np.abs(loop_poles(**own) - wanted).min() < 1e-9
    assert loop_radius(**own) < 1


@EACH
@source(Kind.REFERENCE_LIBRARY, "python-control, step of the rate against the closed loop")
def test_a_step_of_the_rate_is_held_as_the_library_says(name: str) -> None:
    """1e-6 of the largest error: rounding over two hundred corrections."""
    tau = PLANTS[name]["time_constant"]
    own = loop(name, tau / 20, 4 * tau)
    interval, count, drift = own["interval"], 200, 1e-5
    held = held_width(**PLANTS[name], interval=interval)
    arc = error = total = 0.0
    errors = [0.0]
    for _ in range(count):
        total -= error
        width = -own["kp"] * error + own["ki"] * total
        arc, error = (
            held.fade * arc + (1 - held.fade) * width,
            error + held.by_width * width + held.by_arc * arc + drift * interval,
        )
        errors.append(error)
    plant = sampled(PLANTS[name], interval)
    adds_up = control.tf([interval], [1, -1], interval)
    seen = control.feedback(adds_up, plant * law(own["kp"], own["ki"], interval) / adds_up)
    _, theirs = control.forced_response(
        control.ss(seen), T=np.arange(count + 1) * interval, inputs=np.full(count + 1, drift)
    )
    assert np.abs(np.array(errors) - theirs).max() < 1e-6 * max(np.abs(errors))


@source(Kind.IDENTITY, "Routh's criterion: the sum of the poles is minus one over the lag")
def test_no_loop_is_quicker_than_three_time_constants_of_the_arc() -> None:
    """At the limit the third pole is as slow as the pair; 2 %: sampling at a two hundredth."""
    tau = 400.0
    wanted = quickest_loop(time_constant=tau)
    gains = pi_gains(
        slope=-0.2, slope_prompt=0.0, time_constant=tau, interval=2.0, wanted=wanted, damping=0.7
    )
    poles = loop_poles(
        slope=-0.2, slope_prompt=0.0, time_constant=tau, interval=2.0, kp=gains.kp, ki=gains.ki
    )
    speeds = -np.log(np.abs(poles)) / 2.0
    assert speeds == pytest.approx(1 / wanted, rel=0.02)


@source(Kind.IDENTITY, "a loop with the sign of another movement runs away")
def test_the_wrong_sign_has_no_margin() -> None:
    own = loop("springs make it gain", 2.0, 100.0)
    turned = {**own, "slope": -own["slope"], "slope_prompt": -own["slope_prompt"]}
    assert loop_radius(**turned) > 1
    assert loop_margins(**turned, delay=0.0).phase_margin < 0


@source(
    Kind.IDENTITY, "step response of the rate, s + (s_p - s) exp(-t/tau), added up by trapezoids"
)
def test_opposing_effects_first_go_the_wrong_way() -> None:
    plant = PLANTS["opposing"]
    found = reversal(**plant)
    t = np.linspace(0, found.time, 20_001)
    s, prompt, tau = plant["slope"], plant["slope_prompt"], plant["time_constant"]
    rate = s + (prompt - s) * np.exp(-t / tau)
    assert rate[-1] == pytest.approx(0.0, abs=1e-12)
    assert np.trapezoid(rate, t) == pytest.approx(found.phase_error, rel=1e-7)
    with pytest.raises(OutOfRangeError, match="oppose"):
        reversal(slope=-0.2, slope_prompt=-0.1, time_constant=300.0)


@source(Kind.IDENTITY, "a sine of a day followed correction by correction")
def test_a_slow_wander_is_held_as_the_steps_say() -> None:
    """1 %: the sine is sampled, and its height read from the last of three days."""
    own = loop("slow pendulum that loses", 60.0, 3200.0)
    day = 86400.0
    gain = error_gain(**own, period=day)
    held = held_width(
        slope=own["slope"], slope_prompt=own["slope_prompt"],
        time_constant=own["time_constant"], interval=60.0,
    )  # fmt: skip
    arc = error = total = 0.0
    errors = []
    for k in range(3 * 1440):
        total -= error
        width = -own["kp"] * error + own["ki"] * total
        drift = 1e-5 * np.cos(2 * np.pi * (k + 0.5) * 60.0 / day) * 60.0
        arc, error = (
            held.fade * arc + (1 - held.fade) * width,
            error + held.by_width * width + held.by_arc * arc + drift,
        )
        errors.append(error)
    expected = daily_error(rate_swing=1e-5, period=day, gain=gain)
    assert max(np.abs(errors[-1440:])) == pytest.approx(expected, rel=0.01)
