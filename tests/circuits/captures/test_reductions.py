"""Files read part by part: the same samples, and what is said of files larger than memory."""

import time
import tracemalloc

import numpy as np
import pandas as pd
import pytest

from circuits.captures.reading import read_capture, stream_capture
from circuits.captures.reductions import crossings, thinned, totals
from circuits.errors import DesignFileError

COUNT = 200_000
STEP = 1e-4
PERIOD = 0.73


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    found = tmp_path_factory.mktemp("long") / "long.csv"
    times = STEP * np.arange(COUNT)
    volts = 2.0 * np.sin(2 * np.pi * times / PERIOD)
    lines = [f"{t:.4f},{v:.9f},{i % 1000}\n" for i, (t, v) in
             enumerate(zip(times, volts, strict=True))]  # fmt: skip
    found.write_text("Time (s),coil (V),other (mA)\n" + "".join(lines), encoding="utf-8")
    return found


def test_parts_are_the_whole(path):
    whole = read_capture(path)
    stream = stream_capture(path)
    parts = list(stream)
    assert len(parts) > 2
    assert all(part.sampling == "even" for part in parts)
    np.testing.assert_array_equal(np.concatenate([part.time for part in parts]), whole.time)
    for k, channel in enumerate(whole.channels):
        joined = np.concatenate([part.channels[k].values for part in parts])
        np.testing.assert_array_equal(joined, channel.values)
    assert stream.decision == whole.decision
    assert stream.findings == whole.findings


def test_crossings_lie_where_the_wave_was_made_to_cross(path):
    found, upwards = crossings(stream_capture(path), "coil", level=0.0, hysteresis=0.5)
    truth = PERIOD / 2 * np.arange(1, len(found) + 1)
    assert len(found) == int(COUNT * STEP / (PERIOD / 2))
    # The wave is straight near its crossing: what is left is the ninth decimal over the slope.
    np.testing.assert_allclose(found, truth, rtol=0, atol=2e-9)
    assert list(upwards[:4]) == [False, True, False, True]
    with pytest.raises(DesignFileError, match="coil, other"):
        crossings(stream_capture(path), "hall", level=0.0, hysteresis=0.5)


def test_totals_of_a_sine(path):
    coil, other = totals(stream_capture(path))
    whole = read_capture(path)
    assert coil.count == COUNT
    assert coil.mean == pytest.approx(np.mean(whole.channels[0].values), abs=1e-12)
    assert coil.rms == pytest.approx(np.sqrt(np.mean(whole.channels[0].values ** 2)), rel=1e-12)
    assert (coil.least, coil.greatest) == pytest.approx((-2.0, 2.0), abs=1e-6)
    assert other.unit == "A"
    assert other.greatest == pytest.approx(0.999)


def test_thinning_keeps_real_rows_and_every_peak(path):
    whole = read_capture(path)
    thin = thinned(stream_capture(path), bucket=500)
    # Two rows a channel and bucket, of which each part may cut one.
    assert thin.rows <= 4 * (whole.rows / 500 + 10) + 10 * 500
    assert np.isin(thin.time, whole.time).all()
    for kept, full in zip(thin.channels, whole.channels, strict=True):
        assert kept.values.max() == full.values.max()
        assert kept.values.min() == full.values.min()
    assert thin.findings[-1].id == "capture.thinned"
    assert f"Of {COUNT} rows, {thin.rows} were kept" in thin.findings[-1].text


def test_progress_is_told_after_each_part(path):
    told = []
    read_capture(path, progress=lambda *step: told.append(step))
    assert [total for _, total, _ in told] == [path.stat().st_size // 10**6] * len(told)
    assert [done for done, _, _ in told] == sorted(done for done, _, _ in told)
    assert told[-1][0] == told[-1][1]


def test_a_file_larger_than_memory_is_thinned_and_says_so(path, monkeypatch):
    whole = read_capture(path)
    monkeypatch.setattr("circuits.captures.reading.room", lambda: path.stat().st_size / 4)
    capture = read_capture(path)
    assert capture.findings[-1].id == "capture.thinned"
    # A fourth of the file's size is a twentieth of what its rows would take at the most.
    assert whole.rows / 50 < capture.rows <= whole.rows / 15
    assert capture.channels[0].values.max() == whole.channels[0].values.max()


def test_memory_stays_below_five_times_the_file(path):
    size = path.stat().st_size
    read_capture(path)
    tracemalloc.start()
    try:
        read_capture(path)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.reset_peak()
        for _ in stream_capture(path):
            pass
        _, streamed = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 5 * size
    # A stream holds some parts at a time, whatever the length of the file.
    assert streamed < 60e6


def test_no_loop_over_the_rows_is_hidden_in_the_reading(path):
    # The benchmark prints the true ratio, below two. A row by row loop is a hundredfold: twenty
    # times is far from both, so that a busy machine does not decide this.
    def taken(work):
        start = time.process_time()
        work()
        return time.process_time() - start

    bare = min(taken(lambda: pd.read_csv(path)) for _ in range(3))
    ours = min(taken(lambda: read_capture(path)) for _ in range(3))
    assert ours < 20 * bare
