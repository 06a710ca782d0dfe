"""What a maker's step function meets is what the planned loop was followed through."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from calc.steering_curve import width_curve
from circuits.design_file import read_design
from circuits.ledger import Ledger
from circuits.steering.child import Trial
from circuits.steering.constants import firmware_constants
from circuits.steering.constants_source import source_text
from circuits.steering.course import course_of
from circuits.steering.firmware_course import Rows, harness_input
from circuits.steering.firmware_plan import course_for
from circuits.steering.plan import SteeringPlan, driven_from, plan
from circuits.steering.simulation import run_loop, settled_at
from tests.circuits.steering.compilers import compiler
from tests.sources import Kind, source

EXAMPLE = Path("examples/foyer_sculpture.toml")
DAYS = 40.0


@pytest.fixture(scope="module")
def planned() -> SteeringPlan:
    return plan(read_design(EXAMPLE))


@source(Kind.IDENTITY, "the movement itself at the voltage between, settled over arcs and widths")
@pytest.mark.parametrize(("share", "width"), [(0.75, 5.1e-3), (0.5, 6e-3), (0.25, 7.5e-3)])
def test_cells_half_run_down_hold_what_the_voltage_between_holds(
    planned: SteeringPlan, share: float, width: float
) -> None:
    """Within 3 %: both states are stretched to it. Mixed at one width they would be 20 % off."""
    loop = planned.loop
    assert loop is not None
    driven = driven_from(planned.design, planned.done)
    fresh, spent = driven.system(), driven.system(spent=True)
    between = replace(fresh, v_supply=share * fresh.v_supply + (1 - share) * spent.v_supply)
    curve = width_curve(
        between, loop.fresh.arc * np.geomspace(0.17, 2.6, 16), np.geomspace(3.5e-3, 9.5e-3, 12)
    )
    assert curve is not None
    _, arc = settled_at(loop, np.array([width]), share)
    assert float(arc[0]) == pytest.approx(curve.at(width).arc, rel=0.03)


@source(Kind.IDENTITY, "the same course, constants and plant, in the harness's C and here")
def test_the_trial_goes_as_the_plan_does(planned: SteeringPlan, tmp_path: Path) -> None:
    """The cells run down whole in forty days; hour by hour the same width within three ticks.

    Not exactly: the harness lags the width, the plan the rate, and its table of widths is coarse.
    """
    compiler("cc", "gcc", "clang")
    loop, constants = planned.loop, planned.constants
    assert loop is not None
    assert constants is not None
    course = course_of(
        planned.design, Ledger(), days=DAYS, life=DAYS * 86400, run_down=planned.run_down
    )
    still = replace(loop, jitter=0.0)
    run = run_loop(still, constants, course, name="", words="", jitter=False)
    given = course_for(still, constants, course, arc_least=0.0, allowed_error=None)
    assert given.rates.shape == (len(given.shares), len(given.widths))
    path = tmp_path / "step.c"
    path.write_text(source_text())
    count = len(run.time)
    with Trial(path, firmware_constants(planned.design).header()) as trial:
        numbers = harness_input(given, 3.0, row=1.0, corrections=count)
        rows = Rows.of(trial.run(numbers, 3.0, count))
    ticks = rows.column("width_last")
    settled = int(given.settled_after / loop.interval)
    own = run.width / loop.tick
    assert np.abs(ticks - own)[settled:].max() <= 3
    # The sag asks for more than that: the last width lies far above the first.
    assert own[-1] - own[settled] > 50
