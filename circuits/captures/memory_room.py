"""How much memory a capture may take on this machine."""

import os
import re
from pathlib import Path

SHARE = 0.5
"""Half of what is free: figures and pictures are made from the samples too."""


def room() -> float:
    """Return the bytes that a capture may take; without bounds where the machine does not tell."""
    try:
        told = Path("/proc/meminfo").read_text(encoding="ascii", errors="replace")
        match = re.search(r"MemAvailable:\s+([0-9]+) kB", told)
        if match:
            return SHARE * 1024 * int(match[1])
    except OSError:
        pass
    try:
        return SHARE * os.sysconf("SC_AVPHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, OSError, ValueError):
        return float("inf")
