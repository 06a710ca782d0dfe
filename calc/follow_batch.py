"""Many swings at once: every arc with every pulse width, in the same arithmetic.

The current while the switch is closed does not know when it will be opened, so one trajectory
an arc serves all widths. Movement and current are iterated together until they agree.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError
from calc.follow import GONE, DrivenMovement
from calc.follow_direct import follow_swing
from calc.follow_free import Flow, approach, leave, loop_current
from calc.follow_panel import legendre, rule

Array = NDArray[np.float64]

_POINTS = 10
_ROUNDS = 60
_PATIENCE = 24
"""Rounds at one pace; most need a dozen."""
_SETTLED = 1e-11
_WILD = 5.0
"""Share of the largest current that no settling step exceeds."""
_EDGES = np.concatenate((np.linspace(1.0, 0.06, 6), np.geomspace(0.06, GONE, 7)[1:]))
_FALL = rule(5)
_HEIGHT = -np.diff(_EDGES)
_SHARES = (_EDGES[:-1, None] - _HEIGHT[:, None] * _FALL.points).ravel()
_DOWN = np.kron(np.tri(len(_HEIGHT), k=-1), np.ones((len(_FALL.points), 1)) * _FALL.weights)
_DOWN += np.kron(np.eye(len(_HEIGHT)), _FALL.once)
_DOWN *= np.repeat(_HEIGHT, len(_FALL.points))
"""Integrates over the fall, from its start to each point."""
_FALL_ROUNDS = 12
_CARRIED = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Swings:
    """One direction's swings: a row for each arc, a column for each width (one if paired).

    `driven` tells of each arc whether the trigger was reached. Energies are those of the coil
    alone: what it gave to the movement and what the supply gave to it.
    """

    arcs: Array
    widths: Array
    arc_end: Array
    time: Array
    e_mechanical: Array
    e_supply: Array
    t_on: Array
    driven: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Blocks:
    """A matrix over the mesh: a panel knows those before it by their last point alone.

    `own` is each panel's part, `carried` what its points keep of the point before it. Panel after
    panel is far less work than the whole matrix where a long pulse has many.
    """

    own: Array
    carried: Array

    def __matmul__(self, values: Array) -> Array:
        done = self.own @ values.reshape(*self.own.shape[:2], -1)
        for p in range(1, len(done)):
            done[p] += self.carried[p, :, None] * done[p - 1, -1]
        return done.reshape(values.shape)


@dataclass(frozen=True, slots=True)
class _Mesh:
    """Panels of Radau points over the longest pulse, one behind the other."""

    edges: Array
    times: Array
    once: _Blocks

    def follower(self, pace: float) -> _Blocks:
        """Return the matrix that solves y' + pace y = g for y at the points, from zero."""
        by = rule(_POINTS)
        lengths = np.diff(self.edges)[:, None, None]
        inverse = np.linalg.inv(by.identity + pace * lengths * by.once)
        return _Blocks(inverse @ (lengths * by.once), inverse.sum(axis=2))

    def rows(self, widths: Array) -> tuple[Array, Array]:
        """Return the rows that give a value and an integral at each width."""
        by, n = rule(_POINTS), _POINTS
        value = np.zeros((len(widths), len(self.times)))
        lengths = np.diff(self.edges)
        which = np.clip(np.searchsorted(self.edges, widths) - 1, 0, len(lengths) - 1)
        share = (widths - self.edges[which]) / lengths[which]
        own = np.arange(len(widths))[:, None], (which * n)[:, None] + np.arange(n)
        terms = legendre(share, n + 1)
        value[own] = terms[:, :n] @ by.series
        ended = np.arange(len(self.times)) < (which * n)[:, None]
        integral = np.where(ended, np.multiply.outer(lengths, by.weights).ravel(), 0.0)
        integral[own] = lengths[which, None] * (terms @ by.series_once)
        return value, integral


def _mesh(movement: DrivenMovement, longest: float, fastest: float) -> _Mesh:
    by = rule(_POINTS)
    tau = movement.l_coil / movement.r_loop
    most = movement.lobe / (1.5 * fastest)
    edges, step = [0.0], 0.6 * tau
    while edges[-1] < longest:
        edges.append(edges[-1] + step)
        step = min(1.6 * step, max(most, 0.6 * tau))
    scale = longest / edges[-1]
    placed = np.array(edges) * scale
    lengths = np.diff(placed)[:, None]
    times = (placed[:-1, None] + lengths * by.points).ravel()
    once = _Blocks(lengths[:, :, None] * by.once, np.ones((len(lengths), _POINTS)))
    return _Mesh(placed, times, once)


@dataclass(frozen=True, slots=True)
class _Held:
    """The driven phase of every arc, at the mesh's points."""

    angle: Array
    speed: Array
    current: Array
    grip: Array
    settled: NDArray[np.bool_]


