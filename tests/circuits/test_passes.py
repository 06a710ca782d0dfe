"""What the firmware sees at other arcs: against whole designs of those arcs, and identities."""

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calc.follow_direct import follow_swing
from circuits.catalogue import Catalogue
from circuits.design_file import parse_design
from circuits.design_write import with_changes
from circuits.following import driven_of
from circuits.ledger import Change, Severity
from circuits.pipeline import run
from circuits.stage_pass import StagePass
from circuits.stages.firing import firings
from tests.sources import Kind, source

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))


@cache
def passed(path: Path, arc: str = "", trigger: str = "crossing", threshold: str = "") -> StagePass:
    """An example with the parts of its own sizing, at another arc."""
    design = parse_design(path.read_text(), path.name)
    base = with_changes(design, [Change(section="drive", key="trigger", text=trigger)])
    sized = run(base, Catalogue(base.part, base.file)).ledger.values
    set_to = {
        ("filter", "resistor"): f"{float(sized['filter.r'].value)} ohm",
        ("filter", "capacitor"): f"{float(sized['filter.c'].value)} F",
        ("pickup", "threshold"): threshold or f"{float(sized['pickup.threshold'].value)} V",
        ("pickup", "hysteresis"): f"{float(sized['pickup.threshold'].value) / 2} V",
        ("pickup", "upper"): f"{float(sized['pickup.r_upper'].value)} ohm",
        ("pickup", "lower"): f"{float(sized['pickup.r_lower'].value)} ohm",
        ("drive", "pulse_width"): f"{float(sized['drive.pulse_width'].value)} s",
    }
    changes = [Change(section=s, key=k, text=text) for (s, k), text in set_to.items()]
    if arc:
        changes.append(Change(section="movement", key="travel", text=""))
        changes.append(Change(section="movement", key="arc", text=arc))
    other = with_changes(base, changes)
    return run(other, Catalogue(other.part, other.file))


@source(Kind.IDENTITY, "sine: through zero at pi, through a level at its arc sine")
def test_a_sine_fires_where_it_must() -> None:
    """1e-5 of the period: straight lines between 2001 samples."""
    t = np.linspace(0, 4 * np.pi, 2001)
    wave = np.sin(t)
    how: Any = {"level": 0.5, "rearm": 0.25}
    assert firings(t, wave, crossing=True, **how) == pytest.approx([np.pi, 3 * np.pi], abs=1e-5)
    known = [np.arcsin(0.5), np.arcsin(0.5) + 2 * np.pi]
    assert firings(t, wave, crossing=False, **how) == pytest.approx(known, abs=1e-5)
    assert firings(t, 0.49 * wave, crossing=True, **how) == ()
    assert firings(t, 0.49 * wave, crossing=False, **how) == ()
    # Deaf over the first: the second alone. Deaf until a lobe has almost passed: not armed.
    assert firings(t, wave, crossing=True, after=3.2, **how) == pytest.approx([3 * np.pi], abs=1e-5)
    assert firings(t, wave, crossing=True, after=0.99 * 3 * np.pi, **how) == ()


def test_hysteresis_keeps_a_ripple_from_firing_twice() -> None:
    t = np.linspace(0, np.pi, 4001)
    rippled = np.sin(t) + 0.05 * np.sin(60 * t)
    wide = firings(t, rippled, level=0.5, rearm=0.3, crossing=False)
    narrow = firings(t, rippled, level=0.5, rearm=0.5, crossing=False)
    assert len(wide) == 1
    assert len(narrow) > 1


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
@source(Kind.IDENTITY, "the same design made for that arc, with the same parts")
def test_event_at_another_arc_is_that_of_a_design_for_it(path: Path) -> None:
    """5 us: a third of the samples. 30 us at 2.2 arcs, whose wider way is left out."""
    done = passed(path)
    seen, arc = done.result("passes"), done.result("movement").arc
    at = np.interp(arc, seen.arcs, seen.events)
    assert at == pytest.approx(done.result("filter").event_time, abs=2e-6)
    for k, close in ((1, 5e-6), (-2, 5e-6), (-1, 3e-5)):
        other = passed(path, f"{seen.arcs[k]} rad")
        assert seen.events[k] == pytest.approx(other.result("filter").event_time, abs=close)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
@source(Kind.IDENTITY, "a design made for the least arc: its lobe just reaches the threshold")
def test_least_arc_seen_just_reaches_the_threshold(path: Path) -> None:
    """1 %: the lobe of the slow pass, filtered by two separate ways of sampling it."""
    done = passed(path)
    least = done.result("passes").arc_seen
    assert least > 0
    there = passed(path, f"{least} rad")
    height = there.result("filter").peak
    assert height == pytest.approx(done.result("pickup").threshold, rel=0.01)


def test_a_high_threshold_needs_a_harder_push() -> None:
    path = next(path for path in EXAMPLES if path.stem == "school_pendulum")
    easy = passed(path)
    level = float(easy.ledger.values["pickup.threshold"].value)
    hard = passed(path, threshold=f"{1.6 * level} V")
    assert hard.result("passes").arc_seen > 1.3 * easy.result("passes").arc_seen
    found = hard.ledger.findings["timing.seen"]
    assert found.severity is Severity.MIND
    assert "threshold" in found.remedy


@pytest.mark.parametrize("trigger", ["crossing", "threshold"])
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
@source(Kind.IDENTITY, "the moment at which the firmware fires at that arc, and its wait")
def test_the_pulse_starts_at_each_arc_when_the_firmware_says_so(path: Path, trigger: str) -> None:
    """1 us: the table of delays goes through these very arcs."""
    polarity = "attract" if trigger == "threshold" else "repel"
    design = with_changes(
        parse_design(path.read_text(), path.name),
        [
            Change(section="drive", key="trigger", text=trigger),
            Change(section="drive", key="polarity", text=polarity),
        ],
    )
    driven = driven_of(design)
    system, seen = driven.system(), driven.passes
    assert seen is not None
    wanted = float(np.interp(driven.movement.arc, seen.arcs, seen.events))
    least = system.trigger.arc_least
    for arc, event in zip(seen.arcs, seen.events, strict=True):
        if arc < least:
            continue
        # A pulse of no account: a pull before the middle would bring the crossing forward.
        brief = replace(system, pulse_width=1e-7)
        swing = follow_swing(movement=brief, arc=arc, direction=1)
        assert swing.t_on is not None
        assert swing.t_cross is not None
        start = driven.t_on + event - wanted
        assert swing.t_on - swing.t_cross == pytest.approx(start, abs=1e-6)
