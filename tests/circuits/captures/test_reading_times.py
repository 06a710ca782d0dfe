"""Clocks, dates, gaps, midnight and records: what is odd is told, and nothing is moved."""

from datetime import datetime, timedelta

import numpy as np
import pytest

from circuits.captures.clock_text import nanoseconds
from circuits.errors import DesignFileError
from tests.circuits.captures.writing import ids, read, table, text_of
from tests.sources import Kind, source

START = datetime(2024, 3, 5, 23, 59, 57)


def stamps(form: str, count: int = 12, step: float = 0.5, start: datetime = START) -> str:
    rows = []
    for i in range(count):
        moment = start + timedelta(seconds=step * i)
        text = moment.strftime(form).replace("MS", f"{moment.microsecond // 1000:03d}")
        rows.append((text, f"{i}.5"))
    return table(rows, separator=";")


@pytest.mark.parametrize(
    "form",
    [
        "%Y-%m-%d %H:%M:%S.MS", "%Y-%m-%dT%H:%M:%S.MSZ", "%Y/%m/%d %H:%M:%S,MS",
        "%d.%m.%Y %H:%M:%S.MS", "%d-%b-%Y %H:%M:%S.MS", "%m/%d/%Y %I:%M:%S.MS %p",
        "%Y-%m-%d %H:%M:%S:MS", "%Y-%m-%d, %H:%M:%S.MS", "%Y-%m-%d %H:%M:%S.MS.000",
        "%Y-%m-%d %H:%M:%S.MS+01:00",
    ],
)  # fmt: skip
def test_dates_with_times_of_day_over_midnight(tmp_path, form):
    options = {"units": "date=mdy"} if form.startswith("%m") else {}
    capture = read(tmp_path, "when;U (V)\n" + stamps(form), **options)
    assert capture.time is not None
    np.testing.assert_allclose(capture.time, 0.5 * np.arange(12), rtol=0, atol=1e-9)
    hour = "22" if "+01" in form else "23"
    assert capture.decision.start == f"2024-03-05 {hour}:59:57"
    assert capture.sampling == "even"
    assert capture.findings == ()


def test_times_of_day_without_a_date_pass_midnight_and_say_so(tmp_path):
    capture = read(tmp_path, "clock;U (V)\n" + stamps("%H:%M:%S.MS"))
    assert capture.time is not None
    np.testing.assert_allclose(capture.time, 0.5 * np.arange(12), rtol=0, atol=1e-9)
    # 23:59:57 to 00:00:00 are six steps of half a second; the heading is line 1.
    assert "in line 8" in text_of(capture, "capture.midnight")
    assert capture.segments == (slice(0, 12),)


def test_day_and_month_that_may_be_exchanged(tmp_path):
    rows = [(f"03/{d:02d}/2024 10:00:00", "1.5") for d in range(1, 10)]
    content = "Date;U (V)\n" + table(rows, separator=";")
    with pytest.raises(DesignFileError, match='"date=dmy" or --units "date=mdy"'):
        read(tmp_path, content)
    # From 1 to 2 March a day goes by, from 3 January to 3 February 31 days.
    for order, days in (("mdy", 1), ("dmy", 31)):
        capture = read(tmp_path, content, units=f"date={order}")
        assert capture.time is not None
        assert capture.time[1] == days * 86400
    rows += [(f"03/{d:02d}/2024 10:00:00", "1.5") for d in range(10, 20)]
    capture = read(tmp_path, "Date;U (V)\n" + table(rows, separator=";"))
    assert capture.time is not None
    assert set(np.diff(capture.time)) == {86400.0}


def test_a_clock_that_is_put_back_an_hour_is_told_and_kept(tmp_path):
    hours = [(1, m) for m in range(0, 60, 5)] + [(2, m) for m in range(0, 60, 5)] * 2
    rows = [("27.10.2024", f"{h:02d}:{m:02d}:00", "1.5") for h, m in hours]
    capture = read(tmp_path, "Date;Time;U (V)\n" + table(rows, separator=";"))
    assert capture.time is not None
    assert list(capture.time) == [3600 * (h - 1) + 60 * m for h, m in hours]
    assert capture.segments == (slice(0, 24), slice(24, 36))
    assert "in line 26" in text_of(capture, "capture.clock_change")
    assert capture.sampling == "even"


