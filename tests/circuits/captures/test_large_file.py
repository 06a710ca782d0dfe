"""A free swing in a file larger than memory: the period is that of all its rows."""

from pathlib import Path

import numpy as np
import pytest

from circuits.captures.large_file import with_crossings
from circuits.captures.measured import Asked
from circuits.captures.reading import read_capture
from circuits.captures.reading_out import read_out
from circuits.command import main
from tests.circuits.captures.invented_captures import holds, severities, written
from tests.sources import Kind, source

PERIOD, Q_FACTOR = 1.4, 90.0


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two minutes of an angle, 500 a second."""
    t = np.arange(0.0, 100.0, 0.002)
    wave = 0.05 * np.exp(-np.pi * t / PERIOD / Q_FACTOR) * np.sin(2 * np.pi * t / PERIOD + 0.4)
    wave += np.random.default_rng(5).normal(0, 5e-5, t.size)
    return written(tmp_path_factory.mktemp("large") / "swing.csv", "time (s),arc (rad)", t, wave)


@source(Kind.IDENTITY, "an invented swing, of which memory holds a row in eighty")
def test_crossings_are_from_all_rows(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One within 1.2 ms: noise of 5e-5 over slopes of 0.22 to 0.08 a second is up to 0.6 ms.

    The period, from 140 of them, within its span; the kept rows stand 0.1 s apart.
    """
    whole = read_capture(path)
    assert with_crossings(whole, path) is whole
    monkeypatch.setattr("circuits.captures.reading.room", lambda: path.stat().st_size / 8)
    thin = read_capture(path)
    assert thin.rows < whole.rows / 15
    told: list[tuple[int, int, str]] = []
    capture = with_crossings(thin, path, progress=lambda *step: told.append(step))
    assert told
    assert capture.crossings is not None
    expected = PERIOD * (np.arange(1, 143) / 2 - 0.4 / (2 * np.pi))
    # A level a little beside the middle makes crossings early and late in turn.
    early = capture.crossings[:60]
    early = (early[:-2] + 2 * early[1:-1] + early[2:]) / 4
    assert early == pytest.approx(expected[1:59], abs=1.2e-3)
    out = read_out(capture, Asked(kind="ringdown"), None)
    assert severities(out)["capture.crossings"] == "good"
    assert holds(out, "movement.period", PERIOD)
    period = out.sheet.values["movement.period"]
    assert period.high - period.low < 1.5e-4  # type: ignore[operator]
    # The heights are of kept rows: extremes, which lie above the wave by what noise adds.
    assert holds(out, "movement.quality_factor", Q_FACTOR, times=3.0)


def test_another_kind_keeps_its_rows(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("circuits.captures.reading.room", lambda: path.stat().st_size / 8)
    thin = read_capture(path)
    assert with_crossings(thin, path, kind="log") is thin


def test_the_command_says_so(
    path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("circuits.captures.reading.room", lambda: path.stat().st_size / 8)
    monkeypatch.setattr("circuits.progress.SECOND", 0.0)
    assert main(["read", str(path), "--as", "ringdown"]) in (0, 1)
    said = capsys.readouterr()
    assert "are from all rows of the file" in " ".join(said.out.split())
    assert "MB read" in said.err
