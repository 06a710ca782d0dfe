"""Prints how much faster a swing comes than from a general integrator at about the same error.

python -m benchmarks.follow_speed
"""

import time
from collections.abc import Callable

import numpy as np

from calc.follow_batch import many_swings
from calc.follow_direct import follow_swing
from calc.follow_map import run_swings
from calc.follow_settle import settle
from tests.calc.driven_plant import CENTRE, plant
from tests.calc.test_follow_direct import by_steps

SWINGS = 100_000


def median(work: Callable[[], object], repeats: int = 7) -> float:
    work()
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return sorted(taken)[repeats // 2]


def main() -> None:
    movement = plant(CENTRE, 18e-3)
    arcs, widths = np.geomspace(0.06, 0.3, 14), np.linspace(4e-3, 40e-3, 14)
    general = median(lambda: by_steps(movement, 0.2))
    rows = {
        "solve_ivp, DOP853, rtol 1e-12": general,
        "direct engine, one swing": median(
            lambda: follow_swing(movement=movement, arc=0.2, direction=1)
        ),
        "14 arcs by 14 widths, a swing": median(
            lambda: many_swings(movement, arcs, widths, 1)
        ) / arcs.size / widths.size,
        f"map, a swing of {SWINGS}": median(
            lambda: run_swings(movement=movement, arc=0.2, arc_high=0.6, swings=SWINGS), 3
        ) / SWINGS,
    }  # fmt: skip
    for name, seconds in rows.items():
        print(f"{name:34s}{1e3 * seconds:10.4f} ms  {general / seconds:10.0f} times as fast")
    whole = median(lambda: settle(movement=movement, arc_low=0.03, arc_high=0.5, width_high=50e-3))
    print(f"{'settled arc, slopes, widths':34s}{1e3 * whole:10.1f} ms")


if __name__ == "__main__":
    main()
