"""Free swings from file to figures: each truth within its stated span, with noise, many seeds."""

from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from scipy.special import ellipj, ellipk

from circuits.captures.measured import Asked
from circuits.captures.reading_out import ReadOut, read_out
from circuits.errors import DesignFileError
from tests.circuits.captures.invented_captures import (
    against,
    captured,
    holds,
    severities,
    told,
    written,
)
from tests.sources import Kind, source

PERIOD = 1.31569
DRY = np.radians(0.002)


def arcs_at(n: np.ndarray, q_factor: float, start: float, dry: float = 0.0) -> np.ndarray:
    share = np.pi / q_factor
    return np.asarray((start + dry / share) * np.exp(-share * n) - dry / share)


def angle_file(path: Path, seed: int, dry: float) -> Path:
    """An angle in degrees, 50 a second: phase by the series of the pendulum's period."""
    t = np.arange(0.0, 240.0, 0.02)
    arc = arcs_at(t / PERIOD, 250.0, np.radians(6.0), dry)
    turn = np.concatenate(([0.0], np.cumsum(0.02 / (PERIOD * (1 + arc[:-1] ** 2 / 16)))))
    angle = arc * np.sin(2 * np.pi * turn) + np.radians(0.3)
    noise = np.random.default_rng(seed).normal(0, np.radians(0.02), t.size)
    return written(path, "time (s),angle (deg)", t, np.degrees(angle + noise))


@pytest.mark.parametrize("seed", range(4))
@source(Kind.IDENTITY, "an invented swing of known loss, dry friction and period")
def test_angle_gives_loss_period_and_bend(tmp_path: Path, seed: int) -> None:
    out = told(angle_file(tmp_path / "swing.csv", seed, DRY), "school_pendulum", coil="open")
    assert out.measured.kind == "ringdown"
    arc = against("school_pendulum").done.ledger.values["movement.arc"].value
    assert isinstance(arc, float)
    truth = np.pi / (np.pi / 250 + DRY / arc)
    assert holds(out, "movement.quality_factor", truth)
    assert holds(out, "movement.period", PERIOD)
    # The first stretch is two periods long, and the crossing in its middle is counted first.
    first = float(arcs_at(np.array([1.0]), 250.0, np.radians(6.0), DRY)[0])
    assert holds(out, "measured.arc_start", first)
    assert holds(out, "measured.dry_share", DRY / first)
    assert holds(out, "measured.period_bend", 1 / 16)
    assert out.sheet.values["measured.law"].value.endswith("dry friction")  # type: ignore[union-attr]
    assert "ringdown.coil" not in severities(out)


@source(Kind.IDENTITY, "the same without dry friction")
def test_drag_alone_is_called_drag_alone(tmp_path: Path) -> None:
    for seed in range(4):
        out = told(angle_file(tmp_path / f"{seed}.csv", seed, 0.0), "school_pendulum")
        assert out.sheet.values["measured.law"].value == "drag that grows with speed"
        assert holds(out, "movement.quality_factor", 250.0)
        assert severities(out)["ringdown.coil"] == "mind"


@source(
    Kind.IDENTITY,
    "a public tuning log of an electronic clock: spring magnets outweigh the circular error and "
    "turn its sign round",
    printed="11.5 deg with repelling spring magnets gives about 990 ms",
)
def test_a_period_that_shortens_with_the_arc_is_named(tmp_path: Path) -> None:
    """The period changes by -1.2 of the arc squared, some twenty times gravity's and turned round.

    0.04: the arc of 6 degrees changes the period by 1.3 %, of which the series takes its share.
    """
    t = np.arange(0.0, 240.0, 0.02)
    arc = arcs_at(t / PERIOD, 250.0, np.radians(6.0))
    turn = np.concatenate(([0.0], np.cumsum(0.02 / (PERIOD * (1 - 1.2 * arc[:-1] ** 2)))))
    angle = arc * np.sin(2 * np.pi * turn)
    angle = angle + np.random.default_rng(1).normal(0, np.radians(0.02), t.size)
    path = written(tmp_path / "magnets.csv", "time (s),angle (deg)", t, np.degrees(angle))
    out = told(path, "school_pendulum")
    assert out.sheet.values["measured.period_bend"].value == pytest.approx(-1.2, abs=0.04)
    assert severities(out)["ringdown.bend"] == "mind"


def light_gate(path: Path, seed: int) -> Path:
    """Level changes of a gate that a flag of 8 mm at 0.5 m covers on each pass."""
    beats = np.arange(400)
    arc = arcs_at(beats / 2, 420.0, 0.1)
    middle = 0.6 * beats + 0.2
    half = 0.6 / np.pi * np.arcsin(0.008 / arc)
    noise = np.random.default_rng(seed).normal(0, 2e-6, (2, beats.size))
    edges = np.stack([middle - half + noise[0], middle + half + noise[1]], axis=1).ravel()
    return written(path, "Time [s],CH_A", edges, np.tile([1.0, 0.0], beats.size))


