"""A file's bytes as whole lines, whatever their encoding and line ends, without holding it all."""

import codecs
import os
import re
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from circuits.design_text import file_name
from circuits.errors import DesignFileError

BLOCK = 1 << 21
HEAD = 1 << 18
LONGEST_LINE = 1 << 20
MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
PACKED = ((b"PK\x03\x04", "a spreadsheet or zip archive"), (b"\x1f\x8b", "a gzip archive"))
TORN = re.compile(rb"[^\0\n]\0+[^\0\n]")
CONTROL = bytes(set(range(32)) - set(b"\t\n\r\f\x1a\0\x1b"))


@dataclass(frozen=True, slots=True, kw_only=True)
class RawFile:
    """A file that can be read as text: how it is encoded and where its lines end."""

    path: Path
    name: str
    size: int
    encoding: str
    skip: int
    lone_returns: bool


@dataclass(slots=True)
class Oddities:
    """What was odd about the bytes; a place is a part's number and a line in it, from 0."""

    parts: int = 0
    nul_bytes: int = 0
    nul_at: tuple[int, int] | None = None
    foreign_at: tuple[int, int] | None = None


def open_raw(path: str | Path) -> RawFile:
    """Return how a file's bytes are to be read, or refuse what holds no text."""
    name = file_name(path)
    try:
        found = os.stat(path)
        if not stat.S_ISREG(found.st_mode):
            what = "a directory" if stat.S_ISDIR(found.st_mode) else "no plain file"
            raise DesignFileError(file=name, found=what, wanted="name one capture or log")
        with open(path, "rb") as stream:
            head = stream.read(HEAD)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise DesignFileError(
            file=name, found=f"a file that cannot be read ({reason})", wanted="name one that can"
        ) from error
    if not head.strip(b"\0 \t\r\n\x1a"):
        raise DesignFileError(
            file=name, found="an empty file" if not head else "nothing but blanks",
            wanted="a capture with at least one row of figures",
        )  # fmt: skip
    for mark, what in PACKED:
        if head.startswith(mark):
            raise DesignFileError(
                file=name, found=what, wanted="unpack it, or save the sheet as text (CSV)"
            )
    encoding, skip = _encoding(head)
    plain = head[skip:].decode(encoding, "replace").encode("utf-8", "replace")
    if len(plain) - len(plain.translate(None, CONTROL)) > 0.02 * len(plain):
        raise DesignFileError(
            file=name, found="bytes that are neither text nor a WAV file",
            wanted="save the capture as text (CSV) or as WAV",
        )  # fmt: skip
    return RawFile(
        path=Path(path), name=name, size=found.st_size, encoding=encoding, skip=skip,
        lone_returns=b"\r" in plain and b"\n" not in plain,
    )  # fmt: skip


def _encoding(head: bytes) -> tuple[str, int]:
    for mark, encoding in MARKS:
        if head.startswith(mark):
            return encoding, len(mark)
    probe = head[: 2 * (min(len(head), 4096) // 2)]
    if len(probe) >= 8:
        # Western text in two bytes a letter has every other byte zero.
        even, odd = probe[::2], probe[1::2]
        for first, second, encoding in ((even, odd, "utf-16-le"), (odd, even, "utf-16-be")):
            if second.count(0) > 0.8 * len(second) and first.count(0) < 0.05 * len(first):
                return encoding, 0
    return "utf-8", 0


def blocks(raw: RawFile, oddities: Oddities, size: int = 0) -> Iterator[bytes]:
    """Yield the file in order, each part ending with a whole line that ends in a line feed."""
    # What is under way takes many times a part's size: parts stay small beside the file.
    size = size or min(BLOCK, max(HEAD, raw.size // 16))
    plain = raw.encoding == "utf-8" and not raw.lone_returns
    for data in _whole_lines(raw, size) if plain else _recoded_lines(raw, size):
        yield _tidied(data, oddities)


def _whole_lines(raw: RawFile, size: int) -> Iterator[bytes]:
    """Yield parts that end with a line, each read once and copied nowhere."""
    offset = raw.skip
    with open(raw.path, "rb", buffering=0) as stream:
        while True:
            stream.seek(offset + size)
            probe = b""
            while b"\n" not in probe and (more := stream.read(1 << 16)):
                probe += more
                if len(probe) > LONGEST_LINE:
                    raise _no_lines(raw)
            wanted = size + (probe.find(b"\n") + 1 or len(probe))
            stream.seek(offset)
            data = stream.read(wanted)
            while len(data) < wanted and (more := stream.read(wanted - len(data))):
                data += more
            if not data:
                return
            offset += len(data)
            yield data if data.endswith(b"\n") else data + b"\n"


def _recoded_lines(raw: RawFile, size: int) -> Iterator[bytes]:
    """Yield parts that end with a line, of a file with other letters or line ends."""
    decoder = codecs.getincrementaldecoder(raw.encoding)("replace")
    carry = b""
    with open(raw.path, "rb") as stream:
        stream.seek(raw.skip)
        while chunk := stream.read(size):
            if raw.encoding != "utf-8":
                chunk = decoder.decode(chunk).encode("utf-8", "replace")
            if raw.lone_returns:
                chunk = chunk.replace(b"\r", b"\n")
            cut = chunk.rfind(b"\n") + 1
            if cut:
                yield carry + chunk[:cut]
                carry = chunk[cut:]
            else:
                carry += chunk
            if len(carry) > LONGEST_LINE:
                raise _no_lines(raw)
    if raw.encoding != "utf-8":
        carry += decoder.decode(b"", final=True).encode("utf-8", "replace")
    if carry:
        yield carry + b"\n"


def _no_lines(raw: RawFile) -> DesignFileError:
    return DesignFileError(
        file=raw.name, found=f"more than {LONGEST_LINE} bytes without a line end",
        wanted="save the capture with one row of figures a line",
    )  # fmt: skip


def _tidied(data: bytes, oddities: Oddities) -> bytes:
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if b"\0" in data:
        if oddities.nul_at is None:
            oddities.nul_at = oddities.parts, data.count(b"\n", 0, data.index(b"\0"))
        oddities.nul_bytes += data.count(b"\0")
        # Where figures stand on both sides, leaving the zeros out would join two of them.
        data = data.replace(b"\0", b"?" if TORN.search(data) else b"")
    if oddities.foreign_at is None and not data.isascii():
        try:
            data.decode("utf-8")
        except UnicodeDecodeError as error:
            oddities.foreign_at = oddities.parts, data.count(b"\n", 0, error.start)
    oddities.parts += 1
    return data


def decoded(data: bytes) -> str:
    """Return bytes as text: UTF-8, else Western European."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace")


def first_lines(raw: RawFile) -> list[str]:
    """Return the lines of the file's beginning."""
    for data in blocks(raw, Oddities(), HEAD):
        return decoded(data).split("\n")[:-1]
    return []


def later_lines(raw: RawFile, most: int = 60) -> list[str]:
    """Return lines of the middle and of the end of a file that is longer than its beginning."""
    found: list[str] = []
    span = 1 << 15
    if raw.size <= HEAD:
        return found
    with open(raw.path, "rb") as stream:
        for offset in (raw.size // 2, raw.size - span):
            stream.seek(raw.skip + 2 * ((offset - raw.skip) // 2))
            data = stream.read(span)
            if raw.encoding != "utf-8":
                data = data.decode(raw.encoding, "replace").encode("utf-8", "replace")
            if raw.lone_returns:
                data = data.replace(b"\r", b"\n")
            lines = decoded(_tidied(data, Oddities())).split("\n")
            found += lines[1:-1][-most:]
    return found
