"""EMF and force share one slope; a pass has its lobes where the wave has them."""

import numpy as np
import pytest

from calc.calculator import OutOfRangeError
from calc.emf import coil_force, emf, emf_burst
from calc.linkage import straight_linkage
from calc.linkage_parts import MagnetShape, WindingShape
from calc.magnet import remanence_at_temperature, tilted_clearance
from tests.sources import Kind, source


@source(Kind.IDENTITY, "mechanical power is current times the EMF that it works against")
def test_power_balances() -> None:
    slope, speed, current = -0.37, 0.42, -0.06
    power = coil_force(linkage_slope=slope, i_coil=current) * speed
    assert power == pytest.approx(-current * emf(linkage_slope=slope, speed=speed))


@source(Kind.IDENTITY, "u exp(-u^2/2) has its extremes of exp(-1/2) at u = 1 and -1")
def test_burst_of_a_known_wave() -> None:
    """1e-6 and 1e-4: a parabola through samples a hundredth of the wave apart."""
    tau = 23e-3
    t = np.linspace(-0.2, 0.2, 1741)
    burst = emf_burst(t=t, flux_rate=-0.3 * t / tau * np.exp(-((t / tau) ** 2) / 2))
    assert burst.emf_peak == pytest.approx(0.3 * np.exp(-0.5), rel=1e-6)
    assert burst.spacing == pytest.approx(2 * tau, rel=1e-4)
    assert abs(burst.t_peak) == pytest.approx(tau, rel=1e-4)
    assert burst.lobes == 2


@source(
    Kind.REFERENCE_LIBRARY,
    "independent reference (NumPy, SciPy, magpylib, ngspice), case A1 at 0.3 m/s: "
    "0.179463138 V, lobes 2 x 8.27021 mm apart",
)
def test_pass_at_constant_speed() -> None:
    """1e-6: samples of 0.2 ms on a lobe of 28 ms."""
    curve = straight_linkage(
        magnet=MagnetShape(round=True, lying=False, b_r=1.2, along=10e-3, across=10e-3, depth=5e-3),
        winding=WindingShape(n_turns=1000, r_inner=5e-3, r_outer=12.5e-3, height=8e-3),
        gap=4e-3,
    )
    t = np.linspace(-0.25, 0.25, 2501)
    burst = emf_burst(t=t, flux_rate=0.3 * curve.slope(0.3 * t))
    assert burst.emf_peak == pytest.approx(0.17946313834168195, rel=1e-6)
    assert burst.spacing == pytest.approx(2 * 8.270210632528861e-3 / 0.3, rel=1e-5)


def test_burst_refuses_what_is_no_pass() -> None:
    t = np.linspace(-1.0, 1.0, 50)
    with pytest.raises(OutOfRangeError, match="nothing is induced"):
        emf_burst(t=t, flux_rate=0 * t)
    with pytest.raises(OutOfRangeError, match="equal steps"):
        emf_burst(t=t**3, flux_rate=t)


@source(Kind.FROM_MEMORY, "neodymium loses 0.12 % of its remanence a kelvin")
def test_a_warm_magnet_is_weaker() -> None:
    warm = remanence_at_temperature(b_r=1.25, alpha_b_r=-0.0012, temperature=313.15)
    assert warm / 1.25 == pytest.approx(0.976)
    with pytest.raises(OutOfRangeError, match="must leave some"):
        remanence_at_temperature(b_r=1.25, alpha_b_r=-0.01, temperature=400.0)


@source(Kind.IDENTITY, "the leading edge of a tilting magnet swings on its own circle")
def test_the_edge_of_a_tilting_magnet_dips() -> None:
    gap, radius, half = 2.5e-3, 0.11, 9e-3
    angle = np.linspace(-0.4, 0.4, 20001)
    edge = gap + radius - radius * np.cos(angle) + half * np.sin(angle)
    assert tilted_clearance(gap=gap, radius=radius, half=half) == pytest.approx(
        edge.min(), rel=1e-6
    )
