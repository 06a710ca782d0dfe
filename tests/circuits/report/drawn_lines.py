"""Straight lines that a PDF draws, in millimetres, as its own coordinates place them."""

import unicodedata
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from pypdf import PdfReader

MILLIMETRE = 72 / 25.4
"""Points in a millimetre."""

Line = tuple[float, float, float, float]


def _placed(x: float, y: float, m: list[float]) -> tuple[float, float]:
    return (
        (m[0] * x + m[2] * y + m[4]) / MILLIMETRE,
        (m[1] * x + m[3] * y + m[5]) / MILLIMETRE,
    )


class _Pen:
    """Follows the operators of one page and keeps the lines that they draw."""

    def __init__(self) -> None:
        self.lines: list[Line] = []
        self._at: tuple[float, float] | None = None

    def visit(self, operator: Any, operands: Any, cm: Any, tm: Any) -> None:
        """Take one operator; pypdf calls this."""
        del tm
        if operator not in (b"m", b"l", b"re"):
            return
        numbers = [float(one) for one in operands]
        if operator == b"re":
            x, y, width, height = numbers
            (left, low), (right, high) = _placed(x, y, cm), _placed(x + width, y + height, cm)
            self.lines += [(left, low, right, low), (left, low, left, high)]
            return
        place = _placed(numbers[0], numbers[1], cm)
        if operator == b"l" and self._at is not None:
            self.lines.append((*self._at, *place))
        self._at = place


@dataclass(frozen=True)
class PrintedPage:
    """What one page says and which straight lines it draws."""

    text: str
    lines: tuple[Line, ...]


def pages_of(pdf: bytes) -> list[PrintedPage]:
    """Return every page of a PDF."""
    found = []
    for page in PdfReader(BytesIO(pdf)).pages:
        pen = _Pen()
        # Fonts may join letters; a reader does not see that.
        plain = unicodedata.normalize("NFKC", page.extract_text(visitor_operand_before=pen.visit))
        found.append(PrintedPage(text=" ".join(plain.split()), lines=tuple(pen.lines)))
    return found


def assert_bars_are_true(pages: list[PrintedPage]) -> None:
    """Hold the bars of the templates to their hundred millimetres, along and upright."""
    lines = [line for page in pages if "Bars to check" in page.text for line in page.lines]
    along = [abs(x_2 - x_1) for x_1, y_1, x_2, y_2 in lines if abs(y_2 - y_1) < 0.01]
    upright = [abs(y_2 - y_1) for x_1, y_1, x_2, y_2 in lines if abs(x_2 - x_1) < 0.01]
    # A tenth of a millimetre is what a ruler shows.
    assert min(abs(length - 100) for length in along) < 0.1
    assert min(abs(length - 100) for length in upright) < 0.1


def assert_gap_is_true(pages: list[PrintedPage], gap: float) -> None:
    """Hold a strip of the gap gauge to the gap [mm]."""
    lines = [line for page in pages if "Gap gauge" in page.text for line in page.lines]
    assert min(abs(abs(y_2 - y_1) - gap) for _, y_1, _, y_2 in lines) < 0.05
