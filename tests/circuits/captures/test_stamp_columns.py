"""Columns of stamps read at once: the same whole nanoseconds as each text read by itself."""

import numpy as np
import pandas as pd
import pytest

from circuits.captures.clock_text import nanoseconds
from circuits.captures.stamp_columns import quick_nanoseconds

MOMENTS = pd.DatetimeIndex(
    np.datetime64("2026-02-27T20:58:00") + (np.arange(400) * 977_123).astype("timedelta64[ms]")
)
LAYOUTS = (
    "%d.%m.%Y %H:%M:%S", "%d/%m/%y %H:%M:%S.%f", "%d-%m-%Y, %I:%M:%S %p", "%m/%d/%Y %I:%M:%S.%f PM",
    "%Y/%m/%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S.%fZ", "%d-%b-%Y %H:%M:%S", "%d %b %y %H:%M",
    "%Y-%m-%d %H:%M:%S+01:00", "%H:%M:%S", "%I:%M:%S %p", "%H:%M:%S.%f",
)  # fmt: skip


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("order", ["dmy", "mdy"])
def test_each_text_is_read_as_by_itself(layout: str, order: str) -> None:
    texts = list(MOMENTS.strftime(layout))
    alone = [nanoseconds(text, order) for text in texts]
    found = quick_nanoseconds(texts, order)
    if None in alone:
        assert found is None
    else:
        assert found is not None
        assert found.tolist() == alone


@pytest.mark.parametrize("layout", ["{d}/{m}/{y} {h}:{n:02}:{n:02} am", "{d}.{m}.{y} {h}:{n:02}"])
def test_figures_without_leading_zeros(layout: str) -> None:
    texts = [
        layout.format(d=moment.day, m=moment.month, y=moment.year, h=moment.hour % 12 or 12,
                      n=moment.minute)
        for moment in MOMENTS
    ]  # fmt: skip
    found = quick_nanoseconds(texts, "dmy")
    assert found is not None
    assert found.tolist() == [nanoseconds(text, "dmy") for text in texts]


def test_shapes_may_change_within_the_column() -> None:
    """Fractions that end in zeros are often cut, and summer time changes the zone."""
    texts = [
        "2026-03-29T01:59:58.25+01:00", "2026-03-29T01:59:59+01:00", "2026-03-29T03:00:00+02:00",
        "2026-03-29T03:00:00.123.456.789+02:00", "29-MAR-2026 03:00:01", "29-mar-26 03:00:02",
        "29.3.2026 3:00:03", "29/3/2026 3:00:04 pm",
    ]  # fmt: skip
    found = quick_nanoseconds(texts, "dmy")
    assert found is not None
    assert found.tolist() == [nanoseconds(text, "dmy") for text in texts]


@pytest.mark.parametrize(
    "text",
    [
        "30.02.2026 10:00:00", "31.04.2026 10:00:00", "29.02.2025 10:00:00", "00.01.2026 10:00:00",
        "01.13.2026 10:00:00", "01.01.1650 10:00:00", "01.01.2300 10:00:00", "01.01.2026 10:60:00",
        "01.01.2026 10:00:61", "01.01.2026 13:00:00 pm", "01.01.2026 00:00:00 am",
        "01-foo-2026 10:00:00", "01.01.2026 48:00:00", "1.1.2026", "nan", "", "ten",
        "01.01.2026 10:00:00 \u00e9", "01.01.2026 10:00:00.123.456.789.123", "x" * 80,
    ],
)  # fmt: skip
def test_what_is_no_stamp_is_left_to_the_reader_of_single_texts(text: str) -> None:
    good = ["01.01.2026 10:00:00", "02.01.2026 10:00:00"]
    assert quick_nanoseconds([*good, text], "dmy") is None
    assert nanoseconds(text, "dmy") is None or text == "1.1.2026"


def test_odd_columns_are_left_alone() -> None:
    assert quick_nanoseconds([], "dmy") is None
    assert quick_nanoseconds([1.5, None], "dmy") is None
    assert quick_nanoseconds(np.array(["10:00:00", np.nan], dtype=object), "dmy") is None
    assert quick_nanoseconds(["10:00:00"] * 100_000 + ["x" * 10**6], "dmy") is None
    many = ["1" * k + ":00" for k in range(1, 60)]
    assert quick_nanoseconds(many, "dmy") is None
