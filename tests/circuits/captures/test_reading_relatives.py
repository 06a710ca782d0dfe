"""Relatives of the known layouts: other separators, marks, units, headings and pairs of columns."""

import numpy as np
import pytest

from circuits.errors import DesignFileError
from tests.circuits.captures.writing import ids, read, table, text_of, wave
from tests.sources import Kind, source

KNOWN = [(f"{i * 0.01:.2f}", f"{0.5 + i % 7 * 0.125:.3f}") for i in range(40)]
TRUE_TIME = np.array([float(t) for t, _ in KNOWN])
TRUE_VOLTS = np.array([float(v) for _, v in KNOWN])


def is_known(capture):
    assert capture.time is not None
    np.testing.assert_allclose(capture.time, TRUE_TIME, rtol=1e-12)
    (channel,) = capture.channels
    assert channel.unit == "V"
    np.testing.assert_allclose(channel.values, TRUE_VOLTS, rtol=1e-12)
    return True


@pytest.mark.parametrize("separator", [",", ";", "\t", "|", "  ", ", ", " ; "])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_any_usual_separator_and_line_end(tmp_path, separator, end):
    head = table([("Time (s)", "U (V)")], separator=separator, end=end)
    assert is_known(read(tmp_path, head + table(KNOWN, separator=separator, end=end)))


@pytest.mark.parametrize("separator", [";", "\t", "|", "  "])
def test_decimal_commas(tmp_path, separator):
    head = f"Time (s){separator}U (V)\n"
    capture = read(tmp_path, head + table(KNOWN, separator=separator, decimal=","))
    assert is_known(capture)
    assert capture.decision.decimal == ","


def test_decimal_commas_between_quotes_and_commas_between_columns(tmp_path):
    rows = [tuple('"' + cell.replace(".", ",") + '"' for cell in row) for row in KNOWN]
    assert is_known(read(tmp_path, '"Time (s)","U (V)"\n' + table(rows)))


@pytest.mark.parametrize(
    "head",
    [
        "Time [s],U [V]", "Time(s),U(V)", "time_s,u_V", "Time / s,U / V", "t in s,u in V",
        "# Time (s), U (V)", "% time [s], coil [V]", "seconds,volts", "TIME (S),U (VOLTS)",
        "Time (sec),CH1 (VDC)", "Zeit [s];Spannung [V]".replace(";", ","), "Time,U\ns,V",
        "Time,U\n(s),(V)", "Time,U\n[sec],[Volt]", "elapsed {s},u {V}", "x-axis,1\nsecond,Volt",
    ],
)  # fmt: skip
def test_units_wherever_headings_have_them(tmp_path, head):
    assert is_known(read(tmp_path, head + "\n" + table(KNOWN)))


@source(Kind.PUBLISHED, "public issue threads on micro and ohm signs")
@pytest.mark.parametrize(
    ("unit", "si", "factor"),
    [
        ("\u00b5V", "V", 1e-6), ("\u03bcV", "V", 1e-6), ("uV", "V", 1e-6), ("k\u03a9", "ohm", 1e3),
        ("k\u2126", "ohm", 1e3), ("kohm", "ohm", 1e3), ("mA", "A", 1e-3), ("hPa", "Pa", 100.0),
        ("mbar", "Pa", 100.0), ("%", "1", 0.01), ("ppm", "1", 1e-6), ("s/day", "s/day", 1.0),
        ("mV", "V", 1e-3), ("deg", "rad", np.pi / 180), ("Hz", "Hz", 1.0), ("us", "s", 1e-6),
        ("mT", "T", 1e-3),
    ],
)  # fmt: skip
def test_units_come_out_in_si(tmp_path, unit, si, factor):
    capture = read(tmp_path, f"Time (s),q ({unit})\n0,1\n1,2.5\n2,4\n")
    (channel,) = capture.channels
    assert channel.unit == si
    np.testing.assert_allclose(channel.values, np.array([1, 2.5, 4]) * factor, rtol=1e-12)


def test_temperatures_become_kelvin_whatever_their_zero(tmp_path):
    capture = read(tmp_path, "Time (s),temp_C,room (degF)\n0,20,68\n1,21,70\n2,-40,-40\n")
    for channel in capture.channels:
        assert channel.unit == "K"
    np.testing.assert_allclose(capture.channel("temp").values, [293.15, 294.15, 233.15])
    np.testing.assert_allclose(capture.channel("room").values[[0, 2]], [293.15, 233.15])


