"""A captured drive pulse: resistance, inductance, release, charge and energy."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import require, routine
from calc.fit_least import least, linear
from calc.units import (
    Ampere,
    AmpereCurve,
    Coulomb,
    Henry,
    Ohm,
    Ratio,
    Second,
    SecondCurve,
    VoltCurve,
)

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """When a pulse begins and ends, to a part of a sample by straight lines."""

    on: Second
    off: Second

    @property
    def width(self) -> Second:
        """Time from on to off."""
        return self.off - self.on


@dataclass(frozen=True, slots=True, kw_only=True)
class Rise:
    """The current's rise: where it tends to, how fast, and how alike the two are.

    `_sigma` are standard deviations from the noise.
    """

    i_end: Ampere
    i_end_sigma: Ampere
    tau: Second
    tau_sigma: Second
    t_on: Second
    likeness: Ratio
    scatter: Ampere


@routine
def fit_rise(*, t: SecondCurve, current: AmpereCurve) -> Rise:
    """Return final current and time constant of a current that has been switched on.

    Parameters
    ----------
    t : numpy.ndarray
        Times from the switching on to the switching off [s].
    current : numpy.ndarray
        The current at these times [A].

    Returns
    -------
    rise : Rise
        Of i_end (1 - exp(-(t - t_on)/tau)).

    Raises
    ------
    OutOfRangeError
        If there are fewer than twelve samples or the current does not rise.

    Notes
    -----
    By least squares; held by test_rise_of_a_known_coil.

    A pulse shorter than the time constant shows the slope V/L well and neither end nor time
    constant: their correlation is then near one.

    References
    ----------
    Current in a resistor and an inductor in series; any textbook of circuits.

    Examples
    --------
    >>> t = np.linspace(0.0, 0.004, 81)
    >>> noise = 1e-5 * np.sin(np.arange(81.0) ** 2)
    >>> rise = fit_rise(t=t, current=0.05 * -np.expm1(-t / 0.8e-3) + noise)
    >>> round(rise.i_end, 4), round(rise.tau * 1e3, 2)
    (0.05, 0.8)
    """
    require(t.size >= 12, "pulse: t must hold twelve samples; sample faster")
    top = float(np.max(current))
    require(top > abs(float(np.min(current))), "pulse: current must rise; turn the probe round")
    span = float(np.ptp(t))
    u = (t - t[0]) / span

    def wave(p: Array) -> Array:
        late = np.maximum(u - p[2], 0.0) / np.exp(p[1])
        return np.asarray(p[0] * -np.expm1(-late) - current / top)

    tries = [
        least(wave, np.array([1.0, np.log(share), 0.0]), scale=np.array([1.0, 1.0, 0.02]),
              low=np.array([0.0, -7.0, -0.6]), high=np.array([1e3, 7.0, 0.2]))
        for share in (0.05, 0.3, 1.5)
    ]  # fmt: skip
    found = min(tries, key=lambda one: one.cost)
    tau = float(np.exp(found.values[1])) * span
    return Rise(
        i_end=float(found.values[0]) * top, i_end_sigma=float(found.sigmas[0]) * top,
        tau=tau, tau_sigma=float(found.sigmas[1]) * tau,
        t_on=float(t[0]) + float(found.values[2]) * span,
        likeness=found.likeness(0, 1), scatter=found.scatter * top,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class CoilFit:
    """Resistance and inductance from voltage and current; `_sigma` are standard deviations."""

    resistance: Ohm
    resistance_sigma: Ohm
    inductance: Henry
    inductance_sigma: Henry
    likeness: Ratio


@routine
def fit_coil(*, t: SecondCurve, current: AmpereCurve, voltage: VoltCurve) -> CoilFit:
    """Return a coil's resistance and inductance from its voltage and its current.

    Parameters
    ----------
    t : numpy.ndarray
        Times of one pulse [s].
    current : numpy.ndarray
        Current through the coil [A].
    voltage : numpy.ndarray
        Voltage across the coil [V].

    Returns
    -------
    coil : CoilFit
        Resistance, with whatever lies in series inside the measured voltage, and inductance.

    Raises
    ------
    OutOfRangeError
        If there are fewer than twelve samples or no current flows.

    Notes
    -----
    By least squares; held by test_coil_from_voltage_and_current.

    Both are taken from the integral, flux = R charge + L (i - i0): no noise is differentiated.

    References
    ----------
    Faraday's law of induction, no source needed.

    Examples
    --------
    >>> t = np.linspace(0.0, 0.004, 401)
    >>> i = 0.05 * -np.expm1(-t / 0.8e-3)
    >>> coil = fit_coil(t=t, current=i, voltage=np.full(401, 3.0))
    >>> round(coil.resistance, 3), round(coil.inductance, 6)
    (60.0, 0.048)
    """
    require(t.size >= 12, "coil: t must hold twelve samples; sample faster")
    top = float(np.abs(current).max())
    require(top > 0, "coil: current must flow; take the pulse")
    charge, flux = integral(t, current), integral(t, voltage)
    columns = np.stack([charge, current - current[0], np.ones_like(t)], axis=1)
    found = linear(columns, flux)
    return CoilFit(
        resistance=float(found.values[0]), resistance_sigma=float(found.sigmas[0]),
        inductance=float(found.values[1]), inductance_sigma=float(found.sigmas[1]),
        likeness=found.likeness(0, 1),
    )  # fmt: skip


def integral(t: Array, wave: Array) -> Array:
    """Return the running integral of a wave; between samples it is bent by a parabola.

    A trapezium overestimates a bent rise; its correction needs the slope at the two ends only.
    """
    steps = np.diff(t)
    slope = np.gradient(wave, t)
    pieces = steps * (wave[1:] + wave[:-1]) / 2 - steps**2 * (slope[1:] - slope[:-1]) / 12
    return np.concatenate(([0.0], np.cumsum(pieces)))


def edges_of(t: Array, wave: Array, level: float) -> list[Edges]:
    """Return the pulses of a wave that exceeds a level while it is on.

    Parameters
    ----------
    t, wave : numpy.ndarray
        The samples.
    level : float
        Where on ends and off begins; a hysteresis of a fifth of it keeps noise from switching.

    Returns
    -------
    pulses : list of Edges
        Whole pulses only: one that the record cuts off is left out.
    """
    slack = 0.2 * abs(level)
    state = np.where(wave > level + slack, 1, np.where(wave < level - slack, 0, -1))
    known = np.where(state >= 0, np.arange(state.size), 0)
    np.maximum.accumulate(known, out=known)
    filled = state[known]
    filled[filled < 0] = 0
    change = np.diff(filled)
    ups, downs = np.flatnonzero(change == 1), np.flatnonzero(change == -1)
    pulses = []
    for up in ups.tolist():
        later = downs[downs > up]
        if later.size and not (up == 0 and filled[0] == 1):
            pulses.append(
                Edges(on=_meets(t, wave, level, up), off=_meets(t, wave, level, int(later[0])))
            )
    return pulses


def _meets(t: Array, wave: Array, level: float, index: int) -> float:
    """Return where the wave meets the level near an index."""
    first = index
    rising = wave[index + 1] > wave[index]
    while first > 0 and (wave[first] > level) == rising:
        first -= 1
    a, b = float(wave[first]), float(wave[first + 1])
    share = (level - a) / (b - a) if b != a else 0.5
    return float(t[first] + min(max(share, 0.0), 1.0) * (t[first + 1] - t[first]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Release:
    """What follows the switching off: current then, time to a twentieth, to nothing, charge."""

    i_off: Ampere
    t_decay: Second
    t_zero: Second
    charge: Coulomb


@routine
def release_of(*, t: SecondCurve, current: AmpereCurve, t_off: Second, noise: Ampere) -> Release:
    """Return how the current dies away after switching off.

    Parameters
    ----------
    t : numpy.ndarray
        Times [s].
    current : numpy.ndarray
        Current through the coil, clamp and all [A].
    t_off : float
        When the switch opens [s].
    noise : float
        Root mean square noise of the current [A].

    Returns
    -------
    release : Release
        Times are from the switching off; NaN does not occur: what the record cuts off is its end.

    Raises
    ------
    OutOfRangeError
        If noise is negative, t_off lies outside the record, or no current flows then.

    Notes
    -----
    By search; held by test_release_through_a_clamp.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> t = np.linspace(0.0, 0.01, 1001)
    >>> current = np.where(t < 0.002, 0.05, 0.06 * np.exp(-(t - 0.002) / 1e-3) - 0.01)
    >>> found = release_of(t=t, current=np.maximum(current, 0.0), t_off=0.002, noise=0.0)
    >>> round(found.t_decay * 1e3, 2), round(found.t_zero * 1e3, 2)
    (1.57, 1.79)
    """
    require(noise >= 0, "release: noise must not be negative; give its root mean square")
    require((t_off > t[0]) & (t_off < t[-1]), "release: t_off must lie inside the record")
    after = t >= t_off
    later, falling = t[after], current[after]
    i_off = float(np.interp(t_off, t, current))
    require(i_off > 5 * noise, "release: current must flow at t_off; check the probe")
    least_seen = max(2 * noise, 0.005 * i_off)

    def time_below(level: float) -> float:
        below = np.flatnonzero(falling < level)
        if not below.size:
            return float(later[-1] - t_off)
        index = int(below[0])
        if index == 0:
            return 0.0
        a, b = float(falling[index - 1]), float(falling[index])
        share = (a - level) / (a - b)
        return float(later[index - 1] + share * (later[index] - later[index - 1]) - t_off)

    # The last stretch is straight: the clamp's voltage, not the current, sets its slope.
    last = time_below(least_seen)
    t_zero = min(2 * last - time_below(2 * least_seen), float(later[-1] - t_off))
    inside = later <= t_off + t_zero
    charge = float(integral(later[inside], falling[inside])[-1]) if inside.sum() > 1 else 0.0
    return Release(i_off=i_off, t_decay=time_below(0.05 * i_off), t_zero=t_zero, charge=charge)
