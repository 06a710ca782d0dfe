"""How long cells last."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from calc.calculator import OutOfRangeError
from calc.cell_charge import (
    charge_share_at_cutoff,
    charge_share_at_load,
    self_discharge_at,
)
from calc.cell_life import cell_life, charge_life, mean_current_for_life, shelf_limited_life
from calc.supply import terminal_voltage
from tests.sources import Kind, source

HOUR = 3600.0
YEAR = 8766 * HOUR
AH = 3600.0
CLOCK = "a transistor pendulum clock measured at mb.nawcc.org thread 142468"


@pytest.mark.parametrize(
    ("q_ah", "loss", "years"),
    [(8, None, 17.2), (8, 0.03, 13.9), (8, 0.05, 12.4), (12, None, 25.8), (12, 0.03, 19.1)],
)
@source(
    Kind.IDENTITY,
    f"{CLOCK}, 53 uA, life reworked",
    printed="17.2 yr; with 3 %/yr 13.9 yr; 5 %: 12.4 yr; D cell 25.8 -> 19.1 yr",
)
def test_life_at_53_microampere(q_ah: float, loss: float | None, years: float) -> None:
    charge = q_ah * AH
    if loss is None:
        life = charge_life(charge=charge, i_mean=53e-6)
    else:
        life = cell_life(charge=charge, i_mean=53e-6, self_discharge=loss / YEAR)
    assert life / YEAR == pytest.approx(years, abs=0.05)
    for shelf in (5, 10):
        assert shelf_limited_life(life=life, shelf_life=shelf * YEAR) == shelf * YEAR


@pytest.mark.parametrize(
    ("q_ah", "plain", "with_loss", "digit"), [(8, 4.6, 4.3, 0.1), (12, 6.9, 6.25, 0.1)]
)
@source(
    Kind.MEASURED,
    "sound.westhost.com, a rebuilt battery clock: 1.7 mA for 78 ms every 667 ms; life reworked",
    printed="less than 200 uA; C 4.6 yr (4.3 with 3 %), D 6.9 (6.25)",
)
def test_life_of_a_rebuilt_battery_clock(
    q_ah: float, plain: float, with_loss: float, digit: float
) -> None:
    """The rectangle of the measured pulse is 199 uA, the measured mean a little less."""
    i_mean = 1.7e-3 * 78e-3 / 667e-3
    assert 1e6 * i_mean == pytest.approx(199, abs=0.5)
    life = charge_life(charge=q_ah * AH, i_mean=i_mean)
    assert life / YEAR == pytest.approx(plain, abs=0.5 * digit)
    life = cell_life(charge=q_ah * AH, i_mean=i_mean, self_discharge=0.03 / YEAR)
    assert life / YEAR == pytest.approx(with_loss, abs=0.5 * digit)


@source(
    Kind.IDENTITY,
    "public threads on idle drain, reworked",
    printed="36 Wh; 2500 d, so 1000 d is the self-discharge limit",
)
def test_idle_drain_of_a_converter_is_compared_in_energy() -> None:
    """Charge of an energy at one voltage: watt-hours over volts."""
    pack = 42 * 12 * 3e-3 * 24 * HOUR
    assert pack / HOUR == pytest.approx(36, abs=0.5)
    assert pack / HOUR / 7 == pytest.approx(5.2, abs=0.05)
    at_12_volts = charge_life(charge=pack / 12, i_mean=50e-6) / (24 * HOUR)
    assert at_12_volts == pytest.approx(2500, rel=0.02)
    lost = 1 / (1000 * 24 * HOUR)
    both = cell_life(charge=pack / 12, i_mean=50e-6, self_discharge=lost)
    assert both < shelf_limited_life(life=at_12_volts * 24 * HOUR, shelf_life=2500 * 24 * HOUR)


@source(
    Kind.COMMON_PRACTICE,
    "no source: four D cells run such a drive, 18 ms every second or two, for more than a year",
)
def test_four_d_cells_last_more_than_a_year() -> None:
    """Half an ampere-volt class coil: 6 V over 50 ohm for 18 ms each second is 2.2 mA."""
    i_mean = 6 / 50 * 18e-3 / 2
    assert cell_life(charge=12 * AH, i_mean=i_mean, self_discharge=0.03 / YEAR) > YEAR


@source(Kind.IDENTITY, "dq/dt = -i - k q, stepped by SciPy to the empty cell")
def test_cell_life_empties_the_cell() -> None:
    charge, i_mean, loss = 100.0, 2e-3, 1.5e-5
    life = cell_life(charge=charge, i_mean=i_mean, self_discharge=loss)
    left = solve_ivp(lambda _, q: -i_mean - loss * q, (0, life), [charge], rtol=1e-11).y[0, -1]
    assert left == pytest.approx(0, abs=1e-7 * charge)
    back = mean_current_for_life(charge=charge, life=life, self_discharge=loss)
    assert back == pytest.approx(i_mean, rel=1e-12)


@source(Kind.IDENTITY, "limit of no self-discharge")
def test_life_without_self_discharge_is_the_limit() -> None:
    """1e-9: half of k Q / I."""
    plain = charge_life(charge=100.0, i_mean=2e-3)
    assert cell_life(charge=100.0, i_mean=2e-3, self_discharge=4e-14) == pytest.approx(
        plain, rel=2e-9
    )


@pytest.mark.parametrize(("milliampere", "hours"), [(25, 120), (100, 25), (250, 8), (500, 3)])
@source(
    Kind.PUBLISHED,
    "a maker's LR6 sheet, second hand: 3000/2500/2000/1500 mAh at 25/100/250/500 mA to 0.8 V",
    printed="120 / 25 / 8 / 3 h",
)
def test_charge_share_at_loads_gives_the_makers_runtimes(milliampere: float, hours: float) -> None:
    i_loads = np.array([25e-3, 100e-3, 250e-3, 500e-3])
    shares = np.array([3000, 2500, 2000, 1500]) / 3000
    i_load = milliampere * 1e-3
    share = charge_share_at_load(i_load=i_load, i_loads=i_loads, shares=shares)
    life = charge_life(charge=share * 3000 * AH / 1000, i_mean=i_load)
    assert life / HOUR == pytest.approx(hours, rel=1e-12)
    assert charge_share_at_load(i_load=1e-4, i_loads=i_loads, shares=shares) == 1.0
    between = charge_share_at_load(i_load=50e-3, i_loads=i_loads, shares=shares)
    assert between == pytest.approx((1 + 2500 / 3000) / 2, rel=1e-12)


@source(Kind.PUBLISHED, "a maker's LR6 sheet: 10 ohm, 24 h a day, to 0.9 V", printed="20.5 h")
def test_runtime_on_a_resistor() -> None:
    """Charge 2460 mAh is 20.5 h at a mean of 1.2 V: the mean current, not the first, counts."""
    assert charge_life(charge=2.460 * AH, i_mean=1.2 / 10) / HOUR == pytest.approx(20.5, abs=0.05)


@source(
    Kind.PUBLISHED,
    "Handbook of Batteries, table 4.6a: LR20, 2.2 ohm, light intermittent, to 0.9 V",
    printed="810 min",
)
def test_runtime_of_a_lamp() -> None:
    """7360 mAh at a mean of 1.2 V; half a minute is 6e-4."""
    life = charge_life(charge=7.360 * AH, i_mean=1.2 / 2.2)
    assert life / 60 == pytest.approx(810, abs=0.5)


@source(Kind.PUBLISHED, "textbook: EMF 1.5 V, 0.2 ohm, 0.5 A", printed="1.40 V")
def test_voltage_under_load() -> None:
    assert terminal_voltage(v_open=1.5, r_source=0.2, i_load=0.5) == pytest.approx(1.40)


@source(Kind.IDENTITY, "rows of the table")
def test_charge_share_at_the_rows_and_between_them() -> None:
    v = np.array([0.8, 0.9, 1.0, 1.1, 1.2])
    shares = np.array([1.0, 0.97, 0.92, 0.82, 0.62])
    for row, share in zip(v, shares, strict=True):
        assert charge_share_at_cutoff(v_cutoff=row, v_cutoffs=v, shares=shares) == share
    assert charge_share_at_cutoff(v_cutoff=1.05, v_cutoffs=v, shares=shares) == pytest.approx(0.87)
    assert charge_share_at_cutoff(v_cutoff=0.5, v_cutoffs=v, shares=shares) == 1.0


@source(
    Kind.IDENTITY,
    "bigclive.youtubersblog.com, alkaline D tests on a constant resistor, reworked",
    printed="100 mA at 1.5 V but only 53 mA at 0.8 V, so the test averages about 75 mA",
)
def test_a_constant_resistor_is_not_a_constant_current() -> None:
    fresh, spent = 1.5 / 15, 0.8 / 15
    assert 1e3 * spent == pytest.approx(53, abs=0.5)
    assert 1e3 * (fresh + spent) / 2 == pytest.approx(75, abs=2)


@source(Kind.FROM_MEMORY, "self-discharge doubles for each 10 K")
def test_warm_cells_lose_more() -> None:
    assert self_discharge_at(self_discharge=1e-9, temperature=303.15) == pytest.approx(2e-9)
    assert self_discharge_at(self_discharge=1e-9, temperature=273.15) == pytest.approx(0.25e-9)


def test_a_table_that_does_not_fall_is_refused() -> None:
    v = np.array([0.8, 0.9])
    with pytest.raises(OutOfRangeError, match="fall as the cut-off rises"):
        charge_share_at_cutoff(v_cutoff=0.85, v_cutoffs=v, shares=np.array([0.9, 1.0]))
    with pytest.raises(OutOfRangeError, match="rise from row to row"):
        charge_share_at_load(i_load=0.1, i_loads=v[::-1], shares=np.array([1.0, 0.9]))


@source(
    Kind.IDENTITY,
    "febo.com time-nuts list, August 2010, reworked: 10 mA half of the time from a 12 Ah cell",
    printed="100 days",
)
def test_a_trim_coil_flattens_a_large_cell() -> None:
    life = charge_life(charge=12 * AH, i_mean=10e-3 / 2)
    assert life / (24 * HOUR) == pytest.approx(100, abs=0.5)


@source(
    Kind.MEASURED,
    "sound.westhost.com, a rebuilt battery clock: 5.1 k across the coil while it is on, reworked",
    printed="0.29 mA while on: 34 uA average, 17 % of the budget",
)
def test_a_clamp_resistor_takes_its_share_of_the_cells() -> None:
    on = 1.5 / 5.1e3
    share = 78e-3 / 667e-3
    assert 1e3 * on == pytest.approx(0.29, abs=0.005)
    assert 1e6 * on * share == pytest.approx(34, abs=0.5)
    assert on / 1.7e-3 == pytest.approx(0.17, abs=0.005)


@source(
    Kind.IDENTITY,
    "public threads on idle drain, reworked: 300 uA through an unpowered bridge against 50 uA "
    "of a converter",
    printed="back-powering an unpowered USB bridge was the 300 uA",
)
def test_an_unpowered_part_can_take_more_than_all_the_rest() -> None:
    """5.2 Ah at 350 instead of 50 uA: a seventh of the life."""
    sound = charge_life(charge=5.2 * AH, i_mean=50e-6)
    assert charge_life(charge=5.2 * AH, i_mean=350e-6) == pytest.approx(sound / 7)
