"""Boards run whole, some of them at the same time in other processes, each only once."""

import copyreg
import os
import pickle
from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future
from types import MappingProxyType, TracebackType
from typing import Any

from circuits.boards.board_row import BoardRow, BoardStore, Place, place_of, run_board
from circuits.boards.one_board import BoardMaker

Progress = Callable[[int, int], None]

ENOUGH = 16
"""Boards below which it is not worth while to start another process: it takes ten boards' time."""

AHEAD = 2
"""Boards that each other process is asked for at a time: one at work and one to go on with."""
PATIENCE = 10.0
"""Seconds that another process may take for a board, which takes a tenth of one here."""


def _read_only(mapping: dict[Any, Any]) -> Any:
    return MappingProxyType(mapping)


def _plain_mapping(mapping: Any) -> tuple[Any, ...]:
    return _read_only, (dict(mapping),)


# A read-only view of a mapping says nowhere how it is pickled, and a design has two.
copyreg.pickle(MappingProxyType, _plain_mapping)

_here: list[BoardMaker] = []
"""What makes the boards in this process, if it is another's helper."""


def _begin(made: bytes) -> None:
    _here[:] = [pickle.loads(made)]


def _run_here(place: Place) -> BoardRow:
    return run_board(_here[0], place)


class Boards:
    """Runs boards whole; the caller's process takes part.

    Parameters
    ----------
    maker : BoardMaker
        Makes the boards.
    jobs : int, optional
        How many at once; as many as there are cores if left out.
    store : BoardStore, optional
        Rows that stand already, and where finished ones are kept.
    progress : callable
        Told how many boards are done, of how many.
    """

    def __init__(
        self, maker: BoardMaker, *, jobs: int | None = 1, store: BoardStore | None = None,
        progress: Progress | None = None,
    ) -> None:  # fmt: skip
        self.maker, self.store, self.progress = maker, store, progress
        self.jobs = jobs or os.cpu_count() or 1
        self.rows: dict[Place, BoardRow] = dict(store.rows) if store else {}
        self.total = 0
        self.used: set[Place] = set()
        # joblib's executor, which carries no types.
        self._pool: Any = None

    def __enter__(self) -> "Boards":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, _error: BaseException | None,
        _trace: TracebackType | None,
    ) -> None:  # fmt: skip
        if self._pool is not None:
            # Nobody waits for boards that are still under way.
            self._pool.shutdown(wait=False, kill_workers=True)

    def start(self) -> None:
        """Start the other processes, which takes them a while."""
        if self.jobs > 1 and self._pool is None:
            # Only a spread needs it, and it is slow to import.
            from joblib.externals.loky import ProcessPoolExecutor  # noqa: PLC0415

            self._pool = ProcessPoolExecutor(
                max_workers=self.jobs - 1, initializer=_begin, initargs=(pickle.dumps(self.maker),)
            )

    def run(self, boards: Iterable[Mapping[str, float]]) -> list[BoardRow]:
        """Return the rows of boards whose shares are given, in their order."""
        places = [place_of(shares) for shares in boards]
        self.used |= set(places)
        new = [place for place in dict.fromkeys(places) if place not in self.rows]
        if len(new) >= ENOUGH:
            self.start()
        if self._pool is None:
            for place in new:
                self._keep(run_board(self.maker, place))
        else:
            self._share(self._pool, new)
        return [self.rows[place] for place in places]

    def _share(self, pool: Executor, places: Sequence[Place]) -> None:
        """Let the others begin at the front, a few at a time; begin at the back oneself."""
        left, asked = deque(places), dict[Place, Future[BoardRow]]()
        while left or asked:
            for place in [one for one, future in asked.items() if future.done()]:
                self._keep(self._answer(place, asked.pop(place)))
            try:
                while self._pool is not None and left and len(asked) < AHEAD * (self.jobs - 1):
                    asked[left[0]] = pool.submit(_run_here, left[0])
                    left.popleft()
            except BrokenExecutor:
                self._pool = None
            if left:
                self._keep(run_board(self.maker, left.pop()))
            elif asked:
                place = next(iter(asked))
                self._keep(self._answer(place, asked.pop(place)))

    def _answer(self, place: Place, future: "Future[BoardRow]") -> BoardRow:
        """Return what another process found; where it died or hangs, find it here."""
        try:
            return future.result(timeout=PATIENCE)
        except (BrokenExecutor, TimeoutError):
            return run_board(self.maker, place)

    def _keep(self, row: BoardRow) -> None:
        self.rows[row.place] = row
        if self.store is not None:
            self.store.add(row)
        if self.progress is not None:
            self.progress(len(self.used & self.rows.keys()), max(self.total, len(self.used)))
