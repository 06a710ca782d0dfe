"""The pulse: the coil's current from switching on until the clamp has taken it to zero."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicHermiteSpline, CubicSpline
from scipy.optimize import brentq

from calc.calculator import require, routine
from calc.clamp_law import ClampLaw
from calc.release import ReleaseCircuit, release
from calc.stiff_steps import Equation, Trajectory, solve_steps, step_nodes
from calc.switch_law import SwitchLaw
from calc.units import (
    Ampere,
    AmpereCurve,
    Coulomb,
    Henry,
    Joule,
    Ohm,
    Ratio,
    Second,
    SecondCurve,
    Volt,
    VoltCurve,
    Watt,
)

Array = NDArray[np.float64]

_CLOSED = 1e-7
"""Steps are split until the balance of the driven phase closes to this."""
_REFINEMENTS = 8
_JUMP = 0.005
"""Share of the supply by which the switch's drop may change within a step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseOutcome:
    """One pulse at one state of the supply; energies by who takes them.

    `t` is on the clock of the EMF (zero: magnet on the coil's axis) and `i` the current there.
    `t_decay` and `t_zero` count from switching off, to a twentieth and to a millionth.
    `e_supply` is what the supply gives to the coil's branch, `e_source` the share lost in the
    cells' own resistance.
    """

    i_peak: Ampere
    i_off: Ampere
    q_supply: Coulomb
    e_supply: Joule
    e_source: Joule
    e_copper: Joule
    e_switch: Joule
    e_clamp: Joule
    e_mechanical: Joule
    e_stored_end: Joule
    e_base: Joule
    v_switch_end: Volt
    v_switch_peak: Volt
    t_decay: Second
    t_zero: Second
    t: SecondCurve
    i: AmpereCurve

    @property
    def balance_error(self) -> float:
        """Share of the supplied energy that the contributors leave unexplained [1]."""
        explained = (
            self.e_source + self.e_copper + self.e_switch + self.e_clamp + self.e_mechanical
            + self.e_stored_end
        )  # fmt: skip
        return (self.e_supply - explained) / self.e_supply


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseWidth:
    """The least width that gives the wanted energy, or the best there is if none does.

    `width_best` is the step of the search at which the energy is greatest, `e_best` its energy.
    """

    width: Second
    e_mechanical: Joule
    reached: bool
    width_best: Second
    e_best: Joule


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseCircuit:
    """The coil with its supply, switch and clamp; `duty` chops the supply faster than L / R.

    `t_emf` and `emf` sample the back EMF, positive where the coil's current does work.
    """

    v_supply: Volt
    r_source: Ohm
    r_coil: Ohm
    l_coil: Henry
    switch: SwitchLaw
    clamp: ClampLaw
    duty: Ratio
    p_base: Watt
    t_emf: SecondCurve
    emf: VoltCurve


