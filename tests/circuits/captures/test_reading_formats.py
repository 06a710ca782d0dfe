"""Layouts of public exports, written anew with invented numbers, come back as they were."""

import numpy as np
import pytest

from circuits.errors import DesignFileError
from tests.circuits.captures.writing import engineering, ids, read, table, text_of, wave
from tests.sources import Kind, source

FIELD = "field case, format of a public export"


@source(Kind.PUBLISHED, FIELD, printed="-113.431850E-03,+4.938284392E+00")
def test_names_row_over_units_row_with_signed_engineering_exponents(tmp_path):
    time, volts = wave(400, 3.2e-6, start=-0.10023)
    rows = [(engineering(t, 6), engineering(v, 9)) for t, v in zip(time, volts, strict=True)]
    capture = read(tmp_path, "\nx-axis,TX1\nsecond,Volt\n" + table(rows))
    assert capture.time is not None
    # Half the last printed digit: nine decimals of milliseconds and coarser.
    np.testing.assert_allclose(capture.time, time, rtol=0, atol=0.51e-9)
    (channel,) = capture.channels
    assert (channel.name, channel.unit) == ("TX1", "V")
    np.testing.assert_allclose(channel.values, volts, rtol=0, atol=0.51e-9)
    assert capture.sampling == "even"
    assert capture.decision.interval == pytest.approx(3.2e-6, rel=1e-6)
    assert capture.findings == ()


def test_a_negative_first_time_stays_negative(tmp_path):
    capture = read(tmp_path, "Time (s),U (V)\n-0.5,1\n-0.25,2\n0,3\n0.25,4\n")
    assert capture.time is not None
    assert list(capture.time) == [-0.5, -0.25, 0.0, 0.25]
    assert capture.decision.start == ""


@source(Kind.PUBLISHED, FIELD, printed='"Time (s),Channel 1 (V)"')
def test_banner_of_comment_lines_and_units_in_parentheses(tmp_path):
    time, volts = wave(300, 2.5e-7, start=-0.000130832912)
    rows = [(repr(float(t)), repr(float(v))) for t, v in zip(time, volts, strict=True)]
    head = "#some program\n#Device Name: bench\n#Serial Number: SN:0\n"
    head += "#Date Time: 2021-04-14 13:10:34.255.812.740\n\nTime (s),Channel 1 (V)\n"
    capture = read(tmp_path, head + table(rows))
    assert capture.time is not None
    # All digits are printed, so the numbers are the same but for the parser's last place.
    np.testing.assert_allclose(capture.time, time, rtol=1e-15)
    np.testing.assert_allclose(capture.channel("Channel 1").values, volts, rtol=1e-15)
    assert capture.channel("Channel 1").unit == "V"
    assert capture.decision.heading_line == 6
    assert capture.decision.banner[0] == "#some program"


LOGIC_HEAD = (
    "; a tool, a date\n; Channels (6/16)\n; Sample rate: 250 MHz\n; Sample count: 60 Samples\n"
    "Time(s), SCK, MISO, 2, CS_F, MOSI, 5\n"
)


def logic_rows(decimal: str) -> str:
    rows = []
    for i in range(60):
        time = f"{4e-9 * i:.4g}".replace(".", decimal)
        rows.append(f"{time},0,{i % 2},0,1,0,{i // 3 % 2}\n")
    return "".join(rows)


@source(Kind.PUBLISHED, FIELD, printed="Time(s), SCK, MISO, 2, CS_F, MOSI, 5")
def test_columns_that_are_called_by_numbers(tmp_path):
    capture = read(tmp_path, LOGIC_HEAD + logic_rows("."))
    assert [c.name for c in capture.channels] == ["SCK", "MISO", "2", "CS_F", "MOSI", "5"]
    assert list(capture.channel("5").values[:7]) == [0, 0, 0, 1, 1, 1, 0]
    assert capture.time is not None
    np.testing.assert_allclose(capture.time, 4e-9 * np.arange(60), rtol=1e-3)
    assert capture.sampling == "even"
    assert ids(capture) == set()


@source(Kind.PUBLISHED, FIELD, printed="1,2e-08,0,0,0,1,0,0")
@pytest.mark.parametrize("decimal", [None, ",", "."])
def test_commas_for_columns_and_decimals_are_refused_at_the_first_ragged_row(tmp_path, decimal):
    options = {} if decimal is None else {"decimal": decimal}
    with pytest.raises(DesignFileError) as caught:
        read(tmp_path, LOGIC_HEAD + logic_rows(","), **options)
    message = str(caught.value)
    assert "semicolons" in message
    if decimal != ",":
        # Four comment lines, the heading, and 0, 4e-09, 8e-09 fit; 1,2e-08 does not.
        assert "line 9: found 8 cells where the heading has 7" in message


