"""A design over the life of its cells: course, ends, the loop's width, drains."""

from dataclasses import replace
from functools import cache
from math import isnan
from pathlib import Path

import numpy as np
import pytest

from calc.follow_settle import settled_arcs
from circuits.cells_course import LifeCourse, life_course
from circuits.cells_mixed import reversed_voltage, with_odd_cell
from circuits.design_file import parse_design
from circuits.following import driven_of
from circuits.stages.cell_life import SHELF
from tests.circuits.drive_designs import design_with
from tests.sources import Kind, source

EXAMPLES = Path(__file__).parents[2] / "examples"
YEAR = 365.25 * 86400


@cache
def example(name: str, *, steered: bool | None = None) -> LifeCourse:
    text = (EXAMPLES / f"{name}.toml").read_text(encoding="utf-8")
    course = life_course(parse_design(text, name), steered=steered)
    assert course is not None
    return course


def followed(steered: bool | None = None, **sections: dict[str, object]) -> LifeCourse:
    course = life_course(design_with(**sections), steered=steered)
    assert course is not None
    return course


def end_of(course: LifeCourse, name: str) -> float | None:
    return next(end.typ for end in course.ends if end.name == name)


@pytest.mark.parametrize("name", ["foyer_sculpture", "balance"])
@source(Kind.IDENTITY, "the demand integrated over the life is the charge that the cells gave")
def test_the_charge_adds_up(name: str) -> None:
    """2e-3: 241 places along the discharge."""
    course = example(name)
    typ = course.life.typ
    given = typ.store.charge * float(np.interp(typ.life, typ.t, typ.store.depth))
    assert sum(row.charge for row in course.drains) == pytest.approx(given, rel=2e-3)
    assert sum(row.share for row in course.drains) == pytest.approx(1)


@source(Kind.IDENTITY, "the settled arc at fresh cells, found by the whole table of the stage")
def test_it_begins_at_the_settled_arc_of_fresh_cells() -> None:
    """2e-3: a row of one width against the table of many."""
    course = example("foyer_sculpture")
    settled = course.done.result("settled")
    assert course.arc[0] == pytest.approx(settled.held.arc, rel=2e-3)
    assert course.rate[0] == pytest.approx(settled.held.rate, rel=2e-3)
    assert (np.diff(course.arc) < 0).all()
    assert (np.diff(course.v_rest) < 0).all()
    assert (course.v_pulse < course.v_load).all()


@source(Kind.IDENTITY, "one settled swing at a middle voltage, followed apart")
def test_the_arc_at_a_middle_voltage() -> None:
    """1e-2: straight lines between the voltages that were followed."""
    course = example("foyer_sculpture")
    k = 70
    text = (EXAMPLES / "foyer_sculpture.toml").read_text(encoding="utf-8")
    driven = driven_of(parse_design(text, "foyer"))
    system = replace(driven.system(), v_supply=float(course.v_load[k]))
    wanted = course.arc_wanted
    arc, _ = settled_arcs(system, wanted / 6, 2.5 * wanted, 24)[-1]
    assert course.arc[k] == pytest.approx(arc, rel=1e-2)


@source(Kind.IDENTITY, "a loop that keeps the rate keeps it")
def test_a_rate_loop_widens_the_pulse_and_keeps_the_rate() -> None:
    """0.5 s/day of the 100 that it would lose otherwise: between the voltages followed."""
    course = example("foyer_sculpture", steered=True)
    assert course.steered
    assert (np.diff(course.width) >= 0).all()
    assert course.width[-1] > 1.5 * course.width[0]
    assert np.ptp(86400 * course.rate) < 0.5
    assert course.arc == pytest.approx(course.arc_wanted, rel=0.02)
    free = example("foyer_sculpture")
    assert np.ptp(86400 * free.rate) > 50
    assert course.times[1] > free.times[1]


def test_the_file_says_whether_a_loop_steers() -> None:
    assert not followed().steered
    assert followed(rate={"width_max": "30 ms"}).steered
    assert not followed(steered=False, rate={"width_max": "30 ms"}).steered


def test_a_loop_that_reaches_its_widest_pulse_ends_the_life() -> None:
    free = followed(steered=True)
    late = float(np.interp(0.6 * free.times[1], free.t, free.width))
    course = followed(rate={"width_max": f"{1e3 * late:.5g} ms"})
    assert course.ended_by == "arc not held at the widest pulse"
    assert course.times[1] == pytest.approx(0.6 * free.times[1], rel=0.1)


