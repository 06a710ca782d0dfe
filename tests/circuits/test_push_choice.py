"""The delay and polarity with most motion per joule, on whole designs."""

from functools import cache
from pathlib import Path

import pytest

from circuits.catalogue import Catalogue
from circuits.design_file import parse_design
from circuits.design_write import with_changes
from circuits.ledger import Change, Severity
from circuits.pipeline import run
from circuits.rate_map import rate_map
from circuits.stage_pass import StagePass
from tests.sources import Kind, source

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))
FOYER = next(path for path in EXAMPLES if path.stem == "foyer_sculpture")


@cache
def done(path: Path, *changes: tuple[str, str, str]) -> StagePass:
    design = parse_design(path.read_text(), path.name)
    other = with_changes(design, [Change(section=s, key=k, text=t) for s, k, t in changes])
    return run(other, Catalogue(other.part, other.file))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
@source(Kind.IDENTITY, "swings followed with the width that holds the wanted arc at each delay")
def test_best_delay_is_that_of_followed_swings(path: Path) -> None:
    """2 %: the sheet's sums take the pass as it is without a push."""
    values = done(path).ledger.values
    found = rate_map(done(path).design, progress=lambda _done, _total: None)
    best, present = found.best, found.present
    assert best is not None
    assert present is not None
    assert values["drive.efficiency_best"].value == pytest.approx(best.efficiency, rel=0.02)
    assert best not in (found.pushes[0], found.pushes[-1])
    said = done(path).ledger.findings["energy.delay_best"]
    saved = 1 - present.efficiency / best.efficiency
    assert (said.severity is Severity.MIND) == (saved > 0.1)


def test_what_is_offered_saves_what_it_says() -> None:
    before = done(FOYER)
    said = before.ledger.findings["energy.delay_best"]
    offered = said.changes[0]
    after = done(FOYER, *((c.section, c.key, c.text) for c in offered))
    share = [r.ledger.values["energy.efficiency"].value for r in (before, after)]
    assert float(share[1]) > 1.1 * float(share[0])
    again = after.ledger.findings["energy.delay_best"]
    assert again.severity is Severity.GOOD
    assert again.value == pytest.approx(said.value, rel=0.01)


def test_a_delay_beyond_the_force_is_named_and_the_edge_too() -> None:
    """Far too late the coil cannot give the energy; with a late event none is the best delay."""
    late = done(FOYER, ("drive", "pulse_delay", "55 ms"), ("drive", "pulse_width", "10 ms"))
    said = late.ledger.findings["energy.delay_best"]
    assert said.severity is Severity.MIND
    assert any(change.key == "pulse_delay" for change in said.changes[0])
    assert any(change.key == "pulse_width" for change in said.changes[0])
    slow = done(FOYER, ("filter", "cutoff", "1.3 Hz"))
    edge = slow.ledger.findings["energy.delay_best"]
    assert slow.ledger.values["drive.delay_best"].value == pytest.approx(0, abs=1e-9)
    assert "at the edge" in edge.text
    assert "the event itself comes no earlier" in edge.text
