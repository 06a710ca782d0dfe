"""`coilwright read`: a capture or log becomes measured figures, findings and a picture."""

import argparse
import sys
from typing import TYPE_CHECKING

from circuits.command_options import add_output, check_output, deliver

if TYPE_CHECKING:
    from circuits.captures.measured import Against, Asked
    from circuits.captures.reading_out import ReadOut

EXAMPLE = """\
worked example:
  coilwright read examples/school_ringdown.csv --design examples/school_pendulum.toml
      finds out what the file holds (here a ring-down) and says the quality factor, the law of
      loss and the period, each with its span, beside what the design predicts
  coilwright read pass.csv --design foyer.toml --hold gap --picture pass.svg
      lobes, hum, polarity, and the linkage model fitted with the gap held
  coilwright read pulse.csv --shunt "1 ohm" --design foyer.toml --write-back measured.toml
      resistance, inductance, charge and energy, written into a copy of the design
  coilwright read log.csv --periods --target "2 s" --clock-error "0.4 s/day"
      rate, stability, what temperature and pressure do
  coilwright read --explain "-40 s/day" --design foyer.toml
      splits a rate error: which cause can give it and which cannot

exit code: 0 nothing fails, 1 a finding fails, 2 the input cannot be used
"""
KINDS = ("ringdown", "emf", "drive", "log")


