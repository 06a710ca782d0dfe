"""`coilwright calc`: one equation by name, for somebody who has no design file."""

import argparse
from typing import TYPE_CHECKING, Any

from circuits.output import write_out

if TYPE_CHECKING:
    from circuits.calculator_call import Figure, Given
    from circuits.calculator_index import Argument, Entry

EXAMPLE = """\
worked example:
  coilwright calc
      lists the calculators by subject
  coilwright calc awg_diameter -h
      says what a calculator takes, with its formula and a worked example
  coilwright calc copper_resistance_per_metre --d-wire "0.25 mm" --temperature "35 degC"
      prints the result with its unit, the formula and its source; --json for programs

A quantity is written with its unit; a bare number stands for a ratio or a count. A tolerance,
as in "4k7 5%", gives the lowest and the highest result beside the nominal one.
"""

OPENING = "coilwright calc NAME --ARGUMENT VALUE ...; coilwright calc NAME -h explains one.\n"

WIDTH = 80
NAMES = 28
"""Columns of a name in the list; the longest has 27 letters."""


def add_parser(subparsers: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command's arguments; those of a calculator are read when its name is known."""
    parser = subparsers.add_parser(
        "calc",
        usage="coilwright calc [-h] [--json] [NAME --ARGUMENT VALUE ...]",
        description="Compute one equation by name.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--json", action="store_true", help="the list or the result as JSON")
    parser.add_argument("name", metavar="NAME", nargs="?", help="the calculator")
    parser.add_argument("rest", nargs=argparse.REMAINDER, help=argparse.SUPPRESS)


def run(arguments: argparse.Namespace) -> int:
    """List the calculators, explain one, or print the result of one."""
    as_json = arguments.json
    words = [word for word in arguments.rest if word != "--json"]
    as_json = as_json or len(words) < len(arguments.rest)
    if arguments.name is None:
        write_out(_listed_json() if as_json else _listed())
        return 0
    entry = _found(arguments.name)
    if "-h" in words or "--help" in words:
        write_out(_explained(entry))
        return 0
    from circuits.calculator_call import call, read_arguments

    given = read_arguments(entry, _options(entry, words))
    figures = call(entry, given)
    write_out(_result_json(entry, given, figures) if as_json else _result(entry, given, figures))
    return 0


def _found(name: str) -> "Entry":
    from difflib import get_close_matches

    from circuits.calculator_call import place
    from circuits.calculator_index import calculators

    known = calculators()
    wanted = name.strip().lower().replace("-", "_")
    if wanted in known:
        entry = known[wanted]
        if entry.arguments is None:
            raise place(
                entry.name,
                "a calculator that takes what no command line can state",
                "use `coilwright design`, which calls it",
            )
        return entry
    near = get_close_matches(wanted, known, n=3, cutoff=0.6)
    near += [
        entry.name
        for entry in known.values()
        if wanted in entry.name or wanted in entry.summary.lower()
    ]
    near = list(dict.fromkeys(near))[:6]
    raise place(
        "calc",
        f"the name {name[:60]!r}",
        f"{'near it are ' + ', '.join(near) if near else 'no name is near'}; "
        "`coilwright calc` lists all",
    )


def _options(entry: "Entry", words: list[str]) -> dict[str, str]:
    """Return text by option from `--name value` and `--name=value`."""
    from circuits.calculator_call import place

    stated: dict[str, str] = {}
    rest = iter(words)
    for word in rest:
        if not word.startswith("--"):
            raise place(
                "calc",
                f"{word[:60]!r} without the name of its argument",
                f"write --ARGUMENT before it: {' '.join(_names(entry))}",
            )
        option, equals, text = word.partition("=")
        option = option.replace("_", "-")
        if not equals:
            text = next(rest, "")
            if not text or text.startswith("--"):
                raise place(option, "no value", f'write it after the name: {option} "..."')
        if option in stated:
            raise place(option, "it twice", "state it once")
        stated[option] = text
    return stated


def _names(entry: "Entry") -> list[str]:
    return [argument.option for argument in entry.arguments or ()]


def _listed() -> str:
    from circuits.calculator_index import calculators

    lines = [OPENING]
    subject = ""
    for entry in calculators().values():
        if entry.arguments is None:
            continue
        if entry.subject != subject:
            subject = entry.subject
            lines += ["\n", *(f"{line}\n" for line in _wrapped(subject, ""))]
        lines += [f"{line}\n" for line in _wrapped(entry.summary, f"  {entry.name:<{NAMES}} ")]
    return "".join(lines)


def _listed_json() -> str:
    from circuits.calculator_index import calculators

    return _json(
        {
            entry.name: {
                "subject": entry.subject,
                "gives": entry.summary,
                "arguments": {
                    argument.option: {"unit": argument.unit, "words": argument.words}
                    for argument in entry.arguments
                },
            }
            for entry in calculators().values()
            if entry.arguments is not None
        }
    )


def _explained(entry: "Entry") -> str:
    """Return what one calculator takes and gives, with its docstring's example worked."""
    from dataclasses import MISSING

    lines = [f"{entry.name}: {entry.summary}", "", "arguments:"]
    for argument in entry.arguments or ():
        default = ""
        if argument.default is not MISSING:
            default = f"; left out: {_shown(argument, argument.default)}"
        kind = argument.unit if argument.kind in ("quantity", "curve") else argument.kind
        many = ", comma between samples" if argument.kind == "curve" else ""
        lines += _wrapped(f"{argument.words} [{kind}{many}]{default}", f"  {argument.option:<22} ")
    for name, words in entry.records.items():
        lines += ["", *_wrapped(f"{name}: {words}", "  ")]
    lines += ["", "formula:", *(f"  {line}" for line in entry.formula)]
    lines += ["", "source:", *_wrapped(entry.source, "  "), ""]
    lines += _worked(entry)
    return "\n".join(lines) + "\n"


def _worked(entry: "Entry") -> list[str]:
    from circuits.calculator_call import call
    from circuits.calculator_example import example_call

    given = example_call(entry)
    if not given:
        return []
    options = [f"{g.argument.option} {_quoted(_shown(g.argument, g.value))}" for g in given]
    lines = ["worked example:", *_wrapped(f"coilwright calc {entry.name}", "  ")]
    lines[-1] += " \\"
    lines += [f"      {option} \\" for option in options[:-1]] + [f"      {options[-1]}"]
    return [*lines, *(f"  {line}" for line in _figure_lines(call(entry, given)))]


def _quoted(text: str) -> str:
    return text if text.replace(".", "").replace("-", "").isalnum() else f'"{text}"'


def _shown(argument: "Argument", value: Any) -> str:
    """Return a value as it may be typed again: exactly, in a handy unit where that is exact."""
    from circuits.errors import QuantityError
    from circuits.format_quantity import show
    from circuits.quantity import parse_quantity

    if argument.kind == "curve":
        return ", ".join(_shown_one(argument.unit, float(v)) for v in value)
    if argument.kind == "yes or no":
        return "yes" if value else "no"
    if argument.kind != "quantity":
        return str(value)
    text = show(value, argument.unit, 12)
    try:
        exact = abs(parse_quantity(text, argument.unit).value - value) <= 1e-12 * abs(value)
    except QuantityError:
        exact = False
    return text if exact else _shown_one(argument.unit, value)


def _shown_one(unit: str, value: float) -> str:
    if value == float("inf"):
        return "infinite"
    return f"{value!r}" if unit == "1" else f"{value!r} {unit}"


def _wrapped(text: str, lead: str) -> list[str]:
    from textwrap import wrap

    return wrap(text, WIDTH, initial_indent=lead, subsequent_indent=" " * len(lead)) or [lead]


def _figure_lines(figures: "list[Figure]") -> list[str]:
    from circuits.format_quantity import show, show_range

    lines = []
    for figure in figures:
        if hasattr(figure.value, "__len__") and not isinstance(figure.value, str):
            low, high = float(min(figure.value)), float(max(figure.value))
            text = f"{len(figure.value)} samples, {show_range(low, high, figure.unit)}"
        elif isinstance(figure.value, bool):
            text = "yes" if figure.value else "no"
        else:
            text = show(figure.value, figure.unit, 6)
        if figure.low is not None and figure.high is not None:
            band = show_range(figure.low, figure.high, figure.unit, 5)
            text += f" ({band} at the corners of the tolerances)"
        lines.append(f"{figure.name} = {text}")
    return lines


def _result(entry: "Entry", given: "list[Given]", figures: "list[Figure]") -> str:
    lines = [f"{entry.name}: {entry.summary}", ""]
    lines += [f"  {line}" for line in _figure_lines(figures)]
    lines.append("")
    stated = [
        f"{'.'.join(g.argument.path)} = {_shown(g.argument, g.value)}"
        + ("" if g.stated else " (left out)")
        for g in given
    ]
    lines += _wrapped(", ".join(stated), "  with     ")
    for index, line in enumerate(entry.formula):
        lines.append(f"  {'formula' if index == 0 else '':<8} {line}")
    lines += _wrapped(entry.source, "  source   ")
    return "\n".join(lines) + "\n"


def _result_json(entry: "Entry", given: "list[Given]", figures: "list[Figure]") -> str:
    def plain(value: Any) -> Any:
        value = value.tolist() if hasattr(value, "tolist") else value
        return None if isinstance(value, float) and abs(value) == float("inf") else value

    return _json(
        {
            "calculator": entry.name,
            "arguments": {
                ".".join(g.argument.path): {"value": plain(g.value), "unit": g.argument.unit}
                for g in given
            },
            "results": {
                f.name: {"value": plain(f.value), "unit": f.unit, "low": f.low, "high": f.high}
                for f in figures
            },
            "formula": entry.formula,
            "source": entry.source,
        }
    )


def _json(content: dict[str, Any]) -> str:
    import json

    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
