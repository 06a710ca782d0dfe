"""The curves of one driven pass, from the results of the stages and the calculators."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calc.corner_wave import cornered_wave
from calc.pulse_outcome import PulseOutcome
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.ledger import Ledger
from circuits.report.states import States, states_of
from circuits.stage_pass import StagePass
from circuits.stages import drive_nmos
from circuits.stages.arrangement import departure
from circuits.stages.back_emf import back_emf_of
from circuits.stages.clamp import ClampResult
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult, DriveState
from circuits.stages.drive_pin import pin_of
from circuits.stages.emf import EmfResult
from circuits.stages.filter import FilterResult
from circuits.stages.linkage import LinkageResult
from circuits.stages.pickup import DIODE_DROP, PickupResult
from circuits.stages.pulse import PulseResult
from circuits.stages.rails import Rail, Rails
from circuits.stages.timing import TimingResult

Array = NDArray[np.float64]

EDGE = 120
"""Samples about each edge of the pulse."""
BEFORE, AFTER, LONGEST = 1.35, 1.5, 3.0
"""How much of the pass is shown, in spacings of the lobes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StateCurves:
    """One pass with fresh or with spent cells.

    `node` is the voltage of the switch's node, `pin` the departure of the controller's input from
    its rest level `rest`, `tap` the voltage before the filter, `base` that of base or gate.
    """

    state: str
    v_rail: float
    rest: float
    i: Array
    node: Array
    tap: Array
    pin: Array
    base: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatCurves:
    """One driven pass about the moment at which the magnet stands on the coil's axis.

    `back_emf` is above zero where a current does work. `armed` is the level at the pin that arms
    the input, or that is the event, as a departure from rest; `event` is when it is seen.
    """

    t: Array
    path: Array
    back_emf: Array
    listening: Array | None
    t_on: float
    width: float
    deaf_until: float
    event: float
    trigger: str
    armed: float
    states: States
    fresh: StateCurves
    spent: StateCurves

    @property
    def shown(self) -> tuple[StateCurves, ...]:
        """The states that differ."""
        return (self.fresh, self.spent) if self.states.lowest else (self.fresh,)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Circuit:
    """What the switch's node hangs on."""

    design: Design
    emf: EmfResult
    coil: CoilResult
    linkage: LinkageResult
    drive: DriveResult
    clamp: ClampResult
    pickup: PickupResult
    filter: FilterResult
    pulse: PulseResult
    r_pin: float


def beat_curves(done: StagePass) -> BeatCurves:
    """Return the curves of the pass that is driven."""
    names = ("emf", "coil", "linkage", "drive", "clamp", "pickup", "filter", "pulse")
    timing: TimingResult = done.result("timing")
    rails: Rails = done.result("rails")
    c = _Circuit(
        design=done.design, r_pin=_before_base(done, rails),
        **{name: done.result(name) for name in names},
    )  # fmt: skip
    deaf = c.pulse.t_on + timing.deaf_until
    t = _times(c, deaf)
    sign = -c.pickup.side
    if c.drive.trigger != "threshold":
        falling = c.drive.polarity == "repel" or c.linkage.axis == "motion"
        sign = 1.0 if falling else -1.0
    listening = c.emf.flux_rate_pickup
    return BeatCurves(
        t=t, path=np.interp(t, c.emf.t, c.emf.path),
        back_emf=np.interp(t, c.emf.t, back_emf_of(done.design, c.emf, c.drive.polarity)),
        listening=None if listening is None else np.interp(t, c.emf.t, listening),
        t_on=c.pulse.t_on, width=c.pulse.width, deaf_until=deaf, event=c.filter.event_time,
        states=states_of(done), trigger=c.drive.trigger, armed=sign * c.pickup.threshold,
        fresh=_state(c, rails, rails.fresh, c.drive.fresh, c.pulse.fresh, t),
        spent=_state(c, rails, rails.spent, c.drive.spent, c.pulse.spent, t),
    )  # fmt: skip


def _before_base(done: StagePass, rails: Rails) -> float:
    """Return the resistance between the pin's own voltage and the base."""
    entered = done.ledger.values.get("drive.r_b")
    pin = pin_of(done.design, Catalogue(done.design.part, done.design.file), Ledger(), rails)
    return pin.resistance + (float(entered.value) if entered is not None else 0.0)


