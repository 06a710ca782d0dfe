"""The worst boards: in a corner where a figure is monotone, found by climbing where it is not."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from circuits.boards.stage_map import Column, StageMap
from circuits.boards.tolerances import ASSUMED, BoardTolerance
from circuits.boards.worst_case import Worst, worst_boards
from tests.sources import Kind, source

Array = NDArray[np.float64]
STARTS = np.random.default_rng(4).uniform(-1, 1, (200, 2))


def map_of(follow: Callable[[float, float], float], *, sign: float = 0.0) -> StageMap:
    """A map of two tolerances through a function, run alone at both ends and in the corners."""
    tolerances = tuple(
        BoardTolerance(
            name=name, words=name, below=-0.1, above=0.1, unit="1", basis=ASSUMED, source="case"
        )
        for name in ("one", "other")
    )
    centre, ends = follow(0, 0), (-1.0, 1.0)
    weights = [follow(u, 0) - centre for u in ends] + [follow(0, u) - centre for u in ends]
    weights += [
        follow(u, v) - follow(u, 0) - follow(0, v) + centre for u in ends for v in ends
    ]  # fmt: skip
    column = Column(
        name="f", sign=sign, side=0.0, centre=centre, weights=np.array(weights), error=0.0
    )
    return StageMap(
        tolerances=tolerances, nodes=(ends, ends), pairs=((0, 1),), columns={"f": column},
        refusals=(), lost={}, judged={}, severity={}, runs=9,
    )  # fmt: skip


def worst_of(found: StageMap) -> Worst:
    return worst_boards(found, ["f"], STARTS)[0]


def value(found: StageMap, board: Array) -> float:
    return float(found.values("f", found.features(board[None]))[0])


@source(Kind.IDENTITY, "the extremes of a - b stand in opposite corners")
def test_a_monotone_figure_has_its_extremes_in_corners() -> None:
    found = worst_of(map_of(lambda a, b: a - 2 * b))
    assert found.in_corner
    assert list(found.least) == [-1, 1]
    assert list(found.greatest) == [1, -1]


@source(Kind.IDENTITY, "-(a - 0.3)^2 is greatest at 0.3 and least at -1")
def test_a_figure_that_turns_is_searched() -> None:
    """The climb stands at every eighth of a tolerance: within 0.05 of the top."""
    curve = map_of(lambda a, b: -((a - 0.3) ** 2) + 0.01 * b)
    found = worst_of(curve)
    assert not found.in_corner
    assert found.greatest[0] == pytest.approx(0.3, abs=0.13)
    assert value(curve, found.greatest) == pytest.approx(0.01, abs=0.005)
    assert list(found.least) == [-1, -1]


@source(Kind.IDENTITY, "a b is least where the signs differ and greatest where they agree")
def test_a_saddle_does_not_hold_the_climb_at_its_middle() -> None:
    """From the middle no single tolerance leads anywhere; a board at random does."""
    saddle = map_of(lambda a, b: a * b)
    found = worst_of(saddle)
    assert not found.in_corner
    assert value(saddle, found.greatest) == pytest.approx(1.0)
    assert value(saddle, found.least) == pytest.approx(-1.0)


@source(Kind.IDENTITY, "of a negative figure the logarithm falls where the figure rises")
def test_a_negative_figure_is_not_turned_over() -> None:
    negative = map_of(lambda a, b: 0.1 * a + 0.01 * b, sign=-1.0)
    found = worst_of(negative)
    assert list(found.least) == [1, 1]
    assert value(negative, found.least) == pytest.approx(-np.exp(0.11))
    assert list(found.greatest) == [-1, -1]


@source(Kind.IDENTITY, "the logarithm of a product of powers is a sum")
def test_the_map_is_exact_for_products_of_powers() -> None:
    """0.2 %: of a power of (1 + u/10) the map keeps the square of u, not its cube: 1e-3 here."""
    power = map_of(lambda a, b: float(np.log((1 + 0.1 * a) ** 2 / (1 + 0.1 * b))), sign=1.0)
    boards = np.random.default_rng(6).uniform(-1, 1, (50, 2))
    expected = (1 + 0.1 * boards[:, 0]) ** 2 / (1 + 0.1 * boards[:, 1])
    found = power.values("f", power.features(boards))
    assert found == pytest.approx(expected, rel=2e-3)
