"""One call of a calculator: its arguments from text, its result as named figures with units."""

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields, is_dataclass
from itertools import product
from typing import Any, get_type_hints

import numpy as np

from calc.calculator import OutOfRangeError
from circuits.calculator_index import Argument, Entry, record_of, unit_of, unit_text
from circuits.errors import DesignFileError, QuantityError
from circuits.quantity import parse_quantity
from circuits.unit_text import WORDS

INFINITE = "infinite"
MOST_TOLERANCES = 8
"""Corners double with each tolerance; more than this is a question for a whole design."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure of a result; a curve has all its samples."""

    name: str
    value: Any
    unit: str
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """One argument as it was stated, or as its default."""

    argument: Argument
    value: Any
    tolerance: float | None = None
    stated: bool = True


def place(key: str, found: str, wanted: str) -> DesignFileError:
    """Return the error for one word of the command line."""
    return DesignFileError(file="command line", key=key, found=found, wanted=wanted)


def example_text(argument: Argument) -> str:
    """Return what one might write for an argument."""
    if argument.kind == "choice":
        return str(argument.choices[0])
    if argument.kind in ("count", "yes or no"):
        return "2" if argument.kind == "count" else "yes"
    example = "0.5" if argument.unit == "1" else ""
    example = example or WORDS.get(argument.unit, ("", f"1 {argument.unit}"))[1]
    return f"{example}, {example}" if argument.kind == "curve" else example


def read_arguments(entry: Entry, stated: Mapping[str, str]) -> list[Given]:
    """Return every argument of a call from the texts of the command line.

    Parameters
    ----------
    entry : Entry
        The calculator.
    stated : mapping
        Text by option, such as "--v-pin".

    Returns
    -------
    given : list of Given

    Raises
    ------
    DesignFileError
        Naming the option that is unknown, missing or unreadable.
    """
    assert entry.arguments is not None
    known = {argument.option: argument for argument in entry.arguments}
    for option in stated:
        if option not in known:
            raise place(option, f"no such figure of {entry.name}", f"it takes {', '.join(known)}")
    missing = [a for a in known.values() if a.default is MISSING and a.option not in stated]
    if missing:
        first, *rest = missing
        unit = "a bare number" if first.unit == "1" else f"in {first.unit}"
        more = f"; then {', '.join(a.option for a in rest)} too" if rest else ""
        raise place(
            first.option,
            "nothing",
            f'state "{first.words}" ({unit}), such as {first.option} "{example_text(first)}"{more}',
        )
    return [
        _read(argument, stated[option])
        if option in stated
        else Given(argument=argument, value=argument.default, stated=False)
        for option, argument in known.items()
    ]


def _read(argument: Argument, text: str) -> Given:
    if argument.kind == "choice":
        if text not in argument.choices:
            raise place(argument.option, repr(text), f"write {' or '.join(argument.choices)}")
        return Given(argument=argument, value=text)
    if argument.kind == "yes or no":
        if text not in ("yes", "no"):
            raise place(argument.option, repr(text), "write yes or no")
        return Given(argument=argument, value=text == "yes")
    if argument.kind == "count":
        if not text.removeprefix("-").isdecimal() or len(text) > 9 or not text.isascii():
            raise place(argument.option, repr(text[:40]), "write a whole number, such as 2")
        return Given(argument=argument, value=int(text))
    if argument.kind == "curve":
        pieces = [_quantity(argument, piece) for piece in text.split(",")]
        if any(tolerance is not None for _, tolerance in pieces):
            raise place(argument.option, "a tolerance in a list", "write the values alone")
        return Given(argument=argument, value=np.array([value for value, _ in pieces]))
    value, tolerance = _quantity(argument, text)
    return Given(argument=argument, value=value, tolerance=tolerance)


def _quantity(argument: Argument, text: str) -> tuple[float, float | None]:
    if text.strip() == INFINITE and INFINITE in argument.words:
        return float("inf"), None
    try:
        quantity = parse_quantity(text, argument.unit)
    except QuantityError as error:
        raise place(argument.option, error.found, error.wanted) from error
    return quantity.value, quantity.tolerance