def _hold(
    movement: DrivenMovement, mesh: _Mesh, angle0: Array, speed0: Array, drag: Array,
    current0: Array,
) -> _Held:  # fmt: skip
    m, t, once = movement, mesh.times[:, None], mesh.once
    w2 = m.omega**2
    reference = np.array([min(0.6 * m.i_scale, 0.5 * m.switch.i_limit)])
    pace = float(m.stiff_on(reference)[0]) / m.l_coil
    follower = mesh.follower(pace)
    angle = angle0 + t * speed0
    speed = np.broadcast_to(speed0, angle.shape)
    i = np.broadcast_to(current0, angle.shape)
    settled = np.zeros(angle.shape[1], dtype=bool)
    grip = m.grip(angle)
    stiff = False
    i_scale, damping, slowest = m.i_scale, m.damping, np.abs(speed0)
    for done in range(_ROUNDS):
        push = grip * speed
        with np.errstate(all="ignore"):
            forced = (m.held_on(i) - push) / m.l_coil + pace * (i - current0)
            new_i = current0 + follower @ forced
            moved = np.abs(new_i - i).max(axis=0) / i_scale
        if stiff or done >= _PATIENCE or not (moved < _WILD).all():
            # A starved switch: its law is too steep to be followed at one pace.
            stiff = True
            new_i = _by_panels(m, mesh, push, i, current0)
            moved = np.abs(new_i - i).max(axis=0) / i_scale
        a = -w2 * m.pull(angle) - damping * speed - drag + grip * new_i / m.inertia
        new_speed = speed0 + once @ a
        moved += np.abs(new_speed - speed).max(axis=0) / slowest
        i, speed = new_i, new_speed
        angle = angle0 + once @ speed
        grip = m.grip(angle)
        settled = moved < _SETTLED
        if settled.all():
            break
    return _Held(angle, speed, i, grip, settled)


def _by_panels(m: DrivenMovement, mesh: _Mesh, push: Array, guess: Array, start: Array) -> Array:
    """Solve the current against a known EMF by Newton's method, panel after panel."""
    by, n = rule(_POINTS), _POINTS
    top = min(m.i_scale, 0.95 * m.switch.i_limit)
    i = np.clip(guess, 0.0, top)
    for p, length in enumerate(np.diff(mesh.edges)):
        own = slice(p * n, (p + 1) * n)
        reach = length * by.once / m.l_coil
        here = i[own]
        for _ in range(60):
            miss = here - start - reach @ (m.held_on(here) - push[own])
            slope = np.eye(n) + reach * m.stiff_on(here).T[:, None, :]
            step = np.linalg.solve(slope, miss.T[:, :, None])[:, :, 0].T
            here = here - step
            # The step after this one would be its square; the rounds judge the whole.
            if np.abs(step).max() < 1e-8 * m.i_scale:
                break
        i[own], start = here, here[-1]
    return i


@dataclass(frozen=True, slots=True)
class _Released:
    """State and energies when the current is gone, a column for each swing."""

    time: Array
    angle: Array
    speed: Array
    e_mechanical: Array
    charge: Array
    falling: NDArray[np.bool_]


def _release(
    movement: DrivenMovement, angle0: Array, speed0: Array, i0: Array, drag: Array
) -> _Released:
    """Follow the current down: time is a function of the current while it falls all the way.

    Where the EMF would carry the current on, it is let fall at a small share of the pace that the
    circuit alone gives; what the lobe beyond the knee takes is counted with the free stretch.
    In a resistor's loop what the pulse left falls by itself, beside what the EMF drives.
    """
    m = movement
    i = _SHARES[:, None] * i0
    # A clamp that never opposes leaves no fall to follow: such columns are told apart below.
    opposed = -m.held_off(i)
    least = np.maximum(_CARRIED * opposed, 1e-6 * m.v_supply)
    in_loop = m.lag / _SHARES[:, None] * np.ones_like(i0)
    angle, speed = np.broadcast_to(angle0, i.shape), np.broadcast_to(speed0, i.shape)
    grip = m.grip(angle0)
    falling = np.ones(i0.shape, dtype=bool)
    pace = t = np.zeros_like(i)
    for _ in range(_FALL_ROUNDS):
        if m.looped:
            pace = in_loop
        else:
            against = opposed + grip * speed
            falling &= (against > least).all(axis=0)
            pace = m.l_coil * i0 / np.maximum(against, least)
        a = -(m.omega**2) * m.pull(angle) - m.damping * speed - drag + grip * i / m.inertia
        before, t = t[-1], _DOWN @ pace
        speed = speed0 + _DOWN @ (a * pace)
        angle = angle0 + _DOWN @ (speed * pace)
        grip = m.grip(angle)
        if np.abs(t[-1] - before).max() <= 1e-9 * t[-1].max():
            break
    return _Released(
        time=t[-1], angle=angle[-1], speed=speed[-1],
        e_mechanical=_DOWN[-1] @ (grip * speed * i * pace), charge=_DOWN[-1] @ (i * pace),
        falling=falling,
    )  # fmt: skip


