"""Cells along their discharge: curves between known points, and time under a demand."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from calc.calculator import OutOfRangeError
from calc.cell_course import discharge_times, first_below, loaded_cells
from calc.cell_curve import (
    aged_resistance,
    resistance_at_end,
    rest_curve,
    rest_curve_with_another,
    sustained_resistance,
)
from calc.cell_life import cell_life, charge_life
from tests.sources import Kind, source

DEPTH = np.linspace(0, 1, 401)
YEAR = 365.25 * 86400


@source(Kind.IDENTITY, "rows of the table; the end of the charge is the cut-off it was counted to")
def test_rest_curve_keeps_its_table_and_ends_empty() -> None:
    depths = np.array([0.0, 0.2, 0.5, 0.8, 1.0])
    v_opens = np.array([1.6, 1.47, 1.37, 1.26, 1.1])
    v = rest_curve(depth=DEPTH, depths=depths, v_opens=v_opens, v_empty=0.8)
    for depth, v_open in zip(depths[:-1], v_opens[:-1], strict=True):
        assert v[int(400 * depth)] == pytest.approx(v_open, rel=1e-12)
    assert v[-1] == pytest.approx(0.8, rel=1e-12)
    assert (np.diff(v) < 0).all()


@source(Kind.IDENTITY, "a load that ended at its own cut-off does so again")
def test_sustained_resistance_gives_back_the_tested_loads() -> None:
    """The curve is built from the ends of two tests; each load must reach its own end again.

    3e-3 of the charge: the depth is sought between the places of the grid.
    """
    tests = [(0.5, 0.52), (0.25, 0.69)]
    v_rest = rest_curve(
        depth=DEPTH, depths=np.array([0.0, 0.5, 1.0]), v_opens=np.array([1.6, 1.37, 1.1]),
        v_empty=0.8,
    )  # fmt: skip
    ends = [
        resistance_at_end(v_open=float(np.interp(d, DEPTH, v_rest)), v_cutoff=0.8, i_load=i)
        for i, d in tests
    ]
    r = sustained_resistance(
        depth=DEPTH, depths=np.array([d for _, d in tests]), resistances=np.array(ends),
        r_fresh=0.15,
    )  # fmt: skip
    for i_load, depth in tests:
        found = loaded_cells(
            v_rest=v_rest, r_sustained=r, v_known=np.array([0.1, 2.0]),
            i_known=np.full(2, i_load),
        )  # fmt: skip
        assert first_below(DEPTH, found.v - 0.8) == pytest.approx(depth, abs=3e-3)


@source(Kind.IDENTITY, "divider of two resistances")
def test_loaded_cells_agree_with_a_resistor() -> None:
    """A resistor R on a cell of resistance r holds R / (R + r) of the voltage; 1e-10: halvings."""
    v_rest, r = np.linspace(1.6, 0.9, 9), np.linspace(0.01, 20, 9)
    for r_load in (0.5, 10.0, 1e4):
        found = loaded_cells(
            v_rest=v_rest, r_sustained=r, v_known=np.array([1e-6, 2.0]),
            i_known=np.array([1e-6, 2.0]) / r_load,
        )  # fmt: skip
        assert found.v == pytest.approx(v_rest * r_load / (r_load + r), rel=1e-9)


@source(Kind.IDENTITY, "closed form ln(1 + k q / i) / k; without self-discharge q / i")
def test_discharge_times_of_a_steady_load() -> None:
    """Between its places the pace is a straight line, which a steady load is: 1e-9."""
    i = np.full(401, 53e-6)
    charge = 8 * 3600.0
    for loss in (0.03 / YEAR, 0.2 / YEAR):
        t = discharge_times(depth=DEPTH, i_mean=i, charge=charge, self_discharge=loss)
        whole = cell_life(charge=charge, i_mean=53e-6, self_discharge=loss)
        assert t[-1] == pytest.approx(whole, rel=1e-9)
    t = discharge_times(depth=DEPTH, i_mean=i, charge=charge, self_discharge=0.0)
    assert t[-1] == pytest.approx(charge_life(charge=charge, i_mean=53e-6), rel=1e-12)


@source(Kind.IDENTITY, "the same discharge stepped in time by SciPy")
def test_a_demand_that_falls_with_the_voltage() -> None:
    """1e-4: 401 places and straight lines between them against a curve."""
    depths, v_opens = np.array([0.0, 0.4, 1.0]), np.array([1.6, 1.4, 1.1])
    v = rest_curve(depth=DEPTH, depths=depths, v_opens=v_opens, v_empty=0.8)
    demand = 31e-6 + 40e-6 * (v - 0.95)
    charge, loss = 8 * 3600.0, 0.03 / YEAR
    t = discharge_times(depth=DEPTH, i_mean=demand, charge=charge, self_discharge=loss)

    def rate(_: float, d: np.ndarray[tuple[int], np.dtype[np.float64]]) -> list[float]:
        return [float(np.interp(d[0], DEPTH, demand)) / charge + loss * (1 - d[0])]

    for share in (0.5, 0.9):
        end = float(np.interp(share, DEPTH, t))
        stepped = solve_ivp(rate, (0, end), [0.0], rtol=1e-9, atol=1e-12).y[0, -1]
        assert stepped == pytest.approx(share, rel=1e-4)


@source(Kind.IDENTITY, "voltages of cells in series add up")
def test_a_weak_cell_takes_its_volts_away() -> None:
    v = np.linspace(1.6, 0.9, 401)
    weak = rest_curve_with_another(depth=DEPTH, v_rest=v, v_other=v, share=0.6, cells=4)
    assert 4 * weak[100] == pytest.approx(3 * v[100] + np.interp(0.25 / 0.6, DEPTH, v))
    assert 4 * weak[300] == pytest.approx(3 * v[300])
    alike = rest_curve_with_another(depth=DEPTH, v_rest=v, v_other=v, share=1.0, cells=4)
    assert alike == pytest.approx(v)


@source(Kind.IDENTITY, "ends of the law")
def test_resistance_at_both_ends() -> None:
    assert aged_resistance(r_fresh=0.15, r_spent=0.75, depth=0.0) == pytest.approx(0.15)
    assert aged_resistance(r_fresh=0.15, r_spent=0.75, depth=1.0) == pytest.approx(0.75)


def test_first_below_is_between_the_places() -> None:
    t = np.array([0.0, 10.0, 20.0])
    assert first_below(t, np.array([1.0, 1.0, -1.0])) == pytest.approx(15)
    assert first_below(t, np.array([-1.0, 1.0, 1.0])) == 0
    assert first_below(t, np.array([1.0, 1.0, 0.0])) is None


def test_curves_that_do_not_fall_are_refused() -> None:
    with pytest.raises(OutOfRangeError, match="fall as the depth grows"):
        rest_curve(
            depth=DEPTH, depths=np.array([0.0, 1.0]), v_opens=np.array([1.1, 1.6]), v_empty=0.8
        )
    with pytest.raises(OutOfRangeError, match="i_mean must be above zero"):
        discharge_times(depth=DEPTH, i_mean=0 * DEPTH, charge=1.0, self_discharge=0.0)
