"""`coilwright expect`: what the instruments must show, and what to swap if they do not."""

import argparse

from circuits.output import write_out

EXAMPLE = """\
worked example:
  coilwright expect foyer.toml
      lists each test point with the switch off and on: volts, milliseconds, which lobe
      comes first, and what to swap if it is the other way round
  coilwright expect foyer.toml --json
      the same for other programs
"""


def add_parser(subparsers: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command's arguments."""
    parser = subparsers.add_parser(
        "expect",
        description="Say what meter and oscilloscope must show at each test point.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("file", metavar="FILE", help="the design file (TOML)")
    parser.add_argument("--json", action="store_true", help="the test points as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Print the bench check; the exit code says whether a finding of the design fails."""
    from circuits.design_file import read_design
    from circuits.pipeline import compute

    sheet = compute(read_design(arguments.file), remedies=False)
    if arguments.json:
        from circuits.face_json import bench_json

        write_out(bench_json(sheet))
    else:
        from circuits.face_terminal import bench_sheet_rows, printed

        write_out(printed(lambda page: bench_sheet_rows(sheet, page)))
    return 1 if sheet.fails else 0
