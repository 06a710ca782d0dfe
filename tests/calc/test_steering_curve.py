"""The settled swings over a row of widths, from one table of swings."""

from typing import Any

import numpy as np
import pytest

from calc.steering_curve import WidthCurve, width_curve
from tests.calc.driven_plant import CASES, CENTRE, IDS, plant
from tests.calc.test_follow_direct import SOURCE
from tests.sources import Kind, source

DAY = 86400.0
ARCS = np.geomspace(0.05, 0.5, 18)


def curve(run: str) -> WidthCurve:
    widths = np.geomspace(13.5e-3 if run == CENTRE else 7e-3, 34e-3, 26)
    found = width_curve(plant(run, 18e-3), ARCS, widths)
    assert found is not None
    return found


@pytest.mark.parametrize(("run", "case"), CASES, ids=IDS)
@source(Kind.REFERENCE_LIBRARY, SOURCE)
def test_every_width_settles_where_the_reference_does(run: str, case: dict[str, Any]) -> None:
    """Arc and rate to 3e-3: splines through eighteen arcs, and the tail beyond the clamp's knee.

    The slope is the derivative of a spline over widths: 3 % of the steepest in the flatter run.
    The arc's time constant hangs on the growth's derivative: 3 %.
    """
    point = curve(run).at(1e-3 * case["w_ms"])
    assert point.arc == pytest.approx(case["A_rad"], rel=3e-3)
    assert DAY * point.rate == pytest.approx(case["rate"], rel=6e-3)
    assert DAY * 1e-3 * point.slope == pytest.approx(case["drate_dw_total_per_ms"], abs=0.6)
    assert point.time_constant == pytest.approx(case["tau_s"], rel=0.03)
    assert DAY * 1e-3 * point.slope_prompt == pytest.approx(
        case["drate_dw_immediate_fixedA_per_ms"], abs=0.02
    )
