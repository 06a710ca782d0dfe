"""Flux linkage against independent references, another library's field, and identities."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from calc.calculator import OutOfRangeError
from calc.linkage import arc_linkage, face_linkage, straight_linkage
from calc.linkage_curve import LinkageCurve
from calc.linkage_parts import MagnetShape, WindingShape
from tests.calc.magnet_field import flux, force_per_ampere, placed
from tests.sources import Kind, source

DATA = json.loads((Path(__file__).parents[1] / "data" / "linkage_reference.json").read_text())
REFERENCE = "independent reference (NumPy, SciPy, magpylib, ngspice), case "

COIL = WindingShape(n_turns=1000, r_inner=5e-3, r_outer=12.5e-3, height=8e-3)
DISC = MagnetShape(round=True, lying=False, b_r=1.2, along=10e-3, across=10e-3, depth=5e-3)
BLOCK = MagnetShape(round=False, lying=False, b_r=1.2, along=20e-3, across=10e-3, depth=5e-3)
RING = MagnetShape(
    round=True, lying=False, b_r=1.1, along=18e-3, across=18e-3, depth=4e-3, bore=7e-3
)
STACK = replace(DISC, depth=15e-3)
LYING_ROD = MagnetShape(round=True, lying=True, b_r=1.25, along=14e-3, across=6e-3, depth=6e-3)
LYING_RING = replace(LYING_ROD, across=9e-3, depth=9e-3, bore=4e-3)
LYING_BLOCK = MagnetShape(round=False, lying=True, b_r=1.25, along=9e-3, across=12e-3, depth=5e-3)
EVERY = {
    "disc": DISC, "block": BLOCK, "ring": RING, "stack": STACK, "lying rod": LYING_ROD,
    "lying ring": LYING_RING, "lying block": LYING_BLOCK,
}  # fmt: skip
MAGNETS = pytest.mark.parametrize("magnet", EVERY.values(), ids=EVERY.keys())
GAP = 4e-3


@pytest.mark.parametrize(("case", "magnet"), [("A1", DISC), ("A3_block_long", BLOCK)])
@source(Kind.REFERENCE_LIBRARY, REFERENCE + "A1 and A3_block_long, good to 1e-9 of the peak")
def test_straight_path(case: str, magnet: MagnetShape) -> None:
    """1e-7 of the peak: what the curve promises between its nodes, where the places fall.

    Curvature 1e-5: it is the second derivative of the same curve.
    """
    known = DATA[case]
    curve = straight_linkage(magnet=magnet, winding=COIL, gap=GAP)
    x = np.array(known["table_x_m"])
    peak = known["dLambda_dx_peak_abs"]
    assert np.abs(curve.linkage(x) - known["table_Lambda_Wb"]).max() < 1e-8 * known["Lambda0"]
    assert np.abs(curve.slope(x) - known["table_dLambda_dx"]).max() < 1e-7 * peak
    assert curve.on_axis == pytest.approx(known["Lambda0"], rel=1e-8)
    assert curve.slope_peak == pytest.approx(peak, rel=1e-7)
    assert curve.path_peak == pytest.approx(known["x_peak_m"], rel=1e-6)
    assert curve.curvature_on_axis == pytest.approx(known["d2Lambda_dx2_at_0"], rel=1e-5)
    assert 0.3 * curve.slope_peak == pytest.approx(known["EMF_peak_V_at_0p3_mps"], rel=1e-7)
    assert curve.lobes == 2


@source(Kind.REFERENCE_LIBRARY, REFERENCE + "A5_arc, slope good to 1e-5")
def test_tilted_magnet_on_an_arc() -> None:
    """1e-6 of the peak: five times what the tabulated potential leaves; the source has 1e-5."""
    known = DATA["A5_arc"]
    radius = 0.25
    curve = arc_linkage(magnet=DISC, winding=COIL, gap=GAP, radius=radius, offset=0.0)
    s = radius * np.array(known["table_theta"])
    peak = known["dLambda_dtheta_peak_abs"]
    assert np.abs(curve.linkage(s) - known["table_Lambda"]).max() < 1e-6 * known["Lambda0"]
    assert np.abs(radius * curve.slope(s) - known["table_dLdtheta"]).max() < 1e-6 * peak
    assert radius * curve.slope_peak == pytest.approx(peak, rel=1e-6)
    assert curve.path_peak == pytest.approx(known["arc_s_peak_m"], rel=1e-5)
    straight = straight_linkage(magnet=DISC, winding=COIL, gap=GAP)
    ratio = curve.slope_peak / straight.slope_peak
    assert ratio == pytest.approx(known["ratio_to_straight_peak"], rel=1e-6)


@MAGNETS
@source(Kind.REFERENCE_LIBRARY, "magpylib, field of the magnet over the winding's section")
def test_slope_is_the_force_per_ampere_of_magpylib(magnet: MagnetShape) -> None:
    """3e-7 of the peak: the curve promises 1e-7, the quadrature over the field leaves as much."""
    curve = straight_linkage(magnet=magnet, winding=COIL, gap=GAP)
    scale = curve.slope_peak * 1e-2
    for x in (0.0, 2.3e-3, 7.9e-3, 15.5e-3, 31e-3):
        there = placed(magnet, x, GAP)
        assert abs(float(curve.slope(x)) - force_per_ampere(COIL, there)) < 3e-7 * curve.slope_peak
        assert abs(float(curve.linkage(x)) - flux(COIL, there)) < 3e-7 * scale


@MAGNETS
@source(Kind.REFERENCE_LIBRARY, "magpylib, field of the tilted magnet through the winding")
def test_tilt_against_magpylib(magnet: MagnetShape) -> None:
    """1e-6 of the scale on a short arc with the coil off its middle."""
    radius, offset = 0.09, 4e-3
    curve = arc_linkage(magnet=magnet, winding=COIL, gap=GAP, radius=radius, offset=offset)
    scale = curve.slope_peak * 1e-2
    coil_at = radius * np.sin(offset / radius)
    for s in (-21e-3, -6e-3, 0.0, 5e-3, 17e-3):
        angle = (s + offset) / radius
        x = radius * np.sin(angle) - coil_at
        there = placed(magnet, x, GAP + radius * (1 - np.cos(angle)), angle)
        assert abs(float(curve.linkage(s)) - flux(COIL, there)) < 1e-6 * scale


@pytest.mark.parametrize("gap", [1e-3, 2e-3, 4e-3, 8e-3, 20e-3])
@source(Kind.REFERENCE_LIBRARY, "magpylib, peak force of the disc at other gaps")
def test_other_gaps(gap: float) -> None:
    """2e-6: at a millimetre the quadrature over the library's field is what limits it."""
    curve = straight_linkage(magnet=DISC, winding=COIL, gap=gap)
    force = force_per_ampere(COIL, placed(DISC, curve.path_peak, gap))
    assert abs(force) == pytest.approx(curve.slope_peak, rel=2e-6)


