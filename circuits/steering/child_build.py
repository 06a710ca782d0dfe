"""Compiles and links a foreign step function with our harness, under limits."""

import os
import shutil
import signal
import subprocess
import tempfile
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from circuits.design_text import file_name
from circuits.errors import DesignFileError
from circuits.plain_text import shown
from circuits.steering.constants_header import HEADER

COMPILERS = ("cc", "gcc", "clang")
SECONDS = 20
SAID = 64 * 1024
"""Characters of a compiler's messages that are looked at."""
# Limits in the shell's own units: seconds, kilobytes, blocks of half a kilobyte.
LIMITED = (
    f'ulimit -t {SECONDS}; ulimit -c 0; ulimit -f 65536; ulimit -v 800000 2>/dev/null; exec "$@"'
)
CALM = """\
#include <stdint.h>
void steering_start(uint32_t now) { (void)now; }
int32_t steering_step(uint32_t now) { (void)now; return 1; }
"""
"""A step function that asks the system for nothing."""


class CompilerMissing(RuntimeError):  # noqa: N818 - like the simulator's
    """Raised where no C compiler is to be found, or what it makes cannot be started."""


def find_compiler() -> str:
    """Return the path of a C compiler.

    Raises
    ------
    CompilerMissing
        Where there is none, or where no process can be limited.
    """
    if os.name != "posix":
        raise CompilerMissing(
            "a foreign step function runs only where a process can be limited: on Linux or macOS"
        )
    for name in COMPILERS:
        found = shutil.which(name)
        if found:
            return os.path.abspath(found)
    raise CompilerMissing(
        "no C compiler (cc, gcc, clang) found; install one, on Debian with 'apt install gcc "
        "libc6-dev', and run again"
    )


def end_process(process: "subprocess.Popen[bytes]") -> None:
    """End a process that we started, and all that it started."""
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except (OSError, AttributeError):
        process.kill()
    process.wait()


def _limited(command: list[str], directory: Path) -> tuple[bool, str]:
    """Run a compiler with limits of its own, and return whether it did and what it said.

    A file can make a compiler work, or complain, without end.
    """
    said = directory / "said"
    with said.open("wb") as out:
        process = subprocess.Popen(
            ["/bin/sh", "-c", LIMITED, "sh", *command], cwd=directory, stdin=subprocess.DEVNULL,
            stdout=out, stderr=subprocess.STDOUT, start_new_session=True,
            env={"PATH": os.environ.get("PATH", ""), "LC_ALL": "C", "TMPDIR": str(directory)},
        )  # fmt: skip
        try:
            process.wait(timeout=2 * SECONDS)
        except subprocess.TimeoutExpired:
            end_process(process)
            return False, "error: the compiler does not finish; look for an endless include"
        except BaseException:
            end_process(process)
            raise
    with said.open("rb") as read:
        return process.returncode == 0, read.read(SAID).decode("utf-8", "replace")


@lru_cache(maxsize=4)
def _own_parts(compiler: str) -> dict[str, bytes]:
    """Return the program that confines, the harness and a calm step function, compiled once."""
    with tempfile.TemporaryDirectory(prefix="coilwright-") as home:
        directory = Path(home)
        for name in ("confine.h", "confine.c", "harness.c"):
            text = (files("circuits.steering") / name).read_text(encoding="utf-8")
            (directory / name).write_text(text, encoding="utf-8")
        (directory / "calm.c").write_text(CALM, encoding="utf-8")
        for asked in (("-o", "confine", "confine.c"), ("-c", "harness.c"), ("-c", "calm.c")):
            good, out = _limited([compiler, "-std=c99", "-O2", "-w", *asked], directory)
            if not good:
                raise CompilerMissing(
                    f"the C compiler {compiler} cannot build our own harness "
                    f"({_first_line(out)}); install a whole one, with its headers"
                )
        return {
            name: (directory / name).read_bytes() for name in ("confine", "harness.o", "calm.o")
        }


def build(path: str | Path, header: str, directory: Path) -> str:
    """Build `trial`, and `calm` beside it for a check of the confinement itself.

    Parameters
    ----------
    path : str or Path
        The step function's file; headers that it includes are looked for beside it.
    header : str
        Our header, used where there is none of that name beside the file.
    directory : Path
        Where to build.

    Returns
    -------
    kind : str
        `static` or `dynamic`: what is linked statically needs no file to start, and so gets no
        leave to open one.

    Raises
    ------
    CompilerMissing
        Where there is no compiler that builds our own parts.
    DesignFileError
        Where the file does not compile or link.
    """
    compiler = find_compiler()
    for name, data in _own_parts(compiler).items():
        (directory / name).write_bytes(data)
    (directory / "confine").chmod(0o700)
    included = directory / "headers"
    included.mkdir()
    (included / HEADER).write_text(header, encoding="utf-8")
    real = os.path.realpath(path)
    # Counts that pass their range go round, as on the controllers that this stands for.
    good, out = _limited(
        [compiler, "-std=c99", "-O1", "-w", "-fwrapv", "-I", str(included), "-x", "c", "-c", real,
         "-o", "foreign.o"],
        directory,
    )  # fmt: skip
    if not good:
        raise DesignFileError(
            file=file_name(path), found=f"what does not compile: {_complaint(out, Path(real))}",
            wanted="correct it; 'cc -std=c99 -Wall -Wextra -c' shows all of it",
        )  # fmt: skip
    for kind, flags in (("static", ["-static"]), ("dynamic", [])):
        linked = [compiler, *flags, "harness.o", "-lm", "-o"]
        good, out = _limited([*linked[:-2], "foreign.o", *linked[-2:], "trial"], directory)
        if good:
            _limited([*linked[:-2], "calm.o", *linked[-2:], "calm"], directory)
            return kind
    raise _unlinked(out, file_name(path))


def _unlinked(out: str, name: str) -> DesignFileError:
    for function in ("steering_start", "steering_step"):
        if "ndefined" in out and function in out:
            return DesignFileError(
                file=name, found=f"no function {function}",
                wanted="define 'void steering_start(uint32_t now)' and "
                "'int32_t steering_step(uint32_t now)'; 'constants --source' writes an example",
            )  # fmt: skip
    if "main" in out and ("multiple definition" in out or "duplicate symbol" in out):
        return DesignFileError(
            file=name, found="a function main of its own",
            wanted="leave only steering_start, steering_step and what they need in this file",
        )  # fmt: skip
    return DesignFileError(
        file=name, found=f"what does not link: {_complaint(out, Path())}",
        wanted="keep what the controller's hardware needs out of this file",
    )  # fmt: skip


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
