"""What the user says about columns, units and the decimal mark."""

import numpy as np
import pytest

from circuits.errors import DesignFileError
from tests.circuits.captures.writing import read

BARE = "".join(f"{i / 100:.2f},{i % 7}.5,{i % 3}.25\n" for i in range(50))
NAMED = "Time (s),CH1 (V),CH2 (V)\n" + BARE


def test_names_and_units_for_a_file_without_heading(tmp_path):
    capture = read(tmp_path, BARE, columns="time, coil, hall", units="s, mV, V")
    assert capture.time is not None
    assert capture.time[1] == 0.01
    assert [(c.name, c.unit) for c in capture.channels] == [("coil", "V"), ("hall", "V")]
    assert capture.channel("coil").values[1] == pytest.approx(1.5e-3)


def test_a_dash_leaves_a_column_out(tmp_path):
    capture = read(tmp_path, NAMED, columns="time, -, hall", units="s, V")
    assert [c.name for c in capture.channels] == ["hall"]
    assert capture.decision.columns[1].reason == "not asked for"


@pytest.mark.parametrize("picks", ["time=1, coil=3", "time=Time (s), coil=CH2", "coil=3, time=1"])
def test_columns_are_picked_by_number_or_heading(tmp_path, picks):
    capture = read(tmp_path, NAMED, columns=picks)
    (channel,) = capture.channels
    assert (channel.name, channel.unit) == ("coil", "V")
    assert channel.values[1] == 1.25
    assert capture.time is not None


def test_what_a_reading_of_1_means(tmp_path):
    capture = read(tmp_path, NAMED, units="CH1=10 V, CH2=100 mA")
    assert capture.channel("CH1").values[1] == 15.0
    assert capture.channel("CH2").unit == "A"
    assert capture.channel("CH2").values[1] == pytest.approx(0.125)


@pytest.mark.parametrize("text", ["interval=20 us", "rate=50 kHz"])
def test_an_interval_for_rows_without_times(tmp_path, text):
    content = "coil (V)\n" + "".join(f"{i % 7}.5\n" for i in range(50))
    capture = read(tmp_path, content, units=text)
    assert capture.time is not None
    np.testing.assert_allclose(capture.time, 2e-5 * np.arange(50), rtol=1e-12)
    assert "as told" in capture.decision.time_from


@pytest.mark.parametrize(
    ("options", "found"),
    [
        ({"columns": "time, coil"}, "2 names for 3 columns"),
        ({"columns": "time=1, coil=9"}, "coil=9"),
        ({"columns": "time=1, coil=CH9"}, "CH9"),
        ({"columns": "time=1, coil"}, "coil"),
        ({"columns": ",,"}, "--columns"),
        ({"columns": "-,-,-"}, "no column of figures"),
        ({"units": "s, V"}, "2 units for 3 columns"),
        ({"units": "coil=V"}, "CH1, CH2"),
        ({"units": "CH1=parsec"}, "parsec"),
        ({"units": "CH1=0 V"}, "0 V"),
        ({"units": "interval=5 V"}, "a voltage"),
        ({"units": "interval=5 ms"}, "a sample interval for a file with times"),
        ({"units": "date=ydm"}, "date=ydm"),
        ({"decimal": "!"}, "--decimal"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_what_would_do(tmp_path, options, found):
    with pytest.raises(DesignFileError, match=found):
        read(tmp_path, NAMED, **options)