def test_a_regulator_ends_the_life_at_its_drop_out() -> None:
    """3.3 V and 0.3 V of drop-out: the set reaches 3.6 V at its pulses first, not at rest.

    10 mV: the end lies between two of the moments looked at.
    """
    course = followed(
        supply={"regulator_output": "3.3 V", "regulator_dropout": "0.3 V"},
        controller={"brown_out": "1.9 V"},
    )
    assert course.ended_by == "regulator drop-out"
    assert course.v_pulse[-1] == pytest.approx(3.6, abs=0.01)
    assert course.v_rest[-1] > 3.65
    assert (end_of(course, "cut_off") or 0) > course.times[1]


def test_a_brown_out_ends_the_life_at_the_pulse() -> None:
    """The dip of the pulse counts, not the voltage at rest."""
    course = followed(supply={"resistance": "4 ohm"}, controller={"brown_out": "3.3 V"})
    assert course.ended_by == "brown-out at the pulse"
    k = -1
    assert course.v_pulse[k] == pytest.approx(3.3, abs=0.02)
    assert course.v_rest[k] > 3.4
    reservoir = followed(
        supply={"resistance": "4 ohm", "reservoir": "2200 uF"}, controller={"brown_out": "3.3 V"}
    )
    assert reservoir.times[1] > course.times[1]


def test_a_fixed_baseline_loses_the_threshold_as_the_cells_sag() -> None:
    course = followed(pickup={"baseline": "fixed"}, controller={"adc_reference": "1.1 V"})
    assert course.ended_by == "threshold no longer reached"
    tracked = followed(pickup={"baseline": "tracked"}, controller={"adc_reference": "1.1 V"})
    assert tracked.times[1] > 2 * course.times[1]


def test_a_narrow_pulse_loses_its_arc() -> None:
    """A width just above the least that holds any arc with fresh cells."""
    least = driven_least()
    course = followed(drive={"pulse_width": f"{1.04e3 * least:.6g} ms"})
    assert course.ended_by in {"arc no longer held", "threshold no longer reached"}
    assert 0 < course.times[1] < 0.9 * followed().times[1]
    assert isnan(course.life.typ.arc[-1])


def driven_least() -> float:
    least = followed().done.result("settled").fresh.width_least
    assert least is not None
    return float(least)


@source(
    Kind.IDENTITY,
    "mb.nawcc.org thread 142468: 8 Ah at 53 uA is 17 years, but shelf life 5-10 years",
)
def test_a_sparing_design_ends_on_the_shelf() -> None:
    course = followed(
        supply={"cell": "LR20", "parallel": 4},
        pickup={"upper": "10 Mohm", "lower": "10 Mohm"},
        controller={"active_current": "50 uA"},
    )
    assert course.ended_by == "shelf life"
    assert course.v_change is None
    assert course.times[1] == pytest.approx(7 * YEAR, rel=1e-3)
    assert course.life.typ.first.name == SHELF


@source(
    Kind.COMMON_PRACTICE,
    "no source: four D cells run such a drive, 18 ms every second or two, for more than a year",
)
def test_four_d_cells_run_it_for_more_than_a_year() -> None:
    """Here 18 ms in every 1.34 s through 80 ohm, an invented coil."""
    course = followed(
        supply={"cell": "LR20", "series": 4}, coil={"measured_resistance": "80 ohm"},
        drive={"pulse_width": "18 ms", "swings_per_pulse": 2},
    )  # fmt: skip
    assert course.times[1] > YEAR


@source(Kind.IDENTITY, "Kirchhoff's laws: voltages in series add, one current empties the least")
def test_an_odd_cell() -> None:
    """3 %: as the weak cell sags before it is empty, the demand falls a little with it."""
    course = example("foyer_sculpture")
    odd = with_odd_cell(course, 0.5)
    typ = course.life.typ
    half = float(np.interp(0.5, typ.store.depth, typ.t))
    assert odd.empty_at == pytest.approx(half, rel=0.03)
    at_half = float(np.interp(0.5, typ.store.depth, typ.store.v_rest))
    assert odd.v_after == pytest.approx(at_half * 2 / 3, rel=0.01)
    assert odd.life < typ.life
    assert reversed_voltage(course) == pytest.approx(1.58)


def test_no_cells_no_course() -> None:
    supply = {"cell": None, "series": None, "voltage": "5 V"}
    assert life_course(design_with(supply=supply)) is None


def test_the_two_models_agree() -> None:
    """The sheet's own life, from two voltages, within a twentieth of the followed one."""
    for name in ("foyer_sculpture", "balance"):
        course = example(name)
        quick = course.done.result("cells").battery_life
        assert quick == pytest.approx(course.times[1], rel=0.05)
        low, typ, high = course.times
        assert low < typ < high
