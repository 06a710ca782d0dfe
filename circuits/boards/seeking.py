"""A search over some keys of a design, under all its checks."""

import contextlib
import math
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from circuits.boards.knob import Knob
from circuits.boards.row_store import RowStore
from circuits.boards.trial import AIMS, Changes, Row, Subject, try_out
from circuits.errors import DesignFileError

if TYPE_CHECKING:
    from joblib import Parallel

Tell = Callable[[int, int, str], None]
REFUSED = 1e3
FAILING = 1e2
"""Costs that no figure reaches: first it must be usable, then nothing may fail."""
FEWEST = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What a search found; rows in the order in which they were tried."""

    aim: str
    knobs: tuple[Knob, ...]
    start: Row
    rows: tuple[Row, ...]
    finished: bool = True
    front: tuple[Row, ...] = field(default=())

    @property
    def best(self) -> Row | None:
        """The best of the good rows, or None."""
        good = [row for row in self.rows if row.good and self.aim in row.figures]
        return min(good, key=lambda row: cost(row, self.aim), default=None)


def cost(row: Row, aim: str) -> float:
    """Return what a search makes as small as it can; usable designs are below all others."""
    if row.reason:
        return REFUSED
    if row.fails:
        return FAILING + len(row.fails) + row.short
    value = row.figures.get(aim)
    if value is None or not value > 0:
        return FAILING
    # The logarithm makes one scale of joules, years and grams.
    return -math.log(value) if AIMS[aim].more else math.log(value)


def pareto(rows: Iterable[Row]) -> tuple[Row, ...]:
    """Return the good rows that no other good row beats in every aim at once.

    Parameters
    ----------
    rows : iterable of Row
        Any rows.

    Returns
    -------
    front : tuple of Row
        By rising energy.
    """
    good = [row for row in rows if row.good and row.figures]
    names = [name for name in AIMS if all(name in row.figures for row in good)]
    if not good or not names:
        return ()
    costs = np.array(
        [[(-1 if AIMS[name].more else 1) * row.figures[name] for name in names] for row in good]
    )
    beaten = [
        bool(np.any(np.all(costs <= own, axis=1) & np.any(costs < own, axis=1))) for own in costs
    ]
    kept = [row for row, out in zip(good, beaten, strict=True) if not out]
    alike = {tuple(row.figures[name] for name in names): row for row in reversed(kept)}
    return tuple(sorted(alike.values(), key=lambda row: tuple(row.figures[n] for n in names)))


@contextlib.contextmanager
def _workers(jobs: int, cluster: str | None) -> Iterator["Parallel"]:
    """Yield what runs trials side by side: on this machine, or on a cluster's workers."""
    from joblib import Parallel, parallel_config  # noqa: PLC0415 - a design alone needs none

    if cluster is None:
        with Parallel(n_jobs=jobs, return_as="generator") as parallel:
            yield parallel
        return
    try:
        from distributed import Client  # noqa: PLC0415
    except ModuleNotFoundError as error:
        raise ModuleNotFoundError(str(error), name="distributed") from error
    try:
        client = Client(cluster, timeout=10)
    except (OSError, ValueError, TimeoutError) as error:
        raise DesignFileError(
            file="command line",
            key="--cluster",
            found=f"no scheduler at {cluster}",
            wanted="give the address that the scheduler prints, such as tcp://10.0.0.5:8786",
        ) from error
    with client, parallel_config(backend="dask"), Parallel(return_as="generator") as parallel:
        yield parallel


class _Search:
    """Trials with a memory: none is made twice."""

    def __init__(
        self, subject: Subject, knobs: Sequence[Knob], store: RowStore, parallel: "Parallel",
        points: int, tell: Tell,
    ) -> None:  # fmt: skip
        self.subject, self.knobs, self.store = subject, knobs, store
        self.parallel, self.points, self.tell = parallel, points, tell
        self.order: dict[Changes, None] = {}

    def changes(self, places: Iterable[float]) -> Changes:
        return tuple(knob.change(p) for knob, p in zip(self.knobs, places, strict=True))

    def rows(self, wanted: Sequence[Changes]) -> list[Row]:
        from joblib import delayed  # noqa: PLC0415

        new = [c for c in dict.fromkeys(wanted) if c not in self.store.rows]
        self.order |= dict.fromkeys(wanted)
        for row in self.parallel(delayed(try_out)(self.subject, c) for c in new):
            self.store.add(row)
            self.tell(len(self.store.rows), self.points, "trials")
        return [self.store.rows[c] for c in wanted]


