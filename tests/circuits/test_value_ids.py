"""Every figure that other programs read: its name, its unit, and where it must be absent."""

from functools import cache
from pathlib import Path

import pytest

from circuits.design import Design
from circuits.design_file import read_design
from circuits.pipeline import compute
from circuits.sheet import Sheet

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))

UNITS = {
    "coil.n_turns": "1",
    "coil.d_wire": "m",
    "coil.wire_length": "m",
    "coil.r_coil": "ohm",
    "coil.l_coil": "H",
    "coil.fill_factor": "1",
    "linkage.on_axis": "Wb",
    "linkage.slope_peak": "Wb/m",
    "linkage.x_peak": "m",
    "linkage.lobes": "1",
    "movement.period": "s",
    "movement.arc": "rad",
    "movement.speed": "m/s",
    "movement.circular_error": "s/day",
    "movement.loss_per_swing": "J",
    "emf.emf_peak": "V",
    "emf.peak_spacing": "s",
    "drive.transistor": None,
    "drive.pulse_width": "s",
    "drive.pulse_delay": "s",
    "drive.i_coil": "A",
    "drive.v_switch": "V",
    "drive.i_pin": "A",
    "drive.p_stuck": "W",
    "clamp.v_switch_peak": "V",
    "clamp.t_decay": "s",
    "clamp.t_zero": "s",
    "clamp.e_clamp": "J",
    "pickup.r_upper": "ohm",
    "pickup.r_lower": "ohm",
    "pickup.v_bias": "V",
    "pickup.r_source": "ohm",
    "pickup.i_drain": "A",
    "pickup.threshold": "V",
    "filter.r": "ohm",
    "filter.c": "F",
    "filter.f_c": "Hz",
    "filter.mains_gain": "1",
    "filter.delay": "s",
    "filter.delay_travel": "m",
    "filter.peak_kept": "1",
    "timing.jitter": "s",
    "timing.deaf_until": "s",
    "energy.e_pulse": "J",
    "energy.e_base": "J",
    "energy.e_copper": "J",
    "energy.e_switch": "J",
    "energy.e_clamp": "J",
    "energy.e_mechanical": "J",
    "energy.q_pulse": "C",
    "energy.i_mean": "A",
    "supply.v_dip": "V",
    "rate.arc_settled": "rad",
    "rate.rate": "s/day",
    "rate.slope": "s/day/s",
    "rate.slope_prompt": "s/day/s",
    "rate.width_least": "s",
    "cells.battery_life": "s",
    "cells.ended_by": None,
}
"""Of every design on cells."""

NPN = {"drive.r_b": "ohm", "drive.r_b_min": "ohm", "drive.r_b_max": "ohm",
       "drive.beta_forced": "1"}  # fmt: skip
NMOS = {"drive.r_g": "ohm"}
CELLS = {"cells.battery_life", "cells.ended_by"}
LOOP = {"steering.kp": "1", "steering.ki": "1", "steering.phase_margin": "rad",
        "steering.authority": "s/day"}  # fmt: skip
LOGGED = {"log_output.ripple": "V"}


@cache
def computed(path: Path) -> tuple[Design, Sheet]:
    design = read_design(path)
    return design, compute(design, remedies=False)


def expected_units(design: Design) -> dict[str, str | None]:
    own = NMOS if design.drive.switch == "nmos" else NPN
    units = {**UNITS, **own}
    if design.rate.time_constant is not None:
        units |= LOOP
    if design.log_output is not None:
        units |= LOGGED
    for name in absent(design):
        units.pop(name, None)
    return units


def absent(design: Design) -> set[str]:
    """The names of what a design does not have: cells, the other switch, an arc's error."""
    names = set(NPN if design.drive.switch == "nmos" else NMOS)
    if design.supply.cell is None:
        names |= CELLS
    if design.movement.kind == "balance":
        names.add("movement.circular_error")
    if design.rate.time_constant is None:
        names |= set(LOOP)
    if design.log_output is None:
        names |= set(LOGGED)
    return names


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_figure_has_its_name_and_unit(path: Path) -> None:
    design, sheet = computed(path)
    found = {
        name: sheet.values[name].unit if name in sheet.values else "absent"
        for name in expected_units(design)
    }
    assert found == expected_units(design)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_what_does_not_apply_is_absent(path: Path) -> None:
    design, sheet = computed(path)
    assert sorted(absent(design) & set(sheet.values)) == []


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_number_has_a_unit_and_every_text_none(path: Path) -> None:
    _, sheet = computed(path)
    for entry in (*sheet.values.values(), *sheet.assumed):
        assert (entry.unit is None) == isinstance(entry.value, str), entry.id


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_bench_checks_and_parts_are_on_every_sheet(path: Path) -> None:
    _, sheet = computed(path)
    conditions = " ".join(point.condition for point in sheet.test_points)
    assert "off" in conditions
    assert "on" in conditions.replace("off", "")
    assert len(sheet.parts) >= 6


def test_there_are_examples_of_both_switches() -> None:
    switches = {computed(path)[0].drive.switch for path in EXAMPLES}
    assert {"npn", "nmos"} <= switches
