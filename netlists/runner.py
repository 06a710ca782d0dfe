"""One deck, one ngspice process in a folder of its own, one whole result or an error."""

import contextlib
import os
import signal
import subprocess
import sys
import tempfile
import threading
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from netlists.deck_gate import check_deck
from netlists.errors import SimulatorFailed, SimulatorMissing
from netlists.raw_file import RawFile, RawFileError, read_raw

MOST_MEMORY = 2 * 2**30
MOST_FILE = 512 * 2**20
REACHED = 1e-9
"""Relative shortfall of the last time or frequency that rounding explains."""

_running: set[subprocess.Popen[bytes]] = set()
_running_lock = threading.Lock()


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A result that came back whole: every vector asked for, finite, to the end of the run."""

    raw: RawFile
    log: str
    version: str

    def real(self, name: str) -> NDArray[np.float64]:
        """Return a vector of a run in time, or the abscissa of any run."""
        return np.real(self.raw.vector(name))

    def phasor(self, name: str) -> NDArray[np.complex128]:
        """Return a vector of a run in frequency."""
        return self.raw.vector(name)


def _environment(folder: Path) -> dict[str, str]:
    # ngspice 39 crashes without HOME, and reads start-up files from the real one.
    kept = {"PATH": os.defpath, "HOME": str(folder), "LC_ALL": "C"}
    if sys.platform == "win32":
        kept |= {name: os.environ[name] for name in ("SYSTEMROOT", "TEMP") if name in os.environ}
        kept["USERPROFILE"] = str(folder)
    return kept


def _limit(process: subprocess.Popen[bytes]) -> None:
    """Bound memory and file size from outside; a hook before the start is unsafe in threads."""
    if sys.platform != "linux":
        return
    import resource  # noqa: PLC0415

    try:
        resource.prlimit(process.pid, resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
        resource.prlimit(process.pid, resource.RLIMIT_FSIZE, (MOST_FILE, MOST_FILE))
    except ProcessLookupError:
        return


def _kill(process: subprocess.Popen[bytes]) -> None:
    if process.poll() is not None:
        return
    if sys.platform == "win32":
        process.kill()
    else:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)


def stop_runs() -> None:
    """Stop every run of this process, from whatever thread it was started."""
    with _running_lock:
        for process in _running:
            _kill(process)


def _execute(program: Path, folder: Path, timeout: float) -> int:
    try:
        # Started and entered in one go: an interruption in between would leave it running.
        with _running_lock:
            process = subprocess.Popen(
                [str(program), "-b", "-n", "-r", "out.raw", "-o", "out.log", "deck.cir"],
                cwd=folder,
                env=_environment(folder),
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
            )
            _running.add(process)
    except OSError as error:
        raise SimulatorMissing(f"{program} cannot be started: {error}") from error
    try:
        _limit(process)
        return process.wait(timeout=timeout)
    finally:
        # Also after a time-out or Ctrl-C: nothing may go on running.
        _kill(process)
        process.wait()
        with _running_lock:
            _running.discard(process)


def run_deck(
    deck: str,
    *,
    program: Path,
    version: str,
    vectors: tuple[str, ...],
    end: float,
    timeout: float = 60.0,
) -> Run:
    """Run a deck in ngspice and return its result, or raise.

    Parameters
    ----------
    deck : str
        The finished deck; it passes the gate first.
    program : pathlib.Path
        The simulator.
    version : str
        Its version text, carried into the result.
    vectors : tuple of str
        Vectors that must be there besides the abscissa, such as ``v(out)``.
    end : float
        Last time [s] or frequency [Hz] that the run must reach.
    timeout : float
        Longest time that the run may take [s].

    Returns
    -------
    run : Run
        The whole result.

    Raises
    ------
    UnsafeDeckError
        If the gate refuses the deck.
    SimulatorFailed
        If the run did not give every vector, whole, finite and to its end.
    """
    check_deck(deck)
    log = ""
    with tempfile.TemporaryDirectory(prefix="coilwright-") as name:
        folder = Path(name)
        (folder / "deck.cir").write_text(deck, encoding="ascii", newline="\n")
        try:
            code = _execute(program, folder, timeout)
        except subprocess.TimeoutExpired as error:
            raise SimulatorFailed(f"ngspice ran longer than {timeout:g} s", deck=deck) from error
        try:
            log = (folder / "out.log").read_text(encoding="utf-8", errors="replace")
            content = (folder / "out.raw").read_bytes()
        except OSError:
            content = b""
    return _judge(content, code=code, deck=deck, log=log, version=version, vectors=vectors, end=end)


def _judge(
    content: bytes,
    *,
    code: int,
    deck: str,
    log: str,
    version: str,
    vectors: tuple[str, ...],
    end: float,
) -> Run:
    def failed(reason: str) -> SimulatorFailed:
        said = [line.strip() for line in log.splitlines() if "error" in line.lower()]
        hint = f"; it said: {said[-1]}" if said else ""
        return SimulatorFailed(
            f"{version} gave no usable result: {reason}{hint}", deck=deck, log=log
        )

    if code != 0:
        raise failed(f"it ended with code {code}")
    try:
        raw = read_raw(content)
    except RawFileError as error:
        raise failed(str(error)) from error
    missing = [name for name in vectors if name not in raw.names]
    if missing:
        raise failed(f"no vector {', '.join(missing)}")
    last = float(raw.columns[0, -1].real)
    if abs(last - end) > REACHED * abs(end):
        raise failed(f"it stopped at {last:g}, short of {end:g}")
    return Run(raw=raw, log=log, version=version)