def call(entry: Entry, given: list[Given]) -> list[Figure]:
    """Return the result of a call as figures; tolerances are carried to every corner.

    Parameters
    ----------
    entry : Entry
        The calculator.
    given : list of Given
        All its arguments.

    Returns
    -------
    figures : list of Figure

    Raises
    ------
    DesignFileError
        Where the relation does not hold for these figures.
    """
    figures = _figures(entry, _called(entry, {g.argument.path: g.value for g in given}))
    loose = [g for g in given if g.tolerance]
    if not loose:
        return figures
    if len(loose) > MOST_TOLERANCES:
        raise place(
            loose[0].argument.option,
            f"{len(loose)} tolerances",
            f"give at most {MOST_TOLERANCES}; each doubles the corners to compute",
        )
    corners = []
    for signs in product((-1, 1), repeat=len(loose)):
        values = {g.argument.path: g.value for g in given}
        for sign, g in zip(signs, loose, strict=True):
            values[g.argument.path] = g.value * (1 + sign * (g.tolerance or 0.0))
        corners.append(_figures(entry, _called(entry, values)))
    return [
        _banded(figure, [corner[index].value for corner in corners])
        for index, figure in enumerate(figures)
    ]


def _banded(figure: Figure, values: list[Any]) -> Figure:
    if not isinstance(figure.value, float):
        return figure
    values.append(figure.value)
    return Figure(
        name=figure.name, value=figure.value, unit=figure.unit, low=min(values), high=max(values)
    )


def _called(entry: Entry, values: dict[tuple[str, ...], Any]) -> Any:
    names = {path[0]: entry.hints[path[0]] for path in values}
    try:
        with np.errstate(over="raise", divide="raise", invalid="raise"):
            arguments = {name: _built((name,), hint, values) for name, hint in names.items()}
            return entry.function(**arguments)
    except (OutOfRangeError, ArithmeticError) as error:
        where, colon, rule = str(error).partition(": ")
        reason, _, repair = (rule if colon else where).partition(";")
        raise place(
            entry.name,
            f"figures for which it has no answer ({reason.strip()})",
            repair.strip() or "check the figures and their units",
        ) from error


def _built(path: tuple[str, ...], hint: Any, values: dict[tuple[str, ...], Any]) -> Any:
    record = record_of(hint)
    if record is None or path in values:
        return values[path]
    hints = get_type_hints(record, include_extras=True)
    inside = {
        field.name: _built((*path, field.name), hints[field.name], values)
        for field in fields(record)
        if any(known[: len(path) + 1] == (*path, field.name) for known in values)
    }
    return record(**inside)


def _figures(entry: Entry, result: Any) -> list[Figure]:
    if is_dataclass(result) or isinstance(result, tuple):
        return _of_result("", result)
    name = entry.result_name()
    unit = unit_of(entry.hints["return"])
    text = entry.result_unit(name) or (unit_text(unit) if unit is not None else "1")
    return [Figure(name=name, value=result, unit=text)]


def _of_result(name: str, result: Any) -> list[Figure]:
    if isinstance(result, tuple):
        return [
            figure
            for index, item in enumerate(result, 1)
            if is_dataclass(item)
            for figure in _of_result(f"{name}{index}.", item)
        ]
    found: list[Figure] = []
    hints = get_type_hints(type(result), include_extras=True)
    for field in fields(result):
        value = getattr(result, field.name)
        if field.name.startswith("_") or value is None:
            continue
        unit = unit_of(hints[field.name])
        if unit is not None or isinstance(value, (bool, str, float)):
            # A plain float stands in the unit of what was given, whatever that was.
            text = unit_text(unit) if unit is not None else ""
            found.append(Figure(name=f"{name}{field.name}", value=value, unit=text))
        elif is_dataclass(value) or isinstance(value, tuple):
            found += _of_result(f"{name}{field.name}.", value)
    return found
