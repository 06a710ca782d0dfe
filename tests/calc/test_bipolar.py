"""Bipolar and MOSFET switches against data-sheet limits and worked examples."""

import numpy as np
import pytest

from calc.bipolar import (
    base_current,
    base_resistor,
    base_resistor_for_current,
    base_resistor_least,
    forced_gain,
    pin_current,
)
from calc.calculator import OutOfRangeError
from calc.mosfet import on_drop
from calc.switch_law import SwitchLaw, saturation_drop
from tests.sources import Kind, source


@source(Kind.FROM_MEMORY, "Horowitz and Hill, The Art of Electronics, 2nd ed., section 2.02")
def test_lamp_at_ten_volts() -> None:
    """1 kohm from 10 V: 9.4 mA of base current, a forced gain of 10.6 at 100 mA."""
    i_b = pin_current(v_pin=10.0, r_pin=0.0, r_b=1000.0, v_be=0.6)
    assert i_b == pytest.approx(9.4e-3, abs=0.05e-3)
    assert forced_gain(i_c=0.1, i_b=i_b) == pytest.approx(10.6, abs=0.05)


@source(Kind.PUBLISHED, "2N2222A data sheet: 150 mA with 15 mA, V_BE(sat) at most 1.2 V")
def test_base_resistor_of_a_2n2222a() -> None:
    r_b = base_resistor(v_pin=2.9, r_pin=0.0, v_be_sat=1.2, i_c=0.15, beta_forced=10.0)
    assert r_b == pytest.approx(113.3, abs=0.05)


@source(Kind.PUBLISHED, "2N3904 data sheet: 10 mA with 1 mA, V_BE(sat) at most 0.85 V")
def test_base_resistor_of_a_2n3904() -> None:
    r_b = base_resistor(v_pin=2.9, r_pin=0.0, v_be_sat=0.85, i_c=0.01, beta_forced=10.0)
    assert r_b == pytest.approx(2050.0, abs=5)


@source(Kind.PUBLISHED, "question-and-answer thread on relay drive (newbedev.com copy)")
def test_base_resistor_of_a_relay_driver() -> None:
    """133 mA at the guaranteed gain of 30: (5 - 0.95) V / 4.43 mA = 914 ohm as printed 913.

    Worst case the coil is 81 ohm: 148 mA, 4.94 mA, 820 ohm from 5 V and 476 ohm from 3.3 V.
    """
    nominal = base_resistor(v_pin=5.0, r_pin=0.0, v_be_sat=0.95, i_c=0.133, beta_forced=30.0)
    assert nominal == pytest.approx(914, abs=1)
    worst = {"r_pin": 0.0, "v_be_sat": 0.95, "i_c": 12 / 81, "beta_forced": 30.0}
    assert base_resistor(v_pin=5.0, **worst) == pytest.approx(820, abs=1)
    assert base_resistor(v_pin=3.3, **worst) == pytest.approx(476, abs=1)
    at_ten = base_resistor(v_pin=3.3, r_pin=0.0, v_be_sat=0.95, i_c=12 / 81, beta_forced=10.0)
    assert at_ten < base_resistor_least(v_pin=3.3, r_pin=0.0, v_be_min=0.65, i_pin_max=0.012)


@source(Kind.IDENTITY, "the resistor for a current gives that current")
def test_resistor_and_current_are_each_others_inverse() -> None:
    rest = {"v_pin": 3.1, "r_pin": 60.0, "v_be": 0.82, "g_pull_down": 1 / 47e3}
    r_b = base_resistor_for_current(i_b=3.7e-3, **rest)
    assert base_current(r_b=r_b, **rest) == pytest.approx(3.7e-3, rel=1e-12)


@source(Kind.PUBLISHED, "forum answer on an IRLZ44N at 3.3 V: 0.2 ohm at 1.5 A is 0.45 W")
def test_heat_of_a_mosfet_that_is_barely_on() -> None:
    assert on_drop(i_d=1.5, r_ds_on=0.2) * 1.5 == pytest.approx(0.45, abs=0.005)
    # A pendulum coil's 30 to 150 mA lose little even so.
    assert on_drop(i_d=0.15, r_ds_on=0.25) < 0.04


@source(Kind.IDENTITY, "the law's drop is the closed form inside saturation, and rises beyond")
def test_switch_law_is_the_closed_form() -> None:
    law = SwitchLaw(v_thermal=0.0257, beta_f=90.0, beta_r=4.0, i_b=2e-3, resistance=0.7)
    for i_c in (0.001, 0.02, 0.15):
        closed = saturation_drop(
            i_c=i_c, i_b=2e-3, beta_f=90.0, beta_r=4.0, v_thermal=0.0257, r_series=0.7
        )
        assert float(law.drop(i_c)) == pytest.approx(closed, rel=1e-12)
    assert law.i_limit == pytest.approx(0.18)
    assert float(law.drop(0.18 * (1 + 1e-6))) > 20
    i = np.linspace(-0.01, 0.179, 400)
    steps = np.diff(law.drop(i)) / np.diff(i)
    middle = law.slope((i[1:] + i[:-1]) / 2)
    assert np.allclose(steps[:380], middle[:380], rtol=2e-2)


@pytest.mark.parametrize(
    "bad",
    [{"v_pin": 0.7}, {"i_c": 0.0}, {"beta_forced": -1.0}, {"r_pin": -5.0}, {"i_c": float("nan")}],
)
def test_impossible_base_drives_are_refused(bad: dict[str, float]) -> None:
    good = {"v_pin": 3.0, "r_pin": 50.0, "v_be_sat": 0.8, "i_c": 0.05, "beta_forced": 10.0}
    with pytest.raises(OutOfRangeError):
        base_resistor(**{**good, **bad})
