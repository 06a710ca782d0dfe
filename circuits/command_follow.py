"""`coilwright follow`: the movement in time, from a push by hand to where it settles."""

import argparse
import math
import sys

from circuits.command_options import add_output, check_output, deliver, quantity, whole_number

MOST_SWINGS = 5_000_000
LONGEST_DEAF = 10.0
LEAST_ARC = 1e-9

EXAMPLE = """\
worked example:
  coilwright follow foyer.toml --from-arc "2 deg"
      says whether a push to 2 degrees starts it, where it settles and how soon, what a
      pulse costs and gives, how far the drive pulls the rate
  coilwright follow foyer.toml --spent --csv -o arc.csv
      writes arc against time with spent cells
  coilwright follow foyer.toml --deaf "40 ms"
      says what a firmware hears that listens again 40 ms after the pulse began

exit code: 0 it keeps going, 1 it dies away, 2 the file cannot be used
"""


def add_parser(subparsers: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command's arguments."""
    parser = subparsers.add_parser(
        "follow",
        description="Follow pendulum or balance with coil, switch and clamp in time.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("file", metavar="FILE", help="the design file (TOML)")
    parser.add_argument(
        "--from-arc", metavar="ARC", help='the first push, such as "2 deg"; half the wanted arc'
    )
    parser.add_argument(
        "--swings", metavar="N", default="20000", help="how many swings, one way each; 20000"
    )
    parser.add_argument("--spent", action="store_true", help="with spent cells; else with fresh")
    parser.add_argument(
        "--deaf", metavar="TIME",
        help='deaf time of a firmware of your own, from the start of the pulse, such as "40 ms": '
        "what it misses, hears twice or takes for a pass",
    )  # fmt: skip
    parser.add_argument(
        "--map", action="store_true",
        help="rate and arc against width, delay and supply instead; the push does not count",
    )  # fmt: skip
    faces = parser.add_mutually_exclusive_group()
    faces.add_argument("--json", action="store_true", help="all figures in SI units")
    faces.add_argument("--csv", action="store_true", help="arc against time; all rows of --map")
    add_output(parser)


def _tell(done: int, arc: float) -> None:
    print(f"coilwright: {done} swings, arc {math.degrees(arc):.4g} deg", file=sys.stderr)


def _run_map(arguments: argparse.Namespace) -> int:
    from circuits import rate_map
    from circuits.design_file import read_design
    from circuits.progress import told_each_second

    tell = told_each_second()
    found = rate_map.rate_map(
        read_design(arguments.file), progress=lambda done, total: tell(done, total, "delays")
    )
    face = rate_map.map_text
    if arguments.json:
        face = rate_map.map_json
    elif arguments.csv:
        face = rate_map.map_csv
    deliver(face(found), arguments)
    return 0


def run(arguments: argparse.Namespace) -> int:
    """Print how the design goes; the exit code says whether it keeps going."""
    from circuits import following
    from circuits.design_file import read_design

    check_output(arguments)
    if arguments.map:
        return _run_map(arguments)
    swings = whole_number("--swings", arguments.swings, 1, MOST_SWINGS)
    arc = quantity(
        "--from-arc", arguments.from_arc, "rad", LEAST_ARC, math.radians(70),
        'an arc above zero and up to 70 degrees, such as "2 deg"',
    )  # fmt: skip
    deaf = quantity(
        "--deaf", arguments.deaf, "s", 0.0, LONGEST_DEAF,
        'a time from zero to 10 s, such as "40 ms"',
    )  # fmt: skip
    found = following.follow(
        read_design(arguments.file), arc_from=arc, swings=swings, spent=arguments.spent,
        progress=_tell, deaf=deaf,
    )  # fmt: skip
    face = following.follow_text
    if arguments.json:
        face = following.follow_json
    elif arguments.csv:
        face = following.follow_csv
    deliver(face(found), arguments)
    return 0 if found.keeps_going else 1
