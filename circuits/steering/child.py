"""Runs a step function with our harness in a confined child process.

Confined: in a process of its own with limits on time, memory, output and open files, without
environment, in an empty directory that is removed afterwards; on Linux the kernel besides ends it
at any system call but memory, its results and its end (see confine.h).
"""

import os
import re
import signal
import struct
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from circuits.design_text import file_name, read_text
from circuits.errors import DesignFileError
from circuits.steering.child_build import CompilerMissing, build, end_process

RUN_SECONDS = 4
"""Processor time of a run, with what its steps may take besides; the wall clock may take four
times that on a busy machine."""
STEPS_A_SECOND = 1e6
MEMORY = 256 << 20
OUTPUT = 2 << 20
LARGEST = 256 * 1024
"""Bytes of a step function's file."""
RECORD = 12
NOT_STARTED, NOT_OFFERED, RUNAWAY = 97, 98, 92
LIMITS = "limits"

Array = NDArray[np.float64]

_UNREAD = re.compile(r"/\*.*?\*/|//[^\n]*|\"(?:\\.|[^\"\\])*\"", re.S)
_PLAIN_INT = re.compile(r"\b(?:int|short|long|unsigned|signed)\b(?!\s+main\b)")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChildRun:
    """What came back: a row an hour, how it ended, and what held it.

    `end` is `done`, `forbidden`, `time`, `output`, `crash`, `garbage`, `runaway` or `code`;
    `signal` the number where there was one. `listed` tells whether the kernel's list stood.
    """

    records: Array
    end: str
    signal: int = 0
    listed: bool = True


def step_text(path: str | Path) -> str:
    """Return the text of a file with a step function, or refuse what is none."""
    if os.path.isdir(path):
        raise DesignFileError(
            file=file_name(path), found="a directory",
            wanted="name the C file with the step function",
        )  # fmt: skip
    return read_text(path, largest=LARGEST)


class Trial:
    """One step function, built; a context that leaves nothing behind.

    Parameters
    ----------
    path : str or Path
        The C file; headers that it includes are looked for beside it.
    header : str
        Our header, used where there is none of that name beside the file.
    told : callable, optional
        Called before each run.

    Raises
    ------
    CompilerMissing
        Where there is no compiler.
    DesignFileError
        Where the file cannot be read, compiled or linked.
    """

    def __init__(
        self, path: str | Path, header: str, told: Callable[[], None] = lambda: None
    ) -> None:
        self.told = told
        text = _UNREAD.sub(" ", step_text(path))
        self.plain_int = _PLAIN_INT.search(text) is not None
        self._home = tempfile.TemporaryDirectory(prefix="coilwright-")
        home = Path(self._home.name)
        self._build, self._empty = home / "build", home / "run"
        try:
            self._build.mkdir()
            self._empty.mkdir()
            self._kind = build(path, header, self._build)
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> "Trial":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Remove everything."""
        self._home.cleanup()

    def run(self, numbers: bytes, mark: float, steps: float) -> ChildRun:
        """Run the trial once.

        Parameters
        ----------
        numbers : bytes
            The harness's input.
        mark : float
            What each record must begin with.
        steps : float
            How many steps that will be.

        Returns
        -------
        run : ChildRun
        """
        self.told()
        seconds = int(RUN_SECONDS + steps / STEPS_A_SECOND)
        found = self._once("trial", numbers, mark, seconds)
        if found is not None and found.end == "forbidden" and not len(found.records):
            # Is it the file, or does this system's own start ask for more than is listed?
            calm = self._once("calm", numbers, mark, seconds)
            if calm is None or calm.end == "forbidden":
                found = None
        if found is None:
            self._kind = LIMITS
            found = self._once("trial", numbers, mark, seconds)
        assert found is not None
        return found

    def _once(self, program: str, numbers: bytes, mark: float, seconds: int) -> ChildRun | None:
        """Run a program once; None where the kernel does not offer its list."""
        source, target = self._build / "numbers", self._build / "records"
        source.write_bytes(numbers)
        late = False
        with source.open("rb") as given, target.open("wb") as taken:
            process = subprocess.Popen(
                [str(self._build / "confine"), str(self._build / program), str(seconds),
                 str(MEMORY), str(OUTPUT), self._kind],
                cwd=self._empty, stdin=given, stdout=taken, stderr=subprocess.DEVNULL, env={},
                start_new_session=True,
            )  # fmt: skip
            try:
                process.wait(timeout=4 * seconds)
            except subprocess.TimeoutExpired:
                late = True
                end_process(process)
            except BaseException:
                end_process(process)
                raise
        code = process.returncode
        if code == NOT_OFFERED:
            return None
        if code == NOT_STARTED:
            raise CompilerMissing(
                f"programs cannot be started from {tempfile.gettempdir()}; set TMPDIR to a "
                "directory where they can"
            )
        records, clean = _records(target.read_bytes(), mark)
        return ChildRun(
            records=records, end=_end(code, clean, late), signal=max(-code, 0),
            listed=self._kind != LIMITS,
        )  # fmt: skip


def _end(code: int, clean: bool, late: bool) -> str:
    if late or -code in (signal.SIGXCPU, signal.SIGKILL):
        return "time"
    by_signal = {signal.SIGSYS: "forbidden", signal.SIGXFSZ: "output"}
    if code < 0:
        return by_signal.get(signal.Signals(-code), "crash")
    if not clean:
        return "garbage"
    return {0: "done", RUNAWAY: "runaway"}.get(code, "code")


def _records(data: bytes, mark: float) -> tuple[Array, bool]:
    """Return the records up to the first byte that is none, and whether there was no such byte."""
    whole = len(data) // (8 * RECORD)
    table = np.frombuffer(data[: whole * 8 * RECORD], dtype=np.float64).reshape(whole, RECORD)
    good = (table[:, 0] == mark) & np.isfinite(table).all(axis=1)
    count = whole if good.all() else int(np.argmin(good))
    return table[:count, 1:].copy(), bool(good.all()) and len(data) == whole * 8 * RECORD


def packed(values: "list[float] | Array") -> bytes:
    """Return numbers as the harness reads them."""
    array = np.asarray(values, dtype=np.float64)
    return struct.pack(f"={array.size}d", *array.ravel())
