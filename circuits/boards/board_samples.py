"""Boards drawn at random, and each figure of all of them when it is asked for."""

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from circuits.boards.circuit_model import CircuitModel
from circuits.boards.one_board import BoardMaker
from circuits.boards.stage_map import StageMap
from circuits.boards.tolerances import BoardTolerance

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

SIGMAS = 3.0
"""Sigmas at which the tolerance stands in a normal draw; what falls outside is drawn to it."""
LIFE = "supply.life"
UNIFORM, NORMAL = "uniform", "normal"
DISTRIBUTIONS = (UNIFORM, NORMAL)


def draw(
    tolerances: tuple[BoardTolerance, ...], boards: int, seed: int, distribution: str
) -> Array:
    """Return the boards' shares, boards in rows, tolerances in columns.

    Parameters
    ----------
    tolerances : tuple of BoardTolerance
        What differs.
    boards : int
        How many boards.
    seed : int
        Of the generator; each tolerance has a stream of its own, so that another tolerance in
        the file does not change it.
    distribution : str
        `uniform`, or `normal`; a board's place in its cells' life is even over it in both.

    Returns
    -------
    shares : numpy.ndarray
    """
    shares = np.empty((boards, len(tolerances)), order="F")
    for column, one in enumerate(tolerances):
        stream = np.random.default_rng([seed, *one.name.encode()])
        if distribution == NORMAL and one.name != LIFE:
            share = stream.standard_normal(boards) / SIGMAS
            if one.least == 0 or one.most == 0:
                share = np.abs(share) * (1.0 if one.most else -1.0)
            shares[:, column] = np.clip(share, one.least, one.most)
        else:
            shares[:, column] = one.least + (one.most - one.least) * stream.random(boards)
    return shares


class BoardSamples:
    """The figures of drawn boards.

    Parameters
    ----------
    maker : BoardMaker
        Makes single boards.
    found : StageMap
        The map of the stages.
    shares : numpy.ndarray
        The boards.
    """

    def __init__(self, *, maker: BoardMaker, found: StageMap, shares: Array) -> None:
        self.maker, self.found, self.shares = maker, found, shares
        names = [one.name for one in found.tolerances]
        model = CircuitModel(maker, dict(zip(names, shares.T, strict=True)))
        self.arrays: dict[str, Array] = model.run()
        self.refused: list[tuple[str, Mask]] = list(model.refused)
        self.refused += [(one.reason, mask) for one, mask in found.refused(shares)]

    @cached_property
    def refused_any(self) -> Mask:
        """Return the boards for which there is no sheet."""
        found = np.zeros(len(self.shares), dtype=bool)
        for _, mask in self.refused:
            found |= mask
        return found

    @cached_property
    def features(self) -> Array:
        """Return what the map's weights count for these boards."""
        return self.found.features(self.shares)

    def column(self, name: str) -> Array:
        """Return one figure, or a check's margin, of every board."""
        if name in self.arrays:
            return self.arrays[name]
        return self.found.values(name, self.features)

    def columns(self, names: Sequence[str]) -> list[Array]:
        """Return several of them; what the map gives in one product over the boards."""
        mapped = [name for name in names if name not in self.arrays]
        columns = [self.found.columns[name] for name in mapped]
        found = dict(self.arrays)
        if columns:
            weights = np.array([column.weights for column in columns])
            followed = weights @ self.features.T
            for column, row in zip(columns, followed, strict=True):
                found[column.name] = column.figure(column.centre + row)
        return [found[name] for name in names]
