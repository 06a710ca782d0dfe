"""Sound files as captures: full scale is 1 unless the user says what it means."""

import math
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
LONG = 20_000_000
"""Bytes; a shorter file keeps every sample."""
MOST_HELD = 4.5
"""Memory for each byte of a long file: samples and times take eight bytes each."""
LEAST_RATE = 4000.0
"""Samples a second that a pass of a magnet still needs many times over."""
PART = 1_000_000


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
    rate, data, notes = _samples(path, name)
    if data.ndim == 1:
        data = data[:, None]
    rows, count = data.shape
    if not rows or not 0 < count <= MOST_CHANNELS or not 0 < rate < 1e9:
        raise DesignFileError(
            file=name, found=f"{rows} samples in {count} channels at {rate} Hz",
            wanted="record at least one channel with samples",
        )  # fmt: skip
    averaged = _averaged(name, size, rows, count, rate)
    rows //= averaged
    interval = (overrides.interval or 1 / rate) * averaged
    uses = _uses(name, count, overrides)
    channels = tuple(
        Channel(name=use.name, unit=use.unit, values=_scaled(data[:, i], averaged, use.factor))
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
        file=name, time=_times(rows, averaged, interval), channels=channels,
        segments=(slice(0, rows),), sampling="even", decision=decision,
        findings=tuple(_findings(channels, uses, notes, averaged)),
    )  # fmt: skip


def _samples(path: str | Path, name: str) -> tuple[int, Any, list[str]]:
    from scipy.io import wavfile  # noqa: PLC0415

    try:
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            rate, data = _read(wavfile, path)
    except (ValueError, OSError, EOFError, struct.error, KeyError, TypeError, IndexError,
            ZeroDivisionError, MemoryError, UnboundLocalError, OverflowError) as error:  # fmt: skip
        raise DesignFileError(
            file=name,
            found=f"a WAV file that cannot be read ({shown(str(error))})",
            wanted="save it as plain PCM, 16 or 24 bits",
        ) from error
    return int(rate), data, [str(warning.message) for warning in caught]


def _read(wavfile: Any, path: str | Path) -> tuple[int, Any]:
    """Return rate and samples, left in the file where their size in it is one of a number's."""
    try:
        rate, data = wavfile.read(path, mmap=True)
    except ValueError:
        rate, data = wavfile.read(path)
    return rate, data


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


def _averaged(name: str, size: int, rows: int, count: int, rate: float) -> int:
    """Return how many samples are averaged into one, so that memory holds them."""
    held = 8 * (1 + count) * rows
    averaged = 1 if size <= LONG else max(1, math.ceil(held / (MOST_HELD * size)))
    if held > averaged * room():
        averaged = math.ceil(held / room())
        if rate / averaged < LEAST_RATE:
            raise DesignFileError(
                file=name, found=f"{size / 1e9:.3g} GB of sound, more than memory holds",
                wanted="cut it into shorter files",
            )  # fmt: skip
    return averaged if rate / averaged >= LEAST_RATE else 1


def _times(rows: int, averaged: int, interval: float) -> Samples:
    """Return times in seconds; a mean stands for the middle of its samples."""
    times = np.arange(rows, dtype=np.float64)
    times *= interval
    if averaged > 1:
        times += interval * (averaged - 1) / (2 * averaged)
    return times


def _scaled(values: Any, averaged: int, factor: float) -> Samples:
    """Return samples, or means of so many, as parts of full scale times a factor."""
    kind = values.dtype
    full = 1.0 if kind.kind == "f" else float(2 ** (8 * kind.itemsize - 1))
    middle = full if kind.kind == "u" else 0.0
    found = np.empty(len(values) // averaged, np.float64)
    for first in range(0, len(found), PART):
        part = found[first : first + PART]
        taken = values[first * averaged : (first + len(part)) * averaged]
        np.mean(taken.reshape(-1, averaged), axis=1, dtype=np.float64, out=part)
        part -= middle
        part *= factor / full
    return found


def _findings(
    channels: tuple[Channel, ...], uses: tuple[ColumnUse, ...], notes: list[str], averaged: int
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
    if averaged > 1:
        mind(
            "averaged",
            f"The recording is long: each {averaged} samples are averaged into one, which memory "
            "holds; the times are those of their middles.",
            float(averaged),
        )
    for use, channel in zip((u for u in uses if u.role == "channel"), channels, strict=True):
        limit = 0.9999 * abs(use.factor)
        full = (channel.values >= limit) | (channel.values <= -limit)
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
