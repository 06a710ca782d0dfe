"""Which tolerances matter most: our rank correlation beside two outside measures."""

import numpy as np
import pytest
from scipy.stats import spearmanr

from circuits.boards.circuit_model import CircuitModel
from circuits.boards.strength import ranks_of, strongest
from tests.circuits.boards.some_designs import maker_of, random_shares
from tests.sources import Kind, source


@source(Kind.REFERENCE_LIBRARY, "SciPy, scipy.stats.spearmanr")
def test_rank_correlation() -> None:
    """1e-12: the same sum in another order."""
    rng = np.random.default_rng(2)
    places = rng.uniform(-1, 1, (3, 500))
    figure = np.exp(2 * places[0]) - places[1] + 0.1 * rng.standard_normal(500)
    found = {s.tolerance: s.correlation for s in strongest("abc", ranks_of(places), figure)}
    for name, place in zip("ab", places, strict=False):
        assert found[name] == pytest.approx(spearmanr(place, figure).statistic, rel=1e-12)


def test_what_no_tolerance_moves_has_none() -> None:
    places = np.random.default_rng(2).uniform(-1, 1, (2, 100))
    assert strongest("ab", ranks_of(places), np.full(100, 4.2)) == ()


@source(Kind.REFERENCE_LIBRARY, "SALib, Sobol indices by Saltelli's sampling")
def test_the_strongest_are_those_of_the_sobol_indices() -> None:
    """0.03: a figure that is nearly straight has its squared correlation as first index; what
    is left is the sampling of both."""
    from SALib.analyze import sobol
    from SALib.sample import sobol as sampling

    maker = maker_of("foyer_sculpture")
    names = list(maker.tolerances)
    bounds = [[one.least, one.most] for one in maker.tolerances.values()]
    problem = {"num_vars": len(names), "names": names, "bounds": bounds}
    places = sampling.sample(problem, 1024, calc_second_order=False, seed=3)
    figures = CircuitModel(maker, dict(zip(names, places.T, strict=True))).run()
    shares = random_shares(maker, 20_000, seed=3)
    ours = CircuitModel(maker, shares).run()
    ranks = ranks_of(np.array(list(shares.values())))
    for figure in ("filter.f_c", "pickup.v_bias", "drive.i_pin"):
        indices = sobol.analyze(
            problem, figures[figure], calc_second_order=False, num_resamples=2, seed=3
        )["S1"]
        by_index = dict(zip(names, indices, strict=True))
        mine = strongest(names, ranks, ours[figure])
        assert mine[0].tolerance == max(by_index, key=lambda name: by_index[name])
        for one in mine:
            assert one.correlation**2 == pytest.approx(by_index[one.tolerance], abs=0.03)