@MAGNETS
@source(Kind.IDENTITY, "an arc of 100 km is a straight path")
def test_a_long_arc_is_a_straight_path(magnet: MagnetShape) -> None:
    """1e-6 of the peak: two engines meet, one with the potential tabulated in two dimensions."""
    straight = straight_linkage(magnet=magnet, winding=COIL, gap=GAP)
    arc = arc_linkage(magnet=magnet, winding=COIL, gap=GAP, radius=1e5, offset=0.0)
    s = np.linspace(-60e-3, 60e-3, 401)
    assert np.abs(straight.slope(s) - arc.slope(s)).max() < 1e-6 * straight.slope_peak


@MAGNETS
@source(Kind.IDENTITY, "a balance 100 km wide carries its magnet straight")
def test_a_wide_balance_is_a_straight_path(magnet: MagnetShape) -> None:
    straight = straight_linkage(magnet=magnet, winding=COIL, gap=GAP)
    face = face_linkage(magnet=magnet, winding=COIL, gap=GAP, radius=1e5, reach=50e-3)
    s = np.linspace(-50e-3, 50e-3, 401)
    assert np.abs(straight.slope(s) - face.slope(s)).max() < 1e-6 * straight.slope_peak


@source(Kind.IDENTITY, "on a circle the distance is the chord, 2 r sin(s / 2 r)")
def test_balance_with_a_round_magnet_follows_the_chord() -> None:
    """1e-6: the straight curve, read at the chord, against the curve over the circle."""
    radius = 14e-3
    straight = straight_linkage(magnet=DISC, winding=COIL, gap=GAP)
    face = face_linkage(magnet=DISC, winding=COIL, gap=GAP, radius=radius, reach=60e-3)
    s = np.linspace(-60e-3, 60e-3, 301)
    chord = 2 * radius * np.sin(s / (2 * radius))
    slope = straight.slope(chord) * np.cos(s / (2 * radius))
    assert np.abs(face.linkage(s) - straight.linkage(chord)).max() < 1e-7 * straight.on_axis
    assert np.abs(face.slope(s) - slope).max() < 1e-6 * straight.slope_peak
    # The return to the coil after a whole turn is not a lobe of this crossing.
    assert face.lobes == 2
    assert face.path_peak < 12e-3


