"""The coldest and the warmest that the design file states."""

from circuits.design import Design


def span_of(design: Design) -> tuple[float, float] | None:
    """Return coldest and warmest, or None unless the file states both."""
    span = design.tolerance.temperature
    if span is None or span.from_ is None or span.to is None:
        return None
    return min(span.from_, span.to), max(span.from_, span.to)
