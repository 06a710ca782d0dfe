"""What the circuit asks of its cells, and what it still does, at several voltages of the set."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import inf, isfinite, nan

import numpy as np

from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.format_quantity import show
from circuits.ledger import Ledger
from circuits.part_records import Mosfet
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult, DriveState
from circuits.stages.energy import EnergyResult
from circuits.stages.firing import PassesResult
from circuits.stages.movement import MovementResult
from circuits.stages.pulse import PulseResult
from circuits.stages.rails import Rails
from circuits.stages.running import RunningResult
from circuits.stages.settled import SettledResult
from circuits.stages.steering_reach import WIDEST

LOOP_KEYS = ("time_constant", "width_min", "width_max", "kp", "ki", "measured_slope")
"""Keys of [rate] of which one alone says that firmware steers the pulse width."""
COIL_DRAINS = ("pulse", "clamp")
FLOOR = 0.05
"""Share of the fresh voltage down to which a demand is given."""
TOP = 1.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What ends the cells' life, as far as the circuit has it; voltages of the whole set."""

    v_cutoff: float
    v_output: float | None = None
    v_dropout: float = 0.0
    coil_regulated: bool = False
    brown_out: float | None = None
    reservoir: float | None = None
    r_extra: float = 0.0
    steered: bool = False
    width_max: float | None = None

    def logic(self, v: float) -> float:
        """Return the controller's rail at a voltage of the set."""
        return v if self.v_output is None else max(min(self.v_output, v - self.v_dropout), FLOOR)

    def coil(self, v: float) -> float:
        """Return the coil's rail at a voltage of the set."""
        return self.logic(v) if self.coil_regulated else v


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyState:
    """One voltage of the set: mean currents by drain, the pulse, the swing it holds.

    `margins` are above zero while `saturation`, `threshold` and `arc` hold; what is not known is
    absent. `arc` and `rate` are not a number where no swing is held.
    """

    v: float
    drains: Mapping[str, float]
    i_peak: float = 0.0
    width: float = 0.0
    arc: float = nan
    rate: float = nan
    margins: Mapping[str, float]

    @property
    def i_mean(self) -> float:
        """Mean current from the set."""
        return sum(self.drains.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class Stages:
    """The stages' results from which the demand is read; None where a stage has none."""

    rails: Rails
    energy: EnergyResult
    coil: CoilResult | None = None
    movement: MovementResult | None = None
    drive: DriveResult | None = None
    passes: PassesResult | None = None
    pulse: PulseResult | None = None
    settled: SettledResult | None = None
    running: RunningResult | None = None

    def demand(self, *, steered: bool) -> EnergyResult:
        """Return the drains at the arc that is held; a rate loop holds about the wanted one."""
        return self.energy if steered or self.running is None else self.running


def is_steered(design: Design) -> bool:
    """Whether the design file has a rate loop that trims the pulse width."""
    return any(getattr(design.rate, key) is not None for key in LOOP_KEYS)


def limits_of(
    design: Design, ledger: Ledger, cutoff: float, stages: Stages, *, steered: bool | None = None
) -> Limits:
    """Return what ends the life of this design's cells."""
    supply = design.supply
    brown_out = design.controller.brown_out
    if brown_out is None and "controller.brown_out" in ledger.assumed:
        brown_out = float(ledger.assumed["controller.brown_out"].value)
    dropout = supply.regulator_dropout
    if dropout is None and "supply.regulator_dropout" in ledger.assumed:
        dropout = float(ledger.assumed["supply.regulator_dropout"].value)
    pulse = stages.pulse
    width_max = design.rate.width_max
    if width_max is None and pulse is not None:
        width_max = WIDEST * pulse.width
        if pulse.best:
            width_max = min(width_max, max(pulse.best.width_best, pulse.width))
    return Limits(
        v_cutoff=cutoff * stages.rails.n_series, v_output=supply.regulator_output,
        v_dropout=(dropout or 0.0) if supply.regulator_output is not None else 0.0,
        coil_regulated=supply.coil_rail == "regulated", brown_out=brown_out,
        reservoir=supply.reservoir, r_extra=supply.resistance or 0.0,
        steered=is_steered(design) if steered is None else steered, width_max=width_max,
    )  # fmt: skip


def states_of(
    design: Design, catalogue: Catalogue, ledger: Ledger, v_fresh: float, limits: Limits,
    stages: Stages,
) -> tuple[SupplyState, ...]:  # fmt: skip
    """Return the circuit at a few voltages, between what the stages found fresh and spent."""
    rails = stages.rails
    v_spent = (rails.cutoff_per_cell or 0.0) * rails.n_series or rails.spent.v_coil
    ends = _Ends(design, catalogue, ledger, limits, stages, v_fresh, v_spent)
    middle = (v_spent + v_fresh) / 2
    knots = {FLOOR * v_fresh, 0.5 * v_spent, v_spent, middle, v_fresh, TOP * v_fresh}
    if limits.v_output is not None:
        knots.add(limits.v_output + limits.v_dropout)
    return tuple(ends.at(v) for v in sorted(knots))


def widened(states: tuple[SupplyState, ...], factor: float) -> tuple[SupplyState, ...]:
    """Return the states with the pulses' current by a factor, as with a colder or warmer coil."""
    if factor == 1:
        return states
    return tuple(
        replace(
            state,
            i_peak=state.i_peak * factor,
            drains={k: v * factor if k in COIL_DRAINS else v for k, v in state.drains.items()},
        )
        for state in states
    )


class _Ends:
    """The two states that the stages know, and straight lines through them."""

    def __init__(
        self, design: Design, catalogue: Catalogue, ledger: Ledger, limits: Limits,
        stages: Stages, v_fresh: float, v_spent: float,
    ) -> None:  # fmt: skip
        self.limits, self.stages = limits, stages
        self.v = (v_fresh, v_spent)
        self.hanging: tuple[str, ...] = COIL_DRAINS
        if design.pickup.arrangement in (None, "at_switch"):
            self.hanging = (*COIL_DRAINS, "divider")
        drains = stages.demand(steered=limits.steered).drains
        self.fresh = {d.name: d.i_fresh for d in drains}
        self.spent = {d.name: d.i_spent for d in drains}
        pulse = stages.pulse
        self.widths = (pulse.width, pulse.width) if pulse is not None else (0.0, 0.0)
        self.middle: float | None = None
        if limits.steered:
            self._steer()
        elif stages.settled is not None:
            self.middle = stages.settled.i_pulse_middle
        self.threshold_shift = ledger.findings.get("pickup.baseline")
        self.v_gate = None
        if stages.drive is not None and stages.drive.kind == "nmos":
            part = catalogue.transistor(stages.drive.transistor)
            self.v_gate = part.v_gs_th_max if isinstance(part, Mosfet) else None

    def line(self, fresh: float, spent: float, v: float, *, coil: bool) -> float:
        """Return a figure between its two known ones, straight over the rail that it hangs on."""
        rail = self.limits.coil if coil else self.limits.logic
        top, bottom, here = rail(self.v[0]), rail(self.v[1]), rail(v)
        if abs(top - bottom) < 1e-9:
            return fresh * min(here / top, 1.0) if fresh != spent or here < top else fresh
        return spent + (fresh - spent) * (here - bottom) / (top - bottom)

    def _steer(self) -> None:
        """Let the pulse of fresh cells be as narrow as the wanted arc needs."""
        pulse, settled, movement = self.stages.pulse, self.stages.settled, self.stages.movement
        if pulse is None or settled is None or movement is None or not len(settled.fresh.arcs_held):
            return
        narrow = float(np.interp(movement.arc, settled.fresh.arcs_held, settled.fresh.widths_held))
        wide = pulse.width
        if pulse.best is not None and pulse.best.reached:
            wide = pulse.best.width
        self.widths = (min(narrow, wide), wide)
        for known, outcome, width in (
            (self.fresh, pulse.fresh, self.widths[0]), (self.spent, pulse.spent, self.widths[1]),
        ):  # fmt: skip
            drawn = outcome.t <= outcome.t[0] + pulse.width * (1 + 1e-9)
            t, i = outcome.t[drawn] - outcome.t[0], outcome.i[drawn]
            charge = np.concatenate(([0.0], np.cumsum(np.diff(t) * (i[1:] + i[:-1]) / 2)))
            whole = float(charge[-1])
            if whole > 0:
                # Beyond the pulse that was followed the current stays as it is.
                extra = max(width - float(t[-1]), 0.0) * float(i[-1])
                known["pulse"] *= (float(np.interp(width, t, charge)) + extra) / whole
            for name in ("drive", "clamp"):
                if name in known:
                    known[name] *= width / pulse.width

    def at(self, v: float) -> SupplyState:
        """Return the circuit at one voltage of the set."""
        drains = {
            name: max(
                self.line(i, self.spent[name], v, coil=name in self.hanging), 0.0
            )
            for name, i in self.fresh.items()
        }  # fmt: skip
        if self.middle is not None and "pulse" in drains:
            drains["pulse"] = max(self._pulse(self.middle, v), 0.0)
        pulse = self.stages.pulse
        i_peak = 0.0
        if pulse is not None:
            i_peak = max(self.line(pulse.fresh.i_peak, pulse.spent.i_peak, v, coil=True), 0.0)
        width = max(self.line(self.widths[0], self.widths[1], v, coil=True), 1e-6)
        if self.limits.steered and self.limits.width_max:
            width = min(width, self.limits.width_max)
        arc, rate = self._swing(v)
        margins = {
            "saturation": self._saturation(v, i_peak),
            "threshold": self._threshold(v, arc),
            "arc": self._held(v),
        }
        return SupplyState(
            v=v, drains=drains, i_peak=i_peak, width=width, arc=arc, rate=rate,
            margins={name: m for name, m in margins.items() if m is not None},
        )  # fmt: skip

    def _pulse(self, middle: float, v: float) -> float:
        """Return the pulses' current along the two chords from fresh over the middle to spent."""
        fresh, spent = self.fresh["pulse"], self.spent["pulse"]
        top, bottom = self.limits.coil(self.v[0]), self.limits.coil(self.v[1])
        if self.limits.coil(v) >= (top + bottom) / 2:
            return self.line(fresh, 2 * middle - fresh, v, coil=True)
        return self.line(2 * middle - spent, spent, v, coil=True)

    def _swing(self, v: float) -> tuple[float, float]:
        settled, movement = self.stages.settled, self.stages.movement
        if settled is None or settled.held is None or movement is None:
            return nan, nan
        if self.limits.steered:
            return movement.arc, nan
        if settled.arc_spent is None or settled.rate_spent is None:
            return settled.held.arc, settled.held.rate
        arc = self.line(settled.held.arc, settled.arc_spent, v, coil=True)
        return max(arc, 0.0), self.line(settled.held.rate, settled.rate_spent, v, coil=True)

    def _saturation(self, v: float, i_peak: float) -> float | None:
        drive = self.stages.drive
        if drive is None or i_peak <= 0:
            return None
        v_pin = self.line(drive.fresh.v_pin, drive.spent.v_pin, v, coil=False)
        if self.v_gate is not None:
            return v_pin / self.v_gate - 1

        def carries(state: DriveState) -> float:
            return state.law.i_limit if state.law.i_limit < inf else 1e3 * i_peak

        return self.line(carries(drive.fresh), carries(drive.spent), v, coil=False) / i_peak - 1

    def _threshold(self, v: float, arc: float) -> float | None:
        passes, found = self.stages.passes, self.threshold_shift
        margins: list[float] = []
        if passes is not None and passes.arc_seen > 0 and isfinite(arc):
            margins.append(arc / passes.arc_seen - 1)
        if found is not None and found.value is not None and found.limit:
            margins.append(1 - self.line(0.0, found.value, v, coil=False) / found.limit)
        return min(margins) if margins else None

    def _held(self, v: float) -> float | None:
        settled, pulse = self.stages.settled, self.stages.pulse
        if settled is None or pulse is None or settled.held is None:
            return None
        top, here = self.limits.coil(self.v[0]), self.limits.coil(v)
        if self.limits.steered:
            if pulse.best is None or pulse.e_wanted <= 0:
                return None
            # What the widest pulse gives goes with the voltage behind the switch's drop.
            share = pulse.best.e_best / pulse.e_wanted
            return share * here / self.limits.coil(self.v[1]) - 1
        least = settled.fresh.width_least
        if least is None:
            return None
        # A pulse from the crossing holds an arc above a width that goes as 1 / sqrt(current).
        margin = float(pulse.width / (least * (top / here) ** 0.5) - 1)
        if abs(v - self.v[1]) < 1e-9 * self.v[0]:
            held = settled.arc_spent is not None
            margin = max(margin, 1e-3) if held else min(margin, -1e-3)
        return margin


def told(limits: Limits) -> str:
    """Return in words what becomes of the pulse as the cells sag."""
    if not limits.steered:
        return "the pulse keeps its width and the arc falls"
    widest = f" up to {show(limits.width_max, 's')}" if limits.width_max else ""
    return f"the rate loop widens the pulse{widest} and keeps the arc"
