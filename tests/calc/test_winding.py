"""Windings against a builder's coil, against counted circles and against each other."""

import math

import numpy as np
import pytest

from calc.calculator import OutOfRangeError, on_samples
from calc.winding import (
    turns_of_resistance,
    turns_of_wire_length,
    winding_resistance,
    wire_length,
)
from calc.winding_pair import windings_in_parallel, windings_in_series
from calc.winding_window import (
    fill_factor,
    outer_radius_of_turns,
    outer_radius_of_wire_length,
    window_capacity,
)
from calc.wire import awg_diameter, copper_resistance_per_metre
from tests.sources import Kind, source

BUILDERS_BOBBIN = {"r_inner": 3e-3, "r_outer": 15e-3}


@pytest.mark.parametrize(("length", "n_turns"), [(60.0, 1061), (65.0, 1150)])
@source(
    Kind.MEASURED,
    "a builder's coil, moosteria.blogspot.com, October 2021; turns worked from it by hand",
    printed="35 ohm, 32 AWG, bobbin 6/30/10 mm, about 60 m",
)
def test_builders_coil_turns(length: float, n_turns: int) -> None:
    """Lengths are printed to 0.05 m, nine tenths of a turn, and turns to half a turn."""
    found = turns_of_wire_length(length=length, **BUILDERS_BOBBIN)
    assert found == pytest.approx(n_turns, abs=0.9 + 0.5)


@source(
    Kind.MEASURED,
    "a builder's coil, moosteria.blogspot.com, October 2021; worked from it by hand",
    printed="0.2019 mm bare, 0.538 ohm/m: 35 ohm = 65.0 m; 28-31 % copper",
)
def test_builders_coil_resistance_and_copper() -> None:
    """Half the last printed digit of each figure."""
    d_wire = awg_diameter(awg=32)
    assert d_wire == pytest.approx(0.2019e-3, abs=0.05e-6)
    per_metre = copper_resistance_per_metre(d_wire=d_wire, temperature=293.15)
    assert per_metre == pytest.approx(0.538, abs=0.0005)
    n_turns = turns_of_resistance(r_coil=35.0, r_per_metre=per_metre, **BUILDERS_BOBBIN)
    assert wire_length(n_turns=n_turns, **BUILDERS_BOBBIN) == pytest.approx(65.0, abs=0.05)
    shares = [
        fill_factor(n_turns=n, d_wire=d_wire, height=10e-3, **BUILDERS_BOBBIN)
        for n in (1061.0, n_turns)
    ]
    assert shares == pytest.approx([0.28, 0.31], abs=0.005)


@source(
    Kind.MEASURED,
    "a builder's coil, moosteria.blogspot.com, October 2021; worked from it by hand",
    printed="square-packed capacity at 0.23 mm over enamel = 2268 turns",
)
def test_builders_bobbin_capacity() -> None:
    """Between the window without its last part layer and part turn, and the whole window."""
    capacity = window_capacity(height=10e-3, d_overall=0.23e-3, **BUILDERS_BOBBIN)
    assert (capacity.turns_per_layer, capacity.layers) == (43, 52)
    assert 2268 * (1 - 1 / 43) * (1 - 1 / 52) < capacity.n_turns <= 2268


@source(Kind.IDENTITY, "the sum of the circumferences of every single turn")
def test_wire_length_is_the_sum_of_its_circles() -> None:
    layers, per_layer, d = 20, 30, 0.25e-3
    radii = 5e-3 + d * (np.arange(layers) + 0.5)
    counted = float(per_layer * 2 * math.pi * radii.sum())
    length = wire_length(n_turns=600.0, r_inner=5e-3, r_outer=5e-3 + layers * d)
    assert length == pytest.approx(counted, rel=1e-12)


@source(Kind.IDENTITY, "turns, length and resistance of one winding lead back to each other")
def test_turns_length_and_resistance_are_one_winding() -> None:
    length = wire_length(n_turns=815.0, **BUILDERS_BOBBIN)
    assert turns_of_wire_length(length=length, **BUILDERS_BOBBIN) == pytest.approx(815.0)
    r_coil = winding_resistance(n_turns=815.0, r_per_metre=0.6, **BUILDERS_BOBBIN)
    assert r_coil == pytest.approx(0.6 * length)
    n_turns = turns_of_resistance(r_coil=r_coil, r_per_metre=0.6, **BUILDERS_BOBBIN)
    assert n_turns == pytest.approx(815.0)


