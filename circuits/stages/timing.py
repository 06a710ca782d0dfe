"""Timing: jitter of the detected event and how long the input must stay deaf."""

from dataclasses import dataclass
from math import inf, log, sqrt

import numpy as np

from calc.coupling import capacitor_residual
from calc.crossing import settled_after
from calc.jitter import Jitter, crossing_jitter, thermal_noise
from calc.mains import Alias, hum_wander, mains_alias
from calc.sampling import quantisation_step
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.format_quantity import show
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.preferred_values import next_lower
from circuits.stages.disturbance import disturbance
from circuits.stages.emf import EmfResult
from circuits.stages.filter import FilterResult
from circuits.stages.movement import MovementResult
from circuits.stages.pickup import PickupResult
from circuits.stages.pulse import PulseResult
from circuits.stages.rails import Rails

DAY = 86400.0
ROOM = 293.15
TICK = 1 / 32768
HUM_MAGNETIC = 0.2e-3
I_HUM = 70e-9
"""A; what one picofarad carries from a mains lead at 230 V and 50 Hz."""
ALLOWED = 10.0
MAINS_DRIFT = 1e-3
"""How far the mains wander from their nominal frequency; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TimingResult:
    """Jitter in seconds a beat and the deaf time from the start of the pulse."""

    jitter: float
    deaf_until: float


def size(
    design: Design,
    catalogue: Catalogue,  # noqa: ARG001 - every stage is called alike
    ledger: Ledger,
    rails: Rails,
    movement: MovementResult,
    emf: EmfResult,
    pickup: PickupResult,
    filter: FilterResult,
    pulse: PulseResult,
) -> TimingResult:
    """Compute jitter, hum and deaf time and enter them into the sheet.

    Parameters
    ----------
    design : Design
        The design file.
    catalogue : Catalogue
        The parts.
    ledger : Ledger
        The sheet.
    rails, movement, emf, pickup, filter, pulse
        Results of the stages before.

    Returns
    -------
    timing : TimingResult
    """
    beat = 0.5 * movement.period
    jitter = _jitter(design, ledger, beat, pickup, filter)
    residual = _residual(design, ledger, rails, beat, pickup, filter, pulse)
    deaf = _deaf_until(rails, pickup, filter, pulse, residual)
    _enter_deaf(design, ledger, beat, emf, pickup, filter, pulse, deaf)
    return TimingResult(jitter=jitter.beat, deaf_until=deaf)


def _jitter(
    design: Design, ledger: Ledger, beat: float, pickup: PickupResult, filter: FilterResult
) -> Jitter:
    assert pickup.pin is not None
    pin = pickup.pin
    hum = design.filter.hum
    if hum is None:
        impedance = pickup.r_winding if pickup.coupling is None else pickup.r_source_divider
        impedance = pickup.r_source if pickup.arrangement == "at_switch" else impedance
        hum = HUM_MAGNETIC + I_HUM * impedance
        ledger.assume(
            "filter.hum", hum, "V",
            "a picofarad to a mains lead into the bias impedance, and a little by the magnetic "
            "field; common practice, no source",
        )  # fmt: skip
    tick = design.controller.tick
    if tick is None:
        tick = TICK
        ledger.assume("controller.tick", tick, "s", "timer on a watch crystal; common practice")
    slope = max(abs(filter.slope_at_event), 1e-12)
    alias = mains_alias(interval=beat, f_mains=filter.f_mains)
    at_pin = hum * filter.mains_gain
    drifting = max(alias.f_alias, MAINS_DRIFT * filter.f_mains)
    wander = hum_wander(v_hum=at_pin, slope=slope, f_alias=drifting, interval=beat)
    step = quantisation_step(
        v_reference=max(pin.v_reference_fresh, pin.v_reference_spent), n_bits=float(pin.n_bits)
    )
    found = crossing_jitter(
        v_thermal=thermal_noise(temperature=design.design.temperature or ROOM, c=filter.c[-1]),
        v_step=step, v_hum=at_pin, tick=tick, slope=slope, hum_share=wander.share,
    )  # fmt: skip
    ledger.value(
        "timing.jitter", found.beat, "s", words="jitter of a beat, root mean square",
        basis=Basis.COMPUTED, rule="noise / slope at the event, two events a beat",
    )  # fmt: skip
    for name, value, words in (
        ("thermal", found.thermal, "noise of the resistors"),
        ("converter", found.converter, "one step of the converter"),
        ("hum", found.hum, "hum, between two events"),
        ("tick", found.tick, "one tick of the timer"),
    ):
        ledger.value(
            f"timing.jitter_{name}", value, "s", words=f"share of the jitter: {words}",
            basis=Basis.COMPUTED, rule="noise / slope",
        )  # fmt: skip
    day = sqrt(2.0) * sqrt(found.event**2 + (wander.shift / sqrt(2.0)) ** 2)
    ledger.value(
        "timing.jitter_day", day, "s", words="error that the jitter leaves after a day",
        basis=Basis.COMPUTED,
        rule="first and last event only: beats timed from event to event do not add up",
    )  # fmt: skip
    largest = max(("thermal", "converter", "hum", "tick"), key=lambda name: getattr(found, name))
    said = {
        "thermal": "the resistors' noise", "converter": "the converter's step",
        "hum": "hum", "tick": "the timer's tick",
    }  # fmt: skip
    ledger.say(
        "timing.jitter", Severity.GOOD,
        f"A beat is timed to {show(found.beat, 's')}, most of it from {said[largest]}; timed from "
        f"event to event that leaves {show(day, 's')} after a day, while a firmware that starts "
        f"its timer anew each beat gathers {show(found.beat * sqrt(DAY / beat), 's')}.",
        value=found.beat, unit="s",
    )  # fmt: skip
    _mains(design, ledger, beat, alias, wander.shift, wander.rate_peak)
    return found


def _mains(
    design: Design, ledger: Ledger, beat: float, alias: Alias, shift: float, rate_peak: float
) -> None:
    """Hum that is met almost in step carries the rate to and fro for minutes."""
    slow = 1 / alias.f_alias if alias.f_alias > 0 else inf
    swing = 1 / max(alias.f_alias, MAINS_DRIFT * alias.cycles / beat)
    ledger.value(
        "timing.hum_shift", shift, "s", words="how far hum moves one event, at most",
        basis=Basis.COMPUTED, rule="hum behind the filter / slope",
    )  # fmt: skip
    if slow < 10 * beat:
        return
    ledger.value(
        "timing.hum_rate", rate_peak * DAY, "s/day",
        words="wandering rate that hum makes, at most", basis=Basis.COMPUTED,
        rule="change of an interval by hum / interval",
    )  # fmt: skip
    allowed = design.rate.allowed_error if design.rate.allowed_error is not None else ALLOWED
    text = (
        f"A beat is close to {alias.cycles} periods of the mains: hum is met almost in step and "
        f"carries the rate by up to {show(rate_peak * DAY, 's/day')} to and fro "
        f"in {show(swing, 's')}, as the mains drift."
    )
    ledger.at_most(
        "timing.hum", rate_peak * DAY, allowed, "s/day", text,
        remedy="More mains rejection, smaller bias resistors, or average over whole slow swings.",
        soft=True,
    )  # fmt: skip


def _residual(
    design: Design, ledger: Ledger, rails: Rails, beat: float, pickup: PickupResult,
    filter: FilterResult, pulse: PulseResult,
) -> float:  # fmt: skip
    """Return what the pulse has put into the coupling capacitor, and judge what stays of it."""
    if pickup.coupling is None:
        _enter_next(ledger, pickup, 0.0)
        return 0.0
    assert pickup.pin is not None
    r_bias = 1 / (1 / pickup.r_upper + 1 / pickup.r_lower)
    step = pickup.v_pulse or rails.fresh.v_coil
    width = min(pickup.tau_winding, pulse.width) if pickup.v_pulse else pulse.width
    elapsed = max(beat - pulse.width, 1e-6)
    # The clamp stands at the pin: the filter's capacitor must first come down to it.
    reach = min((pickup.v_bias_fresh - pickup.pin.v_low) / step, 1 - 1e-9)
    held_off = -(filter.tau_slow + filter.tau_fast) * log(1 - reach)
    held, left = (
        capacitor_residual(
            v_step=step, v_bias=pickup.v_bias_fresh, v_clamp=-pickup.pin.v_low,
            r_clamp=max(sum(filter.r), 1.0), t_clamp=held_off, width=width, r_bias=r_bias,
            c_coupling=pickup.coupling, elapsed=since,
        )
        for since in (1e-9 * elapsed, elapsed)
    )  # fmt: skip
    _enter_next(ledger, pickup, left)
    ledger.value(
        "pickup.v_residual", left, "V", words="left at the pin at the next pass",
        basis=Basis.COMPUTED, rule="charged by bias and clamp, exp(-t/(R C))",
    )  # fmt: skip
    shift = left / max(filter.crossing_slope, 1e-12)
    allowed = design.rate.allowed_error
    if allowed is None:
        allowed = ALLOWED
        ledger.assume("rate.allowed_error", allowed, "s/day", "common practice, no source")
    error = shift / beat * DAY
    ledger.at_most(
        "timing.residual", error, allowed, "s/day",
        f"The pin's clamp charges the coupling capacitor in each pulse; {show(left, 'V')} are left "
        f"at the next pass and move its crossing by {show(shift, 's')}: between a beat after a "
        f"pulse and one without, that is {show(error, 's/day')}.",
        remedy="Take the signal at the switch, without a capacitor.",
        changes=((Change(section="pickup", key="arrangement", text="at_switch"),),),
    )  # fmt: skip
    return held


def _enter_next(ledger: Ledger, pickup: PickupResult, left: float) -> None:
    for state, rest in (("fresh", pickup.v_bias_fresh), ("spent", pickup.v_bias_spent)):
        ledger.value(
            f"pickup.v_next_{state}", rest + left, "V", words="before the filter, next pass",
            basis=Basis.COMPUTED, rule="rest and what a coupling capacitor holds", state=state,
        )  # fmt: skip


def _deaf_until(
    rails: Rails, pickup: PickupResult, filter: FilterResult, pulse: PulseResult, held: float
) -> float:
    """Return when pulse, kick and the filter's memory of both have ended."""
    level = max(min(pickup.hysteresis or pickup.threshold, pickup.threshold), 1e-9)
    width = pulse.width
    ended = width + max(pulse.fresh.t_zero, pulse.spent.t_zero, 1e-6)
    steps = disturbance(rails, pickup, filter, pulse)
    if steps is None:
        return ended
    settled = settled_after(
        t_edges=steps.edges, v_steps=steps.steps, gain=filter.gain, tau_slow=filter.tau_slow,
        tau_fast=filter.tau_fast, level=level,
    )  # fmt: skip
    if held > level and np.isfinite(filter.tau_high):
        settled = max(settled, width + filter.tau_high * log(held / level))
    return max(settled, ended)


