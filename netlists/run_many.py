"""Several decks side by side; an interruption stops them all and leaves nothing behind."""

from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from pathlib import Path

from netlists.deck import Analysis
from netlists.runner import Run, run_deck, stop_runs

WORKERS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A finished deck and what its run must give."""

    deck: str
    analysis: Analysis


def run_all(
    jobs: Iterable[Job],
    *,
    count: int,
    program: Path,
    version: str,
    timeout: float = 60.0,
    progress: Callable[[int, int], None] = lambda _done, _all: None,
) -> list[Run]:
    """Run decks in ngspice and return their results in the same order, or raise.

    Parameters
    ----------
    jobs : iterable of Job
        What to run; each is started as soon as it is built.
    count : int
        How many there are.
    program : pathlib.Path
        The simulator.
    version : str
        Its version text.
    timeout : float
        Longest time that one run may take [s].
    progress : callable
        Told after each run how many are done, and how many there are.

    Returns
    -------
    runs : list of Run

    Raises
    ------
    SimulatorFailed
        If a run gave no whole result; the others are stopped.
    """

    def run(job: Job) -> Run:
        return run_deck(
            job.deck, program=program, version=version, vectors=job.analysis.vectors,
            end=job.analysis.end, timeout=timeout,
        )  # fmt: skip

    pool = ThreadPoolExecutor(max_workers=WORKERS)
    try:
        futures: list[Future[Run]] = [pool.submit(run, job) for job in jobs]
        for done, future in enumerate(as_completed(futures), start=1):
            future.result()
            progress(done, count)
        return [future.result() for future in futures]
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        stop_runs()
        raise
    finally:
        # Each run removes its folder as it ends: wait for that.
        pool.shutdown(wait=True)
