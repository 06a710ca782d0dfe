"""One sized design, asked at other voltages of its cells than fresh and spent."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import nan
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError
from calc.follow import DrivenMovement
from calc.follow_beat import beats
from calc.follow_settle import settled_row
from calc.switch_law import SwitchLaw
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.driven import Driven
from circuits.ledger import Ledger
from circuits.part_records import Mosfet
from circuits.settling import WIDEST_ARC
from circuits.stage_pass import StagePass
from circuits.stages import drive_nmos, drive_npn
from circuits.stages.back_emf import source_seen
from circuits.stages.cell_states import Limits, Stages
from circuits.stages.cell_store import Store
from circuits.stages.drive_load import load_of
from circuits.stages.drive_pin import pin_of
from circuits.stages.switch_figures import bipolar_law
from circuits.temperature_span import span_of

Array = NDArray[np.float64]

ARCS, WIDTHS = 14, 9


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """What is held at one voltage: width, arc, rate, and the charge that a beat takes."""

    width: float
    arc: float
    rate: float
    margin: float
    i_pulse: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Switching:
    """The switch at one voltage: its law, the current of base or gate, and when it is lost."""

    law: SwitchLaw
    i_pin: float
    margin: float | None


class Circuit:
    """One sized design, asked at other voltages of the set than fresh and spent."""

    def __init__(
        self, design: Design, catalogue: Catalogue, done: StagePass, store: Store, limits: Limits
    ) -> None:
        self.design, self.catalogue, self.store, self.limits = design, catalogue, store, limits
        self.ledger = done.ledger
        get = done.result
        self.stages = stages_of(done)
        self.rails, self.coil, self.drive = get("rails"), get("coil"), get("drive")
        self.movement, self.pulse, self.settled = get("movement"), get("pulse"), get("settled")
        names = ("rails", "coil", "linkage", "movement", "emf", "drive", "clamp", "filter")
        self.driven = Driven(
            design=design, width=self.pulse.width, t_on=self.pulse.t_on, passes=get("passes"),
            **{name: get(name) for name in names},
        )  # fmt: skip
        self.system = self.driven.system()
        scratch = Ledger()
        self.pin = pin_of(design, catalogue, scratch, self.rails)
        self.load = load_of(design, catalogue, self.rails, self.coil)
        self.part = catalogue.transistor(self.drive.transistor)
        span = span_of(design)
        coldest = span[0] if span else design.design.temperature
        self.base = None
        if not isinstance(self.part, Mosfet):
            self.base = drive_npn.base_drive(design, self.part, self.pin, self.load, coldest)
        arc = self.movement.arc
        held = self.settled.held.arc if self.settled and self.settled.held else arc
        high = max(2.2 * arc, 1.25 * held)
        if self.movement.kind == "pendulum":
            high = min(high, max(WIDEST_ARC, 1.2 * arc))
        self.arcs = np.geomspace(arc / 6, high, ARCS)
        self.target: float | None = None
        self.near = self._first_width()

    def _first_width(self) -> float:
        """Return about the width that holds the wanted arc with fresh cells."""
        fresh = self.settled.fresh if self.settled else None
        if fresh is None or len(fresh.arcs_held) < 2:
            return float(self.pulse.width)
        return _where(fresh.arcs_held, self.movement.arc, fresh.widths_held)

    def r_source(self, v: float) -> float:
        """Return what the set opposes to a pulse at one voltage at rest."""
        r = float(np.interp(-v, -self.store.v_rest, self.store.r_pulse))
        return 0.0 if self.limits.coil_regulated else r + self.limits.r_extra

    def v_pin(self, v: float) -> float:
        """Return the pin's high level at one voltage of the set."""
        high = self.design.controller.pin_high
        logic = self.limits.logic(v)
        if isinstance(high, float | int):
            return float(high) if self.rails.fresh.v_logic < high else min(float(high), logic)
        return logic

    def switching(self, v: float) -> Switching:
        """Return the switch at one voltage of the set."""
        v_pin = self.v_pin(v)
        if isinstance(self.part, Mosfet):
            gate = drive_nmos.gate_state(self.design, self.part, self.pin, v_pin)
            pull_down = drive_nmos.resistors(self.design)[1]
            return Switching(
                law=drive_nmos.law_of(gate), i_pin=gate.v_gs / pull_down,
                margin=gate.v_gs / self.part.v_gs_th_max - 1,
            )  # fmt: skip
        assert self.base is not None
        i_c = self.limits.coil(v) / (self.coil.r_coil + self.r_source(v))
        r_b = float(self.ledger.values["drive.r_b"].value)
        state = drive_npn.base_state(self.design, self.base, self.pin, v_pin, r_b)
        i_b = max(state.i_b, drive_npn.LEAST_SHARE / self.base.beta * i_c)
        law = bipolar_law(self.part, i_c, i_b)
        return Switching(law=law, i_pin=i_b, margin=law.i_limit / i_c - 1)

    def system_at(self, v: float, width: float) -> DrivenMovement:
        """Return the moving system at one voltage of the set."""
        return replace(
            self.system, v_supply=self.limits.coil(v), pulse_width=width,
            r_source=source_seen(self.design, self.r_source(v), width),
            switch=self.switching(v).law,
        )  # fmt: skip

    def rows(self, v: float, widths: Array) -> list[tuple[float, float, float]]:
        """Return width, widest held arc and rate for every width that holds one."""
        try:
            return settled_row(self.system_at(v, float(widths[-1])), self.arcs, widths)
        except OutOfRangeError:
            return []

    def _drawn(self, v: float, width: float, arc: float) -> float:
        """Return the pulses' mean current at one arc."""
        beat = beats(self.system_at(v, width), np.array([arc]), np.array([width]), exact=False)
        e_supply, time = float(beat.e_supply[0, 0]), float(beat.time[0, 0])
        if not np.isfinite(e_supply + time):
            return 0.0
        return max(e_supply / self.limits.coil(v) / time, 0.0)

    def _outgrows(self, v: float, width: float) -> bool:
        """Whether even the widest arc looked at still grows."""
        widest = self.arcs[-1:]
        try:
            beat = beats(self.system_at(v, width), widest, np.array([width]), exact=False)
        except OutOfRangeError:
            return False
        return bool(beat.driven[0] and beat.arc_after[0, 0] > widest[0])

    def fixed(self, v: float) -> Swing:
        """Return the swing that the pulse holds with its width as it is."""
        width = self.pulse.width
        rows = self.rows(v, np.array([width]))
        seen = self.stages.passes.arc_seen if self.stages.passes else 0.0
        if not rows and self._outgrows(v, width):
            i_pulse = self._drawn(v, width, float(self.arcs[-1]))
            return Swing(width=width, arc=nan, rate=nan, margin=1.0, i_pulse=i_pulse)
        if not rows or rows[-1][1] < seen:
            return Swing(width=width, arc=nan, rate=nan, margin=-1.0, i_pulse=nan)
        _, arc, rate = rows[-1]
        return Swing(
            width=width, arc=arc, rate=rate, margin=1.0, i_pulse=self._drawn(v, width, arc)
        )

    def steered(self, v: float) -> Swing:
        """Return the swing whose rate the loop keeps, by the width that this voltage needs."""
        wanted = self.movement.arc
        widest = self.limits.width_max or self.pulse.width
        # Below the width that holds any arc there is nothing: the search stays near the last one.
        near = min(self.near, 0.9 * widest)
        widths = np.geomspace(0.75 * near, min(1.7 * near, widest), WIDTHS)
        rows = self.rows(v, widths)
        if (not rows or max(row[1] for row in rows) < wanted) and widths[-1] < widest:
            rows += self.rows(v, np.geomspace(1.05 * widths[-1], widest, WIDTHS))
        if not rows:
            return Swing(width=widest, arc=nan, rate=nan, margin=-1.0, i_pulse=nan)
        width, arc, rate = (np.array(column) for column in zip(*rows, strict=True))
        reach = float(arc.max()) / wanted - 1
        if self.target is None and arc.min() <= wanted <= arc.max():
            self.target = float(_where(arc, wanted, rate))
        found = None
        if self.target is not None:
            found = _crossing(width, rate, self.target, arc, wanted)
        if found is None and reach >= 0 and arc.min() <= wanted:
            found = float(_where(arc, wanted, width))
        if found is None:
            # Out of the loop's reach: it stands at the end of its travel.
            k = int(np.argmin(arc)) if arc.min() > wanted else int(np.argmax(arc))
            margin = reach if reach < 0 else 1.0
            self.near = float(width[k])
            i_pulse = self._drawn(v, float(width[k]), float(arc[k]))
            return Swing(
                width=float(width[k]), arc=float(arc[k]), rate=float(rate[k]), margin=margin,
                i_pulse=i_pulse,
            )  # fmt: skip
        at = float(np.interp(found, width, arc))
        self.near = found
        return Swing(
            width=found, arc=at, rate=float(np.interp(found, width, rate)),
            margin=max(reach, 1e-3), i_pulse=self._drawn(v, found, at),
        )  # fmt: skip

    def swing(self, v: float) -> Swing:
        """Return what is held at one voltage, steered or not."""
        return self.steered(v) if self.limits.steered else self.fixed(v)


def stages_of(done: StagePass) -> Stages:
    """Return the results that the cells need, of stages that have run."""
    names = ("rails", "energy", "coil", "movement", "drive", "passes", "pulse", "settled",
             "running")  # fmt: skip
    found: Mapping[str, Any] = {name: done.result(name) for name in names}
    return Stages(**found)


def _where(x: Array, at: float, y: Array) -> float:
    order = np.argsort(x)
    return float(np.interp(at, x[order], y[order]))


def _crossing(width: Array, rate: Array, target: float, arc: Array, wanted: float) -> float | None:
    """Return the width at which the rate is the wanted one, nearest to the wanted arc."""
    miss = rate - target
    if np.abs(miss).min() < 1e-12:
        return float(width[int(np.argmin(np.abs(miss)))])
    places = np.flatnonzero(miss[:-1] * miss[1:] < 0)
    if not places.size:
        return None
    k = int(places[np.argmin(np.abs(arc[places] - wanted))])
    share = miss[k] / (miss[k] - miss[k + 1])
    return float(width[k] + share * (width[k + 1] - width[k]))
