"""The simulator that tests run decks with."""

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Simulator:
    """A program and its version text."""

    program: Path
    version: str
