"""`coilwright steer`: the loop that holds the rate on a crystal by trimming the pulse width."""

import argparse
import sys
from collections.abc import Callable

from circuits.command_options import add_output, check_output, deliver

EXIT_COMPILER = 3
MOST_RUNS = 24

EXAMPLE = """\
worked example:
  coilwright steer foyer.toml
      says whether the widths cover weather, setting and ageing cells, with which sign and
      gains, how to set the nut, and follows a start, a step and a day
  coilwright steer foyer.toml --year --csv -o year.csv
      follows a whole year, a row a correction
  coilwright steer foyer.toml --firmware step.c
      compiles your own step function and runs it, confined to a process that may do
      nothing but arithmetic, against a year of weather and dying cells: says what
      breaks, and on which day first; 'constants --source' writes an example

exit code: 0 the loop holds, 1 a finding fails or no loop can be planned, 2 the file cannot
be used, 3 no compiler for --firmware, 130 interrupted
"""


def add_parser(subparsers: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command's arguments."""
    parser = subparsers.add_parser(
        "steer",
        description="Plan the loop that compares the swing with a crystal and trims the pulse.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("file", metavar="FILE", help="the design file (TOML)")
    parser.add_argument("--year", action="store_true", help="follow a whole year, too")
    parser.add_argument(
        "--firmware", metavar="STEP.C",
        help="try this step function for a year instead, in a confined process",
    )  # fmt: skip
    faces = parser.add_mutually_exclusive_group()
    faces.add_argument("--json", action="store_true", help="all figures in SI units")
    faces.add_argument("--csv", action="store_true", help="the step, or the year, row by row")
    add_output(parser)


def run(arguments: argparse.Namespace) -> int:
    """Print the plan or the trial; the exit code says whether the loop holds."""
    if arguments.firmware is not None:
        return _run_firmware(arguments)
    from circuits.design_file import read_design
    from circuits.progress import told_each_second
    from circuits.steering.plan import plan
    from circuits.steering.steer_text import steer_csv, steer_json, steer_text

    check_output(arguments)
    found = plan(read_design(arguments.file), year=arguments.year, progress=told_each_second())
    face = steer_json if arguments.json else steer_csv if arguments.csv else steer_text
    text = face(found)
    deliver(text, arguments)
    return 0 if found.holds else 1


def _run_firmware(arguments: argparse.Namespace) -> int:
    from circuits.design_file import read_design
    from circuits.errors import DesignFileError
    from circuits.progress import told_each_second
    from circuits.steering.child import step_text
    from circuits.steering.child_build import CompilerMissing, find_compiler
    from circuits.steering.firmware_plan import trial_json, trial_text, try_plan
    from circuits.steering.plan import plan

    if arguments.csv:
        raise DesignFileError(
            file="command line", key="--csv", found="--firmware beside it",
            wanted="a trial is printed in words, or with --json day by day",
        )  # fmt: skip
    check_output(arguments)
    design = read_design(arguments.file)
    step_text(arguments.firmware)
    try:
        find_compiler()
        found = plan(design, progress=told_each_second())
        trial, findings = try_plan(found, arguments.firmware, _told_runs())
    except CompilerMissing as error:
        print(f"coilwright: {' '.join(str(error).split())}", file=sys.stderr)
        return EXIT_COMPILER
    face = trial_json if arguments.json else trial_text
    text = face(trial, findings, found.title)
    deliver(text, arguments)
    return 1 if trial.breaks else 0


def _told_runs() -> Callable[[], None]:
    """Return a function that tells on standard error how many runs the trial has had so far."""
    from circuits.progress import told_each_second

    tell, done = told_each_second(), 0

    def told() -> None:
        nonlocal done
        tell(done, MOST_RUNS, "runs of the step function at most")
        done += 1

    return told
