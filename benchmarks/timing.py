"""The time that a piece of work takes: the median of several runs after one that warms up."""

import time
from collections.abc import Callable


def median_time(work: Callable[[], object], repeats: int = 7) -> float:
    """Return the median time of a piece of work [s]."""
    work()
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return sorted(taken)[repeats // 2]
