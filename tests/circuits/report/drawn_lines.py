"""Straight lines that a PDF draws, in millimetres, as its own coordinates place them."""

import unicodedata
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


def lines_of(pdf: bytes, says: str) -> list[Line]:
    """Return the straight lines of the pages that say something, each from end to end."""
    found: list[Line] = []
    for page in PdfReader(BytesIO(pdf)).pages:
        pen = _Pen()
        text = page.extract_text(visitor_operand_before=pen.visit)
        if says in " ".join(text.split()):
            found += pen.lines
    return found


def text_of_pdf(pdf: bytes) -> str:
    """Return what all pages say, blanks made plain."""
    pages = PdfReader(BytesIO(pdf)).pages
    # Fonts may join letters; a reader does not see that.
    plain = unicodedata.normalize("NFKC", " ".join(page.extract_text() for page in pages))
    return " ".join(plain.split())
