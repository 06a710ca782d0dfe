"""A bare list of numbers that the maker calls beats or periods: the times of crossings."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from circuits.captures.capture import Capture
from circuits.ledger import Finding, Severity

FEWEST = 3


def as_crossings(
    capture: Capture, count: str | None, read_again: Callable[[], Capture]
) -> Capture:  # fmt: skip
    """Return a lone column without name and unit as times, where events are said to be counted.

    Parameters
    ----------
    capture : Capture
        As it was read.
    count : str or None
        beats or periods, as the maker says.
    read_again : callable
        Reads the file anew, its one column being times in seconds.

    Returns
    -------
    capture : Capture
        With a finding that says what the numbers were taken for; any other as it is.
    """
    if count is None or capture.time is not None or len(capture.channels) != 1:
        return capture
    use, values = capture.decision.columns[0], capture.channels[0].values
    if len(capture.decision.columns) != 1 or use.heading or use.unit_text:
        return capture
    known = values[np.isfinite(values)]
    if known.size < FEWEST or not np.all(np.diff(known) > 0):
        return capture
    again = read_again()
    taken = Finding(
        id="capture.bare_times", severity=Severity.MIND,
        text=f"Nothing names the one column; as its {count} are to be counted, it is taken for "
        "crossing times in s.",
        remedy='If they are in another unit, say so: --columns "time" --units "ms".',
    )  # fmt: skip
    return replace(again, findings=(*again.findings, taken))
