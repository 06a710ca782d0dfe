"""What can be said of a file that is larger than memory: envelope, crossings and totals."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from circuits.captures.capture import Capture, Channel, Samples
from circuits.captures.capture_stream import CaptureStream
from circuits.errors import DesignFileError
from circuits.ledger import Finding, Severity
from circuits.plain_text import shown

MEGABYTE = 10**6
MOST_TAIL = 1_000_000
"""Rows; a level that is not left for longer is dated by the last of them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """One channel over the whole file; cells without a figure do not count."""

    name: str
    unit: str
    count: int
    mean: float
    rms: float
    least: float
    greatest: float


def totals(stream: CaptureStream) -> tuple[Totals, ...]:
    """Return mean, root mean square and bounds of every channel."""
    sums: list[NDArray[np.float64]] = []
    names: tuple[Channel, ...] = ()
    for part in stream:
        names = part.channels
        if not sums:
            sums = [np.array([0.0, 0.0, 0.0, np.inf, -np.inf]) for _ in names]
        for total, channel in zip(sums, names, strict=True):
            values = channel.values[~np.isnan(channel.values)]
            if values.size:
                total[:3] += values.size, values.sum(), np.square(values).sum()
                total[3] = min(total[3], values.min())
                total[4] = max(total[4], values.max())
    return tuple(
        Totals(
            name=channel.name, unit=channel.unit, count=int(total[0]),
            mean=float(total[1] / total[0]),
            rms=float(np.sqrt(total[2] / total[0])), least=float(total[3]),
            greatest=float(total[4]),
        )
        for total, channel in zip(sums, names, strict=True)
        if total[0]
    )  # fmt: skip


Progress = Callable[[int, int, str], None]


def told(stream: CaptureStream, progress: Progress | None) -> Iterator[Capture]:
    """Yield the parts, and tell after each how many megabytes are read, of how many."""
    for part in stream:
        yield part
        if progress is not None and stream.size >= MEGABYTE:
            progress(stream.bytes_read // MEGABYTE, stream.size // MEGABYTE, "MB read")


def crossings(
    stream: CaptureStream, channel: str, *, level: float, hysteresis: float,
    progress: Progress | None = None,
) -> tuple[Samples, NDArray[np.bool_]]:  # fmt: skip
    """Return when a channel passes a level, and whether upwards.

    A crossing counts once the channel has been `hysteresis` beyond the level on both sides; its
    time is interpolated between the two rows around the level.
    """
    found: list[float] = []
    upwards: list[bool] = []
    state = 0
    tail_time = tail_values = np.zeros(0)
    for part in told(stream, progress):
        time, values = _timed(stream, part, channel)
        time = np.concatenate([tail_time, time])
        values = np.concatenate([tail_values, values])
        side = (values > level + hysteresis).astype(np.int64) - (values < level - hysteresis)
        rows = np.flatnonzero(side)
        before = np.concatenate([[state], side[rows][:-1]]) if rows.size else rows
        for row, was in zip(rows, before, strict=True):
            if was and side[row] != was:
                found.append(_passed(time, values, int(row), level, int(side[row])))
                upwards.append(bool(side[row] > 0))
        first = 0
        if rows.size:
            first, state = int(rows[-1]), int(side[rows[-1]])
        # Since the last row beyond the level, the level itself may have been passed.
        tail_time, tail_values = time[first:][-MOST_TAIL:], values[first:][-MOST_TAIL:]
    return np.array(found, np.float64), np.array(upwards, np.bool_)


def _passed(time: Samples, values: Samples, row: int, level: float, sign: int) -> float:
    """Return when the level was passed on the way to a row beyond it."""
    after = row
    while after > 1 and sign * (values[after - 1] - level) > 0:
        after -= 1
    low, high = values[after - 1], values[after]
    if not low < high and not high < low:
        return float(time[after])
    return float(time[after - 1] + (level - low) / (high - low) * (time[after] - time[after - 1]))


def _timed(stream: CaptureStream, part: Capture, channel: str) -> tuple[Samples, Samples]:
    if part.time is None:
        raise DesignFileError(
            file=stream.file, found="rows without times",
            wanted='say how far apart they are with --units "interval=1 ms"',
        )  # fmt: skip
    try:
        return part.time, part.channel(channel).values
    except KeyError as error:
        known = ", ".join(channel.name for channel in part.channels)
        raise DesignFileError(
            file=stream.file, found=f"no channel {shown(channel)}", wanted=f"name one of: {known}"
        ) from error


def thinned(stream: CaptureStream, *, bucket: int, progress: Progress | None = None) -> Capture:
    """Return the rows in which some channel is at its least or greatest among `bucket` rows.

    They are rows of the file as they stand, so peaks stay what they are; a finding says so.
    """
    times: list[Samples] = []
    columns: list[list[Samples]] = []
    shape: Capture | None = None
    for part in told(stream, progress):
        shape = part
        if not columns:
            columns = [[] for _ in part.channels]
        rows = _extremes([channel.values for channel in part.channels], part.rows, bucket)
        if part.time is not None:
            times.append(part.time[rows])
        for column, channel in zip(columns, part.channels, strict=True):
            column.append(channel.values[rows])
    assert shape is not None
    channels = tuple(
        replace(channel, values=np.concatenate(column))
        for channel, column in zip(shape.channels, columns, strict=True)
    )
    time = np.concatenate(times) if times else None
    kept = len(channels[0].values) if channels else 0 if time is None else len(time)
    finding = Finding(
        id="capture.thinned", severity=Severity.MIND, value=float(kept), unit="1",
        text=f"Of {stream.decision.rows} rows, {kept} were kept: those at which some channel is "
        f"at its least or greatest among {bucket} rows.",
    )  # fmt: skip
    return Capture(
        file=stream.file, time=time, channels=channels, segments=(slice(0, kept),),
        sampling="uneven", decision=replace(stream.decision, rows=kept),
        findings=(*stream.findings, finding),
    )  # fmt: skip


def _extremes(columns: Sequence[Samples], rows: int, bucket: int) -> NDArray[np.int64]:
    """Return the rows, in order, at which a column is least or greatest within its bucket."""
    if bucket < 2 or rows <= bucket:
        return np.arange(rows)
    whole = rows - rows % bucket
    starts = np.arange(0, whole, bucket)
    found = [np.arange(whole, rows)]
    for values in columns:
        table = values[:whole].reshape(-1, bucket)
        open_cells = np.isnan(table)
        found.append(starts + np.argmin(np.where(open_cells, np.inf, table), axis=1))
        found.append(starts + np.argmax(np.where(open_cells, -np.inf, table), axis=1))
    if not columns:
        found.append(starts)
    return np.unique(np.concatenate(found))
