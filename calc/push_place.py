"""Where in a pass a push is cheapest: all starts at once, on the swing as it is without a push."""

from dataclasses import dataclass

import numpy as np

from calc.calculator import require, routine
from calc.crossing import scan
from calc.units import Henry, Joule, JouleCurve, Ohm, RatioCurve, SecondCurve, Volt, VoltCurve

_LEAST_AGAINST = 0.1
"""Share of the clamp's voltage that always opposes a released current."""
_FIRST, _STEPS = 0.03, 240
"""Narrowest width looked at, over the coil's time constant, and how many up to the whole pass."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PushTable:
    """For each start the least width that gives the wanted energy, and what the supply gives.

    All are zero where no width up to the end of the pass gives it.
    """

    widths: SecondCurve
    e_supply: JouleCurve
    efficiency: RatioCurve


@routine
def push_table(
    *,
    t: SecondCurve,
    emf: VoltCurve,
    starts: SecondCurve,
    v_supply: Volt,
    v_lost: Volt,
    r_loop: Ohm,
    l_coil: Henry,
    v_clamp: Volt,
    e_wanted: Joule,
) -> PushTable:
    """Return what a wanted energy costs, by the moment at which the pulse starts.

    Parameters
    ----------
    t : numpy.ndarray
        Rising times of one pass [s].
    emf : numpy.ndarray
        EMF that opposes the drive current; above zero the current does work [V].
    starts : numpy.ndarray
        Moments at which a pulse may start, within the pass [s].
    v_supply : float
        Voltage of the supply [V].
    v_lost : float
        What switch and chopping keep of it on average [V].
    r_loop : float
        Resistance of coil, supply and switch [ohm].
    l_coil : float
        Inductance of the coil [H].
    v_clamp : float
        Voltage that opposes the current after the switch opens [V].
    e_wanted : float
        Energy that the movement needs from the pulse [J].

    Returns
    -------
    table : PushTable
        Widths, energies and the share that becomes motion, for each start.

    Raises
    ------
    OutOfRangeError
        If a value is not above zero (v_lost: below zero or up to v_supply), if the times do not
        rise, or if a start lies outside them.

    Notes
    -----
    By the current's exact decay and sums over the samples;
    held by test_the_cheapest_start_is_that_of_the_direct_engine.

    References
    ----------
    Energy balance of a sustained oscillation; common practice, no source.

    Examples
    --------
    >>> t = np.linspace(0.0, 0.04, 401)
    >>> found = push_table(
    ...     t=t, emf=0.4 * np.sin(t * 75.0), starts=np.array([0.0, 0.01]), v_supply=3.0,
    ...     v_lost=0.1, r_loop=40.0, l_coil=0.02, v_clamp=0.7, e_wanted=2e-4,
    ... )
    >>> found.widths.round(4).tolist(), found.efficiency.round(3).tolist()
    ([0.0147, 0.0091], [0.069, 0.121])
    """
    where = "push_table"
    for name, value in (
        ("v_supply", v_supply), ("r_loop", r_loop), ("l_coil", l_coil), ("v_clamp", v_clamp),
        ("e_wanted", e_wanted),
    ):  # fmt: skip
        require(value > 0, f"{where}: {name} must be above zero")
    require(
        (v_lost >= 0) & (v_lost < v_supply), f"{where}: v_lost must lie from zero to below v_supply"
    )
    require(t.size > 3 and bool((np.diff(t) > 0).all()), f"{where}: times must rise")
    require(
        bool(((starts >= t[0]) & (starts <= t[-1])).all()),
        f"{where}: starts must lie within the pass",
    )
    require(bool(np.isfinite(emf).all()), f"{where}: emf must be finite")
    tau = l_coil / r_loop
    # What the EMF alone drives through the closed loop varies slowly: it is taken between samples.
    step = np.diff(t)
    decay = np.exp(-step / tau)
    lag = tau * np.diff(emf) / step
    opposed = scan(decay, emf[1:] - lag - (emf[:-1] - lag) * decay, float(emf[0])) / r_loop
    # A pulse may be far narrower than a sample and as long as the pass: even steps serve neither.
    span = float(t[-1] - t[0])
    since = np.append(0.0, np.geomspace(_FIRST * min(tau, span), span, _STEPS))
    gone = np.exp(-since / tau)
    at = starts[:, None] + since
    i = (v_supply - v_lost) / r_loop * (1 - gone)
    i = i - np.interp(at, t, opposed) + np.interp(starts, t, opposed)[:, None] * gone
    i = np.maximum(i, 0.0)
    against_it = np.interp(at, t, emf)
    power = i * against_it
    length = np.diff(since)
    given = np.zeros_like(i)
    given[:, 1:] = np.cumsum((power[:, 1:] + power[:, :-1]) / 2 * length, axis=1)
    charge = np.zeros_like(i)
    charge[:, 1:] = np.cumsum((i[:, 1:] + i[:, :-1]) / 2 * length, axis=1)
    against = np.maximum(v_clamp + against_it, _LEAST_AGAINST * v_clamp) / r_loop
    given += against_it * tau * (i - against * np.log1p(i / against))
    over = (given >= e_wanted) & (since > 0) & (at <= t[-1])
    reached = over.any(axis=1)
    rows = np.arange(starts.size)
    high = np.maximum(np.argmax(over, axis=1), 1)
    low = high - 1
    share = (e_wanted - given[rows, low]) / np.where(
        reached, given[rows, high] - given[rows, low], e_wanted
    )
    share = np.clip(share, 0.0, 1.0)
    width = since[low] + share * length[low]
    drawn = v_supply * (charge[rows, low] + share * (charge[rows, high] - charge[rows, low]))
    usable = reached & (drawn > 0)
    return PushTable(
        widths=np.where(usable, width, 0.0),
        e_supply=np.where(usable, drawn, 0.0),
        efficiency=np.where(usable, e_wanted / np.where(usable, drawn, 1.0), 0.0),
    )
