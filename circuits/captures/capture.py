"""A capture or log as it was read: time, channels, and what was decided in reading it."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from circuits.ledger import Finding

Samples = NDArray[np.float64]
Sampling = Literal["even", "uneven", "transitions"]
Role = Literal["time", "channel", "unit", "left out"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One column of figures; not a number where the cell holds none.

    `unit` is ASCII and SI ("V", "A", "s", "ohm", "K", "Pa", "1"; rates in "s/day"), empty where the
    file tells none.
    """

    name: str
    unit: str
    values: Samples


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnUse:
    """What one column of the file was taken for, and the unit that its cells were read in."""

    number: int
    heading: str
    name: str
    role: Role
    unit_text: str = ""
    unit: str = ""
    factor: float = 1.0
    offset: float = 0.0
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """How a file was read, in words and numbers; one decision for the whole file."""

    layout: Literal["text", "sound"]
    encoding: str
    separator: str
    decimal: str
    heading_line: int | None
    unit_line: int | None
    first_line: int
    columns: tuple[ColumnUse, ...]
    time_from: str
    interval: float | None
    start: str
    sample_rows: tuple[str, ...]
    read_as: tuple[str, ...]
    banner: tuple[str, ...]
    duration_check: str
    rows: int

    def in_words(self) -> tuple[str, ...]:
        """Return the decision as lines for a maker to check against the file."""
        marks = {"\t": "tabs", ";": "semicolons", ",": "commas", " ": "spaces", "|": "bars"}
        lines = []
        if self.layout == "text":
            point = "comma" if self.decimal == "," else "point"
            parts = marks.get(self.separator, "nothing: one column")
            lines.append(f"columns parted by {parts}, decimal {point}, text in {self.encoding}")
        for use in self.columns:
            unit = f" in {use.unit_text}" if use.unit_text else ""
            reason = f": {use.reason}" if use.reason else ""
            lines.append(f'column {use.number} "{use.heading}": {use.role}{unit}{reason}')
        lines.append(f"time: {self.time_from}")
        for row, taken in zip(self.sample_rows, self.read_as, strict=True):
            lines.append(f"{row}  ->  {taken}")
        if self.duration_check:
            lines.append(self.duration_check)
        return tuple(lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class Capture:
    """A file's samples in SI units, in the order of the file: nothing sorted, dropped or shifted.

    `time` is None where the file tells neither times nor a sample interval. `segments` are the
    stretches of rows within which time runs on; `findings` say in words whatever is odd.
    `crossings` are the times at which the first signal passes its middle, where they are known of
    more rows than are held.
    """

    file: str
    time: Samples | None
    channels: tuple[Channel, ...]
    segments: tuple[slice, ...]
    sampling: Sampling
    decision: Decision
    findings: tuple[Finding, ...]
    crossings: Samples | None = None

    @property
    def rows(self) -> int:
        """Return the number of samples."""
        return self.decision.rows

    def channel(self, name: str) -> Channel:
        """Return the channel of that name; KeyError if there is none."""
        for channel in self.channels:
            if channel.name == name:
                return channel
        raise KeyError(name)