def test_a_channel_is_not_taken_for_a_current_by_its_letter(tmp_path):
    capture = read(tmp_path, "Time (s),CH_A,CH_C\n0,1.5,2\n1,2.5,3\n2,3.5,5\n")
    assert [(c.name, c.unit) for c in capture.channels] == [("CH_A", ""), ("CH_C", "")]
    assert '"CH_A", "CH_C"' in text_of(capture, "capture.no_unit")


@pytest.mark.parametrize(
    "content",
    [
        "Time (s),U (V)\n" + table([(*row, "") for row in KNOWN]),
        "Time (s),U (V),\n" + table([(*row, "") for row in KNOWN]),
        "Time (s),U (V),,\n" + table([(*row, "", "") for row in KNOWN]),
        "Time (s),U (V),\n" + table(KNOWN[:20]) + table([(*row, "") for row in KNOWN[20:]]),
    ],
)
def test_trailing_separators_here_or_there(tmp_path, content):
    assert is_known(read(tmp_path, content))


def test_a_banner_beside_the_figures(tmp_path):
    beside = [
        "Record Length,40,", "Sample Interval,0.01,", "Vertical Units,V,", "Horizontal Units,s,",
    ] + [",,"] * 36  # fmt: skip
    rows = [f"{left},{t},{v}\n" for left, (t, v) in zip(beside, KNOWN, strict=True)]
    capture = read(tmp_path, "".join(rows))
    assert is_known(capture)
    assert capture.findings == ()


def test_a_banner_of_pairs_tells_the_units(tmp_path):
    head = "Model,X1\nHorizontal Units,S\nHorizontal Scale,0.004\nSample Interval,0.01\n"
    head += "Record Length,40\nVertical Units,V\nLabel,,\nTIME,CH1\n"
    capture = read(tmp_path, head + table(KNOWN))
    assert is_known(capture)
    assert capture.findings == ()
    assert capture.decision.heading_line == 8


def test_first_time_and_interval_in_the_heading_itself(tmp_path):
    rows = "".join(f"{i},{v},\n" for i, (_, v) in enumerate(KNOWN))
    capture = read(tmp_path, "X,CH1,Start,Increment,\nSequence,Volt,-0.006,1.0e-05\n" + rows)
    assert capture.time is not None
    np.testing.assert_allclose(capture.time, -0.006 + 1e-5 * np.arange(40), rtol=1e-12)
    (channel,) = capture.channels
    assert (channel.name, channel.unit) == ("CH1", "V")
    np.testing.assert_allclose(channel.values, TRUE_VOLTS)
    assert "from -0.006 s" in capture.decision.time_from


@pytest.mark.parametrize(
    ("line", "interval"),
    [
        ("Sample rate: 2.5 kHz", 4e-4), ("# Sampling interval [ms]: 2", 2e-3),
        ("Sample Interval,4.0e-3,s", 4e-3), ("; dt = 20 us", 2e-5), ("Abtastrate;50 Hz", 0.02),
        ("Sampling frequency 1000", 1e-3),
    ],
)  # fmt: skip
def test_no_heading_and_no_times_but_an_interval_in_the_banner(tmp_path, line, interval):
    capture = read(tmp_path, line + "\n" + "".join(v + "\n" for _, v in KNOWN))
    assert capture.time is not None
    np.testing.assert_allclose(capture.time, interval * np.arange(40), rtol=1e-12)
    assert capture.decision.interval == pytest.approx(interval)
    np.testing.assert_allclose(capture.channels[0].values, TRUE_VOLTS)


def test_a_time_without_unit_is_settled_by_the_interval_of_the_banner(tmp_path):
    capture = read(tmp_path, "Sample rate: 100 Hz\ntime,U (V)\n" + "".join(
        f"{10 * i},{v}\n" for i, (_, v) in enumerate(KNOWN)))  # fmt: skip
    assert is_known(capture)
    assert "in ms, by the line" in capture.decision.time_from


def test_a_time_without_unit_is_refused_with_what_would_do(tmp_path):
    with pytest.raises(DesignFileError, match=r'times without a unit.*--units "time=s"'):
        read(tmp_path, "time,U (V)\n" + table(KNOWN))


