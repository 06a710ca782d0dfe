"""Sound files as captures, in every width of sample."""

import tracemalloc

import numpy as np
import pytest
from scipy.io import wavfile

from circuits.captures.reading import read_capture
from circuits.errors import DesignFileError
from tests.circuits.captures.writing import ids, save, text_of

RATE = 44_100
WAVE = 0.6 * np.sin(2 * np.pi * 440 * np.arange(2000) / RATE)


def samples(kind: str) -> np.ndarray:
    if kind == "uint8":
        return np.round(128 + 127 * WAVE).astype(np.uint8)
    if kind.startswith("int"):
        return np.round(WAVE * (2.0 ** (int(kind[3:]) - 1) - 1)).astype(kind)
    return WAVE.astype(kind)


@pytest.mark.parametrize(
    ("kind", "step"),
    [("uint8", 2**-7), ("int16", 2**-15), ("int32", 2**-31), ("float32", 2**-24),
     ("float64", 2**-53)],
)  # fmt: skip
def test_every_width_of_sample(tmp_path, kind, step):
    path = tmp_path / "sound.wav"
    wavfile.write(path, RATE, samples(kind))
    capture = read_capture(path)
    assert capture.time is not None
    np.testing.assert_allclose(capture.time, np.arange(2000) / RATE, rtol=1e-15)
    (channel,) = capture.channels
    assert (channel.name, channel.unit) == ("sound", "")
    # Half a step for rounding, and the full scale that is one step short of a power of two.
    np.testing.assert_allclose(channel.values, WAVE, rtol=0, atol=1.5 * step)
    assert capture.decision.interval == 1 / RATE
    assert {"capture.no_unit", "capture.sound_clock"} == ids(capture)


def test_two_channels_full_scale_and_clipping(tmp_path):
    path = tmp_path / "sound.wav"
    right = np.clip(2 * WAVE, -1, 1)
    wavfile.write(path, RATE, np.round(32767 * np.stack([WAVE, right], 1)).astype(np.int16))
    capture = read_capture(path, units="left=1.2 V, right=250 mV")
    assert [(c.name, c.unit) for c in capture.channels] == [("left", "V"), ("right", "V")]
    np.testing.assert_allclose(capture.channel("left").values, 1.2 * WAVE, atol=1e-4)
    np.testing.assert_allclose(capture.channel("right").values, 0.25 * right, atol=1e-4)
    first = int(np.argmax(np.abs(right) >= 1)) + 1
    assert f"first is sample {first}" in text_of(capture, "capture.clipped.right")
    capture = read_capture(path, columns="-, coil", units="coil=1 V")
    assert [c.name for c in capture.channels] == ["coil"]


@pytest.mark.parametrize(
    ("options", "found"),
    [({"columns": "a, b, c"}, "3 names for 1"), ({"columns": "a=7"}, "7"),
     ({"units": "left=V"}, "left"), ({"units": "V, V"}, "more than 1"), ({"columns": "-"}, "no ")],
)  # fmt: skip
def test_what_cannot_be_meant(tmp_path, options, found):
    path = tmp_path / "sound.wav"
    wavfile.write(path, RATE, samples("int16"))
    with pytest.raises(DesignFileError, match=found):
        read_capture(path, **options)


def test_a_broken_sound_file_is_refused(tmp_path):
    path = tmp_path / "sound.wav"
    wavfile.write(path, RATE, samples("int16"))
    for cut in (20, 36, 43):
        with pytest.raises(DesignFileError, match="WAV file"):
            read_capture(save(tmp_path, path.read_bytes()[:cut], "cut.wav"))


@pytest.mark.parametrize("shape", [(), (2,)])
def test_long_sound_takes_less_than_five_times_its_file(tmp_path, monkeypatch, shape):
    monkeypatch.setattr("circuits.captures.wave_file.LONG", 1_000_000)
    rate = 44_100
    times = np.arange(1_500_001) / rate
    wave = np.multiply.outer(0.7 * np.sin(2 * np.pi * 3 * times), np.ones(shape))
    path = tmp_path / "long.wav"
    wavfile.write(path, rate, np.round(32767 * wave).astype(np.int16))
    read_capture(path)
    tracemalloc.start()
    capture = read_capture(path)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 5 * path.stat().st_size
    assert "each 2 samples" in text_of(capture, "capture.averaged")
    assert capture.rows == len(capture.time) == 750_000
    assert capture.time[[0, -1]] == pytest.approx([0.5 / rate, 1_499_998.5 / rate], rel=1e-12)
    # A step of 16 bits; the mean of two samples of a slow sine is the sine between them.
    expected = 0.7 * np.sin(2 * np.pi * 3 * capture.time)
    np.testing.assert_allclose(capture.channels[-1].values, expected, atol=2 / 32768)


def test_sound_larger_than_memory_is_averaged_as_far_as_passes_bear(tmp_path, monkeypatch):
    path = tmp_path / "sound.wav"
    wavfile.write(path, 40_000, np.zeros(40_000, np.int16))
    monkeypatch.setattr("circuits.captures.wave_file.room", lambda: 80_000)
    assert read_capture(path).rows == 5_000
    monkeypatch.setattr("circuits.captures.wave_file.room", lambda: 8_000)
    with pytest.raises(DesignFileError, match="more than memory holds"):
        read_capture(path)