def _first(knobs: Sequence[Knob], count: int, seed: int) -> NDArray[np.float64]:
    """Return points spread evenly over all knobs."""
    from scipy.stats import qmc  # noqa: PLC0415 - slow to import

    low, high = np.array([knob.bounds for knob in knobs]).T
    shares = qmc.Sobol(len(knobs), seed=seed).random_base2(math.ceil(math.log2(count)))[:count]
    return np.asarray(low + shares * (high - low), dtype=np.float64)


def _everything(knobs: Sequence[Knob], points: int) -> list[tuple[float, ...]] | None:
    """Return all combinations, if all knobs are lists and there are no more than points."""
    if not all(knob.texts for knob in knobs) or math.prod(len(k.texts) for k in knobs) > points:
        return None
    grid = np.meshgrid(*(np.arange(len(knob.texts)) for knob in knobs), indexing="ij")
    return list(zip(*(axis.ravel().astype(float) for axis in grid), strict=True))


def _improve(search: _Search, aim: str, points: int, seed: int) -> None:
    """Look through the knobs by differential evolution, a generation of trials at once."""
    from scipy.optimize import Bounds, differential_evolution  # noqa: PLC0415 - slow to import

    knobs = search.knobs
    size = max(FEWEST, 5 * len(knobs), min(64, points // 8))
    generations = max(0, math.ceil(points / size) - 1)

    def of(place: NDArray[np.float64]) -> float:
        return cost(search.rows([search.changes(place)])[0], aim)

    def generation(_: Any, places: Iterable[NDArray[np.float64]]) -> list[float]:
        wanted = [search.changes(place) for place in places]
        return [cost(row, aim) for row in search.rows(wanted)]

    low, high = np.array([knob.bounds for knob in knobs]).T
    differential_evolution(
        of, Bounds(low, high),
        integrality=np.array([knob.whole for knob in knobs]),
        init=_first(knobs, size, seed), maxiter=generations, rng=np.random.default_rng(seed),
        updating="deferred", workers=generation, polish=False, tol=0,
    )  # fmt: skip


def seek(
    subject: Subject, knobs: Sequence[Knob], aim: str, *, points: int, seed: int, store: RowStore,
    jobs: int | None = None, cluster: str | None = None, tell: Tell,
) -> Found:  # fmt: skip
    """Search the knobs for the best design that passes all checks.

    Parameters
    ----------
    subject : Subject
        The design file.
    knobs : sequence of Knob
        What may be turned.
    aim : str
        A name of AIMS.
    points : int
        About how many trials.
    seed : int
        The same seed tries the same points.
    store : RowStore
        Finished rows; those that it already holds are not tried again.
    jobs : int, optional
        How many trials at once on this machine; all cores if left out.
    cluster : str, optional
        Address of a Dask scheduler, whose workers then make the trials.
    tell : callable
        Called with how many trials are done, of how many, and the word for them.

    Returns
    -------
    found : Found
        What was found until then, if the search was interrupted.
    """
    combinations = _everything(knobs, points)
    with _workers(jobs or os.cpu_count() or 1, cluster) as parallel:
        search = _Search(subject, knobs, store, parallel, points, tell)
        finished = True
        try:
            start = search.rows([()])[0]
            if combinations is not None:
                search.rows([search.changes(place) for place in combinations])
            else:
                _improve(search, aim, points, seed)
        except KeyboardInterrupt:
            finished = False
            start = store.rows.get((), Row(changes=(), reason="not tried"))
    rows = tuple(store.rows[c] for c in search.order if c in store.rows and c)
    return Found(
        aim=aim, knobs=tuple(knobs), start=start, rows=rows, finished=finished, front=pareto(rows)
    )