@pytest.mark.parametrize("content", ["".join(f"{i},{i * 7 % 1000:03d}\n" for i in range(50))])
def test_a_comma_that_may_be_both_is_refused_and_decided_by_option(tmp_path, content):
    with pytest.raises(DesignFileError, match=r'--decimal "," or --decimal "\."'):
        read(tmp_path, content)
    capture = read(tmp_path, content, decimal=",")
    assert len(capture.channels) == 1
    assert capture.channels[0].values[1] == 1.007
    capture = read(tmp_path, content, decimal=".", columns="time, coil", units="s, V")
    assert capture.time is not None
    assert capture.time[1] == 1
    assert capture.channel("coil").values[1] == 7


def test_figures_with_their_unit_beside_them_whatever_it_is(tmp_path):
    rows = [(f"2024-03-05 12:00:{i:02d}", f"{i if i > 25 else i / 1000:.3f}",
             "mV" if i > 25 else "V") for i in range(50)]  # fmt: skip
    capture = read(tmp_path, "Time,Value,Unit\n" + table(rows))
    np.testing.assert_allclose(capture.channel("Value").values, 1e-3 * np.arange(50), atol=1e-12)
    assert capture.channel("Value").unit == "V"
    text = text_of(capture, "capture.unit_changes.Value")
    assert "1 time, first in line 28 from V to mV" in text
    capture = read(tmp_path, "Time (s),U\n0,12.5 mV\n1,13 mV\n2,1.2 V\n")
    np.testing.assert_allclose(capture.channel("U").values, [0.0125, 0.013, 1.2])
    assert "line 4" in text_of(capture, "capture.unit_changes.U")


def test_a_unit_that_becomes_another_quantity_is_refused(tmp_path):
    with pytest.raises(DesignFileError, match=r"line 4: found the unit mA in column 2"):
        read(tmp_path, "Time (s),Value,Unit\n0,1.5,V\n1,1.6,V\n2,3,mA\n3,4,mA\n")


@pytest.mark.parametrize(
    ("first", "second", "line"),
    [
        ("Time (s),coil (V)\n", "Time (s),coil (mV)\n", 5),
        ("Time,coil\ns,V\n", "Time,coil\ns,mV\n", 7),
    ],
)
def test_a_heading_with_another_unit_amid_the_rows_is_refused(tmp_path, first, second, line):
    rows = "0,1.5\n0.1,2.5\n0.2,3.5\n"
    with pytest.raises(DesignFileError, match=rf"line {line}: .*split the file there"):
        read(tmp_path, first + rows + second + rows)


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ("0,1.5\n0.1,2.5\n0.2\n0.3,1.5\n", "line 4: found 1 cell where the heading has 2"),
        ("0,1.5\n0.1,2.5\n0.2,3,4\n0.3,1.5\n", "line 4: found 3 cells where the heading has 2"),
        ("0,1.5\n0.1,2.5\n0.2,3.5,1\n0.3\n", "line 4: found 3 cells"),
        ("0,1.5\n0.1,2.5\n0.2", "line 4: found 1 cell"),
        ("0,1.5\n0.1,2.5\nmoved,3.5\n0.3,1.5\n", "line 4: "),
        ("0,1.5\n0.1,2.5\n,3.5\n0.3,1.5\n", "line 4: found no time"),
    ],
)
def test_a_ragged_row_is_refused_with_its_line(tmp_path, rows, message):
    with pytest.raises(DesignFileError, match=message):
        read(tmp_path, "Time (s),coil (V)\n" + rows)


def test_a_ragged_row_far_down_is_found_by_its_line(tmp_path):
    rows = [f"{i * 0.001:.3f},{i % 9}.5\n" for i in range(300_000)]
    rows[271_828] = "271.828,1,5\n"
    with pytest.raises(DesignFileError, match="line 271830: found 3 cells"):
        read(tmp_path, "Time (s),coil (V)\n" + "".join(rows))
    rows[271_828] = "271.828,1,5\n"
    rows[271_830] = "271.830\n"
    with pytest.raises(DesignFileError, match="line 271830: found 3 cells"):
        read(tmp_path, "Time (s),coil (V)\n" + "".join(rows))


def test_cells_without_a_figure_are_counted_and_stay_open(tmp_path):
    capture = read(tmp_path, "Time (s),U (V)\n0,1\n1,OL\n2,\n3,4\n4,inf\n5,nan\n6,oops\n")
    values = capture.channel("U").values
    assert list(np.isnan(values)) == [False, True, True, False, True, True, True]
    assert text_of(capture, "capture.no_figure") == (
        '5 cells hold no figure: 5 in "U", the first in line 3 ("OL"); not a number stands there '
        "now."
    )


