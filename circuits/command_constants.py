"""`coilwright constants`: the firmware's whole numbers as a C header, and its step function."""

import argparse

from circuits.command_options import check_output, deliver
from circuits.output import write_out

EXAMPLE = """\
worked example:
  coilwright constants foyer.toml
      prints a C header: ticks, converter counts, deaf time, delays, widths, gains as
      scaled whole numbers, each with its unit and where it came from
  coilwright constants foyer.toml -o steering_constants.h --source step.c
      writes it, and the step function of the regulator beside it: portable C99, whole
      numbers only, checked so that no count can make it overflow

what is to be minded (a counter that goes round, a constant that rounding spoils) stands
in the header's first comment, and is printed where the header goes into a file

exit code: 0 good, 1 a finding fails, 2 the file cannot be used
"""


def add_parser(subparsers: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command's arguments."""
    parser = subparsers.add_parser(
        "constants",
        description="Write the constants of a design's firmware as a C header.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("file", metavar="FILE", help="the design file (TOML)")
    parser.add_argument("--json", action="store_true", help="all constants and findings instead")
    parser.add_argument("-o", "--output", metavar="HEADER", help="write there instead of printing")
    parser.add_argument("--source", metavar="STEP.C", help="write the step function, too")
    parser.add_argument("--force", action="store_true", help="overwrite files that exist")


def run(arguments: argparse.Namespace) -> int:
    """Print or write the header; the exit code says whether a finding fails."""
    from circuits.design_file import read_design
    from circuits.design_write import write_whole
    from circuits.steering.constants import firmware_constants
    from circuits.steering.constants_header import HEADER
    from circuits.steering.constants_source import source_text

    header = HEADER if arguments.output is None or arguments.json else arguments.output
    source = None if arguments.source is None else source_text(header)
    check_output(arguments, arguments.source)
    found = firmware_constants(read_design(arguments.file))
    text = found.json() if arguments.json else found.header()
    deliver(text, arguments)
    if source is not None:
        write_whole(arguments.source, source, force=arguments.force)
    if arguments.output is not None:
        write_out(found.sentences())
    return 1 if found.fails else 0
