"""Sound files as captures: full scale is 1 unless the user says what it means."""

import os
import struct
import warnings
from pathlib import Path
from typing import Any

import numpy as np

from circuits.captures.capture import Capture, Channel, ColumnUse, Decision, Samples
from circuits.captures.memory_room import room
from circuits.captures.overrides import Overrides
from circuits.design_text import file_name
from circuits.errors import DesignFileError
from circuits.ledger import Finding, Severity
from circuits.plain_text import shown

NAMES = {1: ("sound",), 2: ("left", "right")}
MOST_CHANNELS = 64
HELD = 9.0
"""Memory for each byte of 16-bit sound: samples and times in eight bytes each, and the file."""


def is_wave(path: str | Path) -> bool:
    """Return whether a file begins as a WAV file does."""
    try:
        with open(path, "rb") as stream:
            head = stream.read(12)
    except (OSError, ValueError):
        return False
    return head[:4] in (b"RIFF", b"RIFX", b"RF64") and head[8:] == b"WAVE"


def read_wave(path: str | Path, overrides: Overrides) -> Capture:
    """Return a sound file's channels, with times from its sample rate."""
    name = file_name(path)
    size = os.stat(path).st_size
    if size * HELD > room():
        raise DesignFileError(
            file=name, found=f"{size / 1e9:.3g} GB of sound, more than memory holds",
            wanted="cut it into shorter files",
        )  # fmt: skip
    rate, data, notes = _samples(path, name)
    if data.ndim == 1:
        data = data[:, None]
    rows, count = data.shape
    if not rows or not 0 < count <= MOST_CHANNELS or not 0 < rate < 1e9:
        raise DesignFileError(
            file=name, found=f"{rows} samples in {count} channels at {rate} Hz",
            wanted="record at least one channel with samples",
        )  # fmt: skip
    interval = overrides.interval or 1 / rate
    uses = _uses(name, count, overrides)
    channels = tuple(
        Channel(name=use.name, unit=use.unit, values=_scaled(data[:, i]) * use.factor)
        for i, use in enumerate(uses)
        if use.role == "channel"
    )
    decision = Decision(
        layout="sound", encoding=str(data.dtype), separator="", decimal=".", heading_line=None,
        unit_line=None, first_line=1, columns=uses,
        time_from=f"rows {interval:.9g} s apart, by the sample rate"
        if overrides.interval is None else f"rows {interval:.9g} s apart, as told",
        interval=interval, start="", sample_rows=(), read_as=(), banner=(),
        duration_check=f"{rows} samples at {1 / interval:.9g} Hz: {rows * interval:.9g} s in all",
        rows=rows,
    )  # fmt: skip
    return Capture(
        file=name, time=np.arange(rows, dtype=np.float64) * interval, channels=channels,
        segments=(slice(0, rows),), sampling="even", decision=decision,
        findings=tuple(_findings(channels, uses, notes)),
    )  # fmt: skip


def _samples(path: str | Path, name: str) -> tuple[int, Any, list[str]]:
    from scipy.io import wavfile  # noqa: PLC0415

    try:
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            rate, data = wavfile.read(path)
    except (ValueError, OSError, EOFError, struct.error, KeyError, TypeError, IndexError,
            ZeroDivisionError, MemoryError, UnboundLocalError, OverflowError) as error:  # fmt: skip
        raise DesignFileError(
            file=name,
            found=f"a WAV file that cannot be read ({shown(str(error))})",
            wanted="save it as plain PCM, 16 or 24 bits",
        ) from error
    return int(rate), data, [str(warning.message) for warning in caught]


def _uses(name: str, count: int, overrides: Overrides) -> tuple[ColumnUse, ...]:
    names = NAMES.get(count, tuple(f"channel {i + 1}" for i in range(count)))
    if overrides.names and len(overrides.names) != count:
        raise DesignFileError(
            file=name, key="--columns", found=f"{len(overrides.names)} names for {count} channels",
            wanted="name every channel in order, a lone - for one that is not wanted",
        )  # fmt: skip
    picked = {place: told for told, place in overrides.picks.items()}
    known = {str(i + 1) for i in range(count)} | set(names)
    strange = [place for place in picked if place not in known]
    strange += [told for told in overrides.units
                if told not in (*names, *overrides.names, *overrides.picks)]  # fmt: skip
    if strange or len(overrides.units_in_order) > count:
        raise DesignFileError(
            file=name, key="--columns and --units",
            found=shown(strange[0]) if strange else f"more than {count} units",
            wanted=f"name the channels: {', '.join(names)}",
        )  # fmt: skip
    uses = []
    for i, usual in enumerate(names):
        told = overrides.names[i] if overrides.names else usual
        if picked:
            told = picked.get(str(i + 1), picked.get(usual, "-"))
        unit = overrides.units.get(told) or overrides.units.get(usual)
        if unit is None and i < len(overrides.units_in_order):
            unit = overrides.units_in_order[i]
        uses.append(ColumnUse(
            number=i + 1, heading=usual, name=told if told != "-" else usual,
            role="left out" if told == "-" else "channel",
            unit_text=unit.text if unit else "", unit=unit.si if unit else "",
            factor=unit.factor if unit else 1.0, reason="not asked for" if told == "-" else
            "full scale is 1" if unit is None else "full scale as told",
        ))  # fmt: skip
    if all(use.role == "left out" for use in uses):
        raise DesignFileError(file=name, key="--columns", found="no channel", wanted="name one")
    return tuple(uses)


def _scaled(values: Any) -> Samples:
    """Return samples as parts of full scale."""
    kind = values.dtype
    if kind.kind == "f":
        return np.asarray(values, np.float64)
    if kind.kind == "u":
        middle = float(2 ** (8 * kind.itemsize - 1))
        return np.asarray((values.astype(np.float64) - middle) / middle)
    return np.asarray(values.astype(np.float64) / float(2 ** (8 * kind.itemsize - 1)))


def _findings(
    channels: tuple[Channel, ...], uses: tuple[ColumnUse, ...], notes: list[str]
) -> list[Finding]:
    found = []

    def mind(id: str, text: str, value: float | None = None) -> None:
        found.append(Finding(id=f"capture.{id}", severity=Severity.MIND, text=text, value=value,
                             unit=None if value is None else "1"))  # fmt: skip

    if any(use.role == "channel" and not use.unit_text for use in uses):
        mind(
            "no_unit",
            "A sound file holds parts of full scale, no volts; say what full scale is with "
            '--units "left=1.2 V". A sound input keeps no steady level and rounds slow lobes off.',
        )
    mind(
        "sound_clock",
        "Times come from the sound card's clock, which may be some tens of parts in a million off: "
        "some seconds a day.",
    )
    for use, channel in zip((u for u in uses if u.role == "channel"), channels, strict=True):
        full = np.abs(channel.values) >= 0.9999 * abs(use.factor)
        if np.count_nonzero(full) > 2:
            first = int(np.argmax(full))
            mind(
                f"clipped.{channel.name}",
                f'{np.count_nonzero(full)} samples of "{channel.name}" stand at full scale, the '
                f"first is sample {first + 1}: peaks are cut off there.",
                float(np.count_nonzero(full)),
            )
    if notes:
        mind("sound_file", f"The sound file is not quite in order: {shown(notes[0])}.")
    return found
