"""The cheapest place of a push, by sums over the pass, against the direct engine."""

from dataclasses import replace

import numpy as np
import pytest

from calc.calculator import OutOfRangeError
from calc.follow import Trigger
from calc.follow_direct import follow_swing
from calc.follow_width import width_that_holds
from calc.push_place import push_table
from calc.swing import Swing
from tests.calc.driven_plant import CENTRE, CURVE, plant
from tests.sources import Kind, source

ARC = 0.2
MOVEMENT = plant(CENTRE, 20e-3)


def looked(starts: np.ndarray, sense: float, **other: float) -> tuple[np.ndarray, np.ndarray]:
    """Widths and shares of the reference's plant, at a wanted arc of 0.2 rad."""
    m = MOVEMENT
    swing = Swing(kind="pendulum", omega=m.omega, arc=ARC, radius=m.radius)
    t = np.linspace(-0.08, 0.08, 500)
    loss = follow_swing(movement=plant(CENTRE, 0.0), arc=ARC, direction=1).e_loss
    figures = {
        "v_supply": m.v_supply, "v_lost": 0.1, "r_loop": m.r_coil, "l_coil": m.l_coil,
        "v_clamp": 0.7, "e_wanted": loss, **other,
    }  # fmt: skip
    emf = sense * CURVE.slope(swing.path(t)) * swing.speed(t)
    found = push_table(t=t, emf=emf, starts=starts, **figures)
    return found.widths, found.efficiency


@pytest.mark.parametrize("sense", [-1.0, 1.0])
@source(Kind.IDENTITY, "the direct engine with the width that holds the same arc")
def test_the_cheapest_start_is_that_of_the_direct_engine(sense: float) -> None:
    """2 %: the sums take the swing as it is without a push; 0.5 % is what that leaves here."""
    starts = np.linspace(0.0, 0.014, 8) if sense < 0 else np.linspace(-0.034, -0.02, 8)
    widths, shares = looked(starts, sense)
    known = []
    for start, width in zip(starts.tolist(), widths.tolist(), strict=True):
        swing = Swing(kind="pendulum", omega=MOVEMENT.omega, arc=ARC, radius=MOVEMENT.radius)
        lead = -float(swing.path(np.array([min(start, 0.0)]))[0])
        timed = replace(
            MOVEMENT, sense=sense, trigger=Trigger(lead=lead, delay=max(start, 0.0)),
            pulse_width=width,
        )  # fmt: skip
        held = width_that_holds(movement=timed, arc=ARC, near=width)
        swung = follow_swing(movement=replace(timed, pulse_width=held), arc=ARC, direction=1)
        assert width == pytest.approx(held, rel=0.02)
        known.append(swung.e_mechanical / swung.e_supply)
    assert shares == pytest.approx(np.array(known), rel=0.02)
    assert int(np.argmax(shares)) == int(np.argmax(known))


@source(Kind.IDENTITY, "the same pass with forty times as many samples")
def test_a_pulse_far_narrower_than_a_sample_is_told_as_exactly() -> None:
    """0.5 %: a sine between 81 samples is a chord, which lies 0.1 % of its height below it."""

    def narrow(samples: int) -> tuple[np.ndarray, np.ndarray]:
        t = np.linspace(-0.5, 0.5, samples)
        found = push_table(
            t=t, emf=0.4 * np.sin(np.pi * t), starts=np.array([0.05, 0.1, 0.3]), v_supply=3.6,
            v_lost=0.1, r_loop=80.0, l_coil=0.06, v_clamp=0.7, e_wanted=2e-6,
        )  # fmt: skip
        return found.widths, found.efficiency

    widths, shares = narrow(81)
    assert widths.max() < 1.0 / 80 / 5
    for coarse, fine in zip((widths, shares), narrow(3241), strict=True):
        assert coarse == pytest.approx(fine, rel=5e-3)


def test_a_push_the_wrong_way_never_gives_it() -> None:
    """Repelled before the middle the magnet is braked; a start there must wait for the rest."""
    widths, shares = looked(np.array([-0.02, 0.0]), -1.0)
    assert shares[0] < shares[1]
    widths, shares = looked(np.array([0.03]), 1.0)
    assert widths[0] == 0
    assert shares[0] == 0


@pytest.mark.parametrize(
    "wrong", [{"v_lost": 3.0}, {"e_wanted": 0.0}, {"r_loop": -1.0}, {"v_clamp": 0.0}], ids=str
)
def test_figures_that_cannot_be_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(OutOfRangeError):
        looked(np.array([0.0]), -1.0, **wrong)
    with pytest.raises(OutOfRangeError, match="within the pass"):
        looked(np.array([0.2]), -1.0)
