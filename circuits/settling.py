"""How far beyond the wanted arc to look for where a movement settles."""

from dataclasses import dataclass

import numpy as np

from calc.follow import DrivenMovement
from calc.follow_settle import Settled, settle

WIDEST_ARC = 1.2
"""rad; beyond it nobody lets a pendulum with a coil under it swing."""
TURNS_OVER = 1.9
"""rad; wider a pendulum is not followed, whatever the push."""
LOWEST = 6
"""Wanted arc over the smallest that counts as held."""
REACHES = ((2.2, 10), (5.0, 18), (12.0, 30))
"""How far beyond the wanted arc to look, in turn, and with how many arcs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settling:
    """Where it settles, the widest arc looked at, and with how many arcs."""

    settled: Settled
    arc_high: float
    arcs: int


def widest_useful(*, pulse_width: float, best: float, period: float, t_on: float) -> float:
    """Return the widest pulse worth looking at: neither far too wide nor beyond the turn."""
    room = 0.23 * period - max(t_on, 0.0)
    return min(2.5 * max(pulse_width, best), max(room, 1.05 * pulse_width))


def settle_wide(
    movement: DrivenMovement, *, wanted: float, arc_low: float, width_high: float, widths: int,
    arcs_least: int = 0, start: float = 0.0, exact: bool = False,
    q_factors: tuple[float, ...] = (),
) -> Settling:  # fmt: skip
    """Return where a movement settles; only one that outgrows the wanted arc is followed further.

    Parameters
    ----------
    movement : DrivenMovement
        Movement, coil and circuit.
    wanted : float
        The wanted arc [rad].
    arc_low : float
        Smallest arc looked at [rad].
    width_high : float
        Widest pulse looked at [s].
    widths : int
        How many widths are looked at.
    arcs_least : int
        How many arcs are looked at, at the least.
    start : float
        An arc that must lie well within what is looked at [rad].
    exact : bool
        Whether swings beyond the clamp's knee are integrated one by one.
    q_factors : tuple of float
        Other quality factors whose arcs are wanted too.

    Returns
    -------
    found : Settling

    Raises
    ------
    OutOfRangeError
        If the movement cannot be followed.
    """
    most = np.inf
    if movement.kind == "pendulum":
        most = min(max(WIDEST_ARC, 1.2 * wanted, 1.5 * start), TURNS_OVER)
    for reach, arcs in REACHES:
        high = float(min(max(reach * wanted, 1.5 * start), most))
        count = max(arcs, arcs_least)
        settled = settle(
            movement=movement, arc_low=arc_low, arc_high=high, width_high=width_high, arcs=count,
            widths=widths, exact=exact, q_factors=q_factors, least_from=wanted / LOWEST,
        )  # fmt: skip
        if settled.held is not None or not settled.grows or high >= most:
            break
    return Settling(settled=settled, arc_high=high, arcs=count)