def add_parser(subparsers: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command's arguments."""
    parser = subparsers.add_parser(
        "read",
        description="Turn an oscilloscope capture, a sound file or a log into measured figures.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("capture", metavar="CAPTURE", nargs="?", help="the file to read")
    parser.add_argument("--design", metavar="FILE", help="hold it against this design")
    parser.add_argument("--as", dest="kind", choices=KINDS, help="what it is, if told wrong")
    parser.add_argument("--columns", metavar="NAMES", help='names of the columns, "time,volts"')
    parser.add_argument("--units", metavar="UNITS", help='units of the columns, "s,mV"')
    parser.add_argument("--decimal", choices=(".", ","), help="the decimal mark")
    count = parser.add_mutually_exclusive_group()
    count.add_argument("--beats", action="store_true", help="events are beats, two a period")
    count.add_argument("--periods", action="store_true", help="events are whole periods")
    parser.add_argument("--coil", choices=("open", "connected"), help="during the ring-down")
    parser.add_argument("--hold", choices=("remanence", "gap", "speed"),
                        help="what is known of a pass; remanence if left out")  # fmt: skip
    parser.add_argument("--winding", choices=("drive", "pickup"),
                        help="which of two coils was captured")  # fmt: skip
    parser.add_argument("--shunt", metavar="OHM", help='the shunt of a drive capture, "1 ohm"')
    parser.add_argument("--supply", metavar="VOLT", help='its rail, "4.5 V"')
    parser.add_argument("--target", metavar="TIME", help='the period to judge by, "2 s"')
    parser.add_argument("--clock-error", metavar="RATE",
                        help='the logger\'s own error, "0.4 s/day"')  # fmt: skip
    parser.add_argument("--explain", metavar="RATE", help='split a rate error, "-40 s/day"')
    parser.add_argument("--json", action="store_true", help="as JSON, in SI units")
    parser.add_argument("--picture", metavar="SVG", help="draw what was found")
    parser.add_argument("--write-back", metavar="OUT", help="a copy of the design, as measured")
    add_output(parser, several=True)


def _quantity(
    arguments: argparse.Namespace, name: str, unit: str, *, signed: bool = False
) -> float | None:
    from circuits.errors import DesignFileError
    from circuits.quantity import QuantityError, parse_quantity

    text = getattr(arguments, name)
    if text is None:
        return None
    key = f"--{name.replace('_', '-')}"
    try:
        value = parse_quantity(text, unit).value
    except QuantityError as error:
        raise DesignFileError(
            file="command line", key=key, found=error.found, wanted=error.wanted
        ) from error
    if not (abs(value) < 1e9 and (signed or value > 0 or (value == 0 and unit == "s/day"))):
        raise DesignFileError(
            file="command line", key=key, found=text, wanted="give a figure above zero"
        )
    return value


def _asked(arguments: argparse.Namespace) -> "Asked":
    from circuits.captures.measured import Asked
    from circuits.format_quantity import DAY

    clock = _quantity(arguments, "clock_error", "s/day")
    count = "beats" if arguments.beats else ("periods" if arguments.periods else None)
    return Asked(
        kind=arguments.kind, count=count, clock_error=None if clock is None else clock / DAY,
        shunt=_quantity(arguments, "shunt", "ohm"), supply=_quantity(arguments, "supply", "V"),
        target=_quantity(arguments, "target", "s"), held=arguments.hold, coil=arguments.coil,
        winding=arguments.winding,
    )  # fmt: skip


def _check(arguments: argparse.Namespace) -> None:
    """Refuse what cannot be done before any work is done."""
    from circuits.errors import DesignFileError

    if arguments.capture is None and arguments.explain is None:
        raise DesignFileError(
            file="command line", found="no CAPTURE",
            wanted="name the file to read; 'coilwright read -h' shows a worked example",
        )  # fmt: skip
    for option, value in (("--explain", arguments.explain), ("--write-back", arguments.write_back)):
        if value is not None and arguments.design is None:
            raise DesignFileError(
                file="command line", key=option, found="no --design", wanted="add --design FILE"
            )
    targets = [t for t in (arguments.picture, arguments.write_back, arguments.output) if t]
    if len(set(targets)) < len(targets):
        raise DesignFileError(
            file="command line", found="one file for two outputs", wanted="name a file for each"
        )
    check_output(arguments, arguments.picture, arguments.write_back)


def _write_back(arguments: argparse.Namespace, out: "ReadOut") -> None:
    from circuits.captures.write_back import write_back

    told = write_back(
        arguments.design, arguments.write_back, out.measured.changes, force=arguments.force
    )
    print(f"coilwright: {told}", file=sys.stderr)


def _rate(arguments: argparse.Namespace) -> float | None:
    return _quantity(arguments, "explain", "s/day", signed=True)


def _split(arguments: argparse.Namespace, against: "Against") -> str:
    from circuits.captures.explain import explain
    from circuits.format_quantity import DAY

    rate = _rate(arguments)
    assert rate is not None
    found = explain(rate / DAY, against)
    return found.json if arguments.json else found.text


def _with_split(text: str, arguments: argparse.Namespace, against: "Against") -> str:
    """Return what a capture tells with the split of a rate error behind it."""
    split = _split(arguments, against)
    if not arguments.json:
        return f"{text}\n{split}"
    import json

    from circuits.face_json import json_text

    content = json.loads(text) | {"explained": json.loads(split)}
    return json_text(content)


def run(arguments: argparse.Namespace) -> int:
    """Print what a capture tells; the exit code says whether a finding fails."""
    from circuits.design_file import read_design

    _check(arguments)
    _rate(arguments)
    asked = _asked(arguments)
    from circuits.captures.reading_out import against_of, read_out

    against = None
    if arguments.design is not None:
        against = against_of(read_design(arguments.design))
    if arguments.capture is None:
        assert against is not None
        deliver(_split(arguments, against), arguments)
        return 0
    from circuits.captures.bare_times import as_crossings
    from circuits.captures.large_file import with_crossings
    from circuits.captures.reading import read_capture
    from circuits.face_read import read_json, read_text
    from circuits.progress import told_each_second

    how = {
        "columns": arguments.columns, "units": arguments.units, "decimal": arguments.decimal,
        "progress": told_each_second(),
    }  # fmt: skip
    capture = read_capture(arguments.capture, **how)
    if arguments.columns is None and arguments.units is None:
        told = how | {"columns": "time", "units": "s"}
        capture = as_crossings(
            capture, asked.count, lambda: read_capture(arguments.capture, **told)
        )  # fmt: skip
    capture = with_crossings(capture, arguments.capture, kind=arguments.kind, **how)
    out = read_out(capture, asked, against)
    text = read_json(out) if arguments.json else read_text(out)
    if arguments.explain is not None and against is not None:
        text = _with_split(text, arguments, against)
    if arguments.picture is not None:
        from circuits.captures.picture import picture
        from circuits.design_write import write_whole

        drawn = picture(capture.file, out.measured.panels)
        write_whole(arguments.picture, drawn, force=arguments.force)
    if arguments.write_back is not None:
        _write_back(arguments, out)
    deliver(text, arguments)
    return 1 if out.sheet.fails else 0
