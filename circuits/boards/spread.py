"""The spread of a design: worst case and many boards at random, of every figure and check."""

from circuits.boards.board_row import BoardStore
from circuits.boards.board_samples import UNIFORM, draw
from circuits.boards.fitted import fitted
from circuits.boards.gathering import Gathering
from circuits.boards.one_board import BoardMaker
from circuits.boards.side_by_side import Boards, Progress
from circuits.boards.spread_result import Spread
from circuits.boards.stage_runs import map_stages
from circuits.boards.tolerances import tolerances_of
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.pipeline import run as run_stages

BOARDS = 100_000


def _quiet(_done: int, _all: int) -> None:
    return


def spread(
    design: Design, *, boards: int = BOARDS, seed: int = 1, distribution: str = UNIFORM,
    progress: Progress = _quiet, jobs: int | None = None, store: BoardStore | None = None,
) -> Spread:  # fmt: skip
    """Return worst case and spread of every figure and check of a design.

    Parameters
    ----------
    design : Design
        The design file.
    boards : int
        How many boards are drawn at random.
    seed : int
        Of the draw; the same seed gives the same answer.
    distribution : str
        `uniform` over each tolerance, or `normal` with the tolerance at three sigma.
    progress : callable
        Told how many runs of the stages are done, and how many there are.
    jobs : int, optional
        How many boards are run whole at once; as many as there are cores if left out.
    store : BoardStore, optional
        Boards that were run whole before, and where others are kept.

    Returns
    -------
    found : Spread

    Raises
    ------
    DesignFileError
        Where a stage cannot use the design's own figures.
    """
    catalogue = Catalogue(design.part, design.file)
    done = run_stages(design, catalogue)
    built = fitted(done)
    tolerances = tolerances_of(design, built, catalogue, done)
    maker = BoardMaker(built, catalogue, done, tolerances)
    shares = draw(tolerances, boards, seed, distribution)
    title = design.design.title or design.file
    with Boards(maker, jobs=jobs, store=store, progress=progress) as whole:
        found = map_stages(whole, seed=seed)
        return Gathering(whole, found, shares).spread(title, seed, distribution)
