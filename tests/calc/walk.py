"""Finds every calculator of the package and the inputs of its own docstring example."""

import ast
import doctest
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, is_dataclass
from typing import Any, get_type_hints

import numpy as np

import calc
from calc.units import Unit

SECTION = re.compile(r"^(?P<name>[A-Z][a-z]+)\n-+\n", re.M)


@dataclass(frozen=True)
class Walked:
    """One calculator with what its docstring and its types say of it."""

    name: str
    function: Callable[..., Any]

    @property
    def doc(self) -> str:
        return inspect.getdoc(self.function) or ""

    @property
    def sections(self) -> dict[str, str]:
        """The docstring's sections by heading; the opening lines under the empty name."""
        parts = SECTION.split(self.doc)
        return {"": parts[0], **dict(zip(parts[1::2], parts[2::2], strict=True))}

    @property
    def hints(self) -> dict[str, Any]:
        return get_type_hints(self.function, include_extras=True)

    @property
    def signature(self) -> inspect.Signature:
        return inspect.signature(self.function)

    @property
    def notes(self) -> list[str]:
        """The lines that open the Notes: the formula, or `By ...` for a routine."""
        lines: list[str] = []
        for line in self.sections.get("Notes", "").splitlines():
            if not line.strip():
                break
            lines.append(line)
        return lines

    @property
    def is_routine(self) -> bool:
        return bool(self.notes) and self.notes[0].startswith("By ")

    def formulas(self) -> dict[str, ast.Expression]:
        """Left side to parsed right side, in the order printed; continuation lines are indented."""
        joined: list[str] = []
        for line in self.notes:
            if line.startswith(" ") and joined:
                joined[-1] += " " + line.strip()
            else:
                joined.append(line)
        pairs = (line.split(" = ", 1) for line in joined)
        return {left: ast.parse(right, mode="eval") for left, right in pairs}

    def example_inputs(self) -> dict[str, Any]:
        """Run the docstring's example and return the arguments of its last call."""
        seen: list[dict[str, Any]] = []

        def record(**kwargs: Any) -> Any:
            seen.append(kwargs)
            return self.function(**kwargs)

        module = importlib.import_module(self.function.__module__)
        scope = {**vars(module), self.function.__name__: record}
        for example in doctest.DocTestParser().get_examples(self.doc):
            exec(compile(example.source, self.name, "single"), scope)
        bound = self.signature.bind(**seen[-1])
        bound.apply_defaults()
        return dict(bound.arguments)


def modules() -> Iterator[Any]:
    """Every module of calc."""
    for info in pkgutil.walk_packages(calc.__path__, "calc."):
        yield importlib.import_module(info.name)


def calculators() -> list[Walked]:
    """Every public calculator of calc, once."""
    found = {
        f"{module.__name__}.{name}": Walked(f"{module.__name__}.{name}", value)
        for module in modules()
        for name, value in vars(module).items()
        if getattr(value, "calculator", False) and value.__module__ == module.__name__
    }
    return [found[name] for name in sorted(found)]


def unit_of(hint: Any) -> Unit | None:
    """The Unit inside an Annotated alias, if there is one."""
    for extra in getattr(hint, "__metadata__", ()):
        if isinstance(extra, Unit):
            return extra
    return None


def rescaled(value: Any, hint: Any, scale: dict[str, float]) -> Any:
    """The same quantity expressed in base units that are `scale` times smaller."""
    if is_dataclass(value) and not isinstance(value, type):
        hints = get_type_hints(type(value), include_extras=True)
        changed = {
            f.name: rescaled(getattr(value, f.name), hints[f.name], scale)
            for f in fields(value)
            if f.init
        }
        return type(value)(**changed)
    unit = unit_of(hint)
    if unit is None or value is None:
        members = [a for a in getattr(hint, "__args__", ()) if unit_of(a) or is_dataclass(a)]
        if value is not None and isinstance(value, tuple) and members:
            return tuple(rescaled(item, members[0], scale) for item in value)
        if value is not None and members:
            return rescaled(value, members[0], scale)
        return value
    factor = 1.0
    for name, size in scale.items():
        factor *= size ** getattr(unit, name)
    return value if isinstance(value, int) and factor == 1.0 else value * factor


def varied(value: Any, generator: np.random.Generator, share: float = 0.05) -> Any:
    """A float moved by up to `share`; anything else as it is."""
    if isinstance(value, float):
        return value * (1 + share * generator.uniform(-1, 1))
    return value
