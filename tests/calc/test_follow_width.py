"""The width that holds an arc, against where that width settles."""

import pytest

from calc.calculator import OutOfRangeError
from calc.follow_settle import settle
from calc.follow_width import width_that_holds
from tests.calc.driven_plant import CASES, CENTRE, IDS, plant
from tests.calc.test_follow_direct import SOURCE
from tests.sources import Kind, source

RISING = [(run, case) for run, case in CASES if case["dA_dw_rad_per_ms"] > 1e-3]


@pytest.mark.parametrize(("run", "case"), RISING, ids=[f"{r} {c['w_ms']}" for r, c in RISING])
@pytest.mark.parametrize("guess", [0.9, 1.01])
@source(Kind.REFERENCE_LIBRARY, SOURCE + ", arcs good to 1e-9")
def test_width_of_a_known_arc(run: str, case: dict[str, float], guess: float) -> None:
    """5e-6 of the width: what a quartic leaves where the arc hardly hangs on the width any more.

    A pulse of 18 ms is counted in ticks of 30 us; the arc that belongs to 5e-6 is 1e-7 off.
    """
    known = case["w_ms"] * 1e-3
    found = width_that_holds(movement=plant(run, known), arc=case["A_rad"], near=guess * known)
    assert found == pytest.approx(known, rel=5e-6)


def test_width_that_holds_an_arc_settles_there() -> None:
    """Coil off centre: a period of two different beats."""
    movement = plant(CENTRE, 20e-3, offset=1e-3)
    width = width_that_holds(movement=movement, arc=0.26, near=17e-3)
    settled = settle(
        movement=plant(CENTRE, width, offset=1e-3), arc_low=0.05, arc_high=0.5, width_high=50e-3
    )
    assert settled.held is not None
    assert settled.held.arc == pytest.approx(0.26, rel=1e-6)


def test_an_arc_that_no_width_holds_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="no width near"):
        width_that_holds(movement=plant(CENTRE, 20e-3), arc=0.35, near=20e-3)


def test_ids_are_those_of_the_reference() -> None:
    assert len(IDS) == len(CASES) == 17
    assert len(RISING) == 7
