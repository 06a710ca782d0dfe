"""Logs over hours and weeks: rate, weather, stability, step, drift and life left found again."""

from pathlib import Path

import numpy as np
import pytest

from circuits.captures.measured import Asked
from circuits.captures.reading import read_capture
from circuits.captures.reading_out import against_of, read_out
from circuits.design_file import parse_design
from circuits.errors import DesignFileError
from tests.circuits.captures.invented_captures import (
    EXAMPLES,
    against,
    holds,
    severities,
    told,
    written,
)
from tests.sources import Kind, source

DAY = 86400.0


def two_weeks(path: Path, seed: int, *, beats: bool = False) -> Path:
    noise = np.random.default_rng(seed)
    t = np.arange(0.0, 14 * DAY, 900.0)
    warm = 20 + 4 * np.sin(2 * np.pi * t / DAY) + noise.normal(0, 0.2, t.size)
    air = 1013 + 8 * np.sin(2 * np.pi * t / DAY / 5.3)
    rate = 3.0 - 0.5 * (warm - warm.mean()) + 0.03 * (air - air.mean())
    rate = rate + 0.02 * (t - t.mean()) / DAY + noise.normal(0, 0.4, t.size)
    period = 2.0 / (1 + rate / DAY)
    period[500] += 0.004
    name = "beat" if beats else "period"
    return written(
        path, f"time (s);{name} (s);temperature (degC);pressure (hPa)", t,
        period / 2 if beats else period, warm, air, separator=";",
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(3))
@source(Kind.IDENTITY, "an invented log of known rate, weather and drift")
def test_rate_weather_and_drift(tmp_path: Path, seed: int) -> None:
    path = two_weeks(tmp_path / "log.csv", seed)
    out = told(path, target=2.0, count="periods", clock_error=0.3 / DAY)
    assert out.measured.kind == "log"
    assert holds(out, "rate.rate", 3.0, times=1.0)
    low, high = out.sheet.values["rate.rate"].low, out.sheet.values["rate.rate"].high
    assert low is not None
    assert high is not None
    assert high - low > 0.6  # the logger's own clock is in the span
    assert holds(out, "rate.temperature_slope", -0.5)
    assert holds(out, "rate.pressure_slope", 0.03 / 100)
    assert holds(out, "measured.drift", 0.02)
    assert out.sheet.values["measured.outliers"].value == 1
    assert severities(out)["log.outliers"] == "mind"
    assert severities(out)["rate.clock"] == "good"


@source(Kind.IDENTITY, "the same log in beats")
def test_beats_are_told_from_periods(tmp_path: Path) -> None:
    path = two_weeks(tmp_path / "log.csv", 1, beats=True)
    out = told(path, target=2.0, count="beats")
    assert holds(out, "rate.rate", 3.0, times=1.0)
    assert severities(out)["rate.clock"] == "measure"
    assert "measured.clock_error" in {entry.id for entry in out.sheet.assumed}
    assert severities(told(path, target=2.0))["log.count"] == "measure"


@source(Kind.IDENTITY, "white noise of the rate: its Allan deviation is sigma over the root of n")
def test_allan_deviation_of_white_noise(tmp_path: Path) -> None:
    """10 %: of 4096 rows the shortest is good to 1 or 2 %."""
    t = 10.0 * np.arange(4096)
    rate = np.random.default_rng(2).normal(0, 0.5, t.size)
    out = told(written(tmp_path / "log.csv", "time (s),rate (s/day)", t, rate), kind="log")
    first = out.sheet.values.get("measured.allan_first") or out.sheet.values["measured.allan"]
    assert first.value == pytest.approx(0.5 / DAY, rel=0.1)


@pytest.mark.parametrize("seed", range(3))
@source(Kind.IDENTITY, "a rate that answers a step of the width with one time constant")
def test_step_gives_slope_and_time_constant(tmp_path: Path, seed: int) -> None:
    t = np.arange(0.0, 20000.0, 30.0)
    width = np.where(t < 6000, 12.0, 14.0)
    rate = 5 - 28 * -np.expm1(-np.maximum(t - 5970, 0) / 900)
    rate = rate + np.random.default_rng(seed).normal(0, 0.3, t.size)
    path = written(tmp_path / "s.csv", "time (s),pulse width (ms),rate (s/day)", t, width, rate)
    out = told(path, clock_error=0.1 / DAY)
    assert holds(out, "rate.slope", -14e3)
    assert holds(out, "movement.time_constant", 900.0)
    assert holds(out, "rate.rate", -23.0)
    assert out.sheet.values["measured.overshoot"].value == 0
    assert out.sheet.values["measured.settling"].value == pytest.approx(900 * np.log(20), rel=0.05)
    slope = next(change.text for change in out.measured.changes if change.key == "measured_slope")
    assert float(slope.split()[0]) == pytest.approx(-14e3, rel=0.01)
    kp, ki = (out.sheet.values[f"steering.{name}"].value for name in ("kp", "ki"))
    assert isinstance(kp, float)
    assert isinstance(ki, float)
    assert kp < 0
    assert ki < 0


FOYER = (EXAMPLES / "foyer_sculpture.toml").read_text(encoding="utf-8")
STEERED = FOYER.replace("[rate]\n", '[rate]\nwidth_max = "16 ms"\n') + (
    '\n[log_output]\nfull_scale = "40 ms"\n'
)


