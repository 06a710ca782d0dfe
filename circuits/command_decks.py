"""`coilwright decks`: the sized circuit as SPICE decks."""

import argparse
import sys

from circuits.output import write_out

EXAMPLE = """\
worked example:
  coilwright decks foyer.toml -o foyer_decks
      writes the decks of the sized circuit into the directory foyer_decks:
      drive_fresh.cir, drive_spent.cir   the pulse, with the passing magnet's EMF
      filter.cir                         winding, divider and filter over frequency
      listening.cir                      a free pass through winding and filter alone
      free_pass.cir, driven_pass.cir     two passes up to the pin, the first free or driven
  ngspice -b foyer_decks/drive_fresh.cir
      or open them in any other SPICE

Decks hold plain circuit lines only: fixed names, plain numbers, nothing of your texts.
Files that exist stay as they are unless --force is given; all are written, or none.
exit code: 0 written, 2 file or directory cannot be used, 3 PySpice is missing
"""
EXIT_MISSING = 3


def add_parser(subparsers: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command's arguments."""
    parser = subparsers.add_parser(
        "decks",
        description="Write the sized circuit as decks that any SPICE reads.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("file", metavar="FILE", help="the design file (TOML)")
    parser.add_argument(
        "-o", "--output", metavar="DIR", required=True, help="directory that takes the decks"
    )
    parser.add_argument("--force", action="store_true", help="overwrite decks that exist")
    parser.add_argument("--json", action="store_true", help="list what was written as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Write the decks and list them."""
    import json

    from circuits.catalogue import Catalogue
    from circuits.confirmation import jobs_of
    from circuits.deck_files import write_decks
    from circuits.design_file import read_design
    from circuits.pipeline import run as run_stages
    from circuits.spice_circuits import stages_of
    from netlists.errors import SimulatorMissing

    design = read_design(arguments.file)
    catalogue = Catalogue(design.part, design.file)
    try:
        stages = stages_of(run_stages(design, catalogue), catalogue)
        jobs = tuple(jobs_of(stages, portable=True))
    except SimulatorMissing as error:
        print(f"coilwright: {error}", file=sys.stderr)
        return EXIT_MISSING
    decks = {f"{named.name}.cir": named.job.deck for named in jobs}
    write_decks(arguments.output, decks, force=arguments.force)
    if arguments.json:
        written = [{"file": f"{named.name}.cir", "words": named.words} for named in jobs]
        write_out(json.dumps({"directory": arguments.output, "decks": written}, indent=2) + "\n")
    else:
        write_out("".join(f"{named.name}.cir: {named.words}\n" for named in jobs))
    return 0
