"""Dividers: loaded value, source resistance, drain, injection."""

import pytest

from calc.calculator import OutOfRangeError
from calc.divider import divider, injection_current, leakage_shift, loading_loss
from tests.sources import Kind, source

INF = float("inf")


@source(Kind.FROM_MEMORY, "Horowitz & Hill, The Art of Electronics, ch. 1 exercise: 30 V, 10k/10k,"
        " load 10k", printed="open 15 V; loaded 10 V; 5 k")  # fmt: skip
def test_equal_divider_loaded_with_its_own_resistor() -> None:
    found = divider(v_supply=30.0, r_upper=10e3, r_lower=10e3, r_load=10e3)
    assert found.v_open == 15.0
    assert found.v_loaded == pytest.approx(10.0, rel=1e-12)
    assert found.r_source == pytest.approx(5e3, rel=1e-12)


@source(Kind.PUBLISHED, "a public firmware's comments (github.com/dehne): two 47 k from 3.3 V,"
        " meant to give 1.65 V, into a reference pin of about 32 k (from memory)",
        printed="1.65*32/55.5 = 0.951 V; one count 0.93 mV, not 1.61")  # fmt: skip
def test_reference_pin_pulls_its_divider_down() -> None:
    found = divider(v_supply=3.3, r_upper=47e3, r_lower=47e3, r_load=32e3)
    assert found.v_open == pytest.approx(1.65, abs=0.005)
    assert found.v_loaded == pytest.approx(0.951, abs=0.0005)
    assert found.v_loaded / 1024 == pytest.approx(0.93e-3, abs=0.005e-3)
    assert found.v_open / 1024 == pytest.approx(1.61e-3, abs=0.005e-3)
    stiff = divider(v_supply=3.3, r_upper=1e3, r_lower=1e3, r_load=32e3)
    assert stiff.v_loaded == pytest.approx(1.625, abs=0.0005)
    assert stiff.i_drain == pytest.approx(1.65e-3, rel=0.02)


@source(Kind.PUBLISHED, "four public threads on ADC source impedance",
        printed="100k||100k = 50 k; 2M||1M = 667 k; 475 k||402 k = 217 k; 4.2 V/464 ohm = 9.05 mA;"
        " 4.2/200 k = 21 uA")  # fmt: skip
def test_source_resistance_is_the_parallel_value() -> None:
    def pair(upper: float, lower: float) -> float:
        return divider(v_supply=4.2, r_upper=upper, r_lower=lower, r_load=INF).r_source

    assert pair(100e3, 100e3) == pytest.approx(50e3, rel=1e-12)
    assert pair(2e6, 1e6) == pytest.approx(667e3, abs=500)
    # The printed 217 k is cut off, not rounded: 217.7 k.
    assert pair(475e3, 402e3) == pytest.approx(217.7e3, abs=50)
    stiff = divider(v_supply=4.2, r_upper=232.0, r_lower=232.0, r_load=INF)
    assert stiff.i_drain == pytest.approx(9.05e-3, abs=0.005e-3)
    light = divider(v_supply=4.2, r_upper=100e3, r_lower=100e3, r_load=INF)
    assert light.i_drain == pytest.approx(21e-6, abs=0.5e-6)


@source(
    Kind.PUBLISHED,
    "two public forum threads on coil pickups",
    printed="50 k load on 35 ohm 0.07 %; on 10 k 17 %; two 100 k across 3.3 V 16.5 uA",
)
def test_bias_divider_as_a_load_on_a_coil() -> None:
    assert loading_loss(r_source=35.0, r_load=50e3) == pytest.approx(0.0007, abs=0.00005)
    assert loading_loss(r_source=10e3, r_load=50e3) == pytest.approx(0.17, abs=0.005)
    bias = divider(v_supply=3.3, r_upper=100e3, r_lower=100e3, r_load=INF)
    assert bias.i_drain == pytest.approx(16.5e-6, abs=0.05e-6)
    assert bias.i_drain * 8766 == pytest.approx(0.14, abs=0.005)


@source(Kind.IDENTITY, "between its clamps a pin takes nothing; beyond, Ohm's law")
def test_injection_starts_at_the_clamp() -> None:
    inside = {"v_high": 3.6, "v_low": -0.3, "ratio": 0.5, "v_bias": 0.0, "r_series": 10e3}
    assert injection_current(v_node=7.0, **inside) == 0.0
    assert injection_current(v_node=9.2, **inside) == pytest.approx(1e-4, rel=1e-12)
    assert injection_current(v_node=-2.6, **inside) == pytest.approx(-1e-4, rel=1e-12)


def test_impossible_dividers_are_refused() -> None:
    with pytest.raises(OutOfRangeError, match="r_lower must be above zero"):
        divider(v_supply=3.0, r_upper=1e3, r_lower=0.0, r_load=INF)
    with pytest.raises(OutOfRangeError, match="v_high must exceed v_low"):
        injection_current(v_node=1, v_high=0.0, v_low=0.0, ratio=1, v_bias=0, r_series=1e3)
    with pytest.raises(OutOfRangeError, match="r_source must not be negative"):
        leakage_shift(i_leakage=1e-6, r_source=-1.0)
