"""Finished rows on disk, a line each, so that work that was stopped goes on."""

import hashlib
import json
import os
from abc import ABC, abstractmethod
from collections.abc import Hashable, Mapping
from pathlib import Path
from typing import IO, Any, ClassVar, Generic, TypeVar

from circuits import VERSION
from circuits.boards.trial import Changes, Row, Subject, row_as_table, row_from_table
from circuits.design_text import file_name
from circuits.errors import DesignFileError

K = TypeVar("K", bound=Hashable)
R = TypeVar("R")


class KeptRows(ABC, Generic[K, R]):
    """Rows by what they were made for; in memory, and in a file of JSON lines if one is named.

    Parameters
    ----------
    subject : Subject
        The design file that the rows belong to.
    path : str or Path, optional
        The file; continued if it exists.

    Raises
    ------
    DesignFileError
        If the file belongs to another design, or cannot be used.
    """

    work: ClassVar[str]
    """What makes the rows, as the file's first line says it."""

    @staticmethod
    @abstractmethod
    def key(row: R) -> K:
        """Return what a row was made for."""

    @staticmethod
    @abstractmethod
    def as_table(row: R) -> dict[str, Any]:
        """Return a row as a line holds it."""

    @staticmethod
    @abstractmethod
    def from_table(table: dict[str, Any]) -> R:
        """Return the row of a line; KeyError, TypeError or ValueError if it holds none."""

    def __init__(self, subject: Subject, path: str | Path | None = None) -> None:
        self.rows: dict[K, R] = {}
        self._file: IO[str] | None = None
        if path is None:
            return
        self._name = file_name(path)
        digest = hashlib.sha256(subject.text.encode()).hexdigest()
        heading = {"rows of": self.work, "version": VERSION, "design": digest}
        try:
            kept = self._read(path, heading)
            # What a stop in the middle of a line left behind is cut off.
            self._file = open(path, "r+" if kept else "x", encoding="utf-8")  # noqa: SIM115
            self._file.truncate(kept)
            self._file.seek(0, os.SEEK_END)
            if not kept:
                self._write(heading)
        except (OSError, ValueError) as error:
            if isinstance(error, DesignFileError):
                raise
            raise self._refuse(
                f"a file that cannot be used ({getattr(error, 'strerror', None) or 'no text'})",
                "name a file in a directory of your own",
            ) from error

    def _refuse(self, found: str, wanted: str) -> DesignFileError:
        return DesignFileError(file=self._name, key="--keep", found=found, wanted=wanted)

    def _read(self, path: str | Path, heading: Mapping[str, str]) -> int:
        """Take over the rows of earlier work; return how many bytes of the file stand."""
        if not os.path.exists(path):
            return 0
        data = Path(path).read_bytes()
        lines = data.splitlines(keepends=True)
        if not lines or _parsed(lines[0]) != heading:
            raise self._refuse(
                "a file that holds no rows of this design and version", "name another file"
            )
        kept = len(lines[0])
        for number, line in enumerate(lines[1:], start=2):
            if not line.endswith(b"\n"):
                break
            try:
                row = self.from_table(_parsed(line))
            except (KeyError, TypeError, ValueError) as error:
                raise self._refuse(
                    f"a line that is no row (line {number})", "delete that line, or the file"
                ) from error
            self.rows[self.key(row)] = row
            kept += len(line)
        return kept

    def add(self, row: R) -> None:
        """Keep a finished row."""
        self.rows[self.key(row)] = row
        self._write(self.as_table(row))

    def _write(self, table: object) -> None:
        if self._file is not None:
            self._file.write(json.dumps(table, ensure_ascii=True, allow_nan=False) + "\n")
            self._file.flush()

    def close(self) -> None:
        """Close the file."""
        if self._file is not None:
            self._file.close()


class RowStore(KeptRows[Changes, Row]):
    """The trials of a search, by their changes."""

    work = "coilwright seek"
    as_table = staticmethod(row_as_table)
    from_table = staticmethod(row_from_table)

    @staticmethod
    def key(row: Row) -> Changes:
        """Return what was changed for this trial."""
        return row.changes


def _parsed(line: bytes) -> dict[str, Any]:
    try:
        table = json.loads(line)
    except (ValueError, RecursionError):
        return {}
    return table if isinstance(table, dict) else {}
