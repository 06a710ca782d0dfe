"""Puts movement, coil, circuit and trigger of one design together as one moving system."""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError
from calc.follow import DrivenMovement, Trigger
from calc.follow_free import approach
from calc.follow_width import width_that_holds
from circuits.design import Design
from circuits.stages.back_emf import back_emf_of, source_seen
from circuits.stages.clamp import ClampResult
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult, DriveState
from circuits.stages.emf import EmfResult
from circuits.stages.filter import FilterResult
from circuits.stages.firing import PassesResult
from circuits.stages.linkage import LinkageResult
from circuits.stages.movement import MovementResult
from circuits.stages.push_choice import PushChoice
from circuits.stages.rails import Rail, Rails

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Driven:
    """What the stages know of one design, from which it can be followed in time.

    `t_on` is when the pulse starts at the wanted arc, from the magnet on the coil's axis.
    """

    design: Design
    rails: Rails
    coil: CoilResult
    linkage: LinkageResult
    movement: MovementResult
    emf: EmfResult
    drive: DriveResult
    clamp: ClampResult
    filter: FilterResult
    width: float
    t_on: float
    passes: PassesResult | None = None
    choice: PushChoice | None = None
    _triggers: list[Trigger] = field(init=False, repr=False, compare=False, default_factory=list)

    def system(
        self, *, spent: bool = False, q_factor: float | None = None, width: float | None = None
    ) -> DrivenMovement:
        """Return the system with fresh or spent cells."""
        return self._moving(self.trigger(), spent=spent, q_factor=q_factor, width=width)

    def _moving(
        self, trigger: Trigger, *, spent: bool = False, q_factor: float | None = None,
        width: float | None = None,
    ) -> DrivenMovement:  # fmt: skip
        rail: Rail = self.rails.spent if spent else self.rails.fresh
        state: DriveState = self.drive.spent if spent else self.drive.fresh
        length = self.width if width is None else width
        movement = self.movement
        return DrivenMovement(
            kind=movement.kind,
            omega=movement.omega,
            inertia=movement.inertia,
            radius=movement.radius,
            q_factor=movement.q_typ if q_factor is None else q_factor,
            work_per_swing=self.design.movement.work_per_swing or 0.0,
            linkage=self.linkage.drive,
            offset=movement.offset,
            sense=self._sense(),
            both_ways=self.drive.swings_per_pulse == 1,
            v_supply=rail.v_coil,
            r_source=source_seen(self.design, rail.r_source, length),
            r_coil=self.coil.r_coil,
            l_coil=self.coil.l_coil,
            switch=state.law,
            clamp=self.clamp.law,
            duty=self.drive.duty,
            pulse_width=length,
            trigger=trigger,
        )

    def _sense(self) -> float:
        if self.linkage.axis == "motion":
            # The winding's sense is free: the main lobe is the one that is driven.
            heights = self.linkage.drive.lobe_heights
            return float(np.sign(max(heights, key=abs)))
        return 1.0 if self.drive.polarity == "attract" else -1.0

    def trigger(self) -> Trigger:
        """Return what starts the pulse at every arc; at the wanted one it is where it stands."""
        # It is the same for fresh and spent cells, and may take two rows of swings to find.
        if not self._triggers:
            self._triggers.append(self._found_trigger())
        return self._triggers[0]

    def _found_trigger(self) -> Trigger:
        placed, seen = self._placed(), self.passes
        if seen is None:
            return placed
        placed = replace(placed, arc_least=seen.arc_seen)
        if len(seen.arcs) < 2:
            return placed
        wanted = float(np.interp(self.movement.arc, seen.arcs, seen.events))
        later = np.array(seen.events) - wanted
        if placed.kind == "place" and not placed.lead and (self.t_on + later >= 0).all():
            return replace(placed, arcs=seen.arcs, delays=tuple(later.tolist()))
        if placed.kind == "previous":
            return replace(placed, arcs=seen.arcs, delays=tuple(later.tolist()))
        return self._from_the_turn(placed, np.array(seen.arcs), self.t_on + later)

    def _from_the_turn(self, placed: Trigger, arcs: Array, starts: Array) -> Trigger:
        """Return the trigger that starts each arc's pulse at its own time before the middle.

        No one place serves all arcs: a slow pass fires nearer to the turning point.
        """
        plain = self._moving(Trigger())
        there, back = (approach(plain, arcs, way).t_on + starts for way in (1, -1))
        if not plain.both_ways:
            back = there
        return Trigger(
            kind="turn", arcs=tuple(arcs.tolist()), delays=tuple(there.tolist()),
            delays_back=tuple(back.tolist()), arc_least=placed.arc_least,
        )  # fmt: skip

    def _placed(self) -> Trigger:
        t_on, movement = self.t_on, self.movement
        if self.drive.trigger == "previous_pass":
            back = movement.swing.period / 2 + 2 * movement.offset / movement.speed
            return Trigger(kind="previous", delay=max(back + t_on, 0.0))
        if self.drive.trigger == "threshold":
            lag = max(self.filter.delay, 0.0)
            seen = self.filter.event_time - lag
            against = back_emf_of(self.design, self.emf, self.drive.polarity)
            level = float(np.interp(seen, self.emf.t, against))
            later = float(np.interp(seen + 1e-3 * movement.period, self.emf.t, against))
            if later > level > 0:
                return Trigger(kind="level", level=level, delay=max(t_on - seen, 0.0))
        if t_on >= 0:
            return Trigger(kind="place", delay=t_on)
        # Seen before the coil's axis: the place that belongs to that moment.
        place = float(np.interp(t_on, self.emf.t, self.emf.path))
        return Trigger(kind="place", lead=-place)


def held_width(driven: Driven) -> float:
    """Return the width that holds the wanted arc with spent cells, near the width there is."""
    try:
        return width_that_holds(
            movement=driven.system(spent=True), arc=driven.movement.arc, near=driven.width
        )
    except OutOfRangeError:
        # The energies of a free swing then stand: the sheet's own check says what is wrong.
        return driven.width
