"""Where text leaves the program: standard output, or a file that is never half written."""

import os
import sys
import tempfile
from pathlib import Path

from circuits.errors import DesignFileError


def prepare_streams() -> None:
    """Let a terminal that lacks a character show another instead of stopping."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


def drop_output() -> None:
    """Send what is still to come nowhere: the reader has gone."""
    try:
        target = sys.stdout.fileno()
    except (OSError, ValueError, AttributeError):
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, target)
    os.close(nowhere)


def write_out(text: str) -> None:
    """Write to standard output; a reader that closes the pipe early is no failure."""
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        drop_output()


def write_file(path: str, text: str, *, replace: bool = True) -> None:
    """Write a whole file or none.

    Parameters
    ----------
    path : str
        Where to.
    text : str
        The content; written as UTF-8.
    replace : bool
        Whether a file that is there already may be replaced.

    Raises
    ------
    DesignFileError
        Where the file cannot be written, or is there and must not be replaced.
    """
    target = Path(path)
    if target.is_dir():
        raise DesignFileError(file=path, found="a folder", wanted="name a file to write")
    if not replace and target.exists():
        raise DesignFileError(
            file=path, found="a file that is there already", wanted="name a new one"
        )
    partial = ""
    try:
        handle, partial = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
        os.chmod(partial, 0o666 & ~_umask())
        os.replace(partial, target)
    except OSError as error:
        raise DesignFileError(
            file=path,
            found=f"no way to write it ({error.strerror or error})",
            wanted="name a file in a folder that exists and may be written to",
        ) from error
    finally:
        if partial:
            Path(partial).unlink(missing_ok=True)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