def many_swings(
    movement: DrivenMovement, arcs: Array, widths: Array, direction: int, *, exact: bool = True,
    paired: bool = False,
) -> Swings:  # fmt: skip
    """Return all swings of one direction, from turning point to turning point.

    Every arc is followed with every width; if `paired` with its own alone, in one column.
    Where a starved switch keeps the iteration from settling, and with `exact` where the EMF stops
    the current or carries it on beyond the clamp's knee, the direct engine gives the swing.
    """
    m = movement
    flow = approach(m, arcs, direction)
    shape = (len(arcs), 1 if paired else len(widths))
    driven = flow.driven & m.driven(direction)
    angle = np.broadcast_to(flow.angle[:, None], shape).copy()
    speed = np.broadcast_to(flow.speed[:, None], shape).copy()
    t = np.broadcast_to((flow.t_on + flow.late)[:, None], shape).copy()
    border = angle.copy() if m.looped else angle
    given, supplied = np.zeros(shape), np.zeros(shape)
    regular = np.ones(shape, dtype=bool)
    some = np.flatnonzero(driven)
    if some.size:
        fastest = float(np.abs(flow.speed[some]).max()) * m.radius
        mesh = _mesh(m, float(widths.max()), fastest)
        held = _hold(
            m, mesh, flow.angle[some], flow.speed[some], flow.drag[some], flow.current[some]
        )
        value, integral = mesh.rows(widths[some] if paired else widths)
        i_off = _off(value, held.current, paired)
        angle_off = flow.angle[some] + _off(integral, held.speed, paired)
        speed_off = _off(value, held.speed, paired)
        on = _off(integral, held.grip * held.speed * held.current, paired)
        charge = _off(integral, held.current, paired)
        drag = np.broadcast_to(flow.drag[some], i_off.shape)
        i_kept = np.maximum(i_off, 0.0)
        if m.looped:
            i_kept = i_off - loop_current(m, angle_off, speed_off)
            border[some] = angle_off.T
        out = _release(m, angle_off.ravel(), speed_off.ravel(), i_kept.ravel(), drag.ravel())
        fall = {name: getattr(out, name).reshape(i_off.shape).T for name in _Released.__slots__}
        angle[some], speed[some] = fall["angle"], fall["speed"]
        t[some] += (widths[some, None] if paired else widths) + fall["time"]
        given[some] = on.T + fall["e_mechanical"]
        fed = 1.0 if m.clamp.from_supply else m.duty
        supplied[some] = m.v_supply * fed * charge.T
        if m.clamp.from_supply:
            supplied[some] += m.v_supply * fall["charge"]
        regular[some] = held.settled[:, None]
        if exact and not m.looped:
            # A current that the EMF has stopped before the switch opens is the knee's affair too.
            regular[some] &= fall["falling"] & (i_off.T > 0)
    drag_all = np.repeat(flow.drag, shape[1])
    after = leave(m, angle.ravel(), speed.ravel(), drag_all, direction, border.ravel())
    arc_end, time = after.arc.reshape(shape), t + after.time.reshape(shape)
    regular &= np.isfinite(arc_end)
    for row, column in np.argwhere(~regular):
        single = _single(m, arcs[row], widths[row if paired else column], direction, flow)
        arc_end[row, column], time[row, column] = single[0], single[1]
        given[row, column], supplied[row, column] = single[2], single[3]
    return Swings(
        arcs=arcs, widths=widths, arc_end=arc_end, time=time, e_mechanical=given,
        e_supply=supplied, t_on=np.where(driven, flow.t_on, np.nan), driven=driven,
    )  # fmt: skip


def _off(weights: Array, samples: Array, paired: bool) -> Array:
    """Return what stands at each width, a column for each arc; one row if each has its own."""
    return np.einsum("kp,pk->k", weights, samples)[None] if paired else weights @ samples


def _single(
    movement: DrivenMovement, arc: float, width: float, direction: int, flow: Flow
) -> tuple[float, float, float, float]:
    """Return one swing by the direct engine; zero arc where the movement would stop."""
    t_on = None
    if movement.trigger.kind == "previous":
        t_on = float(flow.t_on[np.argmin(np.abs(flow.arcs - arc))])
    try:
        swing = follow_swing(
            movement=replace(movement, pulse_width=float(width)), arc=float(arc),
            direction=direction, t_on=t_on,
        )  # fmt: skip
    except OutOfRangeError:
        return np.nan, np.nan, np.nan, np.nan
    return swing.arc_end, swing.time, swing.e_mechanical, swing.e_supply
