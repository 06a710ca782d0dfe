"""The command `spread`: worst case and many boards at random over the tolerances."""

import argparse
import sys
import time

from circuits.output import write_out

MOST_BOARDS = 400_000
"""They take some kilobytes each while they are summed up."""
MOST_JOBS = 1024
PATIENCE = 1.0
"""Seconds after which progress is told."""

EXAMPLE = """\
worked example:
  coilwright spread foyer.toml
  coilwright spread foyer.toml --boards 20000 --seed 7 --json -o spread.json
  coilwright spread foyer.toml --csv -o boards.csv
  coilwright spread foyer.toml --keep rows.jsonl
      keeps each board that was run whole; the same command goes on where it was stopped

Every figure and check of the sheet over boards that differ by [tolerance] and by the catalogue's
spreads; what the file leaves out is assumed and named so. The same seed gives the same answer.
--csv writes a row for each board.

exit code: 0 nothing fails on any board, 1 something does, 2 the file cannot be used,
130 interrupted
"""


def add_parser(subparsers: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command's arguments."""
    parser = subparsers.add_parser(
        "spread",
        description="Worst case and spread of every figure over the tolerances.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("file", metavar="FILE", help="the design file (TOML)")
    parser.add_argument(
        "--boards", metavar="N", default="100000", help="how many boards are drawn; 100000"
    )
    parser.add_argument("--seed", metavar="N", default="1", help="of the draw; 1")
    parser.add_argument(
        "--distribution", metavar="KIND", default="uniform",
        help="uniform over each tolerance, or normal with the tolerance at three sigma; uniform",
    )  # fmt: skip
    parser.add_argument("--jobs", metavar="N", help="boards at once; as many as there are cores")
    parser.add_argument("--keep", metavar="ROWS", help="file of boards run whole, a JSON line each")
    parser.add_argument(
        "--all", action="store_true", help="every figure, check and tolerance in full"
    )
    faces = parser.add_mutually_exclusive_group()
    faces.add_argument("--json", action="store_true", help="all figures in SI units")
    faces.add_argument("--csv", action="store_true", help="a row for each board, in SI units")
    parser.add_argument("-o", "--output", metavar="FILE", help="write there instead of printing")
    parser.add_argument("--force", action="store_true", help="overwrite a file that exists")


def _count(text: str, option: str, low: int, high: int) -> int:
    from circuits.errors import DesignFileError

    if not text.isascii() or not text.isdigit() or not low <= int(text) <= high:
        raise DesignFileError(
            file="command line",
            key=option,
            found=text,
            wanted=f"a whole number from {low} to {high}",
        )
    return int(text)


def run(arguments: argparse.Namespace) -> int:
    """Print the spread; the exit code says whether anything fails on any board."""
    from circuits.boards import face_spread, spread_tables
    from circuits.boards.board_row import BoardStore
    from circuits.boards.board_samples import DISTRIBUTIONS
    from circuits.boards.spread import spread
    from circuits.boards.trial import Subject
    from circuits.design_file import parse_design
    from circuits.design_text import file_name, read_text
    from circuits.design_write import check_target, write_whole
    from circuits.errors import DesignFileError

    boards = _count(arguments.boards, "--boards", 100, MOST_BOARDS)
    seed = _count(arguments.seed, "--seed", 0, 2**31)
    if arguments.distribution not in DISTRIBUTIONS:
        raise DesignFileError(
            file="command line", key="--distribution", found=arguments.distribution,
            wanted=" or ".join(DISTRIBUTIONS),
        )  # fmt: skip
    jobs = arguments.jobs and _count(arguments.jobs, "--jobs", 1, MOST_JOBS)
    subject = Subject(text=read_text(arguments.file), file=file_name(arguments.file))
    design = parse_design(subject.text, subject.file)
    if arguments.output is not None:
        check_target(arguments.output, force=arguments.force)
    began = told = time.monotonic()

    def tell(done: int, total: int) -> None:
        nonlocal told
        now = time.monotonic()
        if now - began > PATIENCE and now - told > PATIENCE:
            told = now
            print(f"coilwright: {done} of {total} boards run whole", file=sys.stderr)

    store = BoardStore(subject, arguments.keep)
    try:
        found = spread(
            design, boards=boards, seed=seed, distribution=arguments.distribution, progress=tell,
            jobs=jobs, store=store,
        )  # fmt: skip
    finally:
        store.close()
    if arguments.json:
        text = spread_tables.spread_json(found)
    elif arguments.csv:
        text = spread_tables.spread_csv(found, everything=arguments.all)
    else:
        text = face_spread.spread_text(found, everything=arguments.all)
    if arguments.output is None:
        write_out(text)
    else:
        write_whole(arguments.output, text, force=arguments.force)
    return 1 if found.fails else 0