@source(Kind.PUBLISHED, FIELD, printed='1 2020/1/24 16:53:12 0 "+ 0.081" "- 0.559" ...')
def test_tabs_under_a_comma_name_and_two_clocks_that_are_summed(tmp_path):
    rng = np.random.default_rng(7)
    volts = rng.uniform(-9, 9, (700, 3)).round(3)
    head = "".join(f"Setting {i}\t{i}\tmV\n" for i in range(35))
    head = head.encode() + b"Place\tM\xfcnchen \xff\xfe\n"
    lines = ["NO.\tDate\tTime\tus\tmV\tmV\tmV\tA12345678\tAO1234\n"]
    for i, row in enumerate(volts):
        clock = f"2020/1/24\t16:53:{12 + i // 200:02d}\t{i % 200 * 5000}"
        cells = "\t".join(f"{'-' if v < 0 else '+'} {abs(v):.3f}" for v in row)
        lines.append(f"{i + 1}\t{clock}\t{cells}\tLLLLLLLL\tLLLL\n")
    capture = read(tmp_path, head + "".join(lines).encode())
    assert capture.time is not None
    np.testing.assert_allclose(capture.time, 0.005 * np.arange(700), rtol=0, atol=1e-9)
    assert capture.decision.start == "2020-01-24 16:53:12"
    assert [c.name for c in capture.channels] == ["mV", "mV 2", "mV 3"]
    for channel, truth in zip(capture.channels, volts.T, strict=True):
        assert channel.unit == "V"
        np.testing.assert_allclose(channel.values, truth * 1e-3, rtol=1e-12)
    assert ids(capture) == {"capture.encoding", "capture.letters", "capture.repeated_names"}
    assert '"A12345678", "AO1234"' in text_of(capture, "capture.letters")
    assert "line 36" in text_of(capture, "capture.encoding")


@source(Kind.PUBLISHED, FIELD, printed="1.0,0,0 / 2.0,1,0 / 3.0,0,0 / 4.0,1,0 / 6.0,0,0")
def test_a_list_of_transitions_keeps_its_own_times(tmp_path):
    rows = [("1.0", 0, 0), ("2.0", 1, 0), ("3.0", 0, 0), ("4.0", 1, 0), ("6.0", 0, 0)]
    capture = read(tmp_path, "Time [s],CH_A,CH_B\n" + table(rows))
    assert capture.sampling == "transitions"
    assert capture.time is not None
    level = capture.channel("CH_A").values
    rises = capture.time[1:][np.diff(level) > 0]
    falls = capture.time[1:][np.diff(level) < 0]
    assert list(falls - rises) == [1.0, 2.0]
    assert capture.channel("CH_A").unit == ""
    assert "levels hold" in text_of(capture, "capture.transitions")


@source(Kind.PUBLISHED, FIELD, printed="time goes back by fractions of a second")
def test_coarse_stamps_among_fine_ones_go_back_and_are_told(tmp_path):
    rows = [
        (f"2024-03-05 12:00:{i // 5:02d}" + ("" if i % 3 else f".{i % 5 * 200:03d}"), i)
        for i in range(60)
    ]
    capture = read(tmp_path, "Time;coil (V)\n" + table(rows, separator=";"))
    assert capture.time is not None
    truth = [i // 5 + (0 if i % 3 else 0.2 * (i % 5)) for i in range(60)]
    np.testing.assert_allclose(capture.time, truth, rtol=0, atol=1e-9)
    assert np.min(np.diff(truth)) < 0
    assert list(capture.channel("coil").values) == list(range(60))
    assert {"capture.time_backward", "capture.time_repeats"} <= ids(capture)
    assert "kept" in text_of(capture, "capture.time_backward")
    assert capture.segments == (slice(0, 60),)


@source(Kind.PUBLISHED, FIELD, printed="converter picks mV or V per file")
@pytest.mark.parametrize(("unit", "scale"), [("mV", 1e3), ("V", 1.0), ("uV", 1e6)])
def test_two_runs_of_one_rig_agree_whatever_unit_the_converter_picked(tmp_path, unit, scale):
    time, volts = wave(50, 0.001)
    rows = [(f"{t:.3f}", f"{v * scale:.6f}") for t, v in zip(time, volts, strict=True)]
    head = "".join(f"; remark {i}\n" for i in range(7)) + f"Time (s),coil ({unit})\n"
    capture = read(tmp_path, head + table(rows))
    np.testing.assert_allclose(capture.channel("coil").values, volts, atol=0.51e-6)
    assert capture.channel("coil").unit == "V"
    (use,) = (use for use in capture.decision.columns if use.role == "channel")
    assert use.unit_text == unit


def test_the_decision_is_shown_with_three_rows_and_the_duration(tmp_path):
    time, volts = wave(50, 0.5)
    rows = [(f"{t:.1f}", f"{v:.4f}") for t, v in zip(time, volts, strict=True)]
    content = "Zeit [ms];Spannung [mV]\r\n" + table(rows, separator=";", decimal=",", end="\r\n")
    lines = read(tmp_path, content).decision.in_words()
    assert lines[0] == "columns parted by semicolons, decimal comma, text in utf-8"
    shown = [line for line in lines if "->" in line]
    assert [line.split("  ->")[0] for line in shown] == [
        ";".join(rows[i]).replace(".", ",") for i in (0, 1, -1)
    ]
    assert shown[-1].endswith(f"time 0.0245 s, Spannung {1e-3 * float(rows[-1][1]):.9g} V")
    assert lines[-1] == (
        "50 rows 0.0005 s apart make 0.0245 s, first and last time 0.0245 s: they agree"
    )
