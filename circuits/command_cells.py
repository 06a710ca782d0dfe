"""`coilwright cells`: a design over the life of its cells, what ends it and what lengthens it."""

import argparse
import sys
import time

from circuits.command_options import add_output, check_output, deliver, quantity

EXAMPLE = """\
worked example:
  coilwright cells foyer.toml
      says how long the cells last and what ends them, voltage, width and arc over that
      time, where the charge goes, what lengthens the life most, what other cells give
  coilwright cells foyer.toml --observed "3.5 days"
      ranks what could have emptied them so soon, and says which drain cannot have
  coilwright cells foyer.toml --steered --csv -o course.csv
      writes the course with a rate loop that widens the pulse as the cells sag

exit code: 0 they last as wanted, 1 they do not, 2 the file cannot be used
"""
PATIENCE = 1.0
"""s; beyond it progress is told."""


def add_parser(subparsers: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command's arguments."""
    parser = subparsers.add_parser(
        "cells",
        description="Follow a design over the life of its cells, to whatever ends it first.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("file", metavar="FILE", help="the design file (TOML)")
    parser.add_argument(
        "--observed", metavar="TIME", help='how long a set lasted, such as "3.5 days": what could '
        "have emptied it, and what cannot"
    )  # fmt: skip
    parser.add_argument(
        "--weak", metavar="SHARE", default="0.5",
        help="charge of the weakest cell over that of its neighbours; 0.5",
    )  # fmt: skip
    loop = parser.add_mutually_exclusive_group()
    loop.add_argument(
        "--steered", action="store_true", help="with a rate loop that trims the pulse width"
    )
    loop.add_argument(
        "--unsteered", action="store_true",
        help="with the width as it is; else as [rate] of the file says",
    )  # fmt: skip
    faces = parser.add_mutually_exclusive_group()
    faces.add_argument("--json", action="store_true", help="all figures in SI units")
    faces.add_argument("--csv", action="store_true", help="voltage, width and arc against time")
    add_output(parser)


def _weak(text: str) -> float:
    from circuits.errors import DesignFileError

    try:
        share = float(text)
    except ValueError:
        share = float("nan")
    if not 0.01 <= share < 1:
        raise DesignFileError(
            file="command line", key="--weak", found=text,
            wanted="a share from 0.01 to below 1, such as 0.5",
        )  # fmt: skip
    return share


class _Teller:
    """Tells on the error stream what is being computed, once it takes longer than a second."""

    def __init__(self) -> None:
        self.start = time.monotonic()

    def __call__(self, words: str) -> None:
        if time.monotonic() - self.start > PATIENCE:
            print(f"coilwright: trying {words}", file=sys.stderr)


def run(arguments: argparse.Namespace) -> int:
    """Print the life of the cells; the exit code says whether they last as wanted."""
    from circuits import cells_face
    from circuits.cells_report import report
    from circuits.design_file import read_design

    check_output(arguments)
    observed = quantity(
        "--observed", arguments.observed, "s", 60.0, 3e9,
        'a time from a minute to a hundred years, such as "3.5 days"',
    )  # fmt: skip
    weak = _weak(arguments.weak)
    steered = True if arguments.steered else False if arguments.unsteered else None
    found = report(
        read_design(arguments.file), observed=observed, weak=weak, steered=steered,
        tables=not arguments.csv, progress=_Teller(),
    )  # fmt: skip
    face = cells_face.cells_text
    if arguments.json:
        face = cells_face.cells_json
    elif arguments.csv:
        face = cells_face.cells_csv
    deliver(face(found), arguments)
    return 1 if found.fails else 0
