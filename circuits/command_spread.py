"""The command `spread`: worst case and many boards at random over the tolerances."""

import argparse

from circuits.command_options import add_output, check_output, deliver, whole_number

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
    add_output(parser)


def run(arguments: argparse.Namespace) -> int:
    """Print the spread; the exit code says whether anything fails on any board."""
    from circuits.boards import face_spread, spread_tables
    from circuits.boards.board_row import BoardStore
    from circuits.boards.board_samples import DISTRIBUTIONS
    from circuits.boards.spread import spread
    from circuits.boards.trial import Subject
    from circuits.design_file import parse_design
    from circuits.design_text import file_name, read_text
    from circuits.errors import DesignFileError
    from circuits.progress import told_each_second

    boards = whole_number("--boards", arguments.boards, 100, MOST_BOARDS)
    seed = whole_number("--seed", arguments.seed, 0, 2**31)
    if arguments.distribution not in DISTRIBUTIONS:
        raise DesignFileError(
            file="command line", key="--distribution", found=arguments.distribution,
            wanted=" or ".join(DISTRIBUTIONS),
        )  # fmt: skip
    jobs = None if arguments.jobs is None else whole_number("--jobs", arguments.jobs, 1, MOST_JOBS)
    subject = Subject(text=read_text(arguments.file), file=file_name(arguments.file))
    design = parse_design(subject.text, subject.file)
    check_output(arguments)
    told = told_each_second()

    def tell(done: int, total: int) -> None:
        told(done, total, "boards run whole")

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
    deliver(text, arguments)
    return 1 if found.fails else 0
