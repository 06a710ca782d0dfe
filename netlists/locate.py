"""Finding the simulator when it is needed, and saying how to get it when it is not there."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

from netlists.errors import SimulatorMissing

USUAL_PLACES = (
    "/usr/bin/ngspice",
    "/usr/local/bin/ngspice",
    "/opt/homebrew/bin/ngspice",
    "/opt/local/bin/ngspice",
    "C:/Program Files/Spice64/bin/ngspice_con.exe",
    "C:/Spice64/bin/ngspice_con.exe",
    "C:/Spice/bin/ngspice_con.exe",
)
HOW_TO_INSTALL = (
    "ngspice was not found; install it with `sudo apt install ngspice` (Debian, Ubuntu), "
    "`sudo dnf install ngspice` (Fedora), `brew install ngspice` (macOS), or unpack the ngspice "
    "archive on Windows and name ngspice_con.exe with --ngspice"
)


def find_ngspice(stated: str | None = None) -> Path:
    """Return the simulator's program file.

    Parameters
    ----------
    stated : str, optional
        A path that the user gave; then only that one is tried.

    Returns
    -------
    path : pathlib.Path
        An existing program file.

    Raises
    ------
    SimulatorMissing
        With the commands that install it.
    """
    if stated is not None:
        path = Path(stated)
        if not path.is_file() or not os.access(path, os.X_OK):
            raise SimulatorMissing(f"{stated} is not a program that can be run; {HOW_TO_INSTALL}")
        return path.resolve()
    names = ("ngspice_con", "ngspice") if sys.platform == "win32" else ("ngspice",)
    found = next(filter(None, map(shutil.which, names)), None)
    places = [found] if found else [place for place in USUAL_PLACES if Path(place).is_file()]
    if not places:
        raise SimulatorMissing(HOW_TO_INSTALL)
    return Path(places[0]).resolve()


def ngspice_version(program: Path) -> str:
    """Return the version text that the simulator prints of itself.

    Raises
    ------
    SimulatorMissing
        If the program does not answer as ngspice does.
    """
    try:
        answer = subprocess.run(
            [str(program), "--version"],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            errors="replace",
            timeout=20,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise SimulatorMissing(f"{program} does not run: {error}; {HOW_TO_INSTALL}") from error
    for line in answer.stdout.splitlines():
        words = line.replace("**", "").split()
        if words and words[0].startswith("ngspice"):
            return words[0]
    raise SimulatorMissing(f"{program} does not answer as ngspice; {HOW_TO_INSTALL}")
