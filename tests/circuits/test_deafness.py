"""A firmware with a deaf time of its own: what it misses, hears twice and takes for a pass."""

import json
from functools import cache
from pathlib import Path

import pytest

from circuits.catalogue import Catalogue
from circuits.command import main
from circuits.deafness import hear, hearing_words
from circuits.design_file import parse_design
from circuits.design_write import with_changes
from circuits.ledger import Change, Severity
from circuits.pipeline import run
from circuits.stage_pass import StagePass
from tests.sources import Kind, source

FOYER = Path(__file__).parents[2] / "examples" / "foyer_sculpture.toml"
COUPLED = (
    ("pickup", "arrangement", "mid_rail"), ("pickup", "threshold", "0.3 V"),
    ("coil", "use", "drive"), ("pickup_coil", "wire", "0.08 mm"),
    ("pickup_coil", "inner_diameter", "14 mm"), ("pickup_coil", "outer_diameter", "36 mm"),
    ("pickup_coil", "height", "10 mm"), ("pickup_coil", "gap", "7 mm"),
    ("pickup_coil", "position", "0 mm"),
)  # fmt: skip
RINGING = (
    ("pickup", "arrangement", "through_capacitor"), ("pickup", "coupling", "470 nF"),
    ("pickup", "threshold", "0.05 V"), ("filter", "cutoff", "40 Hz"),
)  # fmt: skip
LYING = (
    ("magnet", "axis", "motion"), ("drive", "swings_per_pulse", "2"),
    ("drive", "trigger", "threshold"), ("pickup", "threshold", "0.02 V"),
)  # fmt: skip


@cache
def done(changes: tuple[tuple[str, str, str], ...] = ()) -> StagePass:
    design = parse_design(FOYER.read_text(), FOYER.name)
    other = with_changes(design, [Change(section=s, key=k, text=t) for s, k, t in changes])
    return run(other, Catalogue(other.part, other.file))


def kind(changes: tuple[tuple[str, str, str], ...], deaf: float, share: float = 1.0) -> str:
    stages = done(changes)
    found = hear(stages, deaf=deaf, arc=share * stages.result("movement").arc)
    assert hearing_words(found).startswith("With a deaf time of")
    return found.kind


@source(Kind.IDENTITY, "the same signal with pulse and kick and without")
def test_a_kick_through_shared_flux_is_taken_for_a_pass() -> None:
    """Listening in the pulse it counts one pass too many, after the sheet's deaf time it does not.

    Two windings on one bobbin: some 30 V of pulse against a fraction of a volt of pass.
    """
    needed = done(COUPLED).result("timing").deaf_until
    assert done(COUPLED).result("pickup").v_pulse > 20
    assert kind(COUPLED, 0.4 * needed) == "kick"
    assert kind(COUPLED, 1.05 * needed) == "pass"


def test_a_deaf_time_beyond_the_next_pass_misses_it() -> None:
    beat = done().result("movement").period / 2
    assert kind((), 0.5 * beat) == "pass"
    assert kind((), 1.05 * beat) == "missed"


def test_a_pass_too_weak_is_not_seen() -> None:
    seen = done().result("passes").arc_seen
    assert hear(done(), deaf=0.1, arc=0.9 * seen).kind == "unseen"
    assert hear(done(), deaf=0.1, arc=1.1 * seen).kind == "pass"


def test_a_coupling_capacitor_lets_the_same_pass_trigger_again() -> None:
    """Behind it the pass ends in an overshoot, which the sheet finds and the firmware hears."""
    stages = done(RINGING)
    said = stages.ledger.findings["timing.double"]
    assert said.severity is Severity.MIND
    assert "triggers again" in said.text
    needed = stages.result("timing").deaf_until
    found = hear(stages, deaf=needed, arc=stages.result("movement").arc)
    assert found.kind == "double"
    again = said.value
    assert again is not None
    assert found.t == pytest.approx(again - stages.result("pulse").t_on, abs=0.02)
    assert kind(RINGING, found.t + 0.02) == "pass"


def test_over_a_lying_magnet_the_pass_back_triggers_too() -> None:
    assert kind(LYING, done(LYING).result("timing").deaf_until) == "back"


def test_the_command_says_what_is_heard(capsys: pytest.CaptureFixture[str]) -> None:
    main(["follow", str(FOYER), "--swings", "20", "--deaf", "850 ms", "--json"])
    heard = json.loads(capsys.readouterr().out)["heard"]
    assert {one["kind"] for one in heard} == {"missed"}
    main(["follow", str(FOYER), "--swings", "20", "--deaf", "200 ms"])
    told = capsys.readouterr().out
    assert "hears the next pass and nothing before it" in " ".join(told.split())
    assert max(map(len, told.splitlines())) <= 80


@pytest.mark.parametrize("bad", ["20", "-2 ms", "11 s", "5 V"])
def test_a_deaf_time_that_is_none_is_refused(bad: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["follow", str(FOYER), f"--deaf={bad}"]) == 2
    assert "--deaf" in capsys.readouterr().err
