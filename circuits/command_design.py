"""`coilwright design`: the whole circuit sized and checked."""

import argparse
import sys
from typing import TYPE_CHECKING

from circuits.output import write_out

if TYPE_CHECKING:
    from circuits.design import Design
    from circuits.sheet import Sheet

EXAMPLE = """\
worked example:
  coilwright design foyer.toml
      prints the sheet: four answers, findings, the stages along one beat
  coilwright design foyer.toml --json -o foyer.json
      writes all figures in SI units for other programs
  coilwright design foyer.toml --apply foyer_better.toml
      writes a design file with the remedies in; foyer.toml stays as it is

exit code: 0 nothing fails, 1 a finding fails, 2 the file cannot be used
"""


def add_parser(subparsers: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command's arguments."""
    parser = subparsers.add_parser(
        "design",
        description="Size what the design file leaves out and check what it states.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("file", metavar="FILE", help="the design file (TOML)")
    faces = parser.add_mutually_exclusive_group()
    faces.add_argument("--json", action="store_true", help="the sheet as JSON, in SI units")
    faces.add_argument("--csv", action="store_true", help="the parts list only, as CSV")
    parser.add_argument("--all", action="store_true", help="also list the findings that are good")
    parser.add_argument("--apply", metavar="OUT", help="write a design file with the remedies in")
    parser.add_argument("-o", "--output", metavar="FILE", help="write there instead of printing")
    parser.add_argument("--force", action="store_true", help="overwrite files that exist")


def face(sheet: "Sheet", arguments: argparse.Namespace) -> str:
    """Return the sheet in the face asked for."""
    if arguments.json:
        from circuits.face_json import sheet_json

        return sheet_json(sheet)
    if arguments.csv:
        from circuits.face_csv import parts_csv

        return parts_csv(sheet)
    from circuits.face_terminal import Page, plain, printed, sheet_rows

    if arguments.output is None:
        return printed(lambda page: sheet_rows(sheet, page), everything=arguments.all)
    return plain(sheet_rows(sheet, Page(everything=arguments.all)))


def apply(design: "Design", sheet: "Sheet", arguments: argparse.Namespace) -> str:
    """Write the design file with the remedies in; return what was done, in words."""
    from functools import partial

    from circuits.design_write import apply_changes
    from circuits.pipeline import compute_with
    from circuits.remedies import failing, gather, spelled

    changes, after = gather(sheet, partial(compute_with, design))
    apply_changes(arguments.file, changes, arguments.apply, force=arguments.force)
    left = sorted(failing(after.findings))
    done = f"with {spelled(changes)}" if changes else "unchanged: no remedy is a change of keys"
    still = f"still failing: {', '.join(left)}" if left else "nothing fails"
    return f"{arguments.apply}: written {done}; {still}"


def run(arguments: argparse.Namespace) -> int:
    """Print the sheet; the exit code says whether a finding fails."""
    from circuits.design_file import read_design
    from circuits.pipeline import compute

    design = read_design(arguments.file)
    sheet = compute(design)
    text = face(sheet, arguments)
    if arguments.apply is not None:
        print(apply(design, sheet, arguments), file=sys.stderr)
    if arguments.output is None:
        write_out(text)
    else:
        from circuits.design_write import write_whole

        write_whole(arguments.output, text, force=arguments.force)
    return 1 if sheet.fails else 0
