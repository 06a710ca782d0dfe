"""Writes captures of known content in the layouts that instruments and loggers save."""

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from circuits.captures.capture import Capture
from circuits.captures.reading import read_capture


def save(folder: Path, content: str | bytes, name: str = "capture.csv") -> Path:
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
    return path


def read(folder: Path, content: str | bytes, **options: str) -> Capture:
    return read_capture(save(folder, content), **options)


def table(
    rows: Sequence[Sequence[object]], *, separator: str = ",", end: str = "\n", decimal: str = "."
) -> str:
    lines = (separator.join(str(cell).replace(".", decimal) for cell in row) for row in rows)
    return "".join(line + end for line in lines)


def wave(count: int, step: float, *, start: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Return times and a wave of some volts; the numbers are invented."""
    time = start + step * np.arange(count)
    return time, 1.5 * np.sin(0.37 * np.arange(count) + 0.2)


def engineering(value: float, digits: int) -> str:
    """Return a number with its sign and an exponent that is a multiple of three."""
    if value == 0:
        return f"+{0:.{digits}f}E+00"
    power = 3 * math.floor(math.log10(abs(value)) / 3)
    return f"{value / 10.0**power:+.{digits}f}E{power:+03d}"


def ids(capture: Capture) -> set[str]:
    return {finding.id for finding in capture.findings}


def text_of(capture: Capture, id: str) -> str:
    (finding,) = (finding for finding in capture.findings if finding.id == id)
    return finding.text
