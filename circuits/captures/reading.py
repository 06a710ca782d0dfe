"""The way from a capture's bytes to its samples."""

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np

from circuits.captures.capture import Capture, Samples
from circuits.captures.capture_stream import CaptureStream
from circuits.captures.memory_room import room
from circuits.captures.overrides import read_overrides
from circuits.captures.reductions import MEGABYTE, thinned

HELD = 5.0
"""Memory for each byte of a file of the narrowest rows; wider rows take less."""


def stream_capture(
    path: str | Path, *, columns: str | None = None, units: str | None = None,
    decimal: str | None = None,
) -> CaptureStream:  # fmt: skip
    """Return a text file's rows part by part, for files that are larger than memory.

    The options and errors are those of `read_capture`.
    """
    return CaptureStream(path, read_overrides(columns, units, decimal))


@np.errstate(over="ignore", invalid="ignore")
def read_capture(
    path: str | Path, *, columns: str | None = None, units: str | None = None,
    decimal: str | None = None, progress: Callable[[int, int, str], None] | None = None,
) -> Capture:  # fmt: skip
    """Return what a capture or log holds, in SI units.

    Parameters
    ----------
    path : str or Path
        A text file of columns, or a sound file (WAV).
    columns : str, optional
        Names for all columns in order, such as "time, coil, -", where a lone - leaves one out; or
        picks by number or heading, such as "time=1, coil=CH2".
    units : str, optional
        Units in order, such as "s, mV", or by name, such as "coil=mV"; "coil=50 mV" says what a
        reading of 1 means. Also "interval=20 us" or "rate=44.1 kHz" for a file without times, and
        "date=dmy" or "date=mdy".
    decimal : str, optional
        The decimal mark, "." or ",".
    progress : callable, optional
        Told after each part how many megabytes are read, of how many.

    Returns
    -------
    capture : Capture
        Samples, decision and findings. Of a file larger than memory, the rows at which some
        channel is at its least or greatest, with a finding that says so.

    Raises
    ------
    DesignFileError
        With the line, what was found and what would do.
    """
    from circuits.captures.wave_file import is_wave, read_wave  # noqa: PLC0415

    overrides = read_overrides(columns, units, decimal)
    if is_wave(path):
        return read_wave(path, overrides)
    stream = CaptureStream(path, overrides)
    share = room() / (HELD * stream.size)
    if share < 1:
        rows = 2 * max(1, len(stream.channel_uses()))
        return thinned(stream, bucket=math.ceil(rows / share), progress=progress)
    times: list[Samples] = []
    parts: list[list[Samples]] = [[] for _ in stream.channel_uses()]
    for time, values, _ in stream.parts():
        if time is not None:
            times.append(time)
        for column, part in zip(parts, values, strict=True):
            column.append(part)
        if progress is not None and stream.size >= MEGABYTE:
            progress(stream.bytes_read // MEGABYTE, stream.size // MEGABYTE, "MB read")
    whole = [_joined(column) for column in parts]
    time = _joined(times) if times else None
    sampling = stream.judged(whole)
    stream.finish(sampling)
    segments: tuple[slice, ...] = (slice(0, stream.decision.rows),)
    if stream.check.rows:
        segments = stream.check.segments(sampling)
    return Capture(
        file=stream.file, time=time, channels=stream.channels(whole), segments=segments,
        sampling=sampling, decision=stream.decision, findings=stream.findings,
    )  # fmt: skip


def _joined(parts: list[Samples]) -> Samples:
    joined = parts[0] if len(parts) == 1 else np.concatenate(parts)
    parts.clear()
    return joined
