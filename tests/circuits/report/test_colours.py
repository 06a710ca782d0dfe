"""Contrast of letters and strokes on a light and on a dark page."""

import pytest

from circuits.report.ink import DARK, LIGHT
from tests.sources import Kind, source

SCHEMES = {"light": LIGHT, "dark": DARK}
LETTERS = ("ink", "soft", "one", "two", "three", "four", "five")


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.1 defines it."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@source(Kind.PUBLISHED, "W3C, Web Content Accessibility Guidelines 2.1, contrast ratio",
        printed="21:1")  # fmt: skip
def test_black_on_white_has_the_greatest_contrast() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@source(Kind.PUBLISHED, "W3C, Web Content Accessibility Guidelines 2.1, criterion 1.4.3",
        printed="4.5:1")  # fmt: skip
@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("name", LETTERS)
def test_letters_stand_out_from_paper_and_wash(scheme: str, name: str) -> None:
    colours = SCHEMES[scheme]
    for ground in ("paper", "wash"):
        assert contrast(colours[name], colours[ground]) >= 4.5


def test_both_schemes_name_the_same_colours() -> None:
    assert LIGHT.keys() == DARK.keys()
