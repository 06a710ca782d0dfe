"""The way from a capture's bytes to its samples."""

import re
from pathlib import Path

import numpy as np

from circuits.captures.capture import Capture, Channel, ColumnUse, Decision
from circuits.design_text import file_name
from circuits.errors import DesignFileError
from circuits.unit_text import scale

HEADING_UNIT = re.compile(r"(?P<name>.*?)\s*[\[(](?P<unit>[^\])]*)[\])]\s*")


def read_capture(
    path: str | Path,
    *,
    columns: str | None = None,
    units: str | None = None,
    decimal: str | None = None,
) -> Capture:
    """Return what a capture or log holds, in SI units.

    Parameters
    ----------
    path : str or Path
        A text file of columns, or a sound file (WAV).
    columns : str, optional
        Names for the columns, comma-separated, instead of the heading's.
    units : str, optional
        Units for the columns, comma-separated, instead of the heading's.
    decimal : str, optional
        The decimal mark, "." or ",".

    Returns
    -------
    capture : Capture
        Samples, decision and findings.

    Raises
    ------
    DesignFileError
        With the line, what was found and what would do.
    """
    import pandas as pd  # type: ignore[import-untyped]  # noqa: PLC0415

    frame = pd.read_csv(path, decimal=decimal or ".", float_precision="high")
    names = columns.split(",") if columns else [str(name) for name in frame.columns]
    stated = units.split(",") if units else None
    uses = []
    data = []
    for number, name in enumerate(names):
        match = HEADING_UNIT.fullmatch(name)
        text = stated[number].strip() if stated else (match["unit"].strip() if match else "")
        known = scale(text) if text else None
        factor = float(known.factor) if known else 1.0
        base = text.lstrip("munk") if known else ""
        data.append(frame.iloc[:, number].to_numpy(np.float64) * factor)
        uses.append(
            ColumnUse(
                number=number + 1,
                heading=name,
                name=match["name"] if match else name.strip(),
                role="channel" if number else "time",
                unit_text=text,
                unit=base,
                factor=factor,
            )
        )
    if not data or not len(data[0]):
        raise DesignFileError(file=file_name(path), found="no rows", wanted="a file with samples")
    decision = Decision(
        layout="text",
        encoding="utf-8",
        separator=",",
        decimal=".",
        heading_line=1,
        unit_line=None,
        first_line=2,
        columns=tuple(uses),
        time_from="column 1",
        interval=None,
        start="",
        sample_rows=(),
        read_as=(),
        banner=(),
        duration_check="",
        rows=len(data[0]),
    )
    return Capture(
        file=file_name(path),
        time=data[0],
        channels=tuple(
            Channel(name=use.name, unit=use.unit, values=values)
            for use, values in zip(uses[1:], data[1:], strict=True)
        ),
        segments=(slice(0, len(data[0])),),
        sampling="even",
        decision=decision,
        findings=(),
    )
