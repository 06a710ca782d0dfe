"""One pulse solved: the driven phase as one banded system, then its release."""

from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicHermiteSpline, CubicSpline
from scipy.optimize import brentq

from calc.loaded_switch import current_beside, loaded, node_voltage
from calc.pulse_outcome import PulseCircuit, PulseOutcome, PulseWidth
from calc.release import ReleaseCircuit, release
from calc.stiff_steps import Equation, Trajectory, solve_steps, step_nodes

Array = NDArray[np.float64]

_CLOSED = 1e-7
"""Steps are split until the balance of the driven phase closes to this."""
_REFINEMENTS = 8
_NOTHING = 1e-6
"""Share of the charge that supply and resistance would allow below which no balance is closed."""
_MOST_STEPS = 20_000
"""Steps from which none is split further; a pulse has a few hundred."""
_JUMP = 0.005
"""Share of the supply by which the switch's drop may change within a step."""


def _bytes(samples: Array) -> bytes:
    return np.asarray(samples, dtype=np.float64).tobytes()


@lru_cache(maxsize=4)
def _smooth(t: bytes, emf: bytes) -> CubicSpline:
    """Return the cubic through the samples; fresh and spent cells meet the same EMF."""
    return CubicSpline(np.frombuffer(t), np.frombuffer(emf))


