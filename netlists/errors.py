"""What can go wrong between a deck and its result."""


class SimulatorMissing(RuntimeError):  # noqa: N818
    """Raised when ngspice, or the library that builds the decks, is not installed."""


class SimulatorFailed(RuntimeError):  # noqa: N818
    """Raised when a run gave no whole, finite result.

    Attributes
    ----------
    deck, log : str
        What was run and what the simulator said, kept for a report.
    """

    def __init__(self, message: str, *, deck: str = "", log: str = "") -> None:
        super().__init__(message)
        self.deck = deck
        self.log = log


class UnsafeDeckError(ValueError):
    """Raised when a finished deck holds anything but plain circuit lines."""
