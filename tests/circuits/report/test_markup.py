"""The one door through which text becomes markup."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from circuits.report.markup import Markup, number, tag, text
from circuits.report.typography import printed
from tests.circuits.report.reports import parsed


@given(st.text(), st.text())
def test_any_text_comes_back_as_text(content: str, attribute: str) -> None:
    element = parsed(tag("p", content, title=attribute))
    assert list(element) == []
    lost = "\u200e\u200f\u061c" + "".join(
        map(chr, [*range(0x202A, 0x202F), *range(0x2066, 0x206A)])
    )
    readable = "".join(c for c in content if c not in lost)
    got = element.text or ""
    assert len(got) == len(readable.replace("\r\n", "\n"))


@pytest.mark.parametrize("hostile", ["<b>", "&amp;", '" onload="x', "']]>", "</style>", "\x00\x1b"])
def test_hostile_text_makes_no_element(hostile: str) -> None:
    shown = text(hostile)
    assert not set('<>"\x00\x1b') & set(shown)
    assert isinstance(shown, Markup)


def test_markup_is_not_escaped_twice() -> None:
    assert tag("p", tag("b", "a & b")) == "<p><b>a &amp; b</b></p>"


@pytest.mark.parametrize(
    ("value", "shown"), [(0.0, "0"), (-0.004, "0"), (1e3, "1000"), (2.5, "2.5")]
)
def test_coordinates_are_short(value: float, shown: str) -> None:
    assert number(value) == shown


@pytest.mark.parametrize(
    ("plain", "shown"),
    [
        ("4.7 kohm and 12 Mohm", "4.7\u00a0k\u03a9 and 12\u00a0M\u03a9"),
        ("3.3 uF, 20 degC, 2.5 deg", "3.3\u00a0\u00b5F, 20\u00a0\u00b0C, 2.5\u00b0"),
        ('write "115 deg", not 115 deg', 'write "115 deg", not 115\u00b0'),
        ("1.2 V per m/s", "1.2\u00a0V per m/s"),
        ("loses -3 s/day", "loses \u22123\u00a0s/day"),
        ("2N2222 and BC547-25 stay", "2N2222 and BC547-25 stay"),
    ],
)
def test_units_are_printed_with_their_signs(plain: str, shown: str) -> None:
    assert printed(plain) == shown
