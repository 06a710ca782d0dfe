"""`coilwright seek`: searches windings, parts and widths, under all checks."""

import argparse
import sys
from typing import TYPE_CHECKING

from circuits.command_options import add_output, check_output, deliver, whole_number

if TYPE_CHECKING:
    from circuits.boards.seeking import Found

EXAMPLE = """\
worked example:
  coilwright seek foyer.toml --between "coil.outer_diameter=25 mm..40 mm" \\
      --between "coil.wire=0.1 mm..0.3 mm" --for energy
      tries 200 windings and lists those that no other beats; wire goes by catalogue sizes
  coilwright seek foyer.toml --among "drive.transistor=*" --apply foyer_better.toml
      tries every transistor of the catalogue and writes the design file of the best
  coilwright seek foyer.toml --between "magnet.gap=3 mm..9 mm" --points 5000 --keep rows.jsonl
      keeps finished rows; the same command goes on where it was stopped
  coilwright seek ... --cluster tcp://10.0.0.5:8786
      lets the workers of a Dask cluster make the trials

exit code: 0 a row passes every check, 1 none does, 2 the input cannot be used,
3 the package for clusters is missing, 130 interrupted: what was found is printed
"""
POINTS, MOST_POINTS, MOST_JOBS = 200, 1_000_000, 1024


def add_parser(subparsers: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command's arguments."""
    parser = subparsers.add_parser(
        "seek",
        description="Search some keys of a design for the best that passes every check.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("file", metavar="FILE", help="the design file (TOML)")
    parser.add_argument(
        "--between", metavar="KEY=A..B", action="append", default=[], help="a key and its span"
    )
    parser.add_argument(
        "--among", metavar="KEY=a,b,c", action="append", default=[],
        help="a key and its values; * for every part of the catalogue",
    )  # fmt: skip
    parser.add_argument(
        "--for", dest="aim", choices=("energy", "life", "coil"), default="energy",
        help="least energy per swing, longest life, or smallest coil; energy",
    )  # fmt: skip
    parser.add_argument("--points", metavar="N", default=str(POINTS), help="how many trials; 200")
    parser.add_argument("--seed", metavar="N", default="1", help="of the points; 1")
    parser.add_argument("--jobs", metavar="N", help="trials at once; as many as there are cores")
    parser.add_argument("--cluster", metavar="ADDRESS", help="of a Dask scheduler")
    parser.add_argument("--keep", metavar="ROWS", help="file of finished rows, a JSON line each")
    parser.add_argument("--picture", metavar="SVG", help="draw the trials")
    parser.add_argument("--apply", metavar="OUT", help="write the design file of a row")
    parser.add_argument("--row", metavar="N", help="which row --apply takes; the best")
    faces = parser.add_mutually_exclusive_group()
    faces.add_argument("--json", action="store_true", help="every trial as JSON, in SI units")
    faces.add_argument("--csv", action="store_true", help="every trial as CSV, in SI units")
    add_output(parser, several=True)


def _apply(found: "Found", row: int | None, arguments: argparse.Namespace) -> None:
    from circuits.boards.face_seek import best_place
    from circuits.design_write import apply_changes
    from circuits.errors import DesignFileError
    from circuits.remedies import spelled

    place = row or best_place(found)
    if place is None:
        print(f"{arguments.apply}: not written, no row passes every check", file=sys.stderr)
        return
    if place > len(found.front):
        raise DesignFileError(
            file="command line", key="--row", found=str(place),
            wanted=f"a row of the table, from 1 to {len(found.front)}",
        )  # fmt: skip
    changes = found.front[place - 1].changes
    apply_changes(arguments.file, changes, arguments.apply, force=arguments.force)
    print(f"{arguments.apply}: written with {spelled(changes)}", file=sys.stderr)


def _draw(found: "Found", title: str, arguments: argparse.Namespace) -> None:
    from circuits.boards.front_picture import front_picture
    from circuits.design_write import write_whole

    picture = front_picture(found, title)
    if picture is None:
        print(f"{arguments.picture}: not written, no trial has figures", file=sys.stderr)
        return
    write_whole(arguments.picture, picture + "\n", force=arguments.force)


def run(arguments: argparse.Namespace) -> int:
    """Print what the search found; the exit code says whether a row passes."""
    from circuits.boards.face_seek import found_csv, found_json, found_text
    from circuits.boards.knob import among, between
    from circuits.boards.row_store import RowStore
    from circuits.boards.seeking import seek
    from circuits.boards.trial import Subject
    from circuits.catalogue import Catalogue
    from circuits.design_file import parse_design
    from circuits.design_text import file_name, read_text
    from circuits.errors import DesignFileError
    from circuits.progress import told_each_second

    points = whole_number("--points", arguments.points, 1, MOST_POINTS)
    seed = whole_number("--seed", arguments.seed, 0, 2**32 - 1)
    jobs = None if arguments.jobs is None else whole_number("--jobs", arguments.jobs, 1, MOST_JOBS)
    row = None if arguments.row is None else whole_number("--row", arguments.row, 1, MOST_POINTS)
    check_output(arguments, arguments.apply, arguments.picture)
    subject = Subject(text=read_text(arguments.file), file=file_name(arguments.file))
    design = parse_design(subject.text, subject.file)
    catalogue = Catalogue(design.part, design.file)
    knobs = [between(text, catalogue) for text in arguments.between]
    knobs += [among(text, catalogue, design.drive.switch or "npn") for text in arguments.among]
    names = [knob.name for knob in knobs]
    if not knobs or len(set(names)) < len(names):
        raise DesignFileError(
            file="command line",
            key="--between",
            found=f"{max(set(names), key=names.count)} twice" if names else "no key to turn",
            wanted='name each key once, as in --between "magnet.gap=3 mm..9 mm"',
        )
    store = RowStore(subject, arguments.keep)
    try:
        found = seek(
            subject, knobs, arguments.aim, points=points, seed=seed, store=store, jobs=jobs,
            cluster=arguments.cluster, tell=told_each_second(),
        )  # fmt: skip
    finally:
        store.close()
    title = design.design.title or subject.file
    if arguments.json:
        text = found_json(found, title)
    elif arguments.csv:
        text = found_csv(found)
    else:
        text = found_text(found, title)
    deliver(text, arguments)
    if arguments.picture is not None:
        _draw(found, title, arguments)
    if arguments.apply is not None and found.finished:
        _apply(found, row, arguments)
    if not found.finished:
        raise KeyboardInterrupt
    return 0 if found.best is not None else 1