def _times(c: _Circuit, deaf: float) -> Array:
    """Return times that hold the pass, close together at the pulse's edges."""
    spacing, t_on, width = c.emf.peak_spacing, c.pulse.t_on, c.pulse.width
    first = max(float(c.emf.t[0]), min(-BEFORE * spacing, t_on - 0.3 * spacing))
    last = min(max(AFTER * spacing, 1.06 * deaf), LONGEST * spacing)
    last = min(float(c.emf.t[-1]), max(last, t_on + 1.3 * width))
    fine = max(c.pulse.fresh.t_zero, c.pulse.spent.t_zero, 0.02 * width)
    edges = [
        start + np.concatenate([[-1e-4 * fine], np.linspace(0.0, 1.6 * fine, EDGE)])
        for start in (t_on, t_on + width)
    ]
    whole = np.concatenate([
        np.linspace(first, last, 900), np.linspace(t_on, t_on + width, 100), *edges,
    ])  # fmt: skip
    t = np.unique(whole[(whole >= first) & (whole <= last)])
    apart = np.concatenate([[True], np.diff(t) > 1e-6 * fine])
    return np.asarray(t[apart], dtype=np.float64)


def _state(
    c: _Circuit, rails: Rails, rail: Rail, switch: DriveState, outcome: PulseOutcome, t: Array
) -> StateCurves:
    on = (t >= outcome.t[0]) & (t <= c.pulse.t_on + c.pulse.width)
    i = np.interp(t, outcome.t, outcome.i, left=0.0, right=0.0)
    free = np.interp(t, c.emf.t, _drive_departure(c, rails, rail))
    released = ~on & (t > c.pulse.t_on) & (i > 1e-4 * max(outcome.i_off, 1e-12))
    node = rail.v_coil + free
    held = np.array([float(switch.law.drop(max(one, 0.0))) for one in i[on]])
    kick = np.array([c.clamp.law.switch_voltage(one, rail.v_coil) for one in i[released]])
    if c.drive.duty < 1:
        high = np.array([c.clamp.law.switch_voltage(one, rail.v_coil) for one in i[on]])
        held = c.drive.duty * held + (1 - c.drive.duty) * high
    node[on] = np.minimum(held, rail.v_coil)
    node[released] = np.maximum(kick, node[released])
    rest = c.pickup.v_bias_fresh if rail is rails.fresh else c.pickup.v_bias_spent
    source = _source(c, t, i, node - rail.v_coil)
    wave = cornered_wave(
        t=t, wave=source, gain=c.filter.gain, tau_high=c.filter.tau_high,
        tau_slow=c.filter.tau_slow, tau_fast=c.filter.tau_fast,
    )  # fmt: skip
    base = np.where(on, _on_level(c, switch), 0.0)
    return StateCurves(
        state=rail.state, v_rail=rail.v_coil, rest=rest, i=i, node=node,
        tap=rest + _tap(c, t, wave.wave, wave.slope), pin=wave.wave, base=base,
    )  # fmt: skip


def _drive_departure(c: _Circuit, rails: Rails, rail: Rail) -> Array:
    """Return how far the switch's node leaves the rail in a free pass."""
    alone = replace(c.emf, flux_rate_pickup=None)
    knee_low = rails.spent.v_coil + DIODE_DROP
    return departure(alone, c.drive, c.clamp, c.coil.r_coil, rail.v_coil, knee_low)


def _source(c: _Circuit, t: Array, i: Array, node: Array) -> Array:
    """Return what feeds divider and filter: the node, or the listening winding."""
    if c.emf.flux_rate_pickup is None:
        return node
    assert c.pickup.departure is not None
    heard = np.interp(t, c.emf.t, c.pickup.departure)
    return np.asarray(heard - abs(c.linkage.mutual) * np.gradient(i, t), dtype=np.float64)


def _tap(c: _Circuit, t: Array, wave: Array, slope: Array) -> Array:
    """Return the departure before the filter: each capacitor's current through its resistor."""
    behind, rise = wave, slope
    current = np.zeros_like(wave)
    for r, capacitance in zip(reversed(c.filter.r), reversed(c.filter.c), strict=True):
        current = current + capacitance * rise
        behind = behind + r * current
        rise = np.gradient(behind, t)
    return np.asarray(behind, dtype=np.float64)


def _on_level(c: _Circuit, switch: DriveState) -> float:
    """Return the voltage of base or gate while the pulse lasts."""
    if c.drive.kind == "nmos":
        return switch.i_pin * drive_nmos.resistors(c.design)[1]
    return switch.v_pin - switch.i_b * c.r_pin
