"""The to and fro that the timer's steps leave."""

import pytest

from calc.steering_cycle import limit_cycle
from calc.steering_gains import pi_gains
from tests.sources import Kind, source

PLANT = {"slope": -0.2, "slope_prompt": -0.01, "time_constant": 400.0, "interval": 60.0}
GAINS = pi_gains(**PLANT, wanted=1600.0, damping=0.7)
LOOP = {**PLANT, "kp": GAINS.kp, "ki": GAINS.ki}


@source(Kind.IDENTITY, "every equation is linear but for the steps: all scales with them")
def test_a_coarser_timer_swings_wider() -> None:
    fine = limit_cycle(**LOOP, width_step=30e-6, clock_step=1e-6, off_step=0.5)
    coarse = limit_cycle(**LOOP, width_step=300e-6, clock_step=10e-6, off_step=0.5)
    assert coarse.phase_error == pytest.approx(10 * fine.phase_error, rel=1e-6)
    assert coarse.period == pytest.approx(fine.period, rel=1e-6)
    assert fine.width == pytest.approx(30e-6)
    assert fine.phase_error > 0


@source(Kind.IDENTITY, "a width that stands on a step needs no other")
def test_a_width_on_a_step_stands_still() -> None:
    found = limit_cycle(**LOOP, width_step=30e-6, clock_step=1e-6, off_step=0.0)
    assert (found.phase_error, found.width, found.period) == (0.0, 0.0, 0.0)
