"""The handbooks' worked coils, in inches and microhenries, against the quadrature."""

import pytest

from calc.inductance import self_inductance
from calc.linkage_parts import WindingShape
from tests.sources import Kind, source

INCH = 25.4e-3
THIN = 1e-3
"""Thickness over radius that stands for a single layer: thinner changes nothing in four digits."""


def single_layer(n_turns: int, radius: float, length: float) -> WindingShape:
    half = THIN * radius * INCH / 2
    return WindingShape(
        n_turns=n_turns, r_inner=radius * INCH - half, r_outer=radius * INCH + half,
        height=length * INCH,
    )  # fmt: skip


@source(
    Kind.FROM_MEMORY,
    "radio amateurs' handbook, worked single-layer coil, from memory",
    printed="48 turns, 0.75 in diameter, 1.5 in long: 17.6 uH",
)
def test_worked_coil_of_one_layer() -> None:
    """1 %: what its formula is good for; we give 17.71, 0.6 % more."""
    coil = single_layer(48, 0.375, 1.5)
    assert self_inductance(winding=coil) == pytest.approx(17.6e-6, rel=0.01)


@source(
    Kind.FROM_MEMORY,
    "H. A. Wheeler, Simple inductance formulas for radio coils, Proc. IRE 16 (1928) 1398-1400, "
    "formula from memory; worked by hand",
    printed="radius 0.5 in, length 1 in, 100 turns: 172.41 uH; in SI form 172.89 uH",
)
def test_wheelers_single_layer() -> None:
    """1 % is what the formula claims; both of its forms enclose 172.50."""
    coil = single_layer(100, 0.5, 1.0)
    assert self_inductance(winding=coil) == pytest.approx(172.41e-6, rel=0.01)
    assert 172.41e-6 < self_inductance(winding=coil) < 172.89e-6


@source(
    Kind.FROM_MEMORY,
    "H. A. Wheeler, Simple inductance formulas for radio coils, Proc. IRE 16 (1928) 1398-1400, "
    "formula from memory; worked by hand",
    printed="mean radius 1 in, length 1 in, depth 0.5 in, 1000 turns: 40.0 mH",
)
def test_wheelers_many_layers() -> None:
    """1 % is what the formula claims; we give 40.11 mH."""
    coil = WindingShape(
        n_turns=1000, r_inner=0.75 * INCH, r_outer=1.25 * INCH, height=INCH
    )  # fmt: skip
    assert self_inductance(winding=coil) == pytest.approx(40.0e-3, rel=0.01)
