"""Which line of the file a row stands in."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class LineMap:
    """Rows of one part of a file: one line after another, unless `kept` tells which lines."""

    first: int
    kept: NDArray[np.int64] | None = None

    def line(self, row: int) -> int:
        """Return the line, counted from 1, of a row of this part, counted from 0."""
        return self.first + (row if self.kept is None else int(self.kept[row]))
