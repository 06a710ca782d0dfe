"""The quality factor: its definition and the recipes for it."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calc.calculator import OutOfRangeError
from calc.ringdown import (
    arc_ratio_after,
    arc_time_constant,
    damped_period,
    periods_to_fall,
    q_from_periods,
    q_from_ring_down,
    swing_loss,
)
from tests.sources import Kind, source

DATA = Path(__file__).parents[1] / "data"
ROW: dict[str, float] = json.loads((DATA / "pendulum.json").read_text())["ringdown"][0]
THREAD = "model-engineer.co.uk, thread on pendulum Q"


@source(Kind.REFERENCE_LIBRARY, "independent reference (NumPy, SciPy), case ringdown")
def test_ring_down_of_one_second_and_a_thousand() -> None:
    q_factor, period = ROW["Q"], ROW["T0"]
    constant = arc_time_constant(q_factor=q_factor, period=period)
    assert constant == pytest.approx(ROW["amp_tau_s"], rel=1e-14)
    assert constant / 2 == pytest.approx(ROW["energy_tau_s"], rel=1e-14)
    half = periods_to_fall(q_factor=q_factor, arc_ratio=0.5)
    assert half * period == pytest.approx(ROW["half_amp_time_s"], rel=1e-14)
    assert half == pytest.approx(ROW["swings_to_half_periods"], rel=1e-14)


@source(Kind.REFERENCE_LIBRARY, "independent reference (NumPy, SciPy), case ringdown")
def test_drag_makes_the_period_longer() -> None:
    """The rate shift is -1/(8 Q^2); taken from a rounded period it is good to 2e-11 s/day."""
    longer = damped_period(period=ROW["T0"], q_factor=ROW["Q"])
    assert longer == pytest.approx(ROW["damped_T"], rel=1e-15)
    assert 86400 * (ROW["T0"] / longer - 1) == pytest.approx(ROW["rate_shift"], abs=1e-10)
    decrement = longer / arc_time_constant(q_factor=ROW["Q"], period=ROW["T0"])
    assert decrement == pytest.approx(ROW["decrement_per_period"], rel=1e-14)


@pytest.mark.parametrize(
    ("arc_ratio", "times"),
    [(1 / np.e, np.pi), (0.5, 4.5324), (0.2079, 2.0)],
    ids=["to 1/e", "to one half", "to 20.79 %"],
)
@source(
    Kind.IDENTITY,
    "A = A0 exp(-pi n/Q) solved for Q, worked apart",
    printed="Q = pi n; 4.5324 n; 2 n",
)
def test_recipes_for_counting(arc_ratio: float, times: float) -> None:
    """Half a digit of the printed ratio 20.79 % is 2.4e-4 of its logarithm, 1.5e-4 of Q."""
    q_factor = q_from_periods(periods=100.0, arc_from=0.1, arc_to=0.1 * arc_ratio)
    assert q_factor / 100 == pytest.approx(times, rel=1.6e-4)


@source(
    Kind.IDENTITY,
    f"three recipes of {THREAD}, reworked",
    printed='counts periods until the amplitude falls "by 21 %", double: Q',
)
def test_falling_to_21_percent_is_not_falling_by_21_percent() -> None:
    """To 21 %: 2.013 n, so doubling is right. By 21 %: 13.3 n; the wording is wrong by 6.6."""
    to = q_from_periods(periods=1.0, arc_from=1.0, arc_to=0.21)
    by = q_from_periods(periods=1.0, arc_from=1.0, arc_to=0.79)
    assert to == pytest.approx(2.013, abs=0.5e-3)
    assert by == pytest.approx(13.3, abs=0.05)
    assert by / to == pytest.approx(6.6, abs=0.05)


@source(Kind.IDENTITY, f"a 24 inch pendulum of {THREAD}: Q about 18 500 by 36.8 %, reworked")
def test_count_of_a_knife_edge_pendulum() -> None:
    """5889 periods of 1.566 s, 2.6 h; had beats been counted as periods, Q would be half."""
    periods = periods_to_fall(q_factor=18500.0, arc_ratio=float(np.exp(-1)))
    assert periods == pytest.approx(5889, abs=0.5)
    assert periods * 1.566 / 3600 == pytest.approx(2.6, abs=0.05)
    halved = q_from_periods(periods=periods / 2, arc_from=1.0, arc_to=float(np.exp(-1)))
    assert halved == pytest.approx(18500 / 2)


@source(Kind.IDENTITY, "interquartile-like width of a normal distribution, for the same thread")
def test_scatter_of_periods_is_not_a_quality_factor() -> None:
    """The thread's width is 1.09 sigma: 21 399 is timing noise of 4.3e-5 of the period."""
    draws = np.random.default_rng(5).normal(1.0, 4.3e-5, 200_000)
    low, high = np.percentile(draws, [29.3, 70.7])
    assert 1.0 / (high - low) == pytest.approx(21399, rel=0.02)


@source(Kind.IDENTITY, "time over period is the count of periods")
def test_ring_down_by_clock_and_by_count() -> None:
    by_clock = q_from_ring_down(arc_from=0.09, arc_to=0.02, time=330.0, period=1.1)
    assert by_clock == pytest.approx(q_from_periods(periods=300.0, arc_from=0.09, arc_to=0.02))
    assert arc_ratio_after(periods=300.0, q_factor=by_clock) == pytest.approx(2 / 9, rel=1e-13)


@source(Kind.IDENTITY, "loss a period is 2 pi E / Q; the arc's square is the energy")
def test_loss_follows_from_the_fall_of_the_arc() -> None:
    """1e-4: over one swing the fall is 1 - exp(-pi/Q), whose second term is pi/2Q."""
    q_factor = 50_000.0
    fallen = 1 - arc_ratio_after(periods=0.5, q_factor=q_factor) ** 2
    assert swing_loss(energy=1.0, q_factor=q_factor) == pytest.approx(fallen, rel=1e-4)


def test_a_swing_that_grows_is_refused() -> None:
    growing: dict[str, Any] = {"arc_from": 0.05, "arc_to": 0.06}
    with pytest.raises(OutOfRangeError, match="a free swing falls"):
        q_from_periods(periods=10.0, **growing)
    with pytest.raises(OutOfRangeError, match="a free swing falls"):
        q_from_ring_down(time=10.0, period=1.0, **growing)
