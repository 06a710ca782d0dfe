"""Standard output, whatever the terminal lacks and whether or not its reader stays."""

import os
import sys


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
