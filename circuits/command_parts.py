"""`coilwright parts`: the catalogue, filtered by limits, with the source of each figure."""

import argparse
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

from circuits.output import write_out

if TYPE_CHECKING:
    from circuits.catalogue import Catalogue

EXAMPLE = """\
worked example:
  coilwright parts
      the kinds: npn, nmos, diode, zener, magnet, wire, cell, pin
  coilwright parts npn --at-least v_ceo="45 V" --at-least i_c_max="500 mA"
      transistors that bear 45 V and half an ampere
  coilwright parts nmos --at-most v_gs="3.3 V" --at-most r_ds_on_max="0.1 ohm"
      MOSFETs whose maker guarantees 0.1 ohm at 3.3 V or less; limits on test points
      must be met by one and the same point
  coilwright parts cell LR20
      every figure of one part, with its test condition and its source
"""


def add_parser(subparsers: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command's arguments."""
    parser = subparsers.add_parser(
        "parts",
        description="List the catalogue, with the source of each figure.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("kind", metavar="KIND", nargs="?", help="the kind of part")
    parser.add_argument("name", metavar="NAME", nargs="?", help="one part of that kind")
    for option, words in (("--at-least", "reach"), ("--at-most", "not exceed")):
        parser.add_argument(
            option,
            metavar="FIGURE=QUANTITY",
            action="append",
            default=[],
            help=f"a figure that a part must {words}; may be given several times",
        )
    parser.add_argument("--design", metavar="FILE", help="with the own parts of a design file")
    parser.add_argument("--json", action="store_true", help="as JSON, in SI units")


def run(arguments: argparse.Namespace) -> int:
    """Print the kinds, the parts of one kind, or one part."""
    from circuits import VERSION
    from circuits.catalogue import KINDS, Catalogue
    from circuits.face_parts import kind_table, kinds_json, kinds_table, part_table, parts_json
    from circuits.part_search import read_limits, search

    catalogue = _with_own_parts(arguments.design) if arguments.design else Catalogue()
    kind = arguments.kind
    if kind is None:
        _refuse_limits(arguments, "no kind")
        counts = {name: catalogue.names(name) for name in KINDS}
        _print(kinds_json(counts, VERSION) if arguments.json else kinds_table(counts))
        return 0
    if kind not in KINDS:
        raise _unknown_kind(kind, catalogue)
    if arguments.name is not None:
        _refuse_limits(arguments, "one part by name")
        part = _named(catalogue, arguments)
        _print(parts_json(kind, [part], VERSION) if arguments.json else part_table(kind, part))
        return 0
    record = KINDS[kind]
    limits = read_limits(record, arguments.at_least, least=True)
    limits += read_limits(record, arguments.at_most, least=False)
    found = search(catalogue.parts(kind), limits)
    if arguments.json:
        _print(parts_json(kind, found.parts, VERSION))
    else:
        _print(kind_table(kind, found.parts, found.unknown))
    return 0


def _named(catalogue: "Catalogue", arguments: argparse.Namespace) -> Any:
    from circuits.errors import DesignFileError

    try:
        return catalogue.part(arguments.kind, arguments.name)
    except DesignFileError as error:
        more = "" if arguments.design else " of a design file, and add --design FILE"
        raise DesignFileError(
            file="command line", key=f"parts {arguments.kind}", found=error.found,
            wanted=error.wanted + more,
        ) from error  # fmt: skip


def _with_own_parts(path: str) -> "Catalogue":
    """Read the [part] tables only: a design that is not finished has parts all the same."""
    from circuits.catalogue import Catalogue
    from circuits.design_text import file_name, parse_toml, read_text
    from circuits.errors import DesignFileError

    file = file_name(path)
    own = parse_toml(read_text(path), file).get("part", {})
    if not isinstance(own, dict):
        raise DesignFileError(
            file=file,
            key="part",
            found="no table",
            wanted='describe a part in a table of its own: [part.NAME] with kind = "npn"',
        )
    return Catalogue(own, file)


def _print(content: Any) -> None:
    from circuits.face_parts import coloured_table, plain_table
    from circuits.face_terminal import on_terminal

    if isinstance(content, str):
        write_out(content)
    else:
        write_out(coloured_table(content) if on_terminal() else plain_table(content))


def _refuse_limits(arguments: argparse.Namespace, with_what: str) -> None:
    from circuits.errors import DesignFileError

    if arguments.at_least or arguments.at_most:
        raise DesignFileError(
            file="command line",
            found=f"limits and {with_what}",
            wanted="limits filter the list of a kind: coilwright parts KIND --at-least ...",
        )


def _unknown_kind(kind: str, catalogue: "Catalogue") -> Exception:
    from circuits.catalogue import KINDS
    from circuits.errors import DesignFileError
    from circuits.plain_text import shown

    words = {
        "transistor": "npn",
        "mosfet": "nmos",
        "battery": "cell",
        "chip": "pin",
    }
    words |= {name: name for name in KINDS}
    near = get_close_matches(kind.casefold(), words, n=1)
    hint = f"nearest: {words[near[0]]}; " if near else ""
    for name in KINDS:
        if catalogue.knows(name, kind):
            hint = f"a part by name needs its kind: coilwright parts {name} {kind}; "
    return DesignFileError(
        file="command line",
        found=f"the kind {shown(kind)}",
        wanted=f"{hint}kinds are {', '.join(KINDS)}",
    )
