"""What a free pass loses in its clamp."""

import math

import numpy as np
import pytest

from calc.clamp_law import ClampLaw, Junction
from calc.pass_braking import pass_braking
from tests.sources import Kind, source

T = np.linspace(0.0, 0.1, 4001)
EMF = 0.8 * np.sin(20 * np.pi * T)


@source(Kind.IDENTITY, "V^2 T / (2 R) over a whole sine; above a knee the integral in closed form")
@pytest.mark.parametrize("v_knee", [0.2, 0.6])
def test_braking_of_a_sine(v_knee: float) -> None:
    """1e-5: the samples meet the knee between them."""
    start = math.asin(v_knee / 0.8)
    squared = 0.5 * (math.pi - 2 * start) + 0.5 * math.sin(2 * start)
    lobe = (0.64 * squared - 0.8 * v_knee * 2 * math.cos(start)) / (20 * math.pi) / 50.0
    knee = ClampLaw(v_constant=v_knee, resistance=10.0)
    found = pass_braking(t=T, emf=EMF, clamp=knee, v_supply=3.0, r_coil=40.0)
    assert found == pytest.approx(lobe, rel=1e-5)
    across = ClampLaw(v_constant=3.0 + v_knee, resistance=10.0, from_supply=True)
    found = pass_braking(t=T, emf=EMF, clamp=across, v_supply=3.0, r_coil=40.0)
    assert found == pytest.approx(lobe, rel=1e-5)


@source(Kind.IDENTITY, "V^2 T / (2 R) over a whole sine")
def test_a_resistor_takes_both_lobes() -> None:
    found = pass_braking(
        t=T, emf=EMF, clamp=ClampLaw(resistance=10.0), v_supply=3.0, r_coil=40.0
    )  # fmt: skip
    assert found == pytest.approx(0.64 * 0.1 / 2 / 50.0, rel=1e-9)


@source(Kind.IDENTITY, "the current that is found obeys Kirchhoff's law at a steady EMF")
@pytest.mark.parametrize("v", [0.3, 0.9, 6.0])
def test_current_of_a_diode(v: float) -> None:
    diode = ClampLaw(junctions=(Junction(v_log=0.045, i_log=2.5e-9),), resistance=0.6)
    t = np.array([0.0, 1.0])
    lost = pass_braking(t=t, emf=np.array([v, v]), clamp=diode, v_supply=3.0, r_coil=30.0)
    current = 2 * lost / v
    assert float(diode.voltage(current)) + 30.0 * current == pytest.approx(v, rel=1e-7)
