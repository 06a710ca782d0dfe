"""A free swing in a file larger than memory: its crossings are timed by all rows of the file."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from circuits.captures.capture import Capture
from circuits.captures.kinds import recognise, signals
from circuits.captures.reading import stream_capture
from circuits.captures.reductions import crossings
from circuits.errors import DesignFileError
from circuits.ledger import Finding, Severity

LEAST_SHARE = 0.02
"""A crossing counts beyond this share of the wave's height; those that noise adds lie beside it."""


def is_thinned(capture: Capture) -> bool:
    """Return whether a capture holds only some of its file's rows."""
    return any(finding.id == "capture.thinned" for finding in capture.findings)


def with_crossings(
    capture: Capture, path: str | Path, *, kind: str | None = None, columns: str | None = None,
    units: str | None = None, decimal: str | None = None,
    progress: Callable[[int, int, str], None] | None = None,
) -> Capture:  # fmt: skip
    """Return a capture with the times at which its wave passes its middle, by the whole file.

    The file is read a second time. A capture that holds all its rows, or no free swing's wave,
    comes back as it is.

    Parameters
    ----------
    capture : Capture
        What `read_capture` returned for the file.
    path : str or Path
        The file.
    kind : str, optional
        What it is, where the user says so.
    columns, units, decimal : str, optional
        As for `read_capture`.
    progress : callable, optional
        Told after each part how many megabytes are read, of how many.

    Returns
    -------
    capture : Capture
    """
    found = signals(capture)
    if not is_thinned(capture) or capture.time is None or not found:
        return capture
    try:
        if (kind or recognise(capture).kind) != "ringdown":
            return capture
    except DesignFileError:
        return capture
    good = np.isfinite(found[0].values) & np.isfinite(capture.time)
    t, values = capture.time[good], found[0].values[good]
    if t.size < 2 or not t[-1] > t[0]:
        return capture
    # Least and greatest of each stretch lie to both sides of the middle alike.
    level = float(np.trapezoid(values, t) / (t[-1] - t[0]))
    hysteresis = LEAST_SHARE * float(np.abs(values - level).max())
    times, _ = crossings(
        stream_capture(path, columns=columns, units=units, decimal=decimal), found[0].name,
        level=level, hysteresis=hysteresis, progress=progress,
    )  # fmt: skip
    told = Finding(
        id="capture.crossings", severity=Severity.GOOD, value=float(times.size), unit="1",
        text=f'The {times.size} times at which "{found[0].name}" passes its middle are from all '
        "rows of the file, not from those that were kept.",
    )  # fmt: skip
    return replace(capture, crossings=times, findings=(*capture.findings, told))