@pytest.mark.parametrize("seed", range(3))
@source(Kind.IDENTITY, "a flag's way past a gate: sin(omega d/2) = w/(2 arc)")
def test_light_gate_gives_the_loss(tmp_path: Path, seed: int) -> None:
    out = told(light_gate(tmp_path / "gate.csv", seed), count="beats", kind="ringdown")
    assert holds(out, "movement.quality_factor", 420.0)
    assert holds(out, "movement.period", 1.2)


def crossing_file(path: Path, seed: int, jitter: float = 5e-5) -> Path:
    beats = np.arange(900)
    arc = 0.15 * np.exp(-np.pi * beats / 840)
    half = 0.8 * (1 + arc**2 / 16 + 11 * arc**4 / 3072)
    times = np.concatenate(([0.0], np.cumsum((half[1:] + half[:-1]) / 2)))
    times = 3.0 + times + np.random.default_rng(seed).normal(0, jitter, beats.size)
    return written(path, "time (s)", times)


@pytest.mark.parametrize("seed", range(3))
@source(Kind.IDENTITY, "circular error of an invented swing")
def test_times_alone_give_loss_and_arc(tmp_path: Path, seed: int) -> None:
    out = told(crossing_file(tmp_path / "times.csv", seed), count="beats", kind="ringdown")
    assert holds(out, "movement.quality_factor", 420.0)
    assert holds(out, "measured.arc_start", 0.15)
    assert holds(out, "movement.period", 1.6)
    assert "ringdown.count" not in severities(out)


@source(
    Kind.IDENTITY,
    "model-engineer.co.uk, thread on pendulum Q: beats taken for periods halve Q",
    printed="if 'swings' are half-periods Q halves",
)
def test_beats_or_periods_is_asked(tmp_path: Path) -> None:
    """The same events read as whole periods: twice the count, twice the factor and the period."""
    path = crossing_file(tmp_path / "times.csv", 1)
    beats = told(path, count="beats", kind="ringdown").sheet.values
    periods = told(path, count="periods", kind="ringdown").sheet.values
    for name in ("movement.quality_factor", "movement.period"):
        one, other = beats[name].value, periods[name].value
        assert isinstance(one, float)
        assert isinstance(other, float)
        factor = 2.0 if name.endswith("factor") else 0.5
        assert one * factor == pytest.approx(other, rel=0.02) or other == pytest.approx(
            2 * one, rel=0.02
        )
    assert severities(told(path, kind="ringdown"))["ringdown.count"] == "measure"


@source(
    Kind.IDENTITY,
    "model-engineer.co.uk, thread on pendulum Q, third recipe reworked: 21 399 is timing noise",
    printed="(70.7th - 29.3th percentile) as bandwidth, Q = median/width = 21 399",
)
def test_scatter_of_periods_is_jitter_and_no_quality_factor(tmp_path: Path) -> None:
    """Sigma/T of 4.3e-5 whatever the loss; 5 %: of 800 draws a scatter is good to 2.5 %."""
    noise = np.random.default_rng(4).normal(0, 4.3e-5 * 1.5, 800)
    path = written(tmp_path / "periods.csv", "n,period (s)", np.arange(800.0), 1.5 + noise)
    out = told(path)
    assert out.measured.kind == "log"
    assert "movement.quality_factor" not in out.sheet.values
    jitter = out.sheet.values["measured.jitter"].value
    assert isinstance(jitter, float)
    assert jitter / 1.5 == pytest.approx(4.3e-5, rel=0.05)
    assert severities(out)["log.jitter"] == "good"
    steady = written(tmp_path / "steady.csv", "time (s)", 0.75 * np.arange(801.0) + noise[0])
    shaken = written(tmp_path / "shaken.csv", "time (s)", 0.75 * np.arange(800.0) + noise + 0.01)
    for one in (steady, shaken):
        found = told(one, count="beats", kind="ringdown")
        assert "movement.quality_factor" not in found.sheet.values
        assert severities(found)["ringdown.q_factor"] == "measure"


@source(Kind.IDENTITY, "recipes of model-engineer.co.uk, thread on pendulum Q", printed="2.013 n")
def test_arcs_written_down_by_hand(tmp_path: Path) -> None:
    """A fall to 21 % in 100 periods: Q = 201.3; read as beats, half of it."""
    count = np.arange(0.0, 101.0, 10.0)
    arcs = 4.0 * 0.21 ** (count / 100)
    path = written(tmp_path / "hand.csv", "periods,arc (deg)", count, arcs)
    out = told(path, kind="ringdown")
    q_factor = out.sheet.values["movement.quality_factor"].value
    assert q_factor == pytest.approx(201.3, abs=0.05)
    halved = told(path, kind="ringdown", count="beats").sheet.values["movement.quality_factor"]
    assert halved.value == pytest.approx(100.65, abs=0.05)


