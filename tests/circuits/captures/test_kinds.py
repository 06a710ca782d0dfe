"""What a capture is: told from columns, units and shape, never by a traceback."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from circuits.captures.capture import Capture, Channel, Decision
from circuits.captures.kinds import recognise
from circuits.captures.measured import Asked
from circuits.captures.picture import picture
from circuits.captures.reading import read_capture
from circuits.captures.reading_out import read_out
from circuits.errors import DesignFileError
from circuits.face_read import read_json, read_text
from tests.circuits.captures.invented_captures import against, coil_pulse, foyer_pass, written

T = np.arange(0.0, 8.0, 1e-3)


def train(fall: float) -> np.ndarray:
    """Passes of both signs, each 0.8 s after the last, falling by a share each second."""
    passes = [
        -(T - at) / 0.02 * np.exp(-(((T - at) / 0.02) ** 2)) * np.exp(-fall * at)
        for at in np.arange(0.5, 8.0, 0.6)
    ]
    return np.asarray(np.sum(passes, axis=0))


COIL = coil_pulse(1)
CASES = {
    "angle": ("ringdown", "time (s),angle (deg)", (T, np.sin(T))),
    "sine without a name": ("ringdown", "time (s),CH1 (V)", (T, np.sin(5 * T))),
    "passes": ("emf", "time (s),CH1 (V)", (T, train(0.0))),
    "falling passes": ("ringdown", "time (s),CH1 (V)", (T, train(0.1))),
    "current": ("drive", "time (s),CH1 (A)", COIL[:2]),
    "switch": ("drive", "time (s),CH1 (V)", (COIL[0], COIL[2])),
    "periods": ("log", "time (s),period (s)", (T, 2 + 0 * T)),
    "widths": ("log", "time (s),width (ms)", (T, 12 + 0 * T)),
    "slow volts": ("log", "time (s),CH1 (V)", (60 * np.arange(99.0), np.arange(99.0) % 7)),
    "times alone": ("ringdown", "time (s)", (np.arange(99.0),)),
}


@pytest.mark.parametrize("case", CASES)
def test_kind_is_told(tmp_path: Path, case: str) -> None:
    kind, heading, columns = CASES[case]
    found = recognise(read_capture(written(tmp_path / "c.csv", heading, *columns)))
    assert found.kind == kind
    assert len(found.why) > 10


def test_the_option_overrides(tmp_path: Path) -> None:
    t = np.arange(-0.4, 6.0, 1e-3)
    path = written(tmp_path / "c.csv", "time (s),CH1 (V)", t, foyer_pass(t, 1))
    assert read_out(read_capture(path), Asked(), None).measured.kind == "emf"
    out = read_out(read_capture(path), Asked(kind="ringdown"), None)
    assert out.measured.kind == "ringdown"
    assert out.measured.why == "told by --as"


def test_the_longest_of_several_stretches_is_used(tmp_path: Path) -> None:
    t = np.arange(-0.4, 4.0, 1e-3)
    wave = foyer_pass(t, 1)
    twice = np.concatenate((t[:900], t)), np.concatenate((wave[:900], wave))
    out = read_out(
        read_capture(written(tmp_path / "c.csv", "time (s),CH1 (V)", *twice)), Asked(), None
    )
    assert out.measured.kind == "emf"
    told = next(f for f in out.sheet.findings if f.id == "capture.stretch")
    assert "row 901 to 5300" in told.text


DECISION = Decision(
    layout="text", encoding="utf-8", separator=",", decimal=".", heading_line=1, unit_line=None,
    first_line=2, columns=(), time_from="column 1", interval=None, start="", sample_rows=(),
    read_as=(), banner=(), duration_check="", rows=0,
)  # fmt: skip
UNITS = ["V", "A", "s", "rad", "K", "Pa", "1", "", "s/day"]
NAMES = ["a", "width", "period", "arc", "shunt", "count"]
FIGURES = st.floats(-1e12, 1e12, allow_nan=False) | st.just(float("nan")) | st.just(0.0)


@settings(
    max_examples=150,
    deadline=None,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)
@given(
    data=st.data(),
    rows=st.integers(0, 90),
    units=st.lists(st.sampled_from(UNITS), max_size=3),
    names=st.lists(st.sampled_from(NAMES), min_size=3),
    timed=st.booleans(),
    sampling=st.sampled_from(["even", "uneven", "transitions"]),
    kind=st.sampled_from([None, "ringdown", "emf", "drive", "log"]),
    beside=st.booleans(),
)
def test_any_figures_end_in_findings_or_one_message(
    data: st.DataObject, rows: int, units: list[str], names: list[str], timed: bool,
    sampling: str, kind: str | None, beside: bool,
) -> None:  # fmt: skip
    """Whatever the columns hold, it is read, or refused in words."""
    column = arrays(np.float64, rows, elements=FIGURES)
    channels = tuple(
        Channel(name=name, unit=unit, values=data.draw(column))
        for name, unit in zip(names, units, strict=False)
    )
    steps = data.draw(arrays(np.float64, rows, elements=st.floats(1e-6, 1e3)))
    capture = Capture(
        file="any", time=np.cumsum(steps) if timed else None, channels=channels,
        segments=(slice(0, rows),), sampling=sampling,  # type: ignore[arg-type]
        decision=dataclasses.replace(DECISION, rows=rows), findings=(),
    )  # fmt: skip
    design = against("school_pendulum") if beside else None
    asked = Asked(kind=kind, shunt=1.0, target=2.0)  # type: ignore[arg-type]
    try:
        out = read_out(capture, asked, design)
    except DesignFileError:
        return
    assert read_text(out)
    assert read_json(out)
    assert picture("any", out.measured.panels).startswith("<svg")
