"""Inductance against independent references, published coils and identities."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calc.calculator import OutOfRangeError
from calc.inductance import (
    coupling_factor,
    mutual_inductance,
    offset_mutual_inductance,
    self_inductance,
)
from calc.inductance_checks import wheeler_inductance, wound_inductance
from calc.linkage_parts import WindingShape
from tests.sources import Kind, source

DATA = json.loads((Path(__file__).parents[1] / "data" / "inductance_reference.json").read_text())
CASES = ("A1_coil", "long_thin", "Brooks_c10")
OLD_MU_0 = 4e-7 * np.pi
"""The exact value before 2019, with which the reference was made."""


def coil_of(case: dict[str, Any]) -> WindingShape:
    return WindingShape(n_turns=case["N"], r_inner=case["R1"], r_outer=case["R2"], height=case["h"])


@pytest.mark.parametrize("name", CASES)
@source(
    Kind.REFERENCE_LIBRARY,
    "independent reference (NumPy, SciPy, magpylib, ngspice), cases A1_coil, long_thin, "
    "Brooks_c10, good to 1e-9",
)
def test_uniform_winding(name: str) -> None:
    case = DATA[name]
    found = self_inductance(winding=coil_of(case), mu_0=OLD_MU_0)
    assert found == pytest.approx(case["L_exact_H"], rel=1e-9)


@pytest.mark.parametrize("name", ["A1_coil", "long_thin"])
@source(
    Kind.REFERENCE_LIBRARY,
    "independent reference (NumPy, SciPy, magpylib, ngspice), round-wire sums of A1_coil and "
    "long_thin",
)
def test_round_turns_add_up(name: str) -> None:
    """1e-9, and within 0.2 % of the uniform winding, as the reference found."""
    case = DATA[name]
    layers, turns = case["layers_turns"]
    found = wound_inductance(
        n_layers=layers, turns_per_layer=turns, r_inner=case["R1"], r_outer=case["R2"],
        height=case["h"], d_wire=case["wire_d_m"], mu_0=OLD_MU_0,
    )  # fmt: skip
    assert found == pytest.approx(case["L_round_wire_filaments_H"], rel=1e-9)
    assert found == pytest.approx(self_inductance(winding=coil_of(case)), rel=2e-3)


@source(
    Kind.FROM_MEMORY,
    "F. W. Grover, Inductance Calculations, 1946: coil of square section, mean radius 1.5 sides",
    printed="1.6994e-6 a N^2",
)
def test_brooks_coil() -> None:
    """3e-5: half the last printed digit."""
    coil = WindingShape(n_turns=640, r_inner=14e-3, r_outer=28e-3, height=14e-3)
    printed = 1.6994e-6 * 21e-3 * 640**2
    assert self_inductance(winding=coil) == pytest.approx(printed, rel=3e-5)


@pytest.mark.parametrize("name", CASES)
@source(
    Kind.PUBLISHED,
    "H. A. Wheeler, Simple inductance formulas for radio coils, Proc. IRE 16, 1398 (1928), "
    "formula from memory: good to about 1 % for short coils of many layers",
)
def test_handbook_formula_is_a_band(name: str) -> None:
    """1 % where the section is square-like; 5 % for one four times longer than wide."""
    case = DATA[name]
    handbook = wheeler_inductance(
        n_turns=float(case["N"]), r_inner=case["R1"], r_outer=case["R2"], height=case["h"]
    )
    assert handbook == pytest.approx(case["wheeler1928_multilayer_inch_H"], rel=1e-8)
    band = 0.05 if name == "long_thin" else 0.01
    assert handbook == pytest.approx(self_inductance(winding=coil_of(case)), rel=band)


@pytest.mark.parametrize("share", [0.3, 0.5, 0.85])
@source(Kind.IDENTITY, "L of the whole = L1 + L2 + 2 M, cut across or along the axis")
def test_two_halves_make_the_whole(share: float) -> None:
    whole = WindingShape(n_turns=1000, r_inner=4e-3, r_outer=11e-3, height=9e-3)
    upper = replace(whole, n_turns=1000 * share, height=9e-3 * share)
    lower = replace(whole, n_turns=1000 * (1 - share), height=9e-3 * (1 - share))
    total = self_inductance(winding=upper) + self_inductance(winding=lower)
    total += 2 * mutual_inductance(one=upper, other=lower, distance=0.0)
    assert total == pytest.approx(self_inductance(winding=whole), rel=1e-9)
    middle = 4e-3 + 7e-3 * share
    inner = replace(whole, n_turns=1000 * share, r_outer=middle)
    outer = replace(whole, n_turns=1000 * (1 - share), r_inner=middle)
    total = self_inductance(winding=inner) + self_inductance(winding=outer)
    total += 2 * offset_mutual_inductance(one=inner, other=outer, drop=0.0, position=0.0)
    assert total == pytest.approx(self_inductance(winding=whole), rel=1e-9)


@source(Kind.IDENTITY, "far apart, two coils act on each other as dipoles")
def test_far_apart_two_windings_are_dipoles() -> None:
    """1e-3 side by side at fifty radii; 3e-3 on one axis, where the heights count too."""
    one = WindingShape(n_turns=300, r_inner=3e-3, r_outer=6e-3, height=4e-3)
    other = WindingShape(n_turns=200, r_inner=2e-3, r_outer=4e-3, height=3e-3)

    def area(w: WindingShape) -> float:
        cubes = (w.r_outer**3 - w.r_inner**3) / 3 / (w.r_outer - w.r_inner)
        return np.pi * w.n_turns * cubes

    far = 0.3
    beside = offset_mutual_inductance(one=one, other=other, drop=0.0, position=far)
    dipole = 1.25663706127e-6 * area(one) * area(other) / (4 * np.pi * far**3)
    assert beside == pytest.approx(-dipole, rel=1e-3)
    room = far - (one.height + other.height) / 2
    facing = mutual_inductance(one=one, other=other, distance=room)
    assert facing == pytest.approx(2 * dipole, rel=3e-3)


@source(Kind.IDENTITY, "two windings wound together as one have the turns' ratio of its L")
def test_bifilar_windings() -> None:
    drive = WindingShape(n_turns=400, r_inner=4e-3, r_outer=9e-3, height=7e-3)
    pickup = replace(drive, n_turns=1200)
    mutual = offset_mutual_inductance(one=drive, other=pickup, drop=0.0, position=0.0)
    assert mutual == pytest.approx(3 * self_inductance(winding=drive), rel=1e-12)
    # Uniform winding on uniform winding: nothing is left uncoupled but rounding.
    factor = coupling_factor(
        mutual=mutual * (1 - 1e-12), l_one=self_inductance(winding=drive),
        l_other=self_inductance(winding=pickup),
    )  # fmt: skip
    assert factor == pytest.approx(1.0)


@source(Kind.IDENTITY, "the mutual inductance does not know which coil comes first")
def test_mutual_inductance_is_mutual() -> None:
    one = WindingShape(n_turns=300, r_inner=3e-3, r_outer=6e-3, height=4e-3)
    other = WindingShape(n_turns=200, r_inner=7e-3, r_outer=9e-3, height=2e-3)
    for drop, position in ((1e-3, 0.0), (-1.5e-3, 4e-3), (9e-3, 12e-3)):
        there = offset_mutual_inductance(one=one, other=other, drop=drop, position=position)
        back = offset_mutual_inductance(one=other, other=one, drop=-drop, position=position)
        assert there == pytest.approx(back, rel=1e-8)


def test_impossible_coupling_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="must not exceed"):
        coupling_factor(mutual=8e-3, l_one=12e-3, l_other=3e-3)
    with pytest.raises(OutOfRangeError, match="must fit its cell"):
        wound_inductance(
            n_layers=20, turns_per_layer=40, r_inner=4e-3, r_outer=11e-3, height=9e-3,
            d_wire=0.4e-3,
        )  # fmt: skip
