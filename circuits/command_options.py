"""What several commands read from their command line, and where their answer goes."""

import argparse

from circuits.output import write_out


def add_output(parser: argparse.ArgumentParser, *, several: bool = False) -> None:
    """Add the options for a file that takes the answer."""
    files = "files that exist" if several else "a file that exists"
    parser.add_argument("-o", "--output", metavar="FILE", help="write there instead of printing")
    parser.add_argument("--force", action="store_true", help=f"overwrite {files}")


def check_output(arguments: argparse.Namespace, *more: str | None) -> None:
    """Refuse files that may not be written, before any long work.

    Parameters
    ----------
    arguments : argparse.Namespace
        With `output` and `force`.
    *more : str or None
        Other files that the command is to write.

    Raises
    ------
    DesignFileError
        If one exists already and may not be overwritten.
    """
    from circuits.design_write import check_target

    for target in (arguments.output, *more):
        if target is not None:
            check_target(target, force=arguments.force)


def deliver(text: str, arguments: argparse.Namespace) -> None:
    """Print the answer, or write it whole into the file that was named."""
    if arguments.output is None:
        write_out(text)
        return
    from circuits.design_write import write_whole

    write_whole(arguments.output, text, force=arguments.force)


def whole_number(option: str, text: str, low: int, high: int) -> int:
    """Return the whole number of an option.

    Raises
    ------
    DesignFileError
        If it is none, or lies outside.
    """
    from circuits.errors import DesignFileError

    if not text.isascii() or not text.isdigit() or not low <= int(text[:20]) <= high:
        raise DesignFileError(
            file="command line", key=option, found=text,
            wanted=f"a whole number from {low} to {high}",
        )  # fmt: skip
    return int(text)


def quantity(
    option: str, text: str | None, unit: str, low: float, high: float, wanted: str
) -> float | None:
    """Return the quantity of an option in SI units; None where it is not given.

    Parameters
    ----------
    option : str
        As it is written, for messages.
    text : str or None
        Number and unit.
    unit : str
        The unit of the result.
    low, high : float
        What is possible, ends included.
    wanted : str
        What would do, for messages.

    Raises
    ------
    DesignFileError
        If the text is no such quantity, or lies outside.
    """
    from circuits.errors import DesignFileError
    from circuits.quantity import QuantityError, parse_quantity

    if text is None:
        return None
    try:
        value = parse_quantity(text, unit).value
    except QuantityError as error:
        raise DesignFileError(
            file="command line", key=option, found=error.found, wanted=wanted
        ) from error
    if not low <= value <= high:
        raise DesignFileError(file="command line", key=option, found=text, wanted=wanted)
    return value
