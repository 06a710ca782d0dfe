"""Passes: what the firmware sees of the magnet at other arcs than the wanted one."""

from dataclasses import dataclass, replace
from functools import partial
from math import degrees, inf

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from calc.crossing import filtered_wave
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.format_quantity import show
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.stages.arrangement import departure
from circuits.stages.clamp import ClampResult
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult
from circuits.stages.emf import EmfResult
from circuits.stages.filter import FilterResult
from circuits.stages.firing import PassesResult, firings
from circuits.stages.movement import MovementResult
from circuits.stages.pickup import DIODE_DROP, PickupResult
from circuits.stages.pulse import PulseResult
from circuits.stages.rails import Rails
from circuits.stages.timing import TimingResult

Array = NDArray[np.float64]

SHARES = (0.1, 0.16, 0.25, 0.4, 0.6, 0.8, 1.0, 1.25, 1.6, 2.2)
"""Arcs looked at, as shares of the wanted one."""
COARSE = 3
"""Every so many samples of the wanted pass are enough at another arc."""
SLOWEST = 0.05
"""Share of the greatest speed below which a pass counts as over."""
STEPS, CLOSE = 6, 1e-3
"""Steps in which the least arc that fires is sought, and how near is near enough."""
LATE = 0.5
"""Share of the wanted arc above which a push by hand may well go unseen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pass:
    """The signal of one pass behind the filter, from the magnet on the coil's axis."""

    t: NDArray[np.float64]
    signal: NDArray[np.float64]


def size(
    design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails, coil: CoilResult,
    movement: MovementResult, emf: EmfResult, drive: DriveResult, clamp: ClampResult,
    pickup: PickupResult, filter: FilterResult, pulse: PulseResult, timing: TimingResult,
) -> PassesResult:  # fmt: skip
    """Let the firmware look at passes of several arcs, and enter what it misses or sees twice."""
    del catalogue
    watch = _Watch(rails, coil, movement, emf, drive, clamp, pickup, filter)
    wait = pulse.t_on - filter.event_time
    arcs: list[float] = []
    events: list[float] = []
    again: tuple[float, float] | None = None
    early: tuple[float, float] | None = None
    seen = watch.least(movement.arc)
    looked = [share * movement.arc for share in SHARES]
    if seen:
        looked = [1.01 * seen, *(arc for arc in looked if arc > 1.05 * seen)]
    for arc in looked:
        if movement.kind == "pendulum" and arc > 1.2:
            break
        one = watch.at(arc)
        event = watch.event(one)
        if event is None:
            continue
        arcs.append(arc)
        events.append(event)
        t_on = event + (wait if drive.trigger != "previous_pass" else 0.0)
        if drive.trigger == "previous_pass":
            t_on = pulse.t_on
        found = watch.firings(one)
        before = [t for t in found if t < event - 2e-3 * movement.period]
        after = watch.firings(one, after=max(t_on + timing.deaf_until, event))
        after = tuple(t for t in after if t > event + 1e-3 * movement.period)
        if before:
            early = (arc, before[0])
        if after:
            again = (arc, after[0])
    result = PassesResult(arc_seen=seen, arcs=tuple(arcs), events=tuple(events))
    _enter(ledger, movement, result)
    _judge(design, ledger, movement, timing, watch, early, again)
    return result


