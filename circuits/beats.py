"""How beats differ whose coil stands off the middle, or that are not all driven."""

from dataclasses import dataclass

import numpy as np

from calc.follow import DrivenMovement
from calc.follow_beat import SettledSwing
from calc.swing import Swing
from circuits.format_quantity import show


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatDifference:
    """The two beats of a period, told at the coil and between turning points.

    `far` is the beat from coil to coil over the side that lies away from the coil, `near` the
    other; `swings` how much longer the swing in the positive direction takes than the one back.
    """

    far: float
    near: float
    swings: float

    @property
    def difference(self) -> float:
        """How much longer the longer beat is than the shorter [s]."""
        return self.far - self.near


def beat_difference(movement: DrivenMovement, held: SettledSwing) -> BeatDifference | None:
    """Return how the beats of a settled swing differ; None where they are alike by symmetry."""
    if movement.offset == 0 and movement.both_ways:
        return None
    place = abs(movement.offset)
    if place >= 0.98 * held.arc * movement.radius:
        return None
    swing = Swing(
        kind=movement.kind, omega=movement.omega, arc=held.arc, radius=movement.radius
    )  # fmt: skip
    late = float(swing.time_at(np.array([place]))[0])
    return BeatDifference(
        far=held.period / 2 + 2 * late, near=held.period / 2 - 2 * late, swings=held.difference
    )


def beat_words(movement: DrivenMovement, found: BeatDifference) -> str:
    """Return the difference in one sentence."""
    swings = (
        f"the swing there takes {show(abs(found.swings), 's')} "
        f"{'longer' if found.swings > 0 else 'less'} than the swing back"
    )
    if movement.offset == 0:
        return f"Only every second pass is driven: {swings}."
    return (
        f"With the coil {show(abs(movement.offset), 'm')} off the middle the beats seen there last "
        f"{show(found.far, 's', 6)} and {show(found.near, 's', 6)} in turn, "
        f"{show(found.difference, 's')} apart; from turning point to turning point {swings}."
    )