class _Solver:
    """The driven phase of one circuit from one moment on; it does not depend on the width."""

    def __init__(self, circuit: PulseCircuit, t_on: float) -> None:
        self.circuit = circuit
        self.t_on = t_on
        self.spline = CubicSpline(circuit.t_emf, circuit.emf)
        self.last = float(circuit.t_emf[-1])
        self.source_share = 1.0 if circuit.clamp.from_supply else circuit.duty
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
        c = self.circuit
        return (c.duty * c.v_supply - self.opposed(t, i)) / c.l_coil

    def opposed(self, t: Array, i: Array) -> Array:
        c = self.circuit
        held = c.duty * c.switch.drop(i) + (self.source_share * c.r_source + c.r_coil) * i
        if c.duty < 1:
            held = held + (1 - c.duty) * c.clamp.opposing(i, c.v_supply)
        return np.asarray(held + self.emf(t))

    def rate_slope(self, _t: Array, i: Array) -> Array:
        c = self.circuit
        slope = c.r_coil + self.source_share * c.r_source + c.duty * c.switch.slope(i)
        if c.duty < 1:
            slope = slope + (1 - c.duty) * c.clamp.slope(i)
        return -slope / c.l_coil

    def edges(self, width: float) -> Array:
        c = self.circuit
        tau = c.l_coil / (c.r_coil + c.r_source)
        first = min(tau / 3, width / 30)
        longest = width / 40
        rising = np.arange(1, int(np.ceil(12 * tau / first)) + 1) * first
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
            if abs(error) <= _CLOSED:
                break
            edges = self.refined(path)
            guess = np.interp(step_nodes(edges), path.edges, path.at_edges(0.0))
        return path, error

    def refined(self, path: Trajectory) -> Array:
        """Return the edges with those steps split in which the switch's drop jumps."""
        drop = self.circuit.switch.drop(np.column_stack((path.at_edges(0.0)[:-1], path.values)))
        jump = np.ptp(drop, axis=1) > _JUMP * self.circuit.v_supply
        start, step = path.edges[:-1], np.diff(path.edges)
        if not jump.any():
            jump = np.ones_like(jump)
        inner = start[jump, None] + step[jump, None] * np.array([0.25, 0.5, 0.75])
        return np.sort(np.concatenate((path.edges, inner.ravel())))

    def balance(self, path: Trajectory) -> float:
        c, i = self.circuit, path.values
        drawn = c.duty * c.v_supply * path.integral(i)
        stored = c.l_coil * path.values[-1, 2] ** 2 / 2
        return float((drawn - path.integral(self.opposed(path.nodes, i) * i) - stored) / drawn)

    def outcome(self, width: float) -> PulseOutcome:
        """Return the whole pulse of one width."""
        c = self.circuit
        path, _ = self.drive(width)
        i, emf = path.values, self.emf(path.nodes)
        i_off = float(i[-1, 2])
        t_off = float(path.edges[-1])
        tail = release(self.release_circuit, t_off, i_off)
        charge = c.duty * path.integral(i)
        clamped = (1 - c.duty) * path.integral(c.clamp.voltage(i) * i) if c.duty < 1 else 0.0
        if c.clamp.from_supply:
            charge += (1 - c.duty) * path.integral(i) + tail.charge
        supplied = c.v_supply * charge
        terms = {
            "e_source": self.source_share * c.r_source * path.integral(i**2) + tail.e_source,
            "e_copper": c.r_coil * path.integral(i**2) + tail.e_copper,
            "e_switch": c.duty * path.integral(c.switch.drop(i) * i),
            "e_clamp": clamped + tail.e_clamp,
            "e_mechanical": path.integral(emf * i) + tail.e_mechanical,
            "e_stored_end": c.l_coil * tail.i_end**2 / 2,
        }
        at_edges = path.at_edges(0.0)
        return PulseOutcome(
            i_peak=max(float(at_edges.max()), float(i.max())),
            i_off=i_off,
            q_supply=charge,
            e_supply=supplied,
            **terms,
            e_base=c.p_base * width * c.duty,
            v_switch_end=float(c.switch.drop(i_off)),
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
        widths = path.edges - self.t_on
        current = path.at_edges(0.0)
        power = self.emf(path.edges) * current
        done = path.running(self.emf(path.nodes) * path.values)
        i_at = CubicHermiteSpline(widths, current, self.rate(path.edges, current))
        done_at = CubicHermiteSpline(widths, done, power)

        def given(width: float) -> float:
            tail = release(self.release_circuit, self.t_on + width, float(i_at(width)))
            return float(done_at(width)) + tail.e_mechanical

        full = release(self.release_circuit, float(path.edges[-1]), float(current.max()))
        roughly = done + power * full.charge / float(current.max())
        enough = np.flatnonzero(roughly[1:] >= e_wanted) + 1
        best = int(np.argmax(roughly))
        width_best, e_best = float(widths[best]), given(widths[best])
        upper = int(enough[0]) if enough.size else best
        while given(widths[upper]) < e_wanted and upper < best:
            upper += 1
        reached = given(widths[upper])
        if reached < e_wanted:
            return PulseWidth(
                width=float(widths[upper]), e_mechanical=reached, reached=False,
                width_best=width_best, e_best=e_best,
            )  # fmt: skip
        lower = upper - 1
        while lower > 0 and given(widths[lower]) >= e_wanted:
            lower -= 1
        width = brentq(
            lambda w: given(w) - e_wanted, widths[lower], widths[upper], xtol=1e-10 * width_max
        )
        return PulseWidth(
            width=float(width), e_mechanical=given(width), reached=True, width_best=width_best,
            e_best=e_best,
        )  # fmt: skip


def _check(circuit: PulseCircuit, t_on: float) -> None:
    require(circuit.v_supply > 0, "coil_pulse: v_supply must be above zero")
    require(circuit.r_coil > 0, "coil_pulse: r_coil must be above zero")
    require(circuit.l_coil > 0, "coil_pulse: l_coil must be above zero")
    require(circuit.r_source >= 0, "coil_pulse: r_source must not be below zero")
    require(circuit.p_base >= 0, "coil_pulse: p_base must not be below zero")
    require(
        (circuit.duty > 0) & (circuit.duty <= 1),
        "coil_pulse: duty must lie above 0 and up to 1; it is the share of the pulse that is on",
    )
    require(
        len(circuit.t_emf) == len(circuit.emf) and len(circuit.t_emf) >= 4,
        "coil_pulse: t_emf and emf must have the same number of samples, four or more",
    )
    require(
        (t_on >= circuit.t_emf[0]) & (t_on <= circuit.t_emf[-1]),
        "coil_pulse: t_on must lie within the samples of the EMF; sample a longer pass",
    )


@routine
def coil_pulse(*, circuit: PulseCircuit, t_on: Second, pulse_width: Second) -> PulseOutcome:
    """Return current, energies and release of one pulse.

    Parameters
    ----------
    circuit : PulseCircuit
        Supply, coil, switch, clamp and back EMF.
    t_on : float
        Moment of switching on, on the clock of the EMF [s].
    pulse_width : float
        How long the switch stays closed [s].

    Returns
    -------
    outcome : PulseOutcome
        The pulse with its release.

    Raises
    ------
    OutOfRangeError
        If a value of the circuit is not above zero (r_source, p_base: below zero), the duty lies
        outside 0 to 1, the EMF has too few samples or does not cover t_on, or pulse_width is
        not above zero.

    Notes
    -----
    By collocation of v = i r + l di/dt + e + v_switch(i), then by quadrature of the release;
    held by test_balance_of_the_pulse_closes.

    References
    ----------
    E. Hairer and G. Wanner, Solving Ordinary Differential Equations II, 2nd ed., section IV.5
    (Radau IIA methods; coefficients checked by their own order conditions).

    Examples
    --------
    >>> still = np.zeros(5)
    >>> circuit = PulseCircuit(
    ...     v_supply=3.0, r_source=0.0, r_coil=30.0, l_coil=0.012, duty=1.0, p_base=0.0,
    ...     switch=SwitchLaw(), clamp=ClampLaw(v_constant=0.7),
    ...     t_emf=np.linspace(0.0, 0.02, 5), emf=still,
    ... )
    >>> outcome = coil_pulse(circuit=circuit, t_on=0.0, pulse_width=0.01)
    >>> round(outcome.i_off, 6), round(outcome.t_zero * 1e3, 4)
    (0.1, 0.666)
    """
    _check(circuit, t_on)
    require(pulse_width > 0, "coil_pulse: pulse_width must be above zero")
    return _Solver(circuit, t_on).outcome(pulse_width)


@routine
def least_pulse_width(
    *, circuit: PulseCircuit, t_on: Second, e_wanted: Joule, width_max: Second
) -> PulseWidth:
    """Return the least pulse width whose mechanical energy reaches what a beat loses.

    Parameters
    ----------
    circuit : PulseCircuit
        Supply, coil, switch, clamp and back EMF.
    t_on : float
        Moment of switching on, on the clock of the EMF [s].
    e_wanted : float
        Mechanical energy that the pulse must give [J].
    width_max : float
        Widest pulse that may be considered [s].

    Returns
    -------
    found : PulseWidth
        The width; with `reached` false, the width that gives the most.

    Raises
    ------
    OutOfRangeError
        As for the pulse itself, and if e_wanted or width_max is not above zero.

    Notes
    -----
    By root finding on one driven trajectory with its releases; held by
    test_least_width_gives_the_wanted_energy.

    References
    ----------
    Energy balance of a sustained oscillation; common practice, no source.

    Examples
    --------
    >>> t = np.linspace(0.0, 0.04, 41)
    >>> circuit = PulseCircuit(
    ...     v_supply=3.0, r_source=0.0, r_coil=30.0, l_coil=0.012, duty=1.0, p_base=0.0,
    ...     switch=SwitchLaw(), clamp=ClampLaw(v_constant=0.7), t_emf=t, emf=5.0 * t,
    ... )
    >>> found = least_pulse_width(circuit=circuit, t_on=0.0, e_wanted=5e-5, width_max=0.03)
    >>> round(found.width * 1e3, 3), found.reached
    (14.026, True)
    """
    _check(circuit, t_on)
    require(e_wanted > 0, "least_pulse_width: e_wanted must be above zero")
    require(width_max > 0, "least_pulse_width: width_max must be above zero")
    return _Solver(circuit, t_on).least_width(e_wanted, width_max)
