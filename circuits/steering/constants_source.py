"""The regulator's step function in C, for a header of any name."""

import re
from importlib.resources import files
from pathlib import PurePath

from circuits.errors import DesignFileError
from circuits.plain_text import shown
from circuits.steering.constants_header import HEADER

NAME = re.compile(r"[A-Za-z0-9_][A-Za-z0-9._-]{0,63}\Z")


def source_text(header: str = HEADER) -> str:
    """Return the step function that includes a header.

    Parameters
    ----------
    header : str
        Where the header is written; its last part is included.

    Raises
    ------
    DesignFileError
        If the name does not do between quotes in C.
    """
    name = PurePath(header).name
    if not NAME.match(name):
        raise DesignFileError(
            file="command line", key="--output", found=shown(name),
            wanted="name the header in letters, digits, '.', '_' and '-', so that C can include it",
        )  # fmt: skip
    text = (files("circuits.steering") / "step.c").read_text(encoding="utf-8")
    return text.replace(f'#include "{HEADER}"', f'#include "{name}"')
