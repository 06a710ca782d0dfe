"""The command line: finds the command, runs it, and turns what goes wrong into one message."""

import argparse
import difflib
import gc
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import NoReturn

from circuits import VERSION
from circuits.errors import DesignFileError
from circuits.output import drop_output, prepare_streams, write_out

EXIT_GOOD = 0
EXIT_UNUSABLE = 2
EXIT_MISSING = 3
EXIT_INTERRUPTED = 130

COMMANDS = {
    "new": ("circuits.command_new", "ask six questions and write a commented design file"),
    "design": ("circuits.command_design", "size and check a whole design: the main job"),
    "expect": ("circuits.command_expect", "what meter and oscilloscope must show at the bench"),
    "follow": ("circuits.command_follow", "follow the movement in time: start, arc, rate"),
    "cells": ("circuits.command_cells", "the cells over their life: what ends it, what helps"),
    "steer": ("circuits.command_steer", "plan the loop that holds the rate on a crystal"),
    "constants": ("circuits.command_constants", "the firmware's constants as a C header"),
    "spread": ("circuits.command_spread", "worst case and many boards over the tolerances"),
    "seek": ("circuits.command_seek", "search windings, parts and widths under all checks"),
    "compare": ("circuits.command_compare", "two designs, or design and measurement, side by side"),
    "read": ("circuits.command_read", "turn a capture or log into measured figures"),
    "confirm": ("circuits.command_confirm", "lay a simulator's figures beside the calculators'"),
    "decks": ("circuits.command_decks", "write the sized circuit as SPICE decks"),
    "calc": ("circuits.command_calc", "one equation by name, without a design file"),
    "parts": ("circuits.command_parts", "list the catalogue, with the source of each value"),
}

EXTRAS = {"PySpice": "spice", "weasyprint": "pdf", "distributed": "cluster", "dask": "cluster"}
"""The optional part of the program that brings a module."""

NEXT_STEPS = """\
coilwright sizes and checks the circuit of a movement that a coil keeps swinging.

1. coilwright new my_pendulum.toml      asks six questions, writes a design file
2. coilwright design my_pendulum.toml   sizes what it leaves out, checks what it states
3. coilwright expect my_pendulum.toml   says what to find at the bench

coilwright -h lists all commands; coilwright COMMAND -h shows a worked example.
"""


class _Parser(argparse.ArgumentParser):
    """A parser whose refusals are one message in the shape of all others."""

    def error(self, message: str) -> NoReturn:
        found = message
        lacking = "the following arguments are required: "
        if message.startswith(lacking):
            found = f"no {message.removeprefix(lacking)}"
        raise DesignFileError(
            file="command line", found=found, wanted=f"'{self.prog} -h' shows a worked example"
        )


def _top() -> tuple[_Parser, "argparse._SubParsersAction[_Parser]"]:
    listed = "\n".join(f"  {name:<9} {words}" for name, (_, words) in COMMANDS.items())
    parser = _Parser(
        prog="coilwright",
        usage="coilwright COMMAND ...",
        description="Design calculations for movements that a coil keeps swinging.",
        epilog=f"commands (each with -h and a worked example):\n{listed}\n\n"
        "exit codes: 0 nothing fails, 1 a finding fails, 2 the input cannot be used,\n"
        "3 an optional part is missing, 130 interrupted",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"coilwright {VERSION}")
    return parser, parser.add_subparsers(prog="coilwright", help=argparse.SUPPRESS)


def _run(argv: Sequence[str]) -> int:
    if not argv:
        write_out(NEXT_STEPS)
        return EXIT_GOOD
    parser, subparsers = _top()
    name = argv[0]
    if name.startswith("-"):
        parser.parse_args(argv)
    if name not in COMMANDS:
        near = difflib.get_close_matches(name, COMMANDS, n=1)
        wanted = f"'{near[0]}' is near" if near else f"commands are {', '.join(COMMANDS)}"
        raise DesignFileError(file="command line", found=f"the command '{name}'", wanted=wanted)
    module = import_module(COMMANDS[name][0])
    module.add_parser(subparsers)
    arguments, unknown = parser.parse_known_args(argv)
    if unknown:
        raise DesignFileError(
            file="command line",
            found=f"'{' '.join(unknown)}', which means nothing to '{name}'",
            wanted=f"'coilwright {name} -h' shows a worked example",
        )
    return int(module.run(arguments))


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command line and return its exit code.

    Parameters
    ----------
    argv : sequence of str, optional
        The arguments after the program's name; the process's own if left out.

    Returns
    -------
    code : int
        0 nothing fails, 1 a finding fails, 2 input cannot be used, 3 an optional part is
        missing, 130 interrupted.
    """
    prepare_streams()
    if argv is None:
        # A process of one command ends before the thousands of objects of its imports are worth
        # a collection; the default would look through them dozens of times while it starts.
        gc.set_threshold(50_000, 20, 20)
    try:
        code = _run(sys.argv[1:] if argv is None else argv)
    except SystemExit as stop:  # argparse prints help and version in this way
        code = stop.code if isinstance(stop.code, int) else EXIT_GOOD
    except DesignFileError as error:
        code = _complain(str(error), EXIT_UNUSABLE)
    except KeyboardInterrupt:
        code = _complain("interrupted", EXIT_INTERRUPTED)
    except BrokenPipeError:
        drop_output()
        code = EXIT_GOOD
    except Exception as error:
        code = _unexpected(error)
    return code


def _complain(message: str, code: int) -> int:
    """Print one message on one line, without characters that would steer the terminal."""
    text = "".join(c if c.isprintable() else " " for c in message)
    print(f"coilwright: {text}", file=sys.stderr)
    return code


def _brought_by(module: str) -> str:
    return f"coilwright[{EXTRAS[module]}]" if module in EXTRAS else module


def _unexpected(error: Exception) -> int:
    """Answer a part that is not installed, or an error that no part of the program foresaw."""
    if os.environ.get("COILWRIGHT_DEBUG"):
        import traceback

        traceback.print_exception(error)
    if isinstance(error, ModuleNotFoundError) and error.name is not None:
        lacking = error.name.partition(".")[0]
        if lacking not in ("calc", "netlists", "circuits"):
            return _complain(
                f"{lacking}: found no such module; install it with "
                f"'pip install {_brought_by(lacking)}' and run again",
                EXIT_MISSING,
            )
    return _complain(
        f"internal error: found {type(error).__name__} ({error}); please report it with the "
        "design file, COILWRIGHT_DEBUG=1 prints where it arose",
        EXIT_UNUSABLE,
    )


if __name__ == "__main__":
    sys.exit(main())
