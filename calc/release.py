"""The coil's current after the switch has opened, until the clamp has taken it to zero."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray
from scipy.interpolate import CubicHermiteSpline

from calc.clamp_law import ClampLaw

Array = NDArray[np.float64]
Emf = Callable[[Array], Array]

DECAYED = 0.05
"""Share of the current at which the release counts as over for the pickup."""
ZERO = 1e-6
"""Share of the current that counts as zero: the clamp's logarithm never quite ends."""

_EDGES = np.concatenate((np.linspace(1.0, DECAYED, 13), np.geomspace(DECAYED, ZERO, 10)[1:]))
_POINTS, _POINT_WEIGHTS = leggauss(5)
_POINTS = (_POINTS + 1) / 2
_POINT_WEIGHTS = _POINT_WEIGHTS / 2
# Integrals of the Lagrange polynomials on the points, from the panel's start to each point.
_TO_POINT = np.linalg.solve(
    np.vander(_POINTS, 5, increasing=True).T,
    (_POINTS[:, None] ** np.arange(1, 6) / np.arange(1, 6)).T,
).T
_ROUNDS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Release:
    """Times from switching off, the current there, and the integrals over the release."""

    t: Array
    i: Array
    t_decay: float
    t_zero: float
    charge: float
    e_copper: float
    e_clamp: float
    e_mechanical: float
    e_source: float
    i_end: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseCircuit:
    """What the current meets once the switch is open."""

    r_coil: float
    l_coil: float
    clamp: ClampLaw
    v_supply: float
    r_source: float
    emf: Emf
    t_end: float

    def opposing(self, t: Array, i: Array) -> Array:
        """Return everything that drives the current down, in volts."""
        through_supply = self.r_source * i if self.clamp.from_supply else 0.0
        held: Array = self.clamp.opposing(i, self.v_supply) + through_supply
        return self.r_coil * i + held + self.emf(t)


def release(circuit: ReleaseCircuit, t_off: float, i_off: float) -> Release:
    """Return the release from current i_off at time t_off.

    While the current falls all the way, time is a function of current and one quadrature gives
    it; where the EMF drives the coil beyond the clamp's knee the current is marched in time, to
    the end of the EMF's samples at most.
    """
    if i_off <= 0:
        nothing = np.array([0.0])
        return Release(
            t=nothing, i=nothing, t_decay=0.0, t_zero=0.0, charge=0.0, e_copper=0.0,
            e_clamp=0.0, e_mechanical=0.0, e_source=0.0, i_end=0.0,
        )  # fmt: skip
    curve = _falling(circuit, t_off, i_off)
    if curve is None:
        curve = _driven_on(circuit, t_off, i_off)
    return _integrals(circuit, t_off, i_off, *curve)


def _falling(circuit: ReleaseCircuit, t_off: float, i_off: float) -> tuple[Array, Array] | None:
    edges = i_off * _EDGES
    height = -np.diff(edges)[:, None]
    current = edges[:-1, None] - height * _POINTS
    time = np.zeros_like(current)
    starts = np.zeros(len(edges))
    for _ in range(_ROUNDS):
        opposing = circuit.opposing(t_off + time, current)
        if not opposing.min() > 0:
            return None
        pace = circuit.l_coil / opposing
        starts = np.concatenate(([0.0], np.cumsum(height[:, 0] * (pace @ _POINT_WEIGHTS))))
        previous, time = time, starts[:-1, None] + height * (pace @ _TO_POINT.T)
        if np.abs(time - previous).max() <= 1e-12 * starts[-1]:
            break
    else:
        return None
    if not circuit.opposing(t_off + starts, edges).min() > 0:
        return None
    t = np.append(np.column_stack((starts[:-1], time)).ravel(), starts[-1])
    i = np.append(np.column_stack((edges[:-1], current)).ravel(), edges[-1])
    return t, i


class _Gone:
    """The event that ends the fall: the current has gone."""

    terminal = True

    def __init__(self, least: float) -> None:
        self.least = least

    def __call__(self, _t: float, i: Array) -> float:
        return float(i[0]) - self.least


def _driven_on(circuit: ReleaseCircuit, t_off: float, i_off: float) -> tuple[Array, Array]:
    from scipy.integrate import solve_ivp  # noqa: PLC0415  (rare, and slow to load)

    tau = circuit.l_coil / circuit.r_coil

    def fall(t: float, i: Array) -> Array:
        return -circuit.opposing(np.array([t_off + t]), i) / circuit.l_coil

    # Beyond the samples the EMF stays: a current that has not stopped by then never does.
    span = max(circuit.t_end - t_off, 0.0) + 40 * tau
    outcome = solve_ivp(
        fall,
        (0.0, span),
        [i_off],
        method="LSODA",
        rtol=1e-7,
        atol=1e-8 * i_off,
        events=_Gone(ZERO * i_off),
    )
    return outcome.t, outcome.y[0]


def _integrals(circuit: ReleaseCircuit, t_off: float, i_off: float, t: Array, i: Array) -> Release:
    """Return times and energies, integrated over time so that the balance can be wrong."""
    opposing = circuit.opposing(t_off + t, i)
    curve = CubicHermiteSpline(t, i, -opposing / circuit.l_coil)
    length = np.diff(t)[:, None]
    time = t[:-1, None] + length * _POINTS
    weight = length * _POINT_WEIGHTS
    current = curve(time)
    through_supply = circuit.r_source * current**2 if circuit.clamp.from_supply else 0.0 * current
    decayed = np.flatnonzero(i <= DECAYED * i_off * (1 + 1e-12))
    return Release(
        t=t,
        i=i,
        t_decay=float(t[decayed[0]]) if decayed.size else float(t[-1]),
        t_zero=float(t[-1]),
        charge=float(np.sum(weight * current)),
        e_copper=float(np.sum(weight * circuit.r_coil * current**2)),
        e_clamp=float(np.sum(weight * circuit.clamp.voltage(current) * current)),
        e_mechanical=float(np.sum(weight * circuit.emf(t_off + time) * current)),
        e_source=float(np.sum(weight * through_supply)),
        i_end=float(i[-1]),
    )
