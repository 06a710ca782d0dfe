"""Invented designs, plausible key by key, whose swing or pulse once had no answer in words."""

import json
import math
from pathlib import Path
from typing import Any

import pytest
import tomlkit

from calc.follow_free import clamp_braking
from circuits.design import Design
from circuits.design_file import parse_design
from circuits.following import follow, follow_csv, follow_json, follow_text
from circuits.pipeline import compute
from tests.sources import Kind, source

DESIGNS = json.loads(
    (Path(__file__).parents[1] / "data" / "plausible_designs.json").read_text(encoding="utf-8")
)


def design_of(name: str) -> Design:
    return parse_design(tomlkit.dumps(DESIGNS[name]), f"{name}.toml")


def _silent(*_: Any) -> None:
    return


@pytest.mark.parametrize("name", DESIGNS)
def test_it_is_followed_with_finite_figures(name: str) -> None:
    found = follow(
        design_of(name), arc_from=None, swings=400, spent=False, progress=_silent
    )  # fmt: skip
    json.loads(follow_json(found))
    for swing in found.settled.swings:
        assert math.isfinite(swing.period)
        assert swing.e_mechanical < swing.e_supply
    assert follow_csv(found).count("\n") > 2
    assert "nan" not in follow_text(found)


@pytest.mark.parametrize("name", ["event_beyond_every_arc", "previous_pass_unseen"])
@source(Kind.IDENTITY, "a movement that gets no pulse loses its arc by its own loss")
def test_without_a_pulse_it_dies_away(name: str) -> None:
    """Whatever the losses beside the viscous one, it is never slower."""
    found = follow(design_of(name), arc_from=None, swings=400, spent=False, progress=_silent)
    arcs, system = found.run.arcs, found.system
    assert found.settled.held is None
    assert not found.keeps_going
    decay = math.exp(-math.pi / 2 / system.q_factor * (len(arcs) - 1))
    assert arcs[-1] / arcs[0] <= 1.01 * decay


@pytest.mark.parametrize("name", ["resistor_of_10_ohm", "resistor_left_out"])
@source(Kind.IDENTITY, "EMF^2 over the loop's resistance, by the waveform and by the swing")
def test_sheet_and_swing_agree_on_what_a_resistor_brakes(name: str) -> None:
    """1 %: the sheet's pass is lossless, and its current follows the EMF at once."""
    design = design_of(name)
    sheet = compute(design, remedies=False)
    found = follow(design, arc_from=None, swings=1, spent=False, progress=_silent)
    assert design.movement.arc is not None
    braked = clamp_braking(found.system, design.movement.arc, 1)
    assert braked == pytest.approx(float(sheet.values["clamp.braking"].value), rel=0.01)


@pytest.mark.parametrize("name", ["resistor_of_10_ohm", "resistor_left_out"])
@source(Kind.IDENTITY, "energy: supplied = copper + switch + clamp + source + mechanical")
def test_the_pulse_beside_a_small_resistor_closes(name: str) -> None:
    sheet = compute(design_of(name), remedies=False)
    parts = ("e_copper", "e_switch", "e_clamp", "e_source", "e_mechanical")
    known = [sheet.values.get(f"energy.{part}") for part in parts]
    total = sum(float(value.value) for value in known if value is not None)
    assert total == pytest.approx(float(sheet.values["energy.e_pulse"].value), rel=1e-3)
