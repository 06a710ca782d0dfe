"""Progress on standard error: nothing within the first second, then a line a second."""

import sys
import time
from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

T = TypeVar("T")
SECOND = 1.0


def told_each_second() -> Callable[[int, int, str], None]:
    """Return a function that tells how far work has come, at most once a second.

    Returns
    -------
    tell : callable
        Takes how much is done, of how much, and of what.
    """
    last = time.monotonic()

    def tell(done: int, total: int, words: str) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last >= SECOND:
            last = now
            print(f"coilwright: {done} of {total} {words}", file=sys.stderr, flush=True)

    return tell


def counted(items: Sequence[T], words: str) -> Iterator[T]:
    """Yield items and tell how many are done.

    Parameters
    ----------
    items : sequence
        The work.
    words : str
        What the items are, as the line says it.

    Yields
    ------
    item
    """
    tell = told_each_second()
    for done, item in enumerate(items):
        tell(done, len(items), words)
        yield item
