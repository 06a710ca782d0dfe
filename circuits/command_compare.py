"""`coilwright compare`: two designs, or a design and what was measured, side by side."""

import argparse

from circuits.command_options import add_output, check_output, deliver

EXAMPLE = """\
worked example:
  coilwright compare foyer.toml foyer_second.toml
      says which keys differ, what each of them does by itself, which findings turn, and
      within what a copy of the first is accepted
  coilwright read first_piece.csv --json -o measured.json
  coilwright compare foyer.toml measured.json
      holds what was measured against what was designed

A name that ends in .json is a file of figures, any other a design file.

exit code: 0 nothing lies outside, 1 a figure lies outside what the first allows or a finding
fails on the second only, 2 a file cannot be used
"""


def add_parser(subparsers: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command's arguments."""
    parser = subparsers.add_parser(
        "compare",
        description="Say what differs between two designs, or a design and a measurement.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("first", metavar="A", help="a design file, or figures in JSON")
    parser.add_argument("second", metavar="B", help="what is held against it")
    parser.add_argument("--all", action="store_true", help="list every common figure")
    parser.add_argument("--json", action="store_true", help="as JSON, in SI units")
    add_output(parser)


def run(arguments: argparse.Namespace) -> int:
    """Print the comparison; the exit code says whether something lies outside."""
    from circuits.comparison import compare
    from circuits.comparison_side import read_side
    from circuits.face_compare import comparison_json, comparison_text
    from circuits.progress import counted

    check_output(arguments)
    found = compare(
        read_side(arguments.first),
        read_side(arguments.second),
        lambda entries: counted(entries, "differences tried"),
    )
    if arguments.json:
        text = comparison_json(found)
    else:
        text = comparison_text(found, everything=arguments.all)
    deliver(text, arguments)
    return 1 if found.outside or found.breaks else 0
