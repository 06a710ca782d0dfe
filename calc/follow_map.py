"""The fast engine: arc and time of a swing as tables over the arc, for runs of many swings."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import require
from calc.follow import DrivenMovement
from calc.follow_batch import many_swings
from calc.units import Count, Radian, RadianCurve, SecondCurve

Array = NDArray[np.float64]

_NODES = 1500
_BOTTOM = 0.02
"""The table begins at this share of its widest arc; below it a movement counts as stopped."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A run from turning point to turning point: the times and the arcs there.

    `stopped` where the arc fell below the table, `wide` where it grew beyond: the run ends there.
    """

    times: SecondCurve
    arcs: RadianCurve
    stopped: bool
    wide: bool


def _rows(movement: DrivenMovement, arcs: Array, direction: int) -> tuple[list[float], list[float]]:
    widths = np.array([movement.pulse_width])
    swings = many_swings(movement, arcs, widths, direction, exact=False)
    after, time = swings.arc_end[:, 0], swings.time[:, 0]
    # A swing that does not come to its turning point has stopped, and so has one of no arc.
    growth = np.log(np.fmax(after, 1e-3 * arcs) / arcs)
    return growth.tolist(), np.where(np.isfinite(time), time, movement.period / 2).tolist()


def run_swings(*, movement: DrivenMovement, arc: Radian, arc_high: Radian, swings: Count) -> Run:
    """Return how the arc of a driven movement goes on, swing after swing.

    Parameters
    ----------
    movement : DrivenMovement
        Movement, coil and circuit.
    arc : float
        Arc at the start, at a turning point on the negative side [rad].
    arc_high : float
        Widest arc that is followed [rad].
    swings : int
        How many swings, one way each [1].

    Returns
    -------
    run : Run
        Times and arcs.

    Raises
    ------
    OutOfRangeError
        If arc is not above zero and below arc_high, if a pendulum would turn over, or if swings
        is below one.

    Notes
    -----
    By tables of growth and time against the arc's logarithm, linear between near nodes;
    held by test_map_follows_the_direct_engine.

    References
    ----------
    Poincare map of a driven oscillator; common practice, no source.

    Examples
    --------
    >>> from calc.clamp_law import ClampLaw
    >>> from calc.follow import Trigger
    >>> from calc.linkage_curve import LinkageCurve
    >>> from calc.switch_law import SwitchLaw
    >>> x = np.linspace(-0.05, 0.05, 201)
    >>> u = x / 8e-3
    >>> bell = 1e-2 * np.exp(-(u**2) / 2)
    >>> curve = LinkageCurve(
    ...     path=x, node_flux=bell, node_slope=-u / 8e-3 * bell,
    ...     node_curvature=(u**2 - 1) / 8e-3**2 * bell,
    ... )
    >>> movement = DrivenMovement(
    ...     kind="pendulum", omega=4.0, inertia=0.2, radius=0.6, q_factor=800.0, linkage=curve,
    ...     v_supply=2.5, r_coil=45.0, l_coil=0.02, switch=SwitchLaw(v_constant=0.1),
    ...     clamp=ClampLaw(v_constant=0.7), pulse_width=0.02, trigger=Trigger(),
    ... )
    >>> run = run_swings(movement=movement, arc=0.1, arc_high=0.4, swings=3000)
    >>> round(float(run.arcs[-1]), 4), run.stopped
    (0.1888, False)
    """
    require((arc > 0) & (arc < arc_high), "run_swings: arc must lie above zero and below arc_high")
    if movement.kind == "pendulum":
        require(arc_high < 2.0, "run_swings: arc_high must stay below 2 rad; a pendulum turns over")
    require(swings >= 1, "run_swings: swings must be one or more")
    low = min(_BOTTOM * arc_high, 0.5 * arc)
    nodes = np.geomspace(low, arc_high, _NODES)
    alike = movement.both_ways and movement.offset == 0
    there = _rows(movement, nodes, 1)
    tables = (there, there if alike else _rows(movement, nodes, -1))
    scale = (_NODES - 1) / float(np.log(arc_high / low))
    top = float(_NODES - 1)
    place, clock = float(np.log(arc / low)) * scale, 0.0
    places, times = [place], [0.0]
    for n in range(swings):
        growth, beat = tables[n & 1]
        k = int(place)
        share = place - k
        clock += beat[k] + share * (beat[k + 1] - beat[k])
        place += scale * (growth[k] + share * (growth[k + 1] - growth[k]))
        places.append(place)
        times.append(clock)
        if not 0 <= place < top:
            break
    return Run(
        times=np.array(times),
        arcs=low * np.exp(np.array(places) / scale),
        stopped=place < 0,
        wide=place >= top,
    )
