"""Encodings, zero bytes, empty files and things that are no capture."""

import numpy as np
import pytest

from circuits.captures.reading import read_capture
from circuits.errors import DesignFileError
from tests.circuits.captures.writing import ids, read, save, text_of

PLAIN = "Time (s);coil (µV)\n" + "".join(f"{i}.5;{i}.25\n" for i in range(20))


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "latin-1"]
)
def test_one_file_in_every_encoding(tmp_path, encoding):
    capture = read(tmp_path, PLAIN.encode(encoding))
    assert capture.time is not None
    assert list(capture.time) == [i + 0.5 for i in range(20)]
    assert [c.name for c in capture.channels] == ["coil"]
    np.testing.assert_allclose(capture.channels[0].values, [1e-6 * (i + 0.25) for i in range(20)])
    foreign = encoding in ("cp1252", "latin-1")
    assert ids(capture) == ({"capture.encoding"} if foreign else set())


def test_wide_letters_over_more_than_one_part(tmp_path):
    rows = "".join(f"{i * 0.001:.3f};{i % 10}.5\n" for i in range(150_000))
    capture = read(tmp_path, ("Time (s);coil (µV)\n" + rows).encode("utf-16"))
    assert capture.time is not None
    np.testing.assert_allclose(capture.time, 0.001 * np.arange(150_000), atol=1e-9)
    assert capture.segments == (slice(0, 150_000),)
    assert capture.findings == ()


def test_zero_bytes_of_a_power_failure_are_told(tmp_path):
    capture = read(tmp_path, b"Time (s),U (V)\n0,1\n1,2\n\0\0\0\0\n2,3\n3,4\0\0\0")
    assert list(capture.channel("U").values) == [1, 2, 3, 4]
    assert "7 zero bytes stood in the file, the first in line 4" in text_of(
        capture, "capture.nul_bytes"
    )


def test_zero_bytes_never_join_two_figures(tmp_path):
    with pytest.raises(DesignFileError, match="line 4: "):
        read(tmp_path, b"Time (s),U (V)\n0,1\n1,2\n2,3\0\0\0\0005,6\n6,7\n")


def test_foreign_bytes_far_down_are_told_by_their_line(tmp_path):
    rows = [f"{i * 0.001:.3f};{i % 10}.5;ok\n".encode() for i in range(200_000)]
    rows[150_000] = b"150.000;0.5;\xff\xfe\n"
    capture = read(tmp_path, b"Time (s);U (V);state\n" + b"".join(rows))
    assert capture.rows == 200_000
    assert "line 150002" in text_of(capture, "capture.encoding")


@pytest.mark.parametrize(
    ("content", "found"),
    [
        (b"", "an empty file"), (b"\n\n  \n", "nothing but blanks"), (b"\0" * 50, "blanks"),
        (b"PK\x03\x04" + bytes(100), "spreadsheet"), (b"\x1f\x8b\x08" + bytes(50), "gzip"),
        (bytes(range(256)) * 40, "neither text nor"), (b"a" * 3_000_000, "without a line end"),
        (b"1;2\n" * 100_000 + b"3" * 3_000_000, "without a line end"),
    ],
)  # fmt: skip
def test_what_is_no_capture_is_refused_in_words(tmp_path, content, found):
    with pytest.raises(DesignFileError, match=found):
        read(tmp_path, content)


def test_a_missing_file_and_a_directory(tmp_path):
    with pytest.raises(DesignFileError, match="cannot be read"):
        read_capture(tmp_path / "none.csv")
    with pytest.raises(DesignFileError, match="a directory"):
        read_capture(tmp_path)
    with pytest.raises(DesignFileError, match="cannot be read"):
        read_capture("a\0b")


def test_parts_of_a_long_file_join_without_a_seam(tmp_path):
    rows = [f"{i * 0.001:.3f},{i % 1000}.5\n" for i in range(400_000)]
    path = save(tmp_path, "Time (s),U (V)\n" + "".join(rows))
    capture = read_capture(path)
    assert capture.time is not None
    np.testing.assert_allclose(capture.time, 0.001 * np.arange(400_000), atol=1e-9)
    np.testing.assert_array_equal(capture.channels[0].values, np.arange(400_000) % 1000 + 0.5)
    assert capture.segments == (slice(0, 400_000),)


def test_nothing_in_a_file_reaches_the_terminal_as_a_command(tmp_path):
    capture = read(tmp_path, "#\x1b[31mred\nTime (s),\x1b[2Jcoil (V),note\n" + "".join(
        f"{i},{i}.5,\x1b]0;title\n" for i in range(5)))  # fmt: skip
    assert [c.name for c in capture.channels] == ["?[2Jcoil"]
    told = [*capture.decision.in_words(), *capture.decision.banner]
    told += [finding.text for finding in capture.findings]
    assert all(line.isprintable() for line in told)