def dying_passes(q_factor: float, first: float, seed: int, beside: float) -> ReadOut:
    """The foyer sculpture's own EMF, of an exact pendulum whose arc falls as Q is defined."""
    done = against("foyer_sculpture").done
    curve, swing = done.result("linkage").drive, done.result("movement").swing
    n = np.linspace(0.0, 0.4 * q_factor, 20001)
    one = 4 * ellipk(np.sin(first * np.exp(-np.pi * n / q_factor) / 2) ** 2) / swing.omega
    count = CubicSpline(np.concatenate(([0.0], np.cumsum((one[1:] + one[:-1]) / 2 * n[1]))), n)

    def angle(t: np.ndarray) -> np.ndarray:
        turns = count(t)
        sine = np.sin(first * np.exp(-np.pi * turns / q_factor) / 2)
        return np.asarray(2 * np.arcsin(sine * ellipj(4 * ellipk(sine**2) * turns, sine**2)[0]))

    t = np.arange(0.0, float(one[0] * n[-1]) * 0.99, 2e-3)
    path, speed = swing.radius * angle(t), swing.radius * (angle(t + 1e-5) - angle(t - 1e-5)) / 2e-5
    wave = curve.slope(path - beside) * speed
    top = float(wave.max())
    noise = np.random.default_rng(seed).normal(0, 3e-3 * top, t.size)
    hum = 2e-3 * top * np.sin(2 * np.pi * 49.97 * t + seed)
    capture = captured(t, wave + noise + hum, "V")
    return read_out(capture, Asked(kind="ringdown"), against("foyer_sculpture"))


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(
    ("q_factor", "first", "beside"),
    [(120.0, 0.14, 0.0), (350.0, 0.09, 0.0), (120.0, 0.2, 0.0), (120.0, 0.14, 0.004)],
)
@source(Kind.IDENTITY, "the foyer sculpture's own EMF as the swing dies away")
def test_falling_passes_of_a_coil(q_factor: float, first: float, beside: float, seed: int) -> None:
    out = dying_passes(q_factor, first, seed, beside)
    assert holds(out, "movement.quality_factor", q_factor)
    value = out.sheet.values["movement.quality_factor"]
    assert value.high - value.low < 0.02 * q_factor  # type: ignore[operator]


def test_a_driven_swing_gives_no_loss(tmp_path: Path) -> None:
    t = np.arange(0.0, 100.0, 0.02)
    noise = np.random.default_rng(3).normal(0, 1e-3, t.size)
    wave = np.degrees(0.1 * np.sin(2 * np.pi * t / PERIOD)) + noise
    out = told(written(tmp_path / "driven.csv", "time (s),angle (deg)", t, wave), kind="ringdown")
    assert severities(out)["ringdown.q_factor"] == "measure"
    assert "movement.quality_factor" not in out.sheet.values


@source(Kind.IDENTITY, "a steady swing has no loss, however finely it was written down")
@pytest.mark.parametrize("seed", [None, *range(6)])
def test_a_steady_swing_writes_no_loss_into_the_design(tmp_path: Path, seed: int | None) -> None:
    t = np.arange(0.0, 60.0, 0.02)
    noise = 0.0 if seed is None else np.random.default_rng(seed).normal(0, 0.02, t.size)
    wave = np.degrees(0.1 * np.sin(2 * np.pi * t / PERIOD)) + noise
    out = told(
        written(tmp_path / "steady.csv", "time (s),angle (deg)", t, wave), "school_pendulum",
        kind="ringdown",
    )  # fmt: skip
    assert severities(out)["ringdown.q_factor"] == "measure"
    assert "movement.quality_factor" not in changes_of(out)


def changes_of(out: ReadOut) -> dict[str, str]:
    return {f"{change.section}.{change.key}": change.text for change in out.measured.changes}


def test_what_goes_into_the_design(tmp_path: Path) -> None:
    out = told(angle_file(tmp_path / "swing.csv", 0, 0.0), "school_pendulum", coil="open")
    changes = changes_of(out)
    assert float(changes["movement.quality_factor"]) == pytest.approx(250, rel=0.01)
    assert changes["movement.period"].endswith(" s")


@source(Kind.IDENTITY, "a period that wanders by 20 parts in a million while nothing falls")
def test_a_warming_rod_is_not_taken_for_a_falling_arc(tmp_path: Path) -> None:
    """A temperature that settles is an exponential, as the square of a falling arc is."""
    k = np.arange(600.0)
    halves = 0.8 * (1 + 2e-5 * np.exp(-k / 200))
    times = np.cumsum(halves) + np.random.default_rng(5).normal(0, 2e-6, 600)
    path = written(tmp_path / "warm.csv", "time (s)", times)
    out = told(path, kind="ringdown", count="beats")
    assert severities(out)["ringdown.shortening"] == "mind"
    assert "movement.quality_factor" not in changes_of(out)


def test_too_little_is_refused_in_words(tmp_path: Path) -> None:
    path = written(tmp_path / "few.csv", "time (s)", np.arange(4.0))
    with pytest.raises(DesignFileError, match="ten crossings or more"):
        told(path, kind="ringdown")