def widths(path: Path, seed: int, factor: float, heading: str) -> Path:
    """A year and a half: 8 ms that grow by 5 us a day."""
    t = np.arange(0.0, 500 * DAY, 0.5 * DAY)
    width = 8e-3 + 5e-6 * t / DAY + np.random.default_rng(seed).normal(0, 1e-4, t.size)
    return written(path, f"time (s),{heading}", t, width * factor)


@pytest.mark.parametrize("unit", ["ms", "V"])
@source(Kind.IDENTITY, "a width that grows evenly: (16 - 8 - 2.5) ms at 5 us a day are 1100 days")
def test_life_left_from_the_width(tmp_path: Path, unit: str) -> None:
    design = against_of(parse_design(STEERED, "steered"))
    scale = design.done.ledger.values["log_output.scale"].value
    assert isinstance(scale, float)
    factor = 1e3 if unit == "ms" else 1 / scale
    path = widths(tmp_path / "w.csv", 1, factor, f"pulse width ({unit})")
    out = read_out(read_capture(path), Asked(kind="log"), design)
    left = (16e-3 - 8e-3 - 5e-6 * 499.5) / 5e-6 * DAY
    assert holds(out, "measured.life_left", left, times=1.0)
    assert holds(out, "measured.width_drift", 5e-6)
    assert severities(out)["log.life"] == "mind"
    alone = read_out(read_capture(widths(tmp_path / "a.csv", 1, 1e3, "width (ms)")), Asked(), None)
    assert severities(alone)["log.life"] == "measure"


@source(Kind.IDENTITY, "a width that grows by 5 us a day, logged from a rail that falls by a fifth")
def test_volts_from_a_rail_that_falls(tmp_path: Path) -> None:
    """The volts alone seem to say that the width falls: the spans must hold what it does."""
    design = against_of(parse_design(STEERED, "steered"))
    output = design.done.result("log_output")
    assert output.v_spent < 0.95 * output.v_fresh
    t = np.arange(0.0, 500 * DAY, 0.5 * DAY)
    width = 8e-3 + 5e-6 * t / DAY
    rail = np.linspace(output.v_fresh, output.v_spent, t.size)
    volts = output.gain * rail * width / output.full_scale
    path = written(tmp_path / "w.csv", "time (s),pulse width (V)", t, volts)
    out = read_out(read_capture(path), Asked(kind="log"), design)
    assert severities(out)["log.rail"] == "mind"
    assert holds(out, "measured.width_drift", 5e-6, times=1.0)
    assert holds(out, "drive.pulse_width", float(width.mean()), times=1.0)
    steady = read_out(
        read_capture(written(tmp_path / "s.csv", "time (s),pulse width (ms)", t, 1e3 * width)),
        Asked(kind="log"), design,
    )  # fmt: skip
    assert "log.rail" not in severities(steady)


@source(
    Kind.IDENTITY,
    "febo.com time-nuts list, August 2010: a locked loop stands off by what it has to correct",
    printed="it locked overnight to a few ms with a 200 ms phase offset",
)
def test_locked_loop_shows_what_it_corrects(tmp_path: Path) -> None:
    """The correction is the slope times the width held, the lag that width over the gain.

    5 %: the slope is that at the design's own width, the correction along the curve.
    """
    done = against("school_pendulum").done
    own = done.ledger.values["drive.pulse_width"].value
    slope, kp = (done.ledger.values[name].value for name in ("rate.slope", "steering.kp"))
    assert isinstance(own, float)
    assert isinstance(slope, float)
    assert isinstance(kp, float)
    t = np.arange(0.0, 2 * DAY, 60.0)
    for held, side in ((60e-6, "wider"), (-60e-6, "narrower")):
        noise = np.random.default_rng(3).normal(0, 20e-6, t.size)
        path = written(
            tmp_path / f"{side}.csv", "time (s),pulse width (ms)", t, 1e3 * (own + held + noise)
        )
        out = told(path, "school_pendulum", kind="log")
        assert holds(out, "measured.width_held", held)
        corrected = out.sheet.values["measured.rate_corrected"].value
        assert corrected == pytest.approx(slope * held, rel=0.05)
        assert holds(out, "measured.locked_lag", held / kp)
        told_words = next(f.text for f in out.sheet.findings if f.id == "log.steered")
        assert side in told_words
        assert ("gain" if slope * held < 0 else "lose") in told_words
        assert "log.steered_limit" not in severities(out)
    path = written(tmp_path / "end.csv", "time (s),pulse width (ms)", t, 4.07 + 0 * t)
    assert severities(told(path, "school_pendulum", kind="log"))["log.steered_limit"] == "mind"


def test_volts_without_a_scale_are_refused(tmp_path: Path) -> None:
    path = widths(tmp_path / "w.csv", 1, 40.0, "log out (V)")
    with pytest.raises(DesignFileError, match="full_scale in"):
        told(path, kind="log")
    with pytest.raises(DesignFileError, match="above the rail"):
        read_out(
            read_capture(widths(tmp_path / "x.csv", 1, 4e3, "log out (V)")), Asked(kind="log"),
            against_of(parse_design(STEERED, "steered")),
        )  # fmt: skip