@MAGNETS
@source(Kind.IDENTITY, "slope and curvature are derivatives of the linkage")
def test_slope_is_the_derivative(magnet: MagnetShape) -> None:
    """The integral of the slope between two places is the difference of the linkage."""
    curve = arc_linkage(magnet=magnet, winding=COIL, gap=GAP, radius=0.2, offset=2e-3)
    nodes, weights = np.polynomial.legendre.leggauss(60)
    for low, high in ((-20e-3, -3e-3), (-3e-3, 9e-3), (9e-3, 150e-3)):
        s = (low + high) / 2 + (high - low) / 2 * nodes
        total = float(weights @ curve.slope(s)) * (high - low) / 2
        rise = float(curve.linkage(high) - curve.linkage(low))
        assert total == pytest.approx(rise, abs=1e-6 * curve.slope_peak * 1e-2)
        bend = float(weights @ curve.curvature(s)) * (high - low) / 2
        assert bend == pytest.approx(
            float(curve.slope(high) - curve.slope(low)), abs=1e-5 * curve.slope_peak
        )


@source(Kind.IDENTITY, "far from a small coil the magnet is a dipole")
def test_far_field_is_a_dipole() -> None:
    """1e-3 at sixty times the radii: the next term falls with the square of that ratio."""
    small = replace(DISC, along=2e-3, across=2e-3, depth=1e-3)
    coil = WindingShape(n_turns=100, r_inner=1e-3, r_outer=2e-3, height=1e-3)
    gap = 120e-3
    curve = straight_linkage(magnet=small, winding=coil, gap=gap)
    moment = small.b_r * np.pi * 1e-6 * small.depth
    area = np.pi * coil.n_turns * (8e-9 - 1e-9) / 3 / 1e-3
    z = gap + 1e-3
    for x in (0.0, 20e-3, 80e-3, 200e-3):
        r2 = x * x + z * z
        dipole = moment * area / (4 * np.pi) * (3 * z * z - r2) / r2**2.5
        assert float(curve.linkage(x)) == pytest.approx(dipole, rel=1e-3, abs=1e-4 * curve.on_axis)


