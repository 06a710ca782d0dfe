"""`coilwright design`: the whole circuit sized and checked."""

import argparse
import sys
from typing import TYPE_CHECKING

from circuits.command_options import add_output, deliver
from circuits.errors import DesignFileError

if TYPE_CHECKING:
    from circuits.design import Design
    from circuits.sheet import Sheet
    from circuits.stage_pass import StagePass

EXAMPLE = """\
worked example:
  coilwright design foyer.toml
      prints the sheet: four answers, findings, the stages along one beat
  coilwright design foyer.toml --json -o foyer.json
      writes all figures in SI units for other programs
  coilwright design foyer.toml --apply foyer_better.toml
      writes a design file with the remedies in; foyer.toml stays as it is
  coilwright design foyer.toml --html foyer.html
      writes a report with pictures, one page to print and take to the bench
  coilwright design foyer.toml --pdf foyer.pdf --templates --keeper
      the same as PDF, with templates in true size and a card for who keeps it running

exit code: 0 nothing fails, 1 a finding fails, 2 the file cannot be used, 3 WeasyPrint is missing
"""
EXIT_MISSING = 3


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
    parser.add_argument("--html", metavar="OUT", help="write a report with pictures as a page")
    parser.add_argument("--pdf", metavar="OUT", help="write the report as PDF")
    parser.add_argument(
        "--templates", action="store_true", help="with templates in true size in the report"
    )
    parser.add_argument(
        "--keeper", action="store_true", help="with a card for who keeps it running in the report"
    )
    add_output(parser, several=True)


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


def write_report(
    design: "Design", sheet: "Sheet", done: "StagePass", arguments: argparse.Namespace
) -> None:
    """Write the report, as page and as PDF: all that was asked for, or nothing."""
    from circuits.design_write import check_target, write_whole
    from circuits.report.report import report

    targets = [target for target in (arguments.html, arguments.pdf) if target is not None]
    for target in targets:
        check_target(target, force=arguments.force)
    page = report(design, sheet, done, templates=arguments.templates, keeper=arguments.keeper)
    contents: dict[str, str | bytes] = {}
    if arguments.html is not None:
        contents[arguments.html] = page
    if arguments.pdf is not None:
        from circuits.report.pdf import pdf_of

        contents[arguments.pdf] = pdf_of(page)
    for target, content in contents.items():
        write_whole(target, content, force=arguments.force)
        print(f"{target}: written", file=sys.stderr)


def _refuse_pages_alone(arguments: argparse.Namespace) -> None:
    if arguments.html is not None or arguments.pdf is not None:
        if arguments.html == arguments.pdf:
            raise DesignFileError(
                file="command line", found=f"'{arguments.html}' as page and as PDF",
                wanted="give each a name of its own",
            )  # fmt: skip
        return
    for name in ("templates", "keeper"):
        if getattr(arguments, name):
            raise DesignFileError(
                file="command line", found=f"--{name} without a report",
                wanted="add --html OUT or --pdf OUT, which takes these pages",
            )  # fmt: skip


def run(arguments: argparse.Namespace) -> int:
    """Print the sheet; the exit code says whether a finding fails."""
    from circuits.design_file import read_design
    from circuits.pipeline import compute_whole

    _refuse_pages_alone(arguments)
    design = read_design(arguments.file)
    sheet, done = compute_whole(design)
    text = face(sheet, arguments)
    if arguments.html is not None or arguments.pdf is not None:
        from circuits.report.errors import PrinterMissing

        try:
            write_report(design, sheet, done, arguments)
        except PrinterMissing as error:
            print(f"coilwright: {error}", file=sys.stderr)
            return EXIT_MISSING
    if arguments.apply is not None:
        print(apply(design, sheet, arguments), file=sys.stderr)
    deliver(text, arguments)
    return 1 if sheet.fails else 0
