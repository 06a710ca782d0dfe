"""The worked example of a calculator: the last call in its own docstring."""

import importlib
from doctest import DocTestParser
from typing import Any

from circuits.calculator_call import Given
from circuits.calculator_index import Argument, Entry


def example_call(entry: Entry) -> list[Given]:
    """Return the arguments of the docstring's last call, empty where it has none.

    Parameters
    ----------
    entry : Entry
        The calculator.

    Returns
    -------
    given : list of Given
        What the example states; defaults are left out.
    """
    seen: list[dict[str, Any]] = []

    def record(**kwargs: Any) -> Any:
        seen.append(kwargs)
        return entry.function(**kwargs)

    module = importlib.import_module(entry.function.__module__)
    scope = {**vars(module), entry.function.__name__: record}
    for example in DocTestParser().get_examples(entry.sections.get("Examples", "")):
        # Not in the interactive mode of a doctest: that would print what each line returns.
        exec(compile(example.source, entry.name, "exec"), scope)
    if not seen:
        return []
    return [
        Given(argument=argument, value=value)
        for argument in entry.arguments or ()
        if (value := _inside(seen[-1], argument)) is not None
    ]


def _inside(kwargs: dict[str, Any], argument: Argument) -> Any:
    value = kwargs.get(argument.path[0])
    for name in argument.path[1:]:
        value = None if value is None else getattr(value, name)
    return value
