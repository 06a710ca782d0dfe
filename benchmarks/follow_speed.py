"""Prints how much faster a swing comes than from a general integrator at about the same error.

python -m benchmarks.follow_speed
"""

from functools import partial

import numpy as np

from benchmarks.timing import median_time
from calc import follow_direct
from calc.clamp_law import ClampLaw, Junction
from calc.follow import DrivenMovement
from calc.follow_batch import many_swings
from calc.follow_direct import follow_swing
from calc.follow_map import run_swings
from calc.follow_settle import settle
from calc.follow_slow import run_slow, slow_map
from tests.calc.driven_plant import CENTRE, LEAD, plant
from tests.calc.test_follow_direct import BIPOLAR, by_steps

ARC = 0.2
SWINGS = 100_000


def print_direct() -> None:
    """Both engines on one swing, with the error of each: what it differs from the finest steps."""
    junction = ClampLaw(junctions=(Junction(v_log=0.05, i_log=4e-12),), resistance=0.6)
    plants = {
        "constant drops": plant(CENTRE, 18e-3),
        "bipolar and diode": plant(LEAD, 20e-3, clamp=junction, switch=BIPOLAR, offset=1e-3),
    }
    print("one swing: solve_ivp (DOP853, rtol 1e-12, events) and the direct engine; error in arc")
    for name, movement in plants.items():
        known = finest(movement)
        general = median_time(partial(by_steps, movement, ARC))
        direct = median_time(partial(follow_swing, movement=movement, arc=ARC, direction=1), 21)
        one = abs(by_steps(movement, ARC)[0] / known - 1)
        two = abs(follow_swing(movement=movement, arc=ARC, direction=1).arc_end / known - 1)
        print(
            f"  {name:20s}{1e3 * general:8.1f} ms {one:8.0e}   {1e3 * direct:8.2f} ms {two:8.0e}"
            f"   {general / direct:6.1f} times as fast"
        )


def finest(movement: DrivenMovement) -> float:
    """Return the arc with stretches so short that only rounding is left."""
    kept = follow_direct._RESOLVED
    follow_direct._RESOLVED = 1e-12
    try:
        return follow_swing(movement=movement, arc=ARC, direction=1).arc_end
    finally:
        follow_direct._RESOLVED = kept


def print_many() -> None:
    movement = plant(CENTRE, 18e-3)
    arcs, widths = np.geomspace(0.06, 0.3, 14), np.linspace(4e-3, 40e-3, 14)
    general = median_time(lambda: by_steps(movement, ARC))
    rows = {
        "14 arcs by 14 widths, a swing": median_time(
            lambda: many_swings(movement, arcs, widths, 1)
        ) / arcs.size / widths.size,
        f"map, a swing of {SWINGS}": median_time(
            lambda: run_swings(movement=movement, arc=ARC, arc_high=0.6, swings=SWINGS), 3
        ) / SWINGS,
    }  # fmt: skip
    for name, seconds in rows.items():
        print(f"{name:34s}{1e3 * seconds:10.4f} ms  {general / seconds:10.0f} times as fast")
    whole = median_time(
        lambda: settle(movement=movement, arc_low=0.03, arc_high=0.5, width_high=50e-3)
    )
    print(f"{'settled arc, slopes, widths':34s}{1e3 * whole:10.1f} ms")


def year() -> None:
    """Run a seconds pendulum for a year while the cells run down."""
    movements = [plant(CENTRE, 20e-3, v_supply=float(v)) for v in np.linspace(2.4, 3.2, 13)]
    tables = slow_map(movements=movements, widths=np.array([20e-3]), arc_low=0.01, arc_high=0.6)
    times = np.linspace(0, 365 * 86400.0, 366)
    run_slow(
        tables=tables, arc=0.2, times=times, v_supply=np.linspace(3.2, 2.5, 366),
        width=np.full(366, 20e-3),
    )  # fmt: skip


def main() -> None:
    print_direct()
    print_many()
    print(f"{'a year with cells running down':34s}{median_time(year, 3):10.2f} s")


if __name__ == "__main__":
    main()
