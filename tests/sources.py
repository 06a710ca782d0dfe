"""Where an expected value comes from: every outside check carries its source and its kind."""

from collections.abc import Callable
from enum import Enum
from typing import TypeVar

F = TypeVar("F", bound=Callable[..., object])


class Kind(Enum):
    """Kinds of evidence, the strongest first."""

    MEASURED = "measured"
    PUBLISHED = "published"
    REFERENCE_LIBRARY = "reference library"
    SIMULATOR = "simulator"
    COMMON_PRACTICE = "common practice"
    FROM_MEMORY = "from memory"
    IDENTITY = "identity"
    FROZEN = "our own past answer"


def source(kind: Kind, text: str, *, printed: str = "") -> Callable[[F], F]:
    """Attach the source of a test's expected values, quoted as printed where that helps."""
    if not text.strip():
        raise ValueError("a source needs words")

    def attach(function: F) -> F:
        known = getattr(function, "sources", ())
        function.sources = (*known, (kind, text, printed))  # type: ignore[attr-defined]
        return function

    return attach
