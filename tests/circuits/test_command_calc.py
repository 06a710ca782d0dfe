"""One equation by name: every calculator from the command line, and every way to get it wrong."""

import json
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
import pytest

from calc.follow import DrivenMovement
from calc.regulator import RegulatorConstants
from circuits.calculator_call import example_text
from circuits.calculator_example import example_call
from circuits.calculator_index import Entry, calculators, unit_text
from circuits.command import main
from circuits.command_calc import _shown
from circuits.unit_text import scale
from tests.sources import Kind, source

ENTRIES = calculators()
STATED = sorted(name for name, entry in ENTRIES.items() if entry.arguments is not None)
EACH = pytest.mark.parametrize("name", STATED)
BASE = [
    "base_resistor",
    *("--v-pin", "3.0 V"),
    *("--r-pin", "100 ohm"),
    *("--v-be-sat", "0.8 V"),
    *("--i-c", "40 mA"),
    *("--beta-forced", "10"),
]


def options(entry: Entry) -> list[str]:
    """The docstring's own example as a maker would type it."""
    words: list[str] = []
    for given in example_call(entry):
        words += [given.argument.option, _shown(given.argument, given.value)]
    return words


def numbers(result: Any) -> list[float]:
    """Every number of a result, in its order."""
    if is_dataclass(result) and not isinstance(result, type):
        shown = [f for f in fields(result) if not f.name.startswith("_")]
        return [n for f in shown for n in numbers(getattr(result, f.name))]
    if isinstance(result, tuple):
        return [n for item in result for n in numbers(item)]
    if isinstance(result, np.ndarray):
        return [float(n) for n in result.ravel()]
    return [] if result is None or isinstance(result, str) else [float(result)]


def test_the_walk_finds_the_calculators() -> None:
    """The checks below would pass on an empty package."""
    assert len(ENTRIES) > 40


def test_every_calculator_can_be_called_from_the_command_line() -> None:
    """All but the engines of the driven movement, which take a whole curve of linkage.

    And the firmware's whole numbers, which a design's own constants go into.
    """
    others = {name: entry for name, entry in ENTRIES.items() if name not in STATED}
    left_out = {DrivenMovement, RegulatorConstants}
    assert all(left_out.intersection(entry.hints.values()) for entry in others.values())


@EACH
def test_units_are_such_as_the_door_reads(name: str) -> None:
    for argument in ENTRIES[name].arguments or ():
        assert scale(argument.unit) is not None, argument
        assert argument.words
        assert example_text(argument)


