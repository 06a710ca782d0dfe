"""Preferred values against the printed tables of IEC 60063, and pairs against every pair."""

import csv
import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from calc.calculator import OutOfRangeError
from circuits.preferred_values import (
    SERIES,
    best_pair,
    is_preferred,
    nearest,
    next_higher,
    next_lower,
    preferred_values,
)
from tests.sources import Kind, source

DATA = Path(__file__).parents[1] / "data" / "preferred_values.csv"
with DATA.open() as file:
    PRINTED = {row["series"]: row["values_of_one_decade"].split() for row in csv.DictReader(file)}


@pytest.mark.parametrize("series", SERIES)
@pytest.mark.parametrize("power", range(-12, 10))
@source(Kind.FROM_MEMORY, "IEC 60063:2015, tables of E3 to E192, from memory")
def test_each_decade_holds_the_printed_values(series: str, power: int) -> None:
    """Exactly: a preferred value is a decimal, so 4k7 must come out as the float 4700.0."""
    expected = tuple(float(f"{digits}e{power}") for digits in PRINTED[series])
    found = preferred_values(expected[0], expected[-1], series)
    assert found == expected


@source(Kind.FROM_MEMORY, "IEC 60063:2015: E48, E96, E192 are 10^(i/n) rounded to three figures")
@pytest.mark.parametrize(("series", "exceptions"), [("E48", []), ("E96", []), ("E192", [9.2])])
def test_fine_series_follow_the_rounding_rule(series: str, exceptions: list[float]) -> None:
    """The one exception of the standard is 9.20 of E192, where the rule gives 9.19."""
    values = preferred_values(1.0, 9.99, series)
    ruled = [round(10 ** (i / len(values)), 2) for i in range(len(values))]
    assert [v for v, rule in zip(values, ruled, strict=True) if v != rule] == exceptions


@pytest.mark.parametrize("series", SERIES)
@source(Kind.IDENTITY, "a preferred value is its own neighbour on both sides")
def test_neighbours_enclose_every_value(series: str) -> None:
    values = preferred_values(0.1, 1e7, series)
    for low, high in pairwise(values):
        assert next_lower(low, series) == nearest(low, series) == next_higher(low, series) == low
        assert is_preferred(low, series)
        between = math.sqrt(low * high)
        assert (next_lower(between, series), next_higher(between, series)) == (low, high)
        assert nearest(low + 0.49 * (high - low), series) == low
        assert nearest(low + 0.51 * (high - low), series) == high
        assert not is_preferred(between, series)


@pytest.mark.parametrize(
    ("computed", "printed"),
    [(0.1 * 3 * 1e3, 300.0), (4700 * (1 - 1e-12), 4700.0), (1e-7 * 1.0000000001, 1e-7)],
)
@source(Kind.IDENTITY, "the last bit of a computed value must not cost a whole step of the series")
def test_rounding_noise_does_not_move_to_the_neighbour(computed: float, printed: float) -> None:
    assert next_lower(computed) == next_higher(computed) == printed


@pytest.mark.parametrize("series", ["E6", "E24", "E96"])
@pytest.mark.parametrize("ratio", [0.02, 0.2871, 0.5, 0.6789, 0.97])
@pytest.mark.parametrize(("low", "high"), [(9.7e3, 104e3), (150e3, 200e3), (99.0, 480.0)])
@source(Kind.IDENTITY, "the best pair found by trying every pair of the series")
def test_best_pair_beats_every_other_pair(
    series: str, ratio: float, low: float, high: float
) -> None:
    values = np.array(preferred_values(low * 1e-3, high, series))
    total = values[:, None] + values[None, :]
    miss = np.abs(values[None, :] / total - ratio)
    inside = (total >= low) & (total <= high)
    pair = best_pair(ratio=ratio, total_low=low, total_high=high, series=series)
    assert abs(pair.ratio - ratio) == pytest.approx(miss[inside].min(), abs=1e-9)
    assert low <= pair.r_upper + pair.r_lower <= high
    assert pair.ratio == pair.r_lower / (pair.r_upper + pair.r_lower)
    equal = inside & (miss < miss[inside].min() + 1e-10)
    assert pair.r_upper + pair.r_lower == pytest.approx(total[equal].max())


@source(Kind.IDENTITY, "equal resistors halve")
def test_equal_resistors_halve_with_the_largest_total() -> None:
    pair = best_pair(ratio=0.5, total_low=10e3, total_high=205e3)
    assert (pair.r_upper, pair.r_lower) == (100e3, 100e3)


@pytest.mark.parametrize(
    "bad",
    [
        {"ratio": 0.0},
        {"ratio": 1.0},
        {"ratio": math.nan},
        {"total_low": math.nan},
        {"total_high": math.inf},
        {"total_low": 3e5},
        {"total_low": 0.0},
    ],
)
def test_best_pair_refuses_what_no_pair_can_meet(bad: dict[str, float]) -> None:
    with pytest.raises(OutOfRangeError):
        best_pair(**{"ratio": 0.4, "total_low": 1e4, "total_high": 1e5, **bad})


def test_a_band_between_two_steps_is_refused_in_words() -> None:
    with pytest.raises(OutOfRangeError, match="no two E3 values add to between"):
        best_pair(ratio=0.5, total_low=45e3, total_high=46e3, series="E3")


@pytest.mark.parametrize("value", [0.0, -47.0, math.nan, math.inf, 1e30, 1e-30])
@pytest.mark.parametrize("find", [next_lower, next_higher, nearest])
def test_a_value_outside_the_table_is_refused(find: object, value: float) -> None:
    with pytest.raises(OutOfRangeError):
        find(value)  # type: ignore[operator]


def test_an_unknown_series_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="E3, E6, E12, E24, E48, E96, E192"):
        next_lower(100.0, "E25")