@source(Kind.IDENTITY, "whole wires fit, one more does not")
@pytest.mark.parametrize("d_overall", [0.06e-3, 0.13e-3, 0.226e-3, 0.5e-3, 1.06e-3])
def test_capacity_encloses_the_window(d_overall: float) -> None:
    capacity = window_capacity(height=10e-3, d_overall=d_overall, **BUILDERS_BOBBIN)
    assert (
        capacity.turns_per_layer * d_overall <= 10e-3 < (capacity.turns_per_layer + 1) * d_overall
    )
    assert capacity.layers * d_overall <= 12e-3 < (capacity.layers + 1) * d_overall
    assert capacity.n_turns == capacity.turns_per_layer * capacity.layers


@source(Kind.IDENTITY, "a window of exactly forty by thirty wires")
@pytest.mark.parametrize("d_overall", [0.1e-3, 0.2e-3, 0.3e-3, 0.7e-3])
def test_an_exact_window_loses_no_turn_to_rounding(d_overall: float) -> None:
    capacity = window_capacity(
        r_inner=3e-3, r_outer=3e-3 + 30 * d_overall, height=40 * d_overall, d_overall=d_overall
    )
    assert (capacity.turns_per_layer, capacity.layers) == (40, 30)


@source(Kind.IDENTITY, "building up by turns and by the length of the same turns")
def test_both_ways_of_building_up_agree() -> None:
    window = {"d_overall": 0.2e-3, "r_inner": 4e-3, "height": 9e-3, "packing": 0.85}
    by_turns = outer_radius_of_turns(n_turns=1300.0, **window)
    length = wire_length(n_turns=1300.0, r_inner=4e-3, r_outer=by_turns)
    by_length = outer_radius_of_wire_length(length=length, **window)
    assert by_length == pytest.approx(by_turns, rel=1e-12)


@source(Kind.IDENTITY, "square-packed, enamel included, the window is pi/4 wire")
def test_square_packed_wire_fills_a_quarter_pi() -> None:
    r_outer = outer_radius_of_turns(
        n_turns=1200.0, d_overall=0.25e-3, r_inner=4e-3, height=10e-3, packing=1.0
    )
    share = fill_factor(n_turns=1200.0, d_wire=0.25e-3, r_inner=4e-3, r_outer=r_outer, height=10e-3)
    assert share == pytest.approx(math.pi / 4)


@source(Kind.IDENTITY, "perfectly coupled: series is one winding of twice the turns")
def test_two_windings_at_the_limits_of_coupling() -> None:
    """Uncoupled they add or halve; with nearly full coupling series has four times L."""
    apart = windings_in_series(r_coil=20.0, l_coil=0.01, mutual=0.0)
    assert (apart.r_coil, apart.l_coil, apart.linkage_factor) == (40.0, 0.02, 2.0)
    together = windings_in_series(r_coil=20.0, l_coil=0.01, mutual=0.01 * (1 - 1e-12))
    assert together.l_coil == pytest.approx(0.04)
    side_by_side = windings_in_parallel(r_coil=20.0, l_coil=0.01, mutual=0.01 * (1 - 1e-12))
    assert side_by_side.l_coil == pytest.approx(0.01)
    assert (side_by_side.r_coil, side_by_side.linkage_factor) == (10.0, 1.0)
    # The same copper: the time constant does not depend on how they are joined.
    assert together.l_coil / together.r_coil == pytest.approx(
        side_by_side.l_coil / side_by_side.r_coil
    )


def test_samples_pass_through_and_bad_ones_are_marked() -> None:
    n_turns = np.array([100.0, 200.0, 300.0])
    lengths = on_samples(wire_length, n_turns=n_turns, r_inner=3e-3, r_outer=15e-3)
    assert lengths == pytest.approx(n_turns * math.pi * 18e-3)
    with pytest.raises(OutOfRangeError) as caught:
        on_samples(wire_length, n_turns=n_turns, r_inner=3e-3, r_outer=[15e-3, 2e-3, 15e-3])
    assert caught.value.mask.tolist() == [False, True, False]
