"""Captures made from known figures, with noise and hum, written as files for the tests."""

from functools import cache
from pathlib import Path

import numpy as np

from circuits.captures.capture import Capture, Channel, Decision
from circuits.captures.measured import Against, Asked
from circuits.captures.reading import read_capture
from circuits.captures.reading_out import ReadOut, against_of, read_out
from circuits.design_file import read_design

EXAMPLES = Path(__file__).parents[3] / "examples"


@cache
def against(name: str) -> Against:
    """One of the example designs with its stages' results."""
    return against_of(read_design(EXAMPLES / f"{name}.toml"))


def written(path: Path, heading: str, *columns: np.ndarray, separator: str = ",") -> Path:
    """Write columns under a heading, with nine significant digits."""
    rows = zip(*(column.tolist() for column in columns), strict=True)
    lines = [heading, *(separator.join(f"{cell:.9g}" for cell in row) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def captured(t: np.ndarray, values: np.ndarray, unit: str) -> Capture:
    """A capture of one channel as it would be read, without a file between."""
    decision = Decision(
        layout="text", encoding="utf-8", separator=",", decimal=".", heading_line=1, unit_line=None,
        first_line=2, columns=(), time_from="invented", interval=None, start="", sample_rows=(),
        read_as=(), banner=(), duration_check="", rows=t.size,
    )  # fmt: skip
    return Capture(
        file="invented", time=t, channels=(Channel(name="coil", unit=unit, values=values),),
        segments=(slice(0, t.size),), sampling="even", decision=decision, findings=(),
    )  # fmt: skip


def told(path: Path, design: str | None = None, **asked: object) -> ReadOut:
    """Read a file and return what it tells."""
    beside = None if design is None else against(design)
    return read_out(read_capture(path), Asked(**asked), beside)  # type: ignore[arg-type]


def holds(out: ReadOut, name: str, truth: float, times: float = 2.0) -> bool:
    """Whether the truth lies within the stated span, made wider by a factor about its middle.

    The span is two standard deviations: twice as wide, one in sixteen thousand lies outside.
    """
    value = out.sheet.values[name]
    assert not isinstance(value.value, str)
    assert value.low is not None
    assert value.high is not None
    return (
        value.value - times * (value.value - value.low)
        <= truth
        <= value.value + times * (value.high - value.value)
    )


def severities(out: ReadOut) -> dict[str, str]:
    """The findings by id."""
    return {finding.id: finding.severity.value for finding in out.sheet.findings}


def foyer_pass(t: np.ndarray, seed: int, *, sign: float = 1.0, strength: float = 1.0) -> np.ndarray:
    """The EMF of the foyer sculpture with 4 mV of hum at 49.97 Hz and 2 mV of noise."""
    done = against("foyer_sculpture").done
    swing, curve = done.result("movement").swing, done.result("linkage").drive
    wave = sign * strength * curve.slope(swing.path(t)) * swing.speed(t)
    hum = 0.004 * np.sin(2 * np.pi * 49.97 * t + 0.3 * seed)
    noise = np.random.default_rng(seed).normal(0, 0.002, t.size)
    return np.asarray(wave + hum + noise + 0.013)


def coil_pulse(
    seed: int, *, r: float = 77.0, inductance: float = 0.058, width: float = 7.5e-3
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times, coil current and switch voltage of a pulse with a diode clamp, in closed form."""
    rail, v_sat, v_f = 4.5, 0.14, 0.7
    t = np.arange(-2e-3, width + 8e-3, 1e-5)
    tau, end = inductance / r, (rail - v_sat) / r
    rising = end * -np.expm1(-np.maximum(t, 0.0) / tau)
    i_off = end * -np.expm1(-width / tau)
    falling = (i_off + v_f / r) * np.exp(-np.maximum(t - width, 0.0) / tau) - v_f / r
    on = (t >= 0) & (t < width)
    current = np.where(on, rising, np.where(t >= width, np.maximum(falling, 0.0), 0.0))
    released = (t >= width) & (falling > 0)
    switch = np.where(on, v_sat, np.where(released, rail + v_f, rail))
    noise = np.random.default_rng(seed)
    return (
        t,
        current + noise.normal(0, 1e-4, t.size),
        switch + noise.normal(0, 0.01, t.size),
    )
