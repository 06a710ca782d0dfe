"""One stretch of a swing: movement and current solved together on Radau points."""

from math import sqrt

import numpy as np
from numpy.typing import NDArray

from calc.follow import DrivenMovement
from calc.follow_panel import Panel, State, rule, unresolved

Array = NDArray[np.float64]

_POINTS_OPEN = 20
_POINTS_DRIVEN = 16
_SHORT = 0.05
"""rad of a swing's phase up to which a stretch counts as short."""
_BENT = 1e-3
"""Change of a law's slope from which Newton's matrix is made anew."""
ENERGIES = (
    "e_supply", "e_source", "e_copper", "e_switch", "e_clamp", "e_mechanical", "e_loss",
    "e_train", "e_brake",
)  # fmt: skip


def _inverse(matrix: Array) -> Array:
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def solve(
    m: DrivenMovement, s: State, mode: str, h: float, *, arc: float, drag: float
) -> tuple[Panel | None, float]:
    """Return the stretch and what its series leaves unresolved; None if it does not settle."""
    by = rule(_POINTS_OPEN if mode == "open" else _POINTS_DRIVEN)
    n, c, w = len(by.points), by.points * h, m.omega
    free = s.angle + s.speed * c
    angle = s.angle * np.cos(w * c) + s.speed / w * np.sin(w * c)
    a = -w * w * m.pull(angle) - m.damping * s.speed - drag
    scale_a = w * w * arc
    carried = s.current > 0 or mode != "open"
    i = np.full(n, s.current)
    grip = np.zeros(n)
    held, stiff = (m.held_on, m.stiff_on) if mode == "on" else (m.held_off, m.stiff_off)
    reach = h / m.l_coil * by.once
    if mode == "on":
        target = s.current + float(held(np.array([s.current]))[0]) / m.r_loop
        target = min(target, 0.95 * m.switch.i_limit)
        i = target + (s.current - target) * np.exp(-c * m.r_loop / m.l_coil)
    before, moved_i = np.inf, 0.0
    inverse: Array = by.identity
    kept: Array | None = None
    once, twice = h * by.once, h * h * by.twice
    # Within a short stretch gravity hardly hangs on where it is: no Newton step is needed.
    solver: Array = by.identity
    if w * h > _SHORT:
        solver = _inverse(solver + (w * w * m.stiffness(angle))[:, None] * twice + m.damping * once)
    for _ in range(40):
        angle = free + twice @ a
        speed = s.speed + once @ a
        wanted = -w * w * m.pull(angle) - m.damping * speed - drag
        if carried:
            grip = m.grip(angle)
            rise = stiff(i)
            # Where the law hardly bends from round to round, one inverse serves on.
            if kept is None or np.abs(rise - kept).max() > _BENT * kept.max():
                inverse, kept = _inverse(by.identity + reach * rise), rise
            step = inverse @ (i - s.current - reach @ (held(i) - grip * speed))
            i = i - step
            moved_i = sqrt(step @ step) / m.i_scale
            wanted += grip * i / m.inertia
        step_a = solver @ (a - wanted)
        a = a - step_a
        moved = sqrt(step_a @ step_a) / scale_a
        if carried:
            moved = max(moved, moved_i)
        if not moved < np.inf:
            return None, np.inf
        # What the next step would still move, if this one's gain holds; or rounding alone.
        if moved < 1e-10 and moved * moved < 1e-14 * before:
            break
        if moved < 1e-12 and moved >= before:
            break
        before = moved
    else:
        return None, np.inf
    left = unresolved(a, by, scale_a)
    if carried:
        left = max(left, unresolved(i, by, m.i_scale))
    return Panel(by, s, h, a, i, grip * speed, speed), left


def powers(m: DrivenMovement, panel: Panel, mode: str, *, drag: float, releasing: bool) -> Array:
    """Return the power of each kind at the points of a stretch."""
    i, speed = panel.current, panel.speed
    rows = np.zeros((len(ENERGIES), len(speed)))
    on = mode == "on"
    share = m.source_share if on else (1.0 if m.clamp.from_supply else 0.0)
    if mode != "open":
        fed = (1.0 if m.clamp.from_supply else m.duty) if on else share
        rows[0] = fed * m.v_supply * i
        rows[1] = share * m.r_source * i**2
        rows[2] = m.r_coil * i**2
        rows[3] = m.duty * m.closed.drop(i) * i if on else 0.0
        rows[4] = ((1 - m.duty) if on else 1.0) * m.clamp.voltage(i) * i
        rows[5] = panel.emf * i
        rows[8] = 0.0 if releasing or on else -rows[5]
    rows[6] = m.inertia * m.damping * speed**2
    rows[7] = m.inertia * drag * speed
    return rows
