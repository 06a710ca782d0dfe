"""The worst boards: found by climbing, not taken to stand in the corners of the tolerances."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuits.boards.stage_map import Array, StageMap

STEPS = 9
"""Shares of one tolerance that are tried at once."""
ROUNDS = 6
"""Rounds over all tolerances after which the climb ends at the latest; most end after two."""
TURNS = 1e-3
"""Share of a figure's whole way by which it may turn back on one step and still count as only
rising or only falling: the polynomials between the runs ripple by less."""
SAME = 1e-9
"""Relative gain below which a board is no worse than another."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worst:
    """The boards with the least and the greatest value of one figure.

    `in_corner` is true where the figure rises or falls all along each tolerance that moves it, so
    that its extremes stand in corners.
    """

    name: str
    least: Array
    greatest: Array
    in_corner: bool


def worst_boards(found: StageMap, names: Sequence[str], starts: Array) -> list[Worst]:
    """Return the worst boards of each figure.

    Parameters
    ----------
    found : StageMap
        The map of the stages.
    names : sequence of str
        Its columns.
    starts : numpy.ndarray
        Boards at random, in rows, from whose best the climb starts too.

    Returns
    -------
    worst : list of Worst
        In the order of the names.
    """
    columns = [found.columns[name] for name in names]
    weights = np.array([column.weights for column in columns])
    features = found.features(starts)
    followed = features @ weights.T
    # What is followed may fall where the figure rises.
    turned = np.array([(c.sign or 1.0) * (c.side or 1.0) for c in columns])
    climb = _Climb(found, weights)
    boards, tops = [], []
    for side in (-1.0, 1.0):
        goal = side * turned
        best = starts[np.argmax(followed * goal, axis=0)]
        zero = np.zeros_like(best)
        ends = [climb.run(start, goal) for start in (zero, best)]
        better = ends[1][1] > ends[0][1] + SAME * (1 + np.abs(ends[0][1]))
        board = np.where(better[:, None], ends[1][0], ends[0][0])
        boards.append(board)
        tops.append(ends[0][1] * goal)
    room = TURNS * np.abs(tops[1] - tops[0])
    ways = [climb.ways(board, room) for board in (zero, *boards)]
    rises, falls = (np.logical_and.reduce([way[k] for way in ways]) for k in (0, 1))
    monotone = (rises | falls).all(axis=1)
    return [
        Worst(
            name=name, least=boards[0][k], greatest=boards[1][k], in_corner=bool(monotone[k])
        )
        for k, name in enumerate(names)
    ]  # fmt: skip


class _Climb:
    """Moves one board for each column uphill, one tolerance after another."""

    def __init__(self, found: StageMap, weights: Array) -> None:
        self.found, self.weights = found, weights
        # Beyond the last share at which the stages gave an answer there is no board to be worst.
        self.grids = [
            np.unique(np.append(np.linspace(min(0.0, *n), max(0.0, *n), STEPS), 0.0))
            if n else np.zeros(1)
            for n in (tuple(nodes) for nodes in found.nodes)
        ]  # fmt: skip

    def _followed(self, boards: Array) -> Array:
        """Return what each column follows, for boards of shape (steps, columns, tolerances)."""
        steps, columns, _ = boards.shape
        features = self.found.features(boards.reshape(steps * columns, -1))
        shaped = features.reshape(steps, columns, -1)
        followed: Array = np.einsum("scf,cf->sc", shaped, self.weights)
        return followed

    def _along(self, boards: Array, axis: int) -> Array:
        grid = self.grids[axis]
        tried = np.repeat(boards[None], len(grid), axis=0)
        tried[:, :, axis] = grid[:, None]
        return self._followed(tried)

    def run(self, boards: Array, goal: Array) -> tuple[Array, Array]:
        """Return the boards at the top and what the goal is there."""
        boards = boards.copy()
        top = goal * self._followed(boards[None])[0]
        for _ in range(ROUNDS):
            before = top.copy()
            for axis, grid in enumerate(self.grids):
                heights = goal * self._along(boards, axis)
                at = np.argmax(heights, axis=0)
                height = heights[at, np.arange(len(at))]
                up = height > top + SAME * (1 + np.abs(top))
                boards[up, axis] = grid[at[up]]
                top = np.where(up, height, top)
            if (top <= before + SAME * (1 + np.abs(before))).all():
                break
        return boards, top

    def ways(self, boards: Array, room: Array) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Return whether each column never falls, and never rises, along each tolerance."""
        rises = np.ones((len(boards), len(self.grids)), dtype=bool)
        falls = rises.copy()
        for axis in range(len(self.grids)):
            steps = np.diff(self._along(boards, axis), axis=0)
            rises[:, axis] = (steps >= -room).all(axis=0)
            falls[:, axis] = (steps <= room).all(axis=0)
        return rises, falls
