"""Some rows of a table, and what they suggest about its columns."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from circuits.captures.capture import ColumnUse
from circuits.captures.cell_kinds import number_in, plain
from circuits.captures.heading_units import SPANS, looks_timely, words_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """Some rows of the table as cells; the first ones, then some of its middle and end."""

    first: tuple[tuple[str, ...], ...]
    later: tuple[tuple[str, ...], ...]

    def numbers(self, column: int, decimal: str) -> list[float]:
        """Return the numbers of a column in the first rows."""
        found = (number_in(row[column], decimal) for row in self.first)
        return [value for value in found if value is not None and math.isfinite(value)]

    def texts(self, column: int) -> list[str]:
        """Return the filled cells of a column in all rows."""
        found = (plain(row[column]) for row in (*self.first, *self.later))
        return [text for text in found if text]


def increasing(values: Sequence[float]) -> bool:
    """Return whether some numbers, three at least, only grow."""
    return len(values) > 2 and all(a < b for a, b in pairwise(values))


def names_span(heading: str) -> bool:
    """Return whether a heading names a span that was measured, such as a period."""
    return bool(set(words_of(heading)) & SPANS)


def timely(use: ColumnUse, *, weakly: bool = False) -> bool:
    """Return whether a column may be the time of its rows, by its heading and unit."""
    named = looks_timely(use.heading, weakly=weakly) or looks_timely(use.name, weakly=weakly)
    return named and use.unit in ("", "s")