@pytest.mark.parametrize("gap", [0.1e-3, 0.3e-3, 1.5e-3])
@source(Kind.IDENTITY, "finer nodes give the same curve")
def test_small_gaps_are_resolved(gap: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """1e-6 of the peak at a tenth of a millimetre, against half the spacing and half the rest."""
    s = np.linspace(0, 30e-3, 700)
    curve = straight_linkage(magnet=DISC, winding=COIL, gap=gap)
    monkeypatch.setattr("calc.linkage_straight.SPACING", 0.065)
    monkeypatch.setattr("calc.linkage_spectrum.REST", 1e-9)
    monkeypatch.setattr("calc.linkage_spectrum.TURN", 8.0)
    finer = straight_linkage(magnet=DISC, winding=COIL, gap=gap)
    assert finer.path.size > 1.8 * curve.path.size
    assert np.abs(curve.slope(s) - finer.slope(s)).max() < 1e-6 * curve.slope_peak


@source(Kind.REFERENCE_LIBRARY, REFERENCE + "A1, dipole with one mean turn")
def test_a_dipole_with_a_mean_turn_is_not_the_model() -> None:
    """The short cut misses the peak by 12 %; the curve must not."""
    known = DATA["A1"]
    short_cut = known["naive_dipole_meanturn"]["dpk"]
    curve = straight_linkage(magnet=DISC, winding=COIL, gap=GAP)
    assert short_cut / curve.slope_peak - 1 == pytest.approx(0.1222, abs=5e-5)


@source(Kind.IDENTITY, "an odd linkage: the main lobe on the axis, side lobes of the other sign")
def test_magnet_along_the_motion_has_three_lobes() -> None:
    for magnet in (LYING_ROD, LYING_BLOCK, LYING_RING):
        curve = straight_linkage(magnet=magnet, winding=COIL, gap=GAP)
        assert curve.lobes == 3
        assert curve.path_peak == 0.0
        left, main, right = curve.lobe_heights
        assert main == pytest.approx(-curve.slope_peak)
        assert left == pytest.approx(right, rel=1e-6)
        assert left > 0.05 * curve.slope_peak
        assert float(curve.linkage(3e-3)) == pytest.approx(-float(curve.linkage(-3e-3)))


def test_curves_scale_shift_and_add() -> None:
    curve = straight_linkage(magnet=DISC, winding=COIL, gap=GAP)
    s = np.linspace(-0.2, 0.2, 401)
    assert np.allclose(curve.scaled(-2.0).slope(s), -2 * curve.slope(s), rtol=1e-12, atol=0)
    moved = curve.shifted(9e-3)
    assert np.allclose(moved.slope(s + 9e-3), curve.slope(s), rtol=0, atol=1e-12 * 0.6)
    assert moved.path_peak == pytest.approx(curve.path_peak)
    assert moved.on_axis == pytest.approx(curve.on_axis)
    both = curve.plus(moved)
    # Beyond a table the sum is continued as one curve: 1e-5 of the peak there.
    known = curve.slope(s) + moved.slope(s)
    assert np.abs(both.slope(s) - known).max() < 1e-5 * curve.slope_peak
    inside = np.abs(s) < 60e-3
    assert np.abs(both.slope(s) - known)[inside].max() < 1e-12


def test_a_curve_needs_a_rising_path_about_its_centre() -> None:
    ones = np.ones(4)
    with pytest.raises(OutOfRangeError, match="must rise"):
        LinkageCurve(
            path=np.array([-1.0, 0.5, 0.5, 1.0]), node_flux=ones, node_slope=ones,
            node_curvature=ones,
        )  # fmt: skip
    with pytest.raises(OutOfRangeError, match="centre"):
        LinkageCurve(path=np.arange(1.0, 5.0), node_flux=ones, node_slope=ones, node_curvature=ones)


def test_a_magnet_that_would_hit_the_winding_is_refused() -> None:
    long = replace(BLOCK, along=60e-3)
    with pytest.raises(OutOfRangeError, match="widen the gap"):
        arc_linkage(magnet=long, winding=COIL, gap=0.5e-3, radius=0.2, offset=0.0)


FOUR = {
    "20 x 4 N38": (20e-3, 4e-3, 1.235, (1.38, 0.99, 0.61)),
    "12 x 3 N35": (12e-3, 3e-3, 1.195, (0.57, 0.39, 0.23)),
    "12 x 3 N42": (12e-3, 3e-3, 1.300, (0.62, 0.42, 0.25)),
    "10 x 3 N52": (10e-3, 3e-3, 1.450, (0.51, 0.35, 0.20)),
}
BUILDERS_COIL = WindingShape(n_turns=1100, r_inner=3e-3, r_outer=15e-3, height=10e-3)
BUILDER = "moosteria.blogspot.com, October 2021 (a builder's measurements)"


def builders_peak(name: str, gap: float, count: int = 1) -> float:
    diameter, height, b_r, _ = FOUR[name]
    magnet = MagnetShape(
        round=True, lying=False, b_r=b_r, along=diameter, across=diameter, depth=count * height
    )
    return straight_linkage(magnet=magnet, winding=BUILDERS_COIL, gap=gap).slope_peak


@pytest.mark.parametrize("name", FOUR)
@source(Kind.PUBLISHED, BUILDER + "; EMF per m/s worked from its coil by a stack of loops")
def test_four_magnets_over_one_coil(name: str) -> None:
    """3 %: the printed figures have two digits (2.5 % at 0.20) and come from discrete loops."""
    for gap, printed in zip((3e-3, 5e-3, 8e-3), FOUR[name][3], strict=True):
        assert builders_peak(name, gap) == pytest.approx(printed, rel=0.03)


@source(Kind.MEASURED, BUILDER, printed="12 x 3 N35, 12 x 3 N42, 10 x 3 N52: all about 0.3 V")
def test_grades_differ_less_than_a_tenth_of_a_volt() -> None:
    """Scaled to 0.3 V, the three small magnets all read between 0.25 and 0.35 V."""
    peaks = np.array([builders_peak(name, 5e-3) for name in list(FOUR)[1:]])
    volts = 0.3 * peaks / peaks.mean()
    assert volts.min() > 0.25
    assert volts.max() < 0.35


@source(Kind.MEASURED, BUILDER, printed="20 x 4 N38 0.5 V against about 0.3 V")
def test_the_dipole_moment_does_not_scale_the_signal() -> None:
    """The moment says 3.5 : 1, this coil 2.2 to 2.6 : 1; the builder read 1.67 : 1.

    The reading is low by a third: another gap, or a junction that flattened it. It is no target.
    """
    ratio = builders_peak("20 x 4 N38", 5e-3) / builders_peak("12 x 3 N42", 5e-3)
    moment = (20**2 * 4 * 1.235) / (12**2 * 3 * 1.300)
    assert moment == pytest.approx(3.5, abs=0.05)
    assert 2.2 < ratio < 2.6


@source(Kind.PUBLISHED, BUILDER + "; stacking worked by a stack of loops", printed="x1.57, x1.92")
def test_stacking_helps_less_and_less() -> None:
    """2 %: printed from discrete loops, the gap not stated."""
    one = builders_peak("12 x 3 N35", 5e-3)
    assert builders_peak("12 x 3 N35", 5e-3, 2) / one == pytest.approx(1.57, rel=0.02)
    assert builders_peak("12 x 3 N35", 5e-3, 3) / one == pytest.approx(1.92, rel=0.02)
