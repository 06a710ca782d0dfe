"""Builds a step function with our harness and runs both in a confined child process.

Confined: in a process of its own with limits on time, memory, output and open files, without
environment, in an empty directory that is removed afterwards; on Linux the kernel besides ends it
at any system call but memory, its results and its end (see confine.h).
"""

import os
import shutil
import signal
import struct
import subprocess
import tempfile
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from circuits.design_text import file_name, read_text
from circuits.errors import DesignFileError
from circuits.plain_text import shown
from circuits.steering.constants_header import HEADER

COMPILERS = ("cc", "gcc", "clang")
BUILD_SECONDS = 20
RUN_SECONDS = 4
"""Processor time of a run, with what its steps may take besides; the wall clock may take four
times that on a busy machine."""
STEPS_A_SECOND = 1e6
MEMORY = 256 << 20
OUTPUT = 2 << 20
LARGEST = 256 * 1024
"""Bytes of a step function's file."""
RECORD = 12
NOT_STARTED, NOT_OFFERED = 97, 98

Array = NDArray[np.float64]


class CompilerMissing(RuntimeError):  # noqa: N818 - like the simulator's
    """Raised where no C compiler is to be found."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChildRun:
    """What came back: a record a day, how it ended, and what held it.

    `end` is `done`, `forbidden`, `time`, `output`, `crash`, `garbage`, `runaway` or `code`;
    `signal` the number where there was one. `listed` tells whether the kernel's list stood.
    """

    records: Array
    end: str
    signal: int = 0
    listed: bool = True


def find_compiler() -> str:
    """Return the path of a C compiler.

    Raises
    ------
    CompilerMissing
        Where there is none.
    """
    for name in COMPILERS:
        found = shutil.which(name)
        if found:
            return found
    raise CompilerMissing(
        "no C compiler (cc, gcc, clang) found; install one, on Debian with 'apt install gcc "
        "libc6-dev', and run again"
    )


def _limited(command: list[str], directory: Path) -> subprocess.CompletedProcess[str]:
    """Run a compiler with limits of its own: a file can make it work for ever, too."""
    script = (
        f"ulimit -t {BUILD_SECONDS}; ulimit -c 0; ulimit -f 262144; "
        'ulimit -v 800000 2>/dev/null; exec "$@"'
    )
    process = subprocess.Popen(
        ["/bin/sh", "-c", script, "sh", *command], cwd=directory, stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace",
        env={"PATH": os.environ.get("PATH", ""), "LC_ALL": "C", "TMPDIR": str(directory)},
        start_new_session=True,
    )  # fmt: skip
    try:
        out, _ = process.communicate(timeout=2 * BUILD_SECONDS)
    except BaseException:
        _kill(process)
        raise
    return subprocess.CompletedProcess(command, process.returncode, out, "")


@lru_cache(maxsize=4)
def _own_parts(compiler: str) -> tuple[bytes, bytes]:
    """Return the program that confines, and the harness, compiled once for all trials."""
    with tempfile.TemporaryDirectory(prefix="coilwright-") as home:
        directory = Path(home)
        for name in ("confine.h", "confine.c", "harness.c"):
            text = (files("circuits.steering") / name).read_text(encoding="utf-8")
            (directory / name).write_text(text, encoding="utf-8")
        for asked in (("-o", "confine", "confine.c"), ("-c", "harness.c")):
            done = _limited([compiler, "-std=c99", "-O2", "-w", *asked], directory)
            if done.returncode:
                raise CompilerMissing(
                    f"the C compiler {compiler} cannot build our own harness "
                    f"({_first_line(done.stdout)}); install a whole one, with its headers"
                )
        return (directory / "confine").read_bytes(), (directory / "harness.o").read_bytes()


def _kill(process: "subprocess.Popen[str] | subprocess.Popen[bytes]") -> None:
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except (OSError, AttributeError):
        process.kill()
    process.wait()


class Trial:
    """One step function, built; a context that leaves nothing behind.

    Parameters
    ----------
    path : str or Path
        The C file; headers that it includes are looked for beside it.
    header : str
        Our header, used where there is none of that name beside the file.

    Raises
    ------
    CompilerMissing
        Where there is no compiler.
    DesignFileError
        Where the file cannot be read, compiled or linked.
    """

    def __init__(self, path: str | Path, header: str) -> None:
        if os.name != "posix":
            raise CompilerMissing(
                "a foreign step function runs only where a process can be limited; "
                "try it on Linux or macOS"
            )
        self._name = file_name(path)
        read_text(path, largest=LARGEST)
        compiler = find_compiler()
        self._home = tempfile.TemporaryDirectory(prefix="coilwright-")
        home = Path(self._home.name)
        self._build, self._empty = home / "build", home / "run"
        try:
            self._build.mkdir()
            self._empty.mkdir()
            self._compile(compiler, Path(os.path.realpath(path)), header)
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

    def _compile(self, compiler: str, path: Path, header: str) -> None:
        confine, harness = _own_parts(compiler)
        (self._build / "confine").write_bytes(confine)
        (self._build / "confine").chmod(0o700)
        (self._build / "harness.o").write_bytes(harness)
        included = self._build / "headers"
        included.mkdir()
        (included / HEADER).write_text(header, encoding="utf-8")
        try:
            # Counts that pass their range go round, as on the controllers that this stands for.
            done = _limited(
                [compiler, "-std=c99", "-O1", "-w", "-fwrapv", "-I", str(included), "-x", "c",
                 "-c", str(path), "-o", "foreign.o"],
                self._build,
            )  # fmt: skip
        except subprocess.TimeoutExpired as error:
            raise DesignFileError(
                file=self._name, found="a file that the compiler does not finish",
                wanted="look for an endless include or macro",
            ) from error  # fmt: skip
        if done.returncode:
            raise DesignFileError(
                file=self._name, found=f"what does not compile: {_complaint(done.stdout, path)}",
                wanted="correct it; 'cc -std=c99 -Wall -Wextra -c' shows all of it",
            )  # fmt: skip
        self._link(compiler)

    def _link(self, compiler: str) -> None:
        out = ""
        # What is linked statically needs no file to start, and so gets no leave to open one.
        for kind, flags in (("static", ["-static"]), ("dynamic", [])):
            done = _limited(
                [compiler, *flags, "-o", "trial", "harness.o", "foreign.o", "-lm"], self._build
            )
            if not done.returncode:
                self._kind = kind
                return
            out = done.stdout
        for name in ("steering_start", "steering_step"):
            if "ndefined" in out and name in out:
                raise DesignFileError(
                    file=self._name, found=f"no function {name}",
                    wanted="define 'void steering_start(uint32_t now)' and "
                    "'int32_t steering_step(uint32_t now)'; 'constants --source' writes an example",
                )  # fmt: skip
        if "main" in out and ("multiple definition" in out or "duplicate symbol" in out):
            raise DesignFileError(
                file=self._name, found="a function main of its own",
                wanted="leave only steering_start, steering_step and what they need in this file",
            )  # fmt: skip
        raise DesignFileError(
            file=self._name,
            found=f"what does not link: {_complaint(out, Path())}",
            wanted="keep what the controller's hardware needs out of this file",
        )

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
        seconds = int(RUN_SECONDS + steps / STEPS_A_SECOND)
        found = self._once(numbers, mark, self._kind, seconds)
        if found is None:
            found = self._once(numbers, mark, "limits", seconds)
        assert found is not None
        return found

    def _once(self, numbers: bytes, mark: float, kind: str, seconds: int) -> ChildRun | None:
        source, target = self._build / "numbers", self._build / "records"
        source.write_bytes(numbers)
        with source.open("rb") as given, target.open("wb") as taken:
            process = subprocess.Popen(
                [str(self._build / "confine"), str(self._build / "trial"), str(seconds),
                 str(MEMORY), str(OUTPUT), kind],
                cwd=self._empty, stdin=given, stdout=taken, stderr=subprocess.DEVNULL, env={},
                start_new_session=True,
            )  # fmt: skip
            late = False
            try:
                process.wait(timeout=4 * seconds)
            except subprocess.TimeoutExpired:
                late = True
                _kill(process)
            except BaseException:
                _kill(process)
                raise
        code = process.returncode
        if code == NOT_OFFERED:
            return None
        if code == NOT_STARTED:
            raise CompilerMissing(
                f"programs cannot be started from {self._build}; set TMPDIR to a directory "
                "where they can"
            )
        records, clean = _records(target.read_bytes(), mark)
        number = -code if code < 0 else 0
        end = _end(number, code, clean, late)
        return ChildRun(records=records, end=end, signal=number, listed=kind != "limits")


def _end(number: int, code: int, clean: bool, late: bool) -> str:
    if late or number in (signal.SIGXCPU, signal.SIGKILL):
        return "time"
    if number == signal.SIGSYS:
        return "forbidden"
    if number == signal.SIGXFSZ:
        return "output"
    if number:
        return "crash"
    if not clean:
        return "garbage"
    return {0: "done", 92: "runaway"}.get(code, "code")


def _records(data: bytes, mark: float) -> tuple[Array, bool]:
    """Return the records up to the first byte that is none, and whether there was no such byte."""
    whole = len(data) // (8 * RECORD)
    table = np.frombuffer(data[: whole * 8 * RECORD], dtype=np.float64).reshape(whole, RECORD)
    good = (table[:, 0] == mark) & np.isfinite(table).all(axis=1)
    count = whole if good.all() else int(np.argmin(good))
    return table[:count, 1:].copy(), bool(good.all()) and len(data) == whole * 8 * RECORD


def _first_line(text: str) -> str:
    lines = [line for line in text.splitlines() if line.strip()]
    said = next((line for line in lines if "error" in line.lower()), lines[0] if lines else "")
    return said.strip()[:160]


def _complaint(text: str, path: Path) -> str:
    """Return the compiler's first error as `line 12: message`, without the path."""
    line = _first_line(text)
    place, mark, message = line.partition("error:")
    if not mark:
        return shown(line) if line else "the compiler stopped without a word"
    parts = place.strip().rstrip(":").split(":")
    where = ""
    if len(parts) >= 2 and parts[1].isdigit():
        other = Path(parts[0]).name
        where = f"line {parts[1]}" + ("" if other == path.name else f" of {shown(other)}") + ": "
    return where + "".join(c if c.isprintable() else " " for c in message.strip())[:160]


def packed(values: "list[float] | Array") -> bytes:
    """Return numbers as the harness reads them."""
    array = np.asarray(values, dtype=np.float64)
    return struct.pack(f"={array.size}d", *array.ravel())