class Solver:
    """The driven phase of one circuit from one moment on; it does not depend on the width."""

    def __init__(self, circuit: PulseCircuit, t_on: float) -> None:
        self.circuit = circuit
        self.t_on = t_on
        self.spline = _smooth(_bytes(circuit.t_emf), _bytes(circuit.emf))
        self.last = float(circuit.t_emf[-1])
        self.source_share = 1.0 if circuit.clamp.from_supply else circuit.duty
        # A resistor across the coil loads switch and cells too.
        self.switch = loaded(
            circuit.switch, circuit.clamp, v_supply=circuit.v_supply, r_source=circuit.r_source
        )
        self.release_circuit = ReleaseCircuit(
            r_coil=circuit.r_coil, l_coil=circuit.l_coil, clamp=circuit.clamp,
            v_supply=circuit.v_supply, r_source=circuit.r_source, emf=self.emf,
            t_end=self.last,
        )  # fmt: skip

    def emf(self, t: Array) -> Array:
        """Return the back EMF; it keeps its last value beyond the samples."""
        sampled: Array = self.spline(np.minimum(t, self.last))
        return sampled

    def rate(self, t: Array, i: Array) -> Array:
        """Return the rate at which the current rises."""
        c = self.circuit
        return (c.duty * c.v_supply - self.opposed(t, i)) / c.l_coil

    def opposed(self, t: Array, i: Array) -> Array:
        """Return everything that the supply works against, in volts."""
        c = self.circuit
        held = c.duty * self.switch.drop(i) + (c.r_coil + self.source_share * c.r_source) * i
        if c.duty < 1:
            held = held + (1 - c.duty) * c.clamp.opposing(i, c.v_supply)
        return np.asarray(held + self.emf(t))

    def rate_slope(self, _t: Array, i: Array) -> Array:
        """Return the rate's slope in the current."""
        c = self.circuit
        slope = c.r_coil + self.source_share * c.r_source + c.duty * self.switch.slope(i)
        if c.duty < 1:
            slope = slope + (1 - c.duty) * c.clamp.slope(i)
        return -slope / c.l_coil

    def edges(self, width: float) -> Array:
        """Return the first steps: short while the current rises, longer afterwards."""
        c = self.circuit
        tau = c.l_coil / (c.r_coil + c.r_source)
        first = min(tau / 3, width / 30)
        longest = width / 40
        rising = np.arange(1, int(np.ceil(min(12 * tau, width) / first)) + 1) * first
        rising = rising[rising < width]
        if rising.size == 0 or rising[-1] + first >= width:
            return np.linspace(0, width, max(rising.size, 1) + 1) + self.t_on
        growing = np.minimum(first * 1.2 ** np.arange(1, 200), longest)
        later = rising[-1] + np.cumsum(growing)
        while later[-1] < width:
            later = np.append(later, later[-1] + longest * np.arange(1, 200))
        count = int(np.searchsorted(later, width)) + 1
        stretched = later[:count] - rising[-1]
        stretched *= (width - rising[-1]) / stretched[-1]
        return np.concatenate(([0.0], rising, rising[-1] + stretched)) + self.t_on

    def drive(self, width: float) -> tuple[Trajectory, float]:
        """Return the current over the driven phase, and how far its balance is from closing."""
        c = self.circuit
        settled = c.duty * c.v_supply / (c.r_coil + c.r_source + c.switch.resistance)
        settled = min(settled, 0.95 * c.switch.i_limit)
        tau = c.l_coil / (c.r_coil + c.r_source)
        equation = Equation(rate=self.rate, slope=self.rate_slope)
        edges = self.edges(width)
        guess = settled * -np.expm1(-(step_nodes(edges) - self.t_on) / tau)
        for _ in range(_REFINEMENTS):
            path = solve_steps(equation, edges, guess, start=0.0, scale=settled)
            error = self.balance(path)
            flows = path.integral(path.values) > _NOTHING * settled * width
            if abs(error) <= _CLOSED or not flows or len(edges) > _MOST_STEPS:
                break
            edges = self.refined(path)
            guess = np.interp(step_nodes(edges), path.edges, path.at_edges(0.0))
        return path, error

    def refined(self, path: Trajectory) -> Array:
        """Return the edges with those steps split in which the switch's drop jumps."""
        current = np.column_stack((path.at_edges(0.0)[:-1], path.values))
        drop = self.switch.drop(current)
        jump = np.ptp(drop, axis=1) > _JUMP * self.circuit.v_supply
        start, step = path.edges[:-1], np.diff(path.edges)
        if not jump.any():
            jump = np.ones_like(jump)
        inner = start[jump, None] + step[jump, None] * np.array([0.25, 0.5, 0.75])
        return np.sort(np.concatenate((path.edges, inner.ravel())))

    def balance(self, path: Trajectory) -> float:
        """Return the share of the drawn energy that the driven phase leaves unexplained."""
        c, i = self.circuit, path.values
        drawn = c.duty * c.v_supply * path.integral(i)
        stored = c.l_coil * path.values[-1, 2] ** 2 / 2
        return float((drawn - path.integral(self.opposed(path.nodes, i) * i) - stored) / drawn)

    def outcome(self, width: float) -> PulseOutcome:
        """Return the whole pulse of one width."""
        c = self.circuit
        path, _ = self.drive(width)
        switch = self.switch
        i, emf = path.values, self.emf(path.nodes)
        i_off = float(i[-1, 2])
        t_off = float(path.edges[-1])
        tail = release(self.release_circuit, t_off, i_off)
        charge, beside = c.duty * path.integral(i), current_beside(switch, i)
        clamped = (1 - c.duty) * path.integral(c.clamp.voltage(i) * i) if c.duty < 1 else 0.0
        if c.clamp.from_supply:
            charge += (1 - c.duty) * path.integral(i) + tail.charge
        supplied = c.v_supply * charge
        terms = {
            "e_source": self.source_share * c.r_source * path.integral((i + beside) * i)
            + tail.e_source,
            "e_copper": c.r_coil * path.integral(i**2) + tail.e_copper,
            "e_switch": c.duty * path.integral(node_voltage(switch, i) * i),
            "e_clamp": clamped + tail.e_clamp,
            "e_mechanical": path.integral(emf * i) + tail.e_mechanical,
            "e_stored_end": c.l_coil * tail.i_end**2 / 2,
        }
        at_edges = path.at_edges(0.0)
        i_peak = max(float(at_edges.max()), float(i.max()))
        return PulseOutcome(
            i_peak=i_peak,
            i_off=i_off,
            q_supply=charge,
            e_supply=supplied,
            **terms,
            e_base=c.p_base * width * c.duty,
            q_beside=c.duty * path.integral(beside),
            i_beside=float(current_beside(switch, i_peak)),
            v_switch_end=float(node_voltage(switch, i_off)),
            v_switch_peak=c.clamp.switch_voltage(i_off, c.v_supply),
            t_decay=tail.t_decay,
            t_zero=tail.t_zero,
            t=np.concatenate((path.edges, t_off + tail.t[1:])),
            i=np.concatenate((at_edges, tail.i[1:])),
        )

    def least_width(self, e_wanted: float, width_max: float) -> PulseWidth:
        """Return the least width up to width_max that gives the wanted mechanical energy.

        The current up to each width is the same, so one trajectory serves all of them.
        """
        path, _ = self.drive(width_max)
        edges = path.edges - self.t_on
        widths = edges.tolist()
        current = path.at_edges(0.0)
        power = self.emf(path.edges) * current
        done = path.running(self.emf(path.nodes) * path.values)
        i_at = CubicHermiteSpline(edges, current, self.rate(path.edges, current))
        done_at = CubicHermiteSpline(edges, done, power)

        @cache
        def given(width: float) -> float:
            tail = release(self.release_circuit, self.t_on + width, float(i_at(width)))
            return float(done_at(width)) + tail.e_mechanical

        # Against an EMF above the supply no current rises, and its release adds nothing.
        peak = float(current.max())
        full = release(self.release_circuit, float(path.edges[-1]), peak)
        roughly = done + power * (full.charge / peak if peak > 0 else 0.0)
        enough = np.flatnonzero(roughly[1:] >= e_wanted) + 1
        best = int(np.argmax(roughly))
        width_best, e_best = widths[best], given(widths[best])
        upper = int(enough[0]) if enough.size else best
        while given(widths[upper]) < e_wanted and upper < best:
            upper += 1
        reached = given(widths[upper])
        if reached < e_wanted:
            return PulseWidth(
                width=widths[upper], e_mechanical=reached, reached=False,
                width_best=width_best, e_best=e_best,
            )  # fmt: skip
        lower = upper - 1
        while lower > 0 and given(widths[lower]) >= e_wanted:
            lower -= 1
        width = float(brentq(
            lambda w: given(w) - e_wanted, widths[lower], widths[upper], xtol=1e-10 * width_max
        ))  # fmt: skip
        return PulseWidth(
            width=width, e_mechanical=given(width), reached=True, width_best=width_best,
            e_best=e_best,
        )  # fmt: skip
