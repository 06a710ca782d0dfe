"""`coilwright confirm`: the calculators' figures beside those of a circuit simulator."""

import argparse
import sys

from circuits.command_options import add_output, deliver

EXAMPLE = """\
worked example:
  coilwright confirm foyer.toml
      runs drive, release, filter and two passes in ngspice; prints both figures, the
      difference and its reason
  coilwright confirm foyer.toml --json
      the same for other programs, in SI units
  coilwright confirm foyer.toml --ngspice C:/Spice64/bin/ngspice_con.exe
      with a simulator that is not found by itself

It says whether the calculators agree with a simulator, not yet with your bench.
exit code: 0 all agree, 1 a figure differs beyond its tolerance, 2 the file cannot be
used, 3 the simulator is missing or failed
"""
EXIT_DIFFERS = 1
EXIT_SIMULATOR = 3


def add_parser(subparsers: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command's arguments."""
    parser = subparsers.add_parser(
        "confirm",
        description="Lay a simulator's figures beside the calculators'.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("file", metavar="FILE", help="the design file (TOML)")
    parser.add_argument("--ngspice", metavar="PATH", help="the simulator's program file")
    parser.add_argument("--json", action="store_true", help="as JSON, in SI units")
    add_output(parser)


def _progress(done: int, count: int) -> None:
    if sys.stderr.isatty():
        end = "\n" if done == count else ""
        print(f"\r{done} of {count} simulations done", end=end, file=sys.stderr, flush=True)
    else:
        print(f"{done} of {count} simulations done", file=sys.stderr)


def run(arguments: argparse.Namespace) -> int:
    """Print both columns; the exit code says whether they agree."""
    from netlists.errors import SimulatorFailed, SimulatorMissing

    try:
        return _confirm(arguments)
    except (SimulatorMissing, SimulatorFailed) as error:
        message = " ".join(str(error).split())
        print(f"coilwright: {message}", file=sys.stderr)
        return EXIT_SIMULATOR


def _confirm(arguments: argparse.Namespace) -> int:
    from dataclasses import replace

    from circuits import VERSION
    from circuits.catalogue import Catalogue
    from circuits.design_file import read_design
    from netlists.locate import find_ngspice, ngspice_version

    design = read_design(arguments.file)
    program = find_ngspice(arguments.ngspice)
    version = ngspice_version(program)

    from circuits.confirmation import confirm
    from circuits.face_confirm import confirmation_json, confirmation_text
    from circuits.pipeline import run as run_stages
    from circuits.spice_circuits import stages_of
    from netlists.self_test import check_simulator

    check_simulator(program, version)
    catalogue = Catalogue(design.part, design.file)
    found = confirm(
        stages_of(run_stages(design, catalogue), catalogue),
        title=design.design.title or design.file,
        program=program,
        version=version,
        progress=_progress,
    )
    found = replace(found, cells=design.supply.cell is not None)
    text = confirmation_json(found, VERSION) if arguments.json else confirmation_text(found)
    deliver(text, arguments)
    return 0 if found.agrees else EXIT_DIFFERS