@pytest.mark.parametrize("cell", ["1.5e-03", "1.5D-03", "+ 1.5e-3", "\u22120.0015", ".0015"])
def test_figures_as_people_and_programs_write_them(tmp_path, cell):
    capture = read(tmp_path, f"Time (s),U (V)\n0,0.5\n1,{cell}\n2,2.5\n")
    assert abs(capture.channel("U").values[1]) == 0.0015


def test_a_figure_beyond_all_numbers_stays_open(tmp_path):
    for content in (
        "Time (s),U (kV)\n0,1\n1,1e307\n2,2\n",
        "Time (s),U,unit\n0,1,kV\n1,1e307,kV\n2,2,kV\n",
        "Time (s),U\n0,1 kV\n1,1e307 kV\n2,2 kV\n",
    ):
        capture = read(tmp_path, content)
        np.testing.assert_allclose(capture.channel("U").values, [1000.0, np.nan, 2000.0])
        assert "1 cell holds no figure" in text_of(capture, "capture.no_figure")


def test_levels_in_words_become_0_and_1(tmp_path):
    capture = read(tmp_path, "Time (s),a,b,c\n0,H,off,True\n1,L,on,False\n2,H,off,True\n")
    assert [list(c.values) for c in capture.channels] == [[1, 0, 1], [0, 1, 0], [1, 0, 1]]


def test_remarks_blank_lines_and_a_footer_are_told(tmp_path):
    capture = read(tmp_path, "Time (s),U (V)\n0,1\n# moved the magnet\n1,2\n\n2,3\nEnd of data\n")
    assert list(capture.channel("U").values) == [1, 2, 3]
    assert "first in line 3" in text_of(capture, "capture.remarks")
    assert "2 lines of words" in text_of(capture, "capture.remarks")
    assert "1 blank line stands among the rows, the first in line 5" in text_of(
        capture, "capture.blank_lines"
    )


def test_a_second_time_column_that_agrees_is_left_out(tmp_path):
    capture = read(tmp_path, "Time (s),A (V),Time (s),B (V)\n0,1,0,2\n1,2,1,3\n2,3,2,4\n")
    assert [c.name for c in capture.channels] == ["A", "B"]
    assert capture.decision.columns[2].reason == "the same times as column 1"
    with pytest.raises(DesignFileError, match=r"neither add up nor agree.*--columns"):
        read(tmp_path, "Time (s),A (V),Time (s),B (V)\n0,1,0.5,2\n1,2,1.5,3\n2,3,2.5,4\n")


def test_widths_and_periods_are_channels_not_times(tmp_path):
    capture = read(tmp_path, "width_ms,period_ms\n18.0,999.9\n18.1,1000.2\n18.2,1000.4\n")
    assert capture.time is None
    assert [(c.name, c.unit) for c in capture.channels] == [("width", "s"), ("period", "s")]
    assert "capture.no_time" in ids(capture)


def test_one_column_of_crossing_times(tmp_path):
    times = np.cumsum(0.7 + 1e-4 * np.sin(np.arange(50)))
    capture = read(tmp_path, "crossing [s]\n" + "".join(f"{t:.6f}\n" for t in times))
    assert capture.time is not None
    assert capture.channels == ()
    np.testing.assert_allclose(capture.time, times, rtol=0, atol=0.51e-6)


def test_a_banner_that_disagrees_is_told(tmp_path):
    head = "Sample rate: 200 Hz\nSample count: 4000\nTime (s),U (V)\n"
    capture = read(tmp_path, head + table(KNOWN))
    assert "4000 samples, the file holds 40 rows" in text_of(capture, "capture.sample_count")
    assert "0.005 s between rows" in text_of(capture, "capture.interval")
    assert is_known(capture)


def test_files_without_figures_are_refused(tmp_path):
    for content in ("a,b\nc,d\n", "hello\n", "Time (s);U (V)\n0;1.234,5\n1;2.345,6\n"):
        with pytest.raises(DesignFileError, match="no table of figures"):
            read(tmp_path, content)


def test_many_columns_come_back_in_their_order(tmp_path):
    time, volts = wave(30, 0.1)
    rows = [(f"{t:.1f}", *(f"{v + k:.4f}" for k in range(40))) for t, v in
            zip(time, volts, strict=True)]  # fmt: skip
    head = "Time (s)," + ",".join(f"ch{k} (V)" for k in range(40)) + "\n"
    capture = read(tmp_path, head + table(rows))
    for k, channel in enumerate(capture.channels):
        np.testing.assert_allclose(channel.values, volts + k, atol=0.51e-4)
