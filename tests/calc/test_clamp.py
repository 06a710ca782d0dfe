"""Clamp and supply against measured and printed kicks, releases and drains."""

import numpy as np
import pytest

from calc.calculator import OutOfRangeError
from calc.clamp import (
    release_time,
    resistor_peak,
    resistor_release_time,
    resistor_standing_current,
    standing_current,
)
from calc.clamp_law import ClampLaw, Junction
from calc.junction_fit import diode_law
from calc.supply import mean_current, pulse_duty, reservoir_dip, stuck_power, terminal_voltage
from tests.sources import Kind, source


@pytest.mark.parametrize(
    ("r_clamp", "printed"), [(680, 167), (470, 115), (330, 81), (220, 54), (100, 24.6), (82, 20.1)]
)
@source(Kind.FROM_MEMORY, "relay maker's note on coil suppression, 13.5 V on 55 ohm, table")
def test_kick_with_a_resistor(r_clamp: float, printed: float) -> None:
    """0.5 % or one unit: the table is rounded."""
    kick = resistor_peak(i_coil=13.5 / 55, r_clamp=r_clamp)
    assert kick == pytest.approx(printed, rel=5e-3, abs=0.5)


@source(Kind.MEASURED, "electro-tech-online.com thread 167257, 12 V car relay with 680 ohm")
def test_measured_kick_of_a_relay() -> None:
    """About 65 V read; 68 V computed: 10 % for the coil's resistance, given as about 120 ohm."""
    assert resistor_peak(i_coil=12 / 120, r_clamp=680.0) == pytest.approx(65, rel=0.1)


@pytest.mark.parametrize(
    ("v_clamp", "whole", "tenth"),
    [(0.7, 5.4538, 3.6792), (10.7, 1.3198, 1.1411), (24.7, 0.67987, 0.6005)],
)
@source(Kind.IDENTITY, "closed form (L/R) ln(1 + I R / V), worked elsewhere")
def test_release_against_a_constant_voltage(v_clamp: float, whole: float, tenth: float) -> None:
    coil = {"i_coil": 0.2, "r_coil": 50.0, "l_coil": 0.1, "v_clamp": v_clamp}
    assert release_time(**coil, fraction=0.0) * 1e3 == pytest.approx(whole, abs=5e-5)
    assert release_time(**coil, fraction=0.1) * 1e3 == pytest.approx(tenth, abs=5e-5)


@pytest.mark.parametrize(
    ("count", "share"), [(1, 0.63212), (2, 0.86466), (3, 0.95021), (4, 0.98168), (5, 0.99326)]
)
@source(Kind.IDENTITY, "1 - exp(-n), textbook table of the rise of a coil's current")
def test_release_through_a_resistor_counts_time_constants(count: int, share: float) -> None:
    t = resistor_release_time(r_coil=30.0, l_coil=0.012, r_clamp=90.0, fraction=1 - share)
    assert t / (0.012 / 120) == pytest.approx(count, abs=1e-3)


@source(Kind.MEASURED, "sound.westhost.com, article on a rebuilt battery clock")
def test_resistor_on_a_battery_clock() -> None:
    """1.7 mA into 5.1 kohm: 8.7 V above the supply; 0.29 mA while on, 34 uA on average.

    The mean of the pulses, "less than 200 uA", is 199 uA for a rectangle.
    """
    assert resistor_peak(i_coil=1.7e-3, r_clamp=5100.0) == pytest.approx(8.7, abs=0.05)
    standing = resistor_standing_current(v_coil=1.5, r_clamp=5100.0, duty=78 / 667)
    assert standing == pytest.approx(34e-6, abs=0.5e-6)
    pulses = mean_current(q_event=1.7e-3 * 78e-3, interval=0.667)
    assert pulses == pytest.approx(199e-6, abs=0.5e-6)
    assert standing / pulses == pytest.approx(0.17, abs=0.005)


@pytest.mark.parametrize(("pwm", "printed"), [(60, 5.6), (100, 9.4), (106, 10.0), (255, 24.0)])
@source(Kind.PUBLISHED, "public open-hardware repository's notes on coils and electronics")
def test_duty_of_two_pulses_a_second(pwm: int, printed: float) -> None:
    """Its claim of 10 % holds at the usual setting only; full power is 24 %."""
    share = pulse_duty(pulse_width=0.12, interval=1.0, pulses=2.0, duty=pwm / 255)
    assert 100 * share == pytest.approx(printed, abs=0.05)


