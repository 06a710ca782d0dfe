"""From a path to a parsed TOML table: everything that can be wrong before a key is looked at."""

import os
import re
import stat
import tomllib
from pathlib import Path
from typing import Any, NoReturn

from circuits.errors import DesignFileError
from circuits.plain_text import shown, unreadable

LARGEST = 64 * 1024
"""Bytes; a design file that uses every key has a tenth of that."""

LONGEST_LINE = 1000
MOST_DOTS = 60
"""In one line; TOML's dotted names cost time with the square of their depth."""

EXAMPLE = 'gap = "4 mm"'

_HEADER = re.compile(r"\s*\[{1,2}\s*([^\[\]#]{1,80}?)\s*\]{1,2}\s*(?:#.*)?$")
_KEY = re.compile(r"\s*([A-Za-z0-9_-]{1,60})\s*=\s*(.*)$")
_CURLY = "“”„‟‘’‚«»＂"
_PLACE = re.compile(
    r"^(?P<what>.*) \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)$"
)


def read_text(path: str | Path, *, largest: int = LARGEST) -> str:
    """Return the text of a design file.

    Parameters
    ----------
    path : str or Path
        The design file.
    largest : int
        How many bytes it may have.

    Returns
    -------
    text : str
        Without byte-order mark.

    Raises
    ------
    DesignFileError
        If there is no such file, or it is no text file of a sensible size.
    """
    name = file_name(path)
    try:
        data = _read_bytes(path, name, largest)
    except DesignFileError:
        raise
    except (OSError, ValueError) as error:
        raise DesignFileError(
            file=name, found=_reason(error), wanted="name a file that can be read"
        ) from error
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise DesignFileError(file=name, found="text in UTF-16", wanted="save it as UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        column = error.start - (data.rfind(b"\n", 0, error.start) + 1) + 1
        raise DesignFileError(
            file=name,
            found=f"a byte that is not UTF-8 text (line {line}, column {column})",
            wanted="save the file as UTF-8 in your editor",
        ) from error
    return text


def file_name(path: str | Path) -> str:
    """Return a path as messages print it."""
    name = str(path)
    return name if name and name.isprintable() and len(name) <= 200 else shown(name)


def _read_bytes(path: str | Path, name: str, largest: int) -> bytes:
    mode = os.stat(path).st_mode
    if stat.S_ISDIR(mode):
        raise DesignFileError(
            file=name, found="a directory", wanted="name the design file inside it"
        )
    if not stat.S_ISREG(mode):
        # Reading a pipe or a device could wait for ever.
        raise DesignFileError(file=name, found="a pipe or device", wanted="name an ordinary file")
    with open(path, "rb") as file:
        data = file.read(largest + 1)
    if len(data) > largest:
        raise DesignFileError(
            file=name,
            found=f"a file of more than {largest // 1024} kB",
            wanted="such a file is a few kB of text: is this the right file?",
        )
    return data


def _reason(error: OSError | ValueError) -> str:
    if isinstance(error, FileNotFoundError):
        return "no such file"
    if isinstance(error, PermissionError):
        return "a file that may not be read"
    if isinstance(error, OSError) and error.strerror:
        return f"a file that cannot be read ({error.strerror.lower()})"
    return "a name that cannot be a file's"


def parse_toml(text: str, file: str) -> dict[str, Any]:
    """Return the tables of a design file's text.

    Parameters
    ----------
    text : str
        The text.
    file : str
        Its name, for messages.

    Returns
    -------
    tables : dict
        As TOML gives them.

    Raises
    ------
    DesignFileError
        With line and column where the text is not TOML.
    """
    if len(text) > LARGEST:
        raise DesignFileError(
            file=file, found=f"more than {LARGEST // 1024} kB", wanted="write a shorter file"
        )
    lines = text.split("\n")
    for number, line in enumerate(lines, start=1):
        if len(line) > LONGEST_LINE or line.count(".") > MOST_DOTS:
            raise DesignFileError(
                file=file,
                found=f"an overlong line {number}",
                wanted=f"keep lines below {LONGEST_LINE} characters",
            )
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        _explain(str(error), lines, file)
    except (RecursionError, ValueError, OverflowError) as error:
        raise DesignFileError(
            file=file,
            found="brackets nested too deep or a number too long",
            wanted=f"write one key a line, as in {EXAMPLE}",
        ) from error
    if not tables:
        raise DesignFileError(
            file=file,
            found="an empty file" if not text.strip() else "no section",
            wanted="start with `coilwright new FILE`, or with [movement] and [magnet]",
        )
    return tables


def _explain(message: str, lines: list[str], file: str) -> NoReturn:
    """Say where the TOML breaks and what the writer most probably meant."""
    match = _PLACE.match(message)
    number, column = len(lines), 1
    what = message
    if match:
        what = match["what"]
        if match["line"]:
            number, column = int(match["line"]), int(match["column"])
    section = ""
    for line in lines[: max(0, number - 1)]:
        header = _HEADER.match(line)
        section = header[1] if header and header[1].isprintable() else section
    line = lines[number - 1] if 0 < number <= len(lines) else ""
    key = _KEY.match(line)
    found, wanted = _meant(what, line, key[1] if key else "", key[2] if key else "")
    raise DesignFileError(
        file=file,
        section=section,
        key=key[1] if key else "",
        found=f"{found} (line {number}, column {column})",
        wanted=wanted,
    )


def _meant(what: str, line: str, key: str, value: str) -> tuple[str, str]:
    bare = value.split("#", 1)[0].strip()
    hidden = unreadable(line.replace("\t", " ").rstrip("\r"))
    pointed = bare.replace(",", ".", 1)
    guesses = (
        (
            any(sign in line for sign in _CURLY),
            "curly quotes",
            f'use straight quotes: {key or "gap"} = "…"',
        ),
        (
            bool(hidden),
            f"the unreadable character {hidden}",
            "type the line again without it",
        ),
        (
            bool(re.fullmatch(r"[+-]?[0-9]+,[0-9]+.*", bare)),
            f"the unquoted value {shown(bare)} with a comma",
            f'write a decimal point and quotes: {key} = "{pointed}"',
        ),
        (
            bool(re.fullmatch(r"[+-]?\.?[0-9][^\"'\[{]*", bare)),
            f"the unquoted quantity {shown(bare)}",
            f'put it in quotes: {key} = "{bare}"',
        ),
        (
            bool(re.fullmatch(r"[A-Za-z][A-Za-z0-9 _.+-]*", bare)),
            f"the unquoted word {shown(bare)}",
            f'put it in quotes: {key} = "{bare}"',
        ),
        (
            bool(key and not bare),
            "no value",
            f"write one after the equals sign, as in {EXAMPLE}",
        ),
        (
            any(word in what for word in ("overwrite", "twice", "mutate")),
            "a key or section that is stated twice",
            "keep one of the two",
        ),
        (
            value.startswith("{"),
            "an inline table that is not closed",
            "write { … } on one line, its keys apart by commas",
        ),
        (
            bool(re.match(r"\"[^\"]*\"\s*[A-Za-z0-9%]", value)),
            "text behind the closing quote",
            "put number and unit inside the quotes",
        ),
        (
            "Expected '='" in what,
            "a key without an equals sign",
            f"write it as in {EXAMPLE}",
        ),
        (
            "Illegal character" in what or "Unterminated" in what,
            "a text that is not closed on its line",
            "close it with a straight quote",
        ),
    )
    for meant, found, wanted in guesses:
        if meant:
            return found, wanted
    return (
        f"what is not TOML: {what[:80]}",
        f'write [section] lines and key = "value" lines, as in {EXAMPLE}',
    )