class _Watch:
    """The firmware at the pin: what arms it, what it fires at."""

    def __init__(
        self, rails: Rails, coil: CoilResult, movement: MovementResult, emf: EmfResult,
        drive: DriveResult, clamp: ClampResult, pickup: PickupResult, filter: FilterResult,
    ) -> None:  # fmt: skip
        self.movement, self.emf, self.filter = movement, emf, filter
        self._known: dict[float, Pass] = {}
        self.node = partial(
            departure, drive=drive, clamp=clamp, r_coil=coil.r_coil,
            v_supply=rails.fresh.v_coil, v_knee_low=rails.spent.v_coil + DIODE_DROP,
        )  # fmt: skip
        self.crossing = drive.trigger != "threshold"
        self.level = pickup.threshold
        self.rearm = max(pickup.threshold - pickup.hysteresis, 0.0)
        lying = abs(float(emf.t[int(np.argmax(np.abs(emf.flux_rate)))])) < 0.1 * emf.peak_spacing
        falling = drive.polarity == "repel" or lying
        if self.crossing:
            self.sign = 1.0 if falling else -1.0
        else:
            self.sign = -pickup.side

    def _fastest(self, arc: float) -> float:
        m = self.movement
        reach = 2 * np.sin(arc / 2) if m.kind == "pendulum" else arc
        return float(m.radius * m.omega * reach)

    def at(self, arc: float) -> Pass:
        """Return the pass of another arc, computed once."""
        if arc not in self._known:
            self._known[arc] = self._pass(arc)
        return self._known[arc]

    def _pass(self, arc: float) -> Pass:
        """Return the pass of another arc: at one place the EMF goes with the speed.

        The square of the speed changes by the same amount everywhere along the path.
        """
        speed, path = self.emf.speed[::COARSE], self.emf.path[::COARSE]
        fastest = self._fastest(arc)
        square = speed**2 + fastest**2 - self._fastest(self.movement.arc) ** 2
        good = (square > (SLOWEST * fastest) ** 2) & (speed > SLOWEST * float(speed.max()))
        middle = int(np.argmin(np.abs(path)))
        bad = np.flatnonzero(~good)
        below, above = bad[bad < middle], bad[bad > middle]
        first = int(below[-1]) + 1 if below.size else 0
        last = int(above[0]) if above.size else path.size
        own = slice(first, last)
        new = np.sqrt(np.maximum(square[own], 0))
        if not good[middle] or new.size < 8:
            return Pass(t=np.linspace(-1e-3, 1e-3, 8), signal=np.zeros(8))
        steps = np.diff(path[own]) * 0.5 * (1 / new[1:] + 1 / new[:-1])
        t = np.concatenate([[0.0], np.cumsum(steps)])
        t -= np.interp(0.0, path[own], t)
        faster = new / speed[own]
        own_flux, other = self.emf.flux_rate, self.emf.flux_rate_pickup
        node = self.node(
            replace(
                self.emf,
                flux_rate=faster * own_flux[::COARSE][own],
                flux_rate_pickup=None if other is None else faster * other[::COARSE][own],
            )
        )
        f = self.filter
        wave = filtered_wave(
            t=t, wave=node, gain=f.gain, tau_high=f.tau_high,
            tau_slow=f.tau_slow, tau_fast=f.tau_fast,
        )  # fmt: skip
        return Pass(t=t, signal=self.sign * wave.wave)

    def firings(self, one: Pass, after: float = -inf) -> tuple[float, ...]:
        """Return every moment at which a listening firmware would fire."""
        return firings(
            one.t, one.signal, level=self.level, rearm=self.rearm, crossing=self.crossing,
            after=after,
        )  # fmt: skip

    def event(self, one: Pass) -> float | None:
        """Return the firing that belongs to the largest lobe; None where nothing fires."""
        found = self.firings(one)
        if not found:
            return None
        largest = one.t[int(np.argmin(one.signal) if self.crossing else np.argmax(one.signal))]
        before = [t for t in found if t <= largest]
        return before[-1] if before else found[0]

    def least(self, wanted: float) -> float:
        """Return the least arc that fires; zero where the smallest looked at does."""
        low, high = SHARES[0] * wanted, SHARES[-1] * wanted
        if not self.firings(self.at(wanted)):
            return high if not self.firings(self.at(high)) else wanted

        def over(log_arc: float) -> float:
            signal = self.at(float(np.exp(log_arc))).signal
            return float(np.log(max(float(signal.max()), 1e-3 * self.level) / self.level))

        # The signal goes nearly as the arc: from there two or three steps meet the level.
        x, beyond = float(np.log(wanted)), over(float(np.log(wanted)))
        rise = 1.0
        for _ in range(STEPS):
            new = x - beyond / rise
            if new <= np.log(low):
                break
            there = over(new)
            rise = (there - beyond) / (new - x)
            x, moved, beyond = new, abs(new - x), there
            if moved < CLOSE or abs(beyond) < CLOSE:
                return float(np.exp(x - beyond / rise))
            if not rise > 0:
                break
        if self.firings(self.at(low)):
            return 0.0
        return float(np.exp(brentq(over, np.log(low), np.log(wanted), xtol=CLOSE)))

    def outer(self, arc: float, after: float) -> float:
        """Return the height of what fires again after a moment, as a level."""
        one = self.at(arc)
        late = one.t > after
        return float(one.signal[late].max()) if late.any() else 0.0


def _enter(ledger: Ledger, movement: MovementResult, result: PassesResult) -> None:
    seen = result.arc_seen
    if not seen:
        ledger.say(
            "timing.seen", Severity.GOOD,
            f"The firmware sees every pass looked at, down to {show(0.1 * movement.arc, 'rad')}.",
        )  # fmt: skip
        return
    ledger.value(
        "timing.arc_seen", seen, "rad", words="least arc whose passes the firmware sees",
        basis=Basis.COMPUTED, rule="the signal at the pin reaches the threshold",
    )  # fmt: skip
    late = seen > LATE * movement.arc
    ledger.say(
        "timing.seen", Severity.MIND if late else Severity.GOOD,
        f"The firmware sees passes from an arc of {show(seen, 'rad')} on: push by hand to more "
        f"than {degrees(seen):.2g} degrees, {show(seen * movement.radius, 'm')} at the magnet; a "
        "smaller swing triggers nothing.",
        remedy="A lower threshold, so that a smaller push is seen." if late else "",
        value=seen, unit="rad",
    )  # fmt: skip


def _judge(
    design: Design, ledger: Ledger, movement: MovementResult, timing: TimingResult, watch: _Watch,
    early: tuple[float, float] | None, again: tuple[float, float] | None,
) -> None:  # fmt: skip
    if early is None and again is None:
        ledger.say(
            "timing.double", Severity.GOOD,
            f"With a deaf time of {show(timing.deaf_until, 's')} no pass up to "
            f"{show(max(watch.movement.arc * SHARES[-1], 0), 'rad')} triggers twice.",
        )  # fmt: skip
        return
    changes: tuple[tuple[Change, ...], ...] = ()
    if again is not None:
        height = watch.outer(again[0], again[1] - 0.05 * movement.period)
        higher = float(f"{1.3 * height:.2e}")
        if higher < 0.9 * float(watch.at(movement.arc).signal.max()):
            text = f"{'-' if (design.pickup.threshold or 0) < 0 else ''}{higher:g} V"
            changes = ((Change(section="pickup", key="threshold", text=text),),)
        ledger.say(
            "timing.double", Severity.MIND,
            f"At an arc of {show(again[0], 'rad')} the same pass triggers again "
            f"{show(again[1], 's')} after the middle, when the deaf time of "
            f"{show(timing.deaf_until, 's')} has ended.",
            remedy="A higher threshold, or let the firmware stay deaf until the pass is over.",
            changes=changes, value=again[1], unit="s",
        )  # fmt: skip
        return
    assert early is not None
    ledger.say(
        "timing.double", Severity.MIND,
        f"At an arc of {show(early[0], 'rad')} an outer lobe triggers already "
        f"{show(-early[1], 's')} before the middle, ahead of the lobe that is meant.",
        remedy="A threshold above the outer lobe.", value=early[1], unit="s",
    )  # fmt: skip
