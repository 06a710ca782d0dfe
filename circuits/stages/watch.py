"""Watch: the firmware at the pin, what it sees of a pass at any arc and what it fires at."""

from dataclasses import dataclass, replace
from functools import partial
from math import inf

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from calc.crossing import filtered_wave
from circuits.stages.arrangement import departure
from circuits.stages.clamp import ClampResult
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult
from circuits.stages.emf import EmfResult
from circuits.stages.filter import FilterResult
from circuits.stages.firing import firings
from circuits.stages.movement import MovementResult
from circuits.stages.pickup import DIODE_DROP, PickupResult
from circuits.stages.rails import Rails

SHARES = (0.1, 0.16, 0.25, 0.4, 0.6, 0.8, 1.0, 1.25, 1.6, 2.2)
"""Arcs looked at, as shares of the wanted one."""
COARSE = 3
"""Every so many samples of the wanted pass are enough at another arc."""
SLOWEST = 0.05
"""Share of the greatest speed below which a pass counts as over."""
Array = NDArray[np.float64]

STEPS, CLOSE = 6, 1e-3
"""Steps in which the least arc that fires is sought, and how near is near enough."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pass:
    """The signal of one pass behind the filter, from the magnet on the coil's axis."""

    t: NDArray[np.float64]
    signal: NDArray[np.float64]


class Watch:
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
        main = float(emf.t[int(np.argmax(np.abs(emf.flux_rate)))])
        self.lying = abs(main) < 0.1 * emf.peak_spacing
        falling = drive.polarity == "repel" or self.lying
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
        """Return every moment of a pass at which a listening firmware would fire."""
        return self.heard(one.t, one.signal, after=after)

    def heard(self, t: Array, signal: Array, after: float = -inf) -> tuple[float, ...]:
        """Return every moment at which a firmware fires that listens from `after` on."""
        return firings(
            t, signal, level=self.level, rearm=self.rearm, crossing=self.crossing,
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
        if over(float(np.log(low))) < 0:
            return float(np.exp(brentq(over, np.log(low), np.log(wanted), xtol=CLOSE)))
        # The level is reached, but nothing fires after it: the pass is over too soon.
        silent, fires = float(np.log(low)), float(np.log(wanted))
        while fires - silent > CLOSE:
            middle = (silent + fires) / 2
            if self.firings(self.at(float(np.exp(middle)))):
                fires = middle
            else:
                silent = middle
        return float(np.exp(fires))

    def outer(self, arc: float, after: float) -> float:
        """Return the height of what fires again after a moment, as a level."""
        one = self.at(arc)
        late = one.t > after
        return float(one.signal[late].max()) if late.any() else 0.0