@source(Kind.PUBLISHED, "textbook: 1.5 V behind 0.2 ohm at 0.5 A gives 1.40 V")
def test_terminal_voltage() -> None:
    assert terminal_voltage(v_open=1.5, r_source=0.2, i_load=0.5) == pytest.approx(1.4, abs=5e-3)


@source(Kind.IDENTITY, "a small reservoir changes nothing, a huge one gives q / c")
def test_reservoir_between_its_limits() -> None:
    load = {"i_pulse": 0.1, "pulse_width": 0.01, "r_source": 2.0}
    assert reservoir_dip(**load, c_reservoir=1e-7) == pytest.approx(0.2, rel=1e-9)
    assert reservoir_dip(**load, c_reservoir=10.0) == pytest.approx(1e-4, rel=1e-3)


def test_stuck_power_is_ohms_law() -> None:
    assert stuck_power(v_coil=4.5, r_coil=45.0) == pytest.approx(0.45)


@source(Kind.IDENTITY, "points of a curve give the curve back")
def test_diode_law_passes_through_its_own_curve() -> None:
    """5e-6: the fit takes ln(i / i_s), the law ln(1 + i / i_s); at 0.1 mA that is 3e-5 of i."""
    true = ClampLaw(junctions=(Junction(v_log=0.046, i_log=3e-9),), resistance=0.6)
    i = np.array([1e-4, 1e-3, 5e-3, 0.02, 0.1, 0.3])
    fitted = diode_law(i_f=i, v_f=true.voltage(i), v_thermal=0.0257)
    again = ClampLaw(junctions=(fitted.junction,), resistance=fitted.resistance)
    between = np.geomspace(1e-4, 0.3, 40)
    assert np.allclose(again.voltage(between), true.voltage(between), rtol=5e-6)


@source(Kind.FROM_MEMORY, "1N4148 typical forward curve, Vishay and NXP")
def test_diode_law_of_a_small_diode() -> None:
    """0.5 V at 0.1 mA to 0.95 V at 100 mA, read from a drawn curve: within 30 mV."""
    i = np.array([1e-4, 1e-3, 5e-3, 1e-2, 0.1])
    v = np.array([0.5, 0.6, 0.7, 0.72, 0.95])
    fitted = diode_law(i_f=i, v_f=v, v_thermal=0.0257)
    law = ClampLaw(junctions=(fitted.junction,), resistance=fitted.resistance)
    assert np.abs(law.voltage(i) - v).max() < 0.03


def test_single_point_is_met() -> None:
    fitted = diode_law(i_f=np.array([1.0]), v_f=np.array([1.1]), v_thermal=0.0257)
    law = ClampLaw(junctions=(fitted.junction,))
    assert float(law.voltage(1.0)) == pytest.approx(1.1, rel=1e-9)
    assert 0.6 < float(law.voltage(0.01)) < 1.0


@pytest.mark.parametrize("bad", [{"v_clamp": 0.0}, {"fraction": 1.5}, {"l_coil": -1.0}])
def test_impossible_releases_are_refused(bad: dict[str, float]) -> None:
    good = {"i_coil": 0.2, "r_coil": 50.0, "l_coil": 0.1, "v_clamp": 0.7, "fraction": 0.0}
    with pytest.raises(OutOfRangeError):
        release_time(**{**good, **bad})


@pytest.mark.parametrize("v_supply", [3.0, 4.5, 6.0])
@source(Kind.IDENTITY, "what supply, zener and resistance hold adds up to nothing")
def test_standing_current_obeys_the_loop(v_supply: float) -> None:
    zener = ClampLaw(
        v_constant=1.8, junctions=(Junction(v_log=0.45, i_log=5e-5),), from_supply=True
    )
    i_rest = standing_current(clamp=zener, v_supply=v_supply, r_loop=36.0)
    assert i_rest > 0
    assert float(zener.voltage(i_rest)) + 36 * i_rest == pytest.approx(v_supply, rel=1e-9)


@source(Kind.IDENTITY, "a diode to the rail and a zener above it carry nothing at rest")
def test_a_clamp_that_blocks_has_no_standing_current() -> None:
    for clamp in (
        ClampLaw(v_constant=0.7),
        ClampLaw(v_constant=5.1, from_supply=True),
        ClampLaw(resistance=10.0),
    ):
        assert standing_current(clamp=clamp, v_supply=4.5, r_loop=36.0) == 0