def _enter_deaf(
    design: Design, ledger: Ledger, beat: float, emf: EmfResult, pickup: PickupResult,
    filter: FilterResult, pulse: PulseResult, deaf: float,
) -> None:  # fmt: skip
    ledger.value(
        "timing.deaf_until", deaf, "s", words="deaf time, from the start of the pulse",
        basis=Basis.COMPUTED,
        rule="pulse + release + filter's recovery to within the hysteresis",
    )  # fmt: skip
    if pulse.t_on < 0 and filter.event_time < -0.5 * beat:
        until, what = filter.crossing_time - pulse.t_on, "the crossing of the same pass"
    else:
        until = beat - emf.peak_spacing - pulse.t_on
        what = "the next pass"
    # A stated capacitor and resistor would outvote a cut-off.
    parts: tuple[tuple[Change, ...], ...] = ()
    if pickup.arrangement == "through_capacitor" and design.pickup_coil is None:
        parts = ((Change(section="pickup", key="arrangement", text="at_switch"),),)
    if design.filter.capacitor is not None:
        less = next_lower(filter.c[0] / 3, "E6")
        parts += ((Change(section="filter", key="capacitor", text=f"{less:g} F"),),)
    ledger.at_most(
        "timing.deaf", deaf, max(until, 0.0), "s",
        f"The input must stay deaf for {show(deaf, 's')} from the start of the pulse; {what} "
        f"begins after {show(max(until, 0.0), 's')}.",
        remedy="A shorter pulse, a higher cut-off or a faster release.",
        changes=(
            *parts,
            (Change(section="filter", key="cutoff", text=f"{2 * filter.f_c:.3g} Hz"),),
            (Change(section="drive", key="pulse_width", text=f"{0.6e3 * pulse.width:.3g} ms"),),
        ),
    )  # fmt: skip
    if deaf > 0:
        ledger.say(
            "timing.kick", Severity.MIND if pickup.threshold > 0 else Severity.GOOD,
            f"Pulse and kick still stand at the pin until {show(deaf, 's')} from the start of the "
            "pulse: a firmware that listens sooner may count a kick as a pass.",
            remedy="Let it stay deaf that long; follow --deaf tells what another deaf time hears."
            if pickup.threshold > 0 else "",
            value=deaf, unit="s",
        )  # fmt: skip
