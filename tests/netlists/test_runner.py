"""A run counts only when its result came back whole; a hostile folder changes nothing."""

import os
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from netlists.deck_gate import TITLE
from netlists.errors import SimulatorFailed, SimulatorMissing
from netlists.locate import find_ngspice, ngspice_version
from netlists.raw_file import RawFileError, read_raw
from netlists.runner import Run, run_deck
from netlists.self_test import check_simulator
from netlists.spice_number import spice_number
from tests.simulator import Simulator
from tests.sources import Kind, source

RC = (
    "v1 n1 0 dc 1.0e+00",
    "r1 n1 n2 1.0e+03",
    "c1 n2 0 1.0e-06",
    ".ic v(n2)=0.0e+00",
    ".save v(n2) i(v1)",
    ".tran 1.0e-05 5.0e-03 0.0e+00 1.0e-05 uic",
)


def charge(simulator: Simulator) -> Run:
    return run_deck(
        deck(*RC),
        program=simulator.program,
        version=simulator.version,
        vectors=("v(n2)",),
        end=5e-3,
    )


def deck(*lines: str) -> str:
    return "\n".join((TITLE, *lines, ".end", ""))


@source(Kind.IDENTITY, "charging of a capacitor, v = 1 - exp(-t/RC)")
def test_a_run_gives_the_curve_of_an_rc(simulator: Simulator) -> None:
    """1e-4: steps of a hundredth of RC under the trapezoidal rule err by about 1e-5."""
    run = run_deck(
        deck(*RC),
        program=simulator.program,
        version=simulator.version,
        vectors=("v(n2)",),
        end=5e-3,
    )
    assert np.allclose(run.real("v(n2)"), 1 - np.exp(-run.real("time") / 1e-3), atol=1e-4)
    assert run.version == simulator.version


def test_the_self_test_accepts_this_simulator(simulator: Simulator) -> None:
    check_simulator(simulator.program, simulator.version)


def test_the_self_test_refuses_one_that_misreads(tmp_path: Path, simulator: Simulator) -> None:
    """A stand-in that reads 1e6 ohm as a milliohm, as a scale letter once made it."""
    fake = tmp_path / "ngspice"
    fake.write_text(
        "#!/bin/sh\nsed -i 's/^r2 n2 0 .*/r2 n2 0 1.0e-03/' deck.cir\n"
        f"exec {simulator.program} $@\n"
    )
    fake.chmod(0o755)
    with pytest.raises(SimulatorFailed, match="misreads"):
        check_simulator(fake, "ngspice-stand-in")


@pytest.mark.parametrize(
    ("lines", "wanted", "end", "reason"),
    [
        (RC, ("v(n9)",), 5e-3, "no vector"),
        (RC, ("v(n2)",), 6e-3, "short of"),
        (("r1 n1 0 1.0e+00", ".op"), ("v(n2)",), 1.0, "code|vector|result"),
        (("q1 n1 n2 0 m9", "v1 n1 0 dc 1.0e+00", ".op"), ("v(n1)",), 1.0, "code|result"),
    ],
)
def test_anything_short_of_a_whole_result_raises(
    simulator: Simulator, lines: tuple[str, ...], wanted: tuple[str, ...], end: float, reason: str
) -> None:
    with pytest.raises(SimulatorFailed, match=reason) as caught:
        run_deck(
            deck(*lines),
            program=simulator.program,
            version=simulator.version,
            vectors=wanted,
            end=end,
        )
    assert caught.value.deck == deck(*lines)


THREADS = "github.com/PySpice-org/PySpice issues 379, 399, 392, 264"


@source(Kind.PUBLISHED, f"{THREADS}: a harmless line on stderr made every run fail",
        printed="Using SPARSE 1.3; One successful gmin step")  # fmt: skip
@source(Kind.PUBLISHED, "github.com/PySpice-org/PySpice issue 292: chains of stepping are printed "
        "as errors though the run succeeds")  # fmt: skip
