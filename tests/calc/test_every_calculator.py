"""What holds for every calculator, found by walking the package: no list to keep by hand."""

import ast
import inspect
import math
import re
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pint
import pytest

from calc.calculator import ELEMENTARY, OutOfRangeError
from calc.units import Unit
from tests.calc.walk import Walked, calculators, rescaled, unit_of, varied

CALCULATORS = calculators()
EACH = pytest.mark.parametrize("walked", CALCULATORS, ids=lambda walked: walked.name)
REGISTRY = pint.UnitRegistry()
TESTS = "\n".join(path.read_text() for path in sorted(Path(__file__).parent.glob("test_*.py")))


def close(one: Any, other: Any, tolerance: float) -> bool:
    """Whether two results agree, field by field; an array to its own largest value."""
    if is_dataclass(one) and not isinstance(one, type):
        pairs = [(getattr(one, f.name), getattr(other, f.name)) for f in fields(one)]
        return all(close(a, b, tolerance) for a, b in pairs)
    if isinstance(one, tuple):
        return len(one) == len(other) and all(
            close(a, b, tolerance) for a, b in zip(one, other, strict=True)
        )
    if isinstance(one, np.ndarray):
        return bool(np.allclose(one, other, rtol=0, atol=tolerance * np.abs(one).max()))
    if isinstance(one, float):
        return math.isclose(one, other, rel_tol=tolerance)
    return bool(one == other)


def exponents(text: str) -> Unit:
    """Exponents of a printed unit such as `V`, `Wb/m`, `Ω`, `1` (a ratio) or `rad`."""
    names = {
        "[length]": "m",
        "[mass]": "kg",
        "[time]": "s",
        "[current]": "A",
        "[temperature]": "K",
    }
    dimensions = REGISTRY.parse_units("" if text == "1" else text).dimensionality
    return Unit(**{names[str(key)]: float(value) for key, value in dimensions.items()})


def test_the_walk_finds_the_calculators() -> None:
    """The checks below would pass on an empty package."""
    assert len(CALCULATORS) > 40


@EACH
def test_arguments_are_keyword_only_and_typed(walked: Walked) -> None:
    for name, parameter in walked.signature.parameters.items():
        assert parameter.kind is inspect.Parameter.KEYWORD_ONLY, name
        assert name in walked.hints, name
    assert "return" in walked.hints


@EACH
def test_docstring_has_its_sections(walked: Walked) -> None:
    wanted = ["Parameters", "Returns", "Notes", "References", "Examples"]
    if "require(" in inspect.getsource(walked.function):
        wanted.append("Raises")
    assert [name for name in wanted if name not in walked.sections] == []
    assert ">>> " in walked.sections["Examples"]
    assert len(walked.sections["References"].strip()) > 10


@EACH
def test_each_argument_is_described_with_its_own_unit(walked: Walked) -> None:
    text = walked.sections["Parameters"]
    for name in walked.signature.parameters:
        entry = re.search(rf"^{name} : .*\n((?:    .*\n?|\n)+)", text, re.M)
        assert entry, f"{name} is not described"
        unit = unit_of(walked.hints[name])
        if unit is None:
            continue
        printed = re.search(r"\[([^\]]+)\]", entry.group(1))
        assert printed, f"{name}: its unit is not printed in brackets"
        assert exponents(printed.group(1)) == unit, name


@EACH
def test_printed_formula_gives_the_same_value(walked: Walked) -> None:
    """The formula under Notes, evaluated on inputs 5 % about the example, to 1e-9.

    1e-9: both sides are the same arithmetic; only the order of rounding may differ.
    """
    if walked.is_routine:
        held_by = re.search(r"[Hh]eld by (test_\w+)", " ".join(walked.notes))
        assert held_by, "a routine names the test that holds it to an identity"
        assert f"def {held_by.group(1)}(" in TESTS
        return
    generator = np.random.default_rng(1)
    inputs = {k: varied(v, generator) for k, v in walked.example_inputs().items()}
    try:
        result = walked.function(**inputs)
    except OutOfRangeError:
        inputs = walked.example_inputs()
        result = walked.function(**inputs)
    formulas = walked.formulas()
    scope: dict[str, Any] = {**ELEMENTARY, **inputs}
    for name, formula in formulas.items():
        used = {n.id for n in ast.walk(formula) if isinstance(n, ast.Name)}
        assert used <= set(scope), f"{name}: unknown names {used - set(scope)}"
        scope[name] = eval(compile(formula, walked.name, "eval"), {"__builtins__": {}}, scope)
    if is_dataclass(result):
        for field in fields(result):
            assert close(getattr(result, field.name), scope[field.name], 1e-9), field.name
    else:
        assert len(formulas) >= 1
        assert close(result, scope[list(formulas)[-1]], 1e-9)


@EACH
def test_base_units_may_be_rescaled(walked: Walked) -> None:
    """Metre, kilogram, second, ampere and kelvin scaled at random leave the relation true.

    1e-6: quadratures and root findings stop at relative tolerances of 1e-8 or better.
    """
    generator = np.random.default_rng(2)
    scale = {name: float(generator.uniform(0.5, 2)) for name in ("m", "kg", "s", "A", "K")}
    inputs = walked.example_inputs()
    outside = {k: rescaled(v, walked.hints[k], scale) for k, v in inputs.items()}
    expected = rescaled(walked.function(**inputs), walked.hints["return"], scale)
    assert close(expected, walked.function(**outside), 1e-6)


@EACH
def test_not_a_number_is_refused(walked: Walked) -> None:
    """NaN in any single argument raises, and never comes back as a result."""
    inputs = walked.example_inputs()
    for name, value in inputs.items():
        if isinstance(value, float):
            with pytest.raises(OutOfRangeError):
                walked.function(**{**inputs, name: math.nan})


@EACH
def test_arrays_do_not_come_in_by_accident(walked: Walked) -> None:
    """Single numbers give a plain float, not a NumPy scalar."""
    result = walked.function(**walked.example_inputs())
    values = [getattr(result, f.name) for f in fields(result)] if is_dataclass(result) else [result]
    assert not any(isinstance(value, np.generic) for value in values)