@source(Kind.PUBLISHED, "field case, format of a public export", printed="0, 5000 ... 995000")
def test_seconds_of_the_day_and_microseconds_within_the_second(tmp_path):
    rows = [(59592 + i // 200, i % 200 * 5000, i % 7) for i in range(500)]
    capture = read(tmp_path, "seconds,microseconds,coil (V)\n" + table(rows))
    assert capture.time is not None
    np.testing.assert_allclose(capture.time, 59592 + 0.005 * np.arange(500), rtol=0, atol=1e-9)
    assert "within the second" in capture.decision.time_from


@pytest.mark.parametrize(
    ("name", "scale"),
    [("timestamp", 1), ("unix time", 10**3), ("epoch", 10**6), ("timestamp", 10**9)],
)
def test_counts_from_1970_tell_their_unit_by_their_size(tmp_path, name, scale):
    rows = [(1_700_000_000 * scale + i * scale, "1.5") for i in range(20)]
    capture = read(tmp_path, f"{name},U (V)\n" + table(rows))
    assert capture.time is not None
    assert list(capture.time) == list(range(20))
    assert capture.decision.start == "2023-11-14 22:13:20"


def test_nanoseconds_from_1970_lose_no_digit(tmp_path):
    rows = [(1_700_000_000_123_456_700 + 3 * i, "1.5") for i in range(20)]
    capture = read(tmp_path, "timestamp,U (V)\n" + table(rows))
    assert capture.time is not None
    np.testing.assert_allclose(capture.time, 3e-9 * np.arange(20), rtol=1e-12)


def test_repeated_and_backward_times_are_counted_and_kept(tmp_path):
    times = [0, 0.1, 0.1, 0.2, 0.3, 0.25, 0.4, 0.5]
    capture = read(tmp_path, "t [s],u [V]\n" + table([(t, i) for i, t in enumerate(times)]))
    assert capture.time is not None
    assert list(capture.time) == times
    assert list(capture.channel("u").values) == list(range(8))
    assert "in line 4" in text_of(capture, "capture.time_repeats")
    assert "by up to 0.05 s, in line 7" in text_of(capture, "capture.time_backward")
    assert capture.sampling == "uneven"


def test_a_gap_parts_the_record_and_is_told(tmp_path):
    kept = [i for i in range(400) if not 100 <= i < 120]
    rows = [(i, f"{i * 0.01:.2f}", f"{i}.5") for i in kept]
    capture = read(tmp_path, "No,Time (s),U (V)\n" + table(rows))
    assert capture.segments == (slice(0, 100), slice(100, 380))
    text = text_of(capture, "capture.gaps")
    assert "in line 102" in text
    assert "about 20 rows are missing" in text
    assert "0.21 s" in text
    assert "in line 102" in text_of(capture, "capture.counter")
    assert "see the findings" in capture.decision.duration_check


def test_several_records_under_headings_of_their_own(tmp_path):
    head = "Segment,{}\nTime (s),U (V)\n"
    rows = table([(f"{i * 0.1:.1f}", f"{i}.5") for i in range(30)])
    content = "".join(head.format(k) + rows for k in range(3))
    capture = read(tmp_path, content)
    assert capture.segments == (slice(0, 30), slice(30, 60), slice(60, 90))
    assert "2 times, first in line 34" in text_of(capture, "capture.headings")
    assert capture.sampling == "even"
    assert "capture.time_backward" not in ids(capture)


def test_records_without_headings_begin_where_time_starts_again(tmp_path):
    rows = table([(f"{i * 0.1:.1f}", f"{i}.5") for i in range(30)])
    capture = read(tmp_path, "Time (s),U (V)\n" + rows * 3)
    assert capture.segments == (slice(0, 30), slice(30, 60), slice(60, 90))
    assert "2 times go back" in text_of(capture, "capture.time_backward")


def test_a_coarse_clock_alone_is_uneven(tmp_path):
    rows = [(f"12:00:{i // 5:02d}", f"{i}.5") for i in range(100)]
    capture = read(tmp_path, "clock,U (V)\n" + table(rows))
    assert capture.sampling == "uneven"
    assert "80 times are the same" in text_of(capture, "capture.time_repeats")


def test_jitter_of_a_computer_clock_is_uneven_and_a_pause_parts_it(tmp_path):
    rng = np.random.default_rng(3)
    times = np.cumsum(rng.uniform(0.5, 1.5, 200))
    times[120:] += 600
    rows = [(f"{t:.3f}", "1.5") for t in times]
    capture = read(tmp_path, "Time (s),U (V)\n" + table(rows))
    assert capture.sampling == "uneven"
    assert capture.segments == (slice(0, 120), slice(120, 200))
    assert "1 pause" in text_of(capture, "capture.gaps")


def test_a_cell_that_is_no_time_is_refused_with_its_line(tmp_path):
    good = stamps("%Y-%m-%d %H:%M:%S.MS")
    with pytest.raises(DesignFileError, match=r"line 14: found .*, where times stand"):
        read(tmp_path, "when;U (V)\n" + good + "2024-13-45 10:00:00;1.5\n")


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("00:00:00", 0), ("23:59:59.999999999", 86399.999999999), ("12:00:00 AM", 0),
        ("12:30:00 pm", 45000), ("75:00:01", 270001), ("5:07.25", 307.25), ("1:02:03", 3723),
        ("24:61:00", None), ("12:00:61", None), ("1970-01-02 00:00:00", 86400),
        ("1970-01-01T01:00:00+01:00", 0), ("31/02/2024 00:00:00", None), ("13:00:00 PM", None),
        ("29-Feb-2023 10:00:00", None),
    ],
)  # fmt: skip
def test_clock_texts(text, seconds):
    found = nanoseconds(text, "dmy")
    assert found == (None if seconds is None else round(seconds * 1e9))


def test_times_of_two_figures_are_refused(tmp_path):
    with pytest.raises(DesignFileError, match="hours and minutes, or minutes and seconds"):
        read(tmp_path, "time;U (V)\n10:00;1.5\n10:01;2.5\n10:02;3.5\n")
    capture = read(
        tmp_path, "time;U (V)\n10:00;1.5\n10:01;2.5\n10:02;3.5\n", columns="-, coil",
        units="V, interval=60 s",
    )  # fmt: skip
    assert capture.time is not None
    assert list(capture.time) == [0, 60, 120]