def test_what_it_says_does_not_decide_but_what_it_gives(
    tmp_path: Path, simulator: Simulator
) -> None:
    """A stand-in that runs the real one and talks; one that talks likewise and gives nothing."""
    talk = (
        "#!/bin/sh\necho 'Using SPARSE 1.3 as Direct Linear Solver' >&2\n"
        "{run}\ncode=$?\n"
        "echo 'Error: Note: One successful gmin step, 1.0e-03 ... 1.0e-12' >> out.log\n"
        "{end}\nexit $code\n"
    )
    talker, loser = tmp_path / "talker", tmp_path / "loser"
    talker.write_text(talk.format(run=f'{simulator.program} "$@"', end=""))
    loser.write_text(talk.format(
        run="true", end="echo 'Error: Transient op failed, timestep too small' >> out.log"
    ))  # fmt: skip
    for program in (talker, loser):
        program.chmod(0o755)
    run = run_deck(deck(*RC), program=talker, version="x", vectors=("v(n2)",), end=5e-3)
    assert np.allclose(run.real("v(n2)"), 1 - np.exp(-run.real("time") / 1e-3), atol=1e-4)
    with pytest.raises(SimulatorFailed, match="timestep too small"):
        run_deck(deck(*RC), program=loser, version="x", vectors=("v(n2)",), end=5e-3)


def test_an_endless_run_is_stopped(simulator: Simulator) -> None:
    long = (*RC[:-1], ".tran 1.0e-09 1.0e+03 0.0e+00 1.0e-09 uic")
    begin = time.monotonic()
    with pytest.raises(SimulatorFailed, match="longer than"):
        run_deck(
            deck(*long),
            program=simulator.program,
            version=simulator.version,
            vectors=("v(n2)",),
            end=1e3,
            timeout=1.0,
        )
    assert time.monotonic() - begin < 10


def test_start_up_files_are_not_read(
    simulator: Simulator, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A `.spiceinit` where the user stands, and in the user's home, must not run."""
    witness = tmp_path / "witness"
    for place in (tmp_path, tmp_path / "home"):
        place.mkdir(exist_ok=True)
        (place / ".spiceinit").write_text(f"shell touch {witness}\n")
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    run_deck(
        deck(*RC),
        program=simulator.program,
        version=simulator.version,
        vectors=("v(n2)",),
        end=5e-3,
    )
    assert not witness.exists()


def test_runs_side_by_side_do_not_disturb_each_other(simulator: Simulator) -> None:
    def last(resistance: float) -> float:
        lines = (RC[0], f"r1 n1 n2 {spice_number(resistance)}", *RC[2:])
        run = run_deck(
            deck(*lines),
            program=simulator.program,
            version=simulator.version,
            vectors=("v(n2)",),
            end=5e-3,
        )
        return float(run.real("v(n2)")[-1])

    resistances = [500.0, 1e3, 2e3, 4e3, 8e3, 16e3]
    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(last, resistances))
    expected = [1 - np.exp(-5e-3 / (r * 1e-6)) for r in resistances]
    assert np.allclose(found, expected, atol=1e-4)


def test_a_missing_simulator_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", os.devnull)
    monkeypatch.setattr("netlists.locate.USUAL_PLACES", ())
    with pytest.raises(SimulatorMissing, match=r"apt install.*dnf install.*brew install.*Windows"):
        find_ngspice()


def test_a_program_that_is_not_ngspice_is_refused(tmp_path: Path) -> None:
    other = tmp_path / "ngspice"
    other.write_text("#!/bin/sh\necho something else\n")
    other.chmod(0o755)
    with pytest.raises(SimulatorMissing, match="does not answer"):
        ngspice_version(find_ngspice(str(other)))


HEAD = (
    b"Title: x\nFlags: real\nNo. Variables: 1\nNo. Points: 2\n"
    b"Variables:\n\t0\ttime\ttime\nBinary:\n"
)


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"", "no binary part"),
        (b"Title: x\nBinary:\n", "counts"),
        (HEAD + bytes(8), "8 bytes of data, 16 promised"),
        (HEAD + bytes(17), "17 bytes"),
        (HEAD + np.array([0.0, np.nan]).tobytes(), "not finite"),
        (HEAD.replace(b"No. Variables: 1", b"No. Variables: 2") + bytes(32), "2 promised"),
        (HEAD.replace(b"No. Points: 2", b"No. Points: 0"), "0 points"),
    ],
)
def test_a_result_file_that_is_not_whole_is_refused(content: bytes, reason: str) -> None:
    with pytest.raises(RawFileError, match=reason):
        read_raw(content)


@pytest.mark.parametrize("value", [0.0, -1.5e-12, 4700, 0.1, 1e6, 1 / 3])
def test_a_number_reads_back_to_itself(value: float) -> None:
    text = spice_number(value)
    assert float(text) == value
    assert text[-3] in "+-"


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_number_that_is_not_finite_never_enters_a_deck(value: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        spice_number(value)