@EACH
@source(Kind.IDENTITY, "the calculator called directly with its docstring's own example")
def test_docstring_example_from_the_command_line(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """1e-9: the texts are exact to 1e-12, some results magnify that."""
    entry = ENTRIES[name]
    assert entry.arguments is not None
    words = options(entry)
    assert main(["calc", name, *words, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    direct: dict[str, Any] = {}
    for given in example_call(entry):
        assert answer["arguments"][".".join(given.argument.path)]["unit"] == given.argument.unit
        direct.setdefault(given.argument.path[0], given.value)
    if any(len(argument.path) > 1 for argument in entry.arguments):
        assert answer["results"]
        return
    values = [r["value"] for r in answer["results"].values() if not isinstance(r["value"], str)]
    found = [n for value in values for n in numbers(np.array(value))]
    shown = [n for n in numbers(entry.function(**direct)) if np.isfinite(n)]
    assert [n for n in found if np.isfinite(n)] == pytest.approx(shown, rel=1e-9, abs=1e-30)
    assert main(["calc", name, *words]) == 0
    text = capsys.readouterr().out
    assert all(line.strip() in text for line in entry.formula)
    assert "held by" not in text


@EACH
def test_help_explains_every_argument_and_works_an_example(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    entry = ENTRIES[name]
    assert entry.arguments is not None
    assert main(["calc", name, "-h"]) == 0
    text = capsys.readouterr().out
    assert text.startswith(f"{name}: ")
    assert all(argument.option in text for argument in entry.arguments)
    assert f"worked example:\n  coilwright calc {name} \\\n" in text


def test_list_is_by_subject(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calc"]) == 0
    text = capsys.readouterr().out
    assert "\nRound copper wire: gauge numbers, resistance at temperature and mass\n" in text
    assert "  awg_diameter " in text
    assert main(["calc", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["base_resistor"]["arguments"]["--v-pin"] == {
        "unit": "V",
        "words": "Open-circuit high level of the pin",
    }
    assert max(map(len, text.splitlines())) <= 80


def test_result_has_unit_formula_and_source(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calc", *BASE]) == 0
    text = capsys.readouterr().out
    assert "r_b = 450 ohm\n" in text
    assert "formula  r_b = (v_pin - v_be_sat) * beta_forced / i_c - r_pin" in text
    assert "source  " in text


def test_names_and_values_as_people_write_them(capsys: pytest.CaptureFixture[str]) -> None:
    """Hyphens, underlines, an equals sign, letter codes, centigrade and degrees."""
    assert main(["calc", "Base-Resistor", *BASE[1:3], "--r_pin=0k1", *BASE[5:]]) == 0
    assert "r_b = 450 ohm\n" in capsys.readouterr().out
    resistance = ["calc", "resistance_at_temperature", "--r", "100R"]
    assert main([*resistance, "--t-from", "20 degC", "--t-to", "60 degC"]) == 0
    assert "r_coil = 115.72 ohm\n" in capsys.readouterr().out


@source(Kind.FROM_MEMORY, "IEC 60063: 390, 430 and 470 of E24, from memory")
def test_preferred_values_from_the_command_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calc", "preferred_resistor", "--r", "437 ohm"]) == 0
    assert "next_lower = 430 ohm\n  nearest = 430 ohm\n  next_higher = 470 ohm" in (
        capsys.readouterr().out
    )
    assert main(["calc", "preferred_resistor", "--r", "437 ohm", "--series", "E25"]) == 2
    assert "write E3 or E6" in capsys.readouterr().err


@source(Kind.IDENTITY, "the formula at the corner values, by hand")
def test_tolerances_give_a_band(capsys: pytest.CaptureFixture[str]) -> None:
    """2.2 V x 10 / (36 or 44 mA) - 100 ohm."""
    words = [word if word != "40 mA" else "40 mA 10%" for word in BASE]
    assert main(["calc", *words, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["results"]["r_b"]
    assert found["value"] == pytest.approx(450.0)
    assert (found["low"], found["high"]) == pytest.approx((22 / 0.044 - 100, 22 / 0.036 - 100))


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["base_resist"], "near it are base_resistor"),
        (["xyzzy"], "no name is near"),
        (["base_resistor"], "--v-pin: found nothing; state"),
        ([*BASE[:9]], "--beta-forced: found nothing; state"),
        ([*BASE[:1], "3.0 V"], "without the name of its argument"),
        ([*BASE, "--i-c", "3 mA"], "found it twice"),
        ([*BASE[:2]], "--v-pin: found no value"),
        ([*BASE[:1], "--v-pin", "3.0", *BASE[3:]], "--v-pin: found the bare number 3.0"),
        ([*BASE[:1], "--v-pin", "3.0 A", *BASE[3:]], "--v-pin: found a current"),
        ([*BASE[:1], "--v-pin", "3,0 V", *BASE[3:]], "write a decimal point"),
        ([*BASE[:1], "--v-pin", "0.3 V", *BASE[3:]], "v_pin must"),
        ([*BASE, "--colour", "red"], "--colour: found no such figure"),
        (["awg_diameter", "--awg", "3.5"], "write a whole number"),
        (["awg_diameter", "--awg", "700"], "awg must lie between"),
        (["awg_diameter", "--awg", "9" * 400], "write a whole number"),
    ],
)  # fmt: skip
def test_every_mistake_is_one_message(
    words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["calc", *words]) == 2
    streams = capsys.readouterr()
    assert told in streams.err
    assert streams.err.count("\n") == 1
    assert streams.out == ""


@source(Kind.IDENTITY, "a volt in base units")
def test_units_without_a_name_are_powers() -> None:
    from calc import units

    assert unit_text(units.Volt.__metadata__[0]) == "V"
    assert scale(unit_text(units.VoltPerSecond.__metadata__[0])).dimension == (  # type: ignore[union-attr]
        scale("V/s").dimension  # type: ignore[union-attr]
    )
