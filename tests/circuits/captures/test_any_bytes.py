"""Whatever bytes a file holds: a capture that is whole, or an error in words."""

import contextlib
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from circuits.captures.capture import Capture
from circuits.captures.reading import read_capture
from circuits.errors import DesignFileError

CELL = st.one_of(
    st.sampled_from(
        ["1", "2.5", "-0.1", "1e3", "+ 0.5", "OL", "", "nan", "1,5", "12:00:01", "2020/1/2",
         "2020-01-02 10:00:00", "2020-01-02 10:00:00+01:00", "mV", "V", "Time (s)", "t", "#x",
         '"a"', '"', '"1"2', "0x1", "∞", "1 V", "inf", "NO.", "Sample rate: 1 kHz", "24:61:00",
         "H", "L", "T", "99999999999999999999", "1e999", "1e-999", "-", "x", "1000-01-01 00:00",
         "Units,V", "dt = 1e-320 s", "1700000000", "\u2212" "1", "\u00b5V"]
    ),
    st.text(max_size=6),
)  # fmt: skip
TABLE = st.builds(
    lambda separator, end, rows: end.join(separator.join(row) for row in rows),
    st.sampled_from([",", ";", "\t", " ", "|"]),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.lists(st.lists(CELL, min_size=1, max_size=4), min_size=1, max_size=8),
)
CONTENT = st.one_of(
    st.binary(max_size=300),
    TABLE.map(lambda text: text.encode("utf-8", "replace")),
    TABLE.map(lambda text: text.encode("utf-16", "replace")),
    TABLE.map(lambda text: text.encode("cp1252", "replace")),
    st.binary(max_size=80).map(lambda rest: b"RIFF\x24\0\0\0WAVE" + rest),
    st.binary(max_size=60).map(
        lambda rest: b"RIFF\x2c\0\0\0WAVEfmt \x10\0\0\0\x01\0\x01\0\x44\xac\0\0" + rest
    ),
)
OPTION = st.one_of(
    st.none(),
    st.sampled_from(["time, coil", "time=1, coil=2", "s, V", "interval=1 ms", "coil=mV", "-,a",
                     "a=b", "date=dmy", "time=s"]),
    st.text(max_size=8),
)  # fmt: skip


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("any") / "any.bin"


@settings(
    max_examples=400, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    content=CONTENT, columns=OPTION, units=OPTION, decimal=st.sampled_from([None, ".", ",", "x"])
)
def test_no_bytes_make_a_traceback(path, content, columns, units, decimal):
    path.write_bytes(content)
    with contextlib.suppress(DesignFileError):
        is_whole(read_capture(path, columns=columns, units=units, decimal=decimal))


def is_whole(capture):
    assert isinstance(capture, Capture)
    assert all(len(channel.values) == capture.rows for channel in capture.channels)
    assert not any(np.isinf(channel.values).any() for channel in capture.channels)
    if capture.time is not None:
        assert len(capture.time) == capture.rows
        assert np.isfinite(capture.time).all()
    edges = [edge for part in capture.segments for edge in (part.start, part.stop)]
    assert edges[0] == 0
    assert edges[-1] == capture.rows
    assert edges[1:-1:2] == edges[2::2]
    assert capture.decision.in_words()
    names = [finding.id for finding in capture.findings]
    assert len(set(names)) == len(names)


FIGURE = st.floats(allow_nan=False, allow_infinity=False, width=64)


@settings(max_examples=100, deadline=None)
@given(
    figures=st.lists(st.tuples(FIGURE, FIGURE), min_size=2, max_size=20),
    layout=st.sampled_from([(",", "."), (";", "."), (";", ","), ("\t", ","), ("|", "."),
                            ("  ", ".")]),
)  # fmt: skip
def test_what_is_written_comes_back(path, figures, layout):
    separator, decimal = layout
    rows = [separator.join(repr(v).replace(".", decimal) for v in row) for row in figures]
    path.write_text("\n".join([f"a (V){separator}b (A)", *rows, ""]), encoding="utf-8")
    capture = read_capture(path)
    for channel, truth in zip(capture.channels, zip(*figures, strict=True), strict=True):
        for found, figure in zip(channel.values, truth, strict=True):
            # The parser may be one unit in the last place off; below normal numbers, one step.
            assert math.isclose(found, figure, rel_tol=4e-16, abs_tol=1e-322)
