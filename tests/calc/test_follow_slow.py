"""Long runs with a sagging supply against the direct engine, and how long a year takes."""

import time
from itertools import pairwise

import numpy as np
import pytest

from calc.calculator import OutOfRangeError
from calc.follow_direct import follow_swing
from calc.follow_settle import settle
from calc.follow_slow import SlowMap, run_slow, slow_map
from tests.calc.driven_plant import CENTRE, LEAD, plant
from tests.sources import Kind, source

DAY = 86400.0
YEAR = 365 * DAY
WIDTH = 20e-3
SUPPLIES = np.linspace(2.4, 3.2, 13)


def tables(**other: float) -> SlowMap:
    movements = [plant(CENTRE, WIDTH, v_supply=float(v), **other) for v in SUPPLIES]
    return slow_map(movements=movements, widths=np.array([WIDTH]), arc_low=0.01, arc_high=0.6)


@pytest.mark.parametrize("run", [CENTRE, LEAD])
@source(Kind.IDENTITY, "the direct engine, swing by swing")
def test_many_swings_at_once_are_those_of_the_direct_engine(run: str) -> None:
    """A coil off centre, 64 swings: 1e-8 in arc and supply, 1e-9 in time, from cubics."""
    movement = plant(run, 18e-3, offset=1e-3)
    arc, clock, supplied = 0.21, 0.0, 0.0
    for n in range(64):
        swing = follow_swing(movement=movement, arc=arc, direction=1 - 2 * (n % 2))
        arc, clock, supplied = swing.arc_end, clock + swing.time, supplied + swing.e_supply
    found = slow_map(
        movements=[movement], widths=np.array([18e-3]), arc_low=0.02, arc_high=0.6, swings=64
    ).after(0.21, 3.0, 18e-3)
    assert found.arc == pytest.approx(arc, rel=1e-8)
    assert found.time == pytest.approx(clock, rel=1e-9)
    assert found.e_supply == pytest.approx(supplied, rel=1e-8)


@source(Kind.IDENTITY, "the settled arc at the voltage of the moment; the direct engine there")
def test_a_year_of_swings_follows_the_direct_engine() -> None:
    """Ten seconds of computing for a year of a seconds pendulum; 0.01 s/day and 2e-5 in the arc.

    The arc lags the sinking supply by its time constant of ten minutes: 1e-5 of it here.
    """
    days = np.linspace(0, YEAR, 366)
    sag = 3.2 - 0.7 * (days / YEAR) ** 2
    seen: list[float] = []
    start = time.process_time()
    run = run_slow(
        tables=tables(), arc=0.1, times=days, v_supply=sag, width=np.full(366, WIDTH),
        progress=lambda reached, _: seen.append(reached),
    )  # fmt: skip
    assert time.process_time() - start < 10
    assert run.times[-1] == pytest.approx(YEAR, rel=1e-4)
    assert not run.stopped
    assert len(seen) > 500
    assert all(one < two for one, two in pairwise(seen))
    for share in (0.1, 0.5, 0.8, 0.999):
        at = int(share * len(run.times))
        movement = plant(CENTRE, WIDTH, v_supply=float(np.interp(run.times[at], days, sag)))
        held = settle(movement=movement, arc_low=0.05, arc_high=0.5, width_high=50e-3).held
        assert held is not None
        assert run.arcs[at] == pytest.approx(held.arc, rel=2e-5)
        swing = follow_swing(movement=movement, arc=float(run.arcs[at]), direction=1)
        assert swing.arc_end == pytest.approx(swing.arc_start, rel=1e-6)
        rate = movement.period / (2 * swing.time) - 1
        assert DAY * run.rates[at] == pytest.approx(DAY * rate, abs=0.01)
        assert run.e_supply[at] / 512 == pytest.approx(swing.e_supply, rel=1e-4)


def test_width_and_supply_change_together() -> None:
    """Between the nodes of both: 0.01 s/day is asked, and that halved steps leave an eighth.

    Fourth order would leave a sixteenth; the least width, where the arc breaks off, is not far.
    """
    movement = plant(CENTRE, 21.7e-3, v_supply=2.87)
    held = settle(movement=movement, arc_low=0.05, arc_high=0.5, width_high=50e-3).held
    assert held is not None
    left = []
    for widths, volts in ((np.linspace(17e-3, 27e-3, 6), 4), (np.linspace(17e-3, 27e-3, 11), 7)):
        movements = [plant(CENTRE, WIDTH, v_supply=float(v)) for v in np.linspace(2.6, 3.2, volts)]
        found = slow_map(movements=movements, widths=widths, arc_low=0.02, arc_high=0.6)
        arc = held.arc * 1.05
        for _ in range(30):
            step = found.after(arc, 2.87, 21.7e-3)
            arc = step.arc
        left.append(abs(arc - held.arc))
        rate = 512 * movement.period / 2 / step.time - 1
    assert DAY * rate == pytest.approx(DAY * held.rate, abs=0.01)
    assert left[1] < left[0] / 8


def test_a_supply_too_weak_lets_it_stop() -> None:
    days = np.linspace(0, 20 * DAY, 5)
    movements = [plant(CENTRE, WIDTH, v_supply=v) for v in (0.4, 0.8, 1.2, 2.0, 3.0)]
    found = slow_map(
        movements=movements, widths=np.array([WIDTH]), arc_low=0.01, arc_high=0.6, swings=128
    )
    run = run_slow(
        tables=found, arc=0.2, times=days, v_supply=np.linspace(3.0, 0.5, 5),
        width=np.full(5, WIDTH),
    )  # fmt: skip
    assert run.stopped
    assert run.times[-1] < 20 * DAY
    assert run.arcs[-1] == pytest.approx(0.01)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"swings": 100}, "power of two"),
        ({"arc_low": 0.7}, "arc_high"),
        ({"arc_high": 2.5}, "turns over"),
        ({"widths": np.array([2e-2, 1e-2])}, "widths"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_tables_out_of_order_are_refused(wrong: dict[str, object], says: str) -> None:
    figures = {
        "movements": [plant(CENTRE, WIDTH)], "widths": np.array([WIDTH]), "arc_low": 0.01,
        "arc_high": 0.6, **wrong,
    }  # fmt: skip
    with pytest.raises(OutOfRangeError, match=says):
        slow_map(**figures)  # type: ignore[arg-type]


def test_a_start_outside_the_tables_is_refused() -> None:
    found = slow_map(
        movements=[plant(CENTRE, WIDTH)], widths=np.array([WIDTH]), arc_low=0.05, arc_high=0.6
    )
    with pytest.raises(OutOfRangeError, match="within the arcs"):
        run_slow(
            tables=found, arc=0.01, times=np.array([0.0, DAY]), v_supply=np.full(2, 3.0),
            width=np.full(2, WIDTH),
        )  # fmt: skip
