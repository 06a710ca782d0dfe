"""Measured figures into a copy of the design file; comments and order stay."""

from collections.abc import Iterable

from calc.pendulum import effective_length
from circuits.design import Design
from circuits.design_file import read_design
from circuits.design_write import apply_changes
from circuits.errors import DesignFileError
from circuits.format_quantity import significant
from circuits.ledger import Change


def write_back(
    path_in: str, path_out: str, changes: Iterable[Change], *, force: bool = False
) -> str:
    """Write a copy of a design file with what was measured.

    Parameters
    ----------
    path_in : str
        The design file, which stays as it is.
    path_out : str
        The copy.
    changes : iterable of Change
        What was measured.
    force : bool
        Whether an existing copy may be overwritten.

    Returns
    -------
    told : str
        What was written, in words.

    Raises
    ------
    DesignFileError
        If there is nothing to write, or a file cannot be used.
    """
    made = tuple(_fitting(read_design(path_in), changes))
    if not made:
        raise DesignFileError(
            file=path_in, found="no measured figure that the design file has a key for",
            wanted="leave --write-back out; the findings say what to measure",
        )  # fmt: skip
    apply_changes(path_in, made, path_out, force=force)
    listed = ", ".join(f"{change.section}.{change.key} = {change.text}" for change in made)
    return f"{path_out} written with {listed}"


def _fitting(design: Design, changes: Iterable[Change]) -> Iterable[Change]:
    """Yield the changes as this file states them: a length where it states no period."""
    for change in changes:
        stated = design.movement.effective_length
        if (change.section, change.key) != ("movement", "period") or stated is None:
            yield change
            continue
        period = float(change.text.split(" ", maxsplit=1)[0])
        length = effective_length(period=period)
        yield Change(
            section="movement", key="effective_length", text=f"{significant(1e3 * length, 7)} mm"
        )
