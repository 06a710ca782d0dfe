"""The parts of a swing without current, for many arcs at once: up to the pulse, and after it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.follow import GONE, DrivenMovement
from calc.follow_panel import chebyshev, rule

Array = NDArray[np.float64]

_POINTS = 18
_SPAN = 0.4
"""Share of a period that is followed from a turning point on."""
_LOOKS = np.linspace(0.02, 1.0, 400)
_LOOKED = np.ascontiguousarray(chebyshev(_LOOKS, _POINTS + 2).T)
_BRAKE_PLACES = 145
_CLOSE = 1e-8
"""Step of Newton's method, in the logarithm, after which the next one would be rounding."""
_TURN = 0.96
"""Share of the height at which a phase still counts: braking at the turning point is none."""


@dataclass(frozen=True, slots=True)
class Flow:
    """Where each arc stands when its pulse starts, or a quarter of a period on without one.

    `late` is how much later a clamp that braked on the way lets it turn round, `current` what
    flows already where a resistor closes the coil's loop.
    """

    arcs: Array
    t_on: Array
    angle: Array
    speed: Array
    drag: Array
    driven: NDArray[np.bool_]
    late: Array
    current: Array


@dataclass(frozen=True, slots=True)
class Left:
    """The turning point that each swing comes to, and the time until then."""

    arc: Array
    time: Array


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A free stretch of many columns; `waves` holds angle, speed and acceleration, by series."""

    span: float
    angle0: Array
    speed0: Array
    waves: Array

    def at(self, share: Array) -> tuple[Array, Array, Array]:
        """Return angle, speed and acceleration of each column at its own share."""
        h = self.span
        terms = chebyshev(share, self.waves.shape[1])
        two, once, bare = np.einsum("skc,kc->sc", self.waves, terms)
        return self.angle0 + share * h * self.speed0 + h * h * two, self.speed0 + h * once, bare

    def looked(self) -> tuple[Array, Array]:
        """Return angles and speeds of all columns at the same fine row of shares."""
        h = self.span
        two, once, _ = _LOOKED @ self.waves
        speed = self.speed0 + h * once
        return self.angle0 + _LOOKS[:, None] * h * self.speed0 + h * h * two, speed


def _stretch(
    m: DrivenMovement, angle0: Array, speed0: Array, drag: Array, span: float, damping: float
) -> _Stretch:
    by = rule(_POINTS)
    c = by.points[:, None] * span
    one, two = span * by.once, span * span * by.twice
    w = m.omega
    angle = angle0 * np.cos(w * c) + speed0 / w * np.sin(w * c)
    a = -w * w * m.pull(angle)
    # One matrix for all columns: the mean stiffness of the widest swing that is likely here.
    mean = float(np.mean(m.stiffness(angle)))
    solver = np.linalg.inv(np.eye(len(by.points)) + w * w * mean * two + damping * one)
    scale = w * w * np.maximum(np.abs(angle0), np.abs(speed0) / w).max()
    for _ in range(80):
        angle = angle0 + c * speed0 + two @ a
        speed = speed0 + one @ a
        step = solver @ (a + w * w * m.pull(angle) + damping * speed + drag)
        a = a - step
        if np.abs(step).max() < 1e-13 * scale:
            break
    return _Stretch(span, angle0, speed0, by.waves @ a)


def _crossing(flow: _Stretch, m: DrivenMovement, place: float, direction: int) -> Array:
    """Return the share at which each column passes a place; NaN where it does not."""
    target, reach = place / m.radius, np.abs(flow.angle0)
    share = np.full(flow.angle0.shape, 0.25 / _SPAN)
    for _ in range(9):
        angle, speed, _ = flow.at(share)
        missed = angle - target
        if np.abs(missed).max() < 1e-14 * reach.max():
            break
        # A column that never gets there would run away: it is kept inside and told apart below.
        rate = direction * np.maximum(np.abs(speed), 1e-6 * m.omega * reach)
        share = np.clip(share - missed / (flow.span * rate), 0.005, 1.0)
    hit = (np.abs(missed) < 1e-9 * reach) & (direction * speed > 0)
    return np.where(hit, share, np.nan)


def _rising(flow: _Stretch, m: DrivenMovement, level: float) -> Array:
    """Return the share at which each column's EMF first rises through a level; NaN if never."""
    angle, speed = flow.looked()
    above = m.grip(angle) * speed - level
    rises = (above[:-1] < 0) & (above[1:] >= 0)
    first = np.argmax(rises, axis=0)
    low, high = _LOOKS[first], _LOOKS[first + 1]
    for _ in range(46):
        middle = (low + high) / 2
        angle_m, speed_m, _ = flow.at(middle)
        up = m.grip(angle_m) * speed_m >= level
        low, high = np.where(up, low, middle), np.where(up, middle, high)
    return np.where(rises.any(axis=0), high, np.nan)


def approach(m: DrivenMovement, arcs: Array, direction: int) -> Flow:
    """Return every arc's state when its pulse starts."""
    drag = direction * m.work_per_swing / (2 * arcs * m.inertia)
    start, still = -direction * arcs, np.zeros_like(arcs)
    span = _SPAN * m.period
    flow = _stretch(m, start, still, drag, span, m.damping)
    trigger = m.trigger
    quarter = np.full(arcs.shape, 0.25 / _SPAN)
    delay = trigger.delay_at(arcs, direction)
    if not m.driven(direction):
        share = np.full(arcs.shape, np.nan)
    elif trigger.kind == "place":
        event = _crossing(flow, m, m.offset - direction * trigger.lead, direction)
        share = event + delay / span
    elif trigger.kind == "level":
        share = _rising(flow, m, trigger.level) + delay / span
    elif trigger.kind == "turn":
        share = delay / span
    else:
        # The pass before, run backwards: from the same turning point to the coil, with the losses
        # feeding the swing.
        back = _stretch(m, start, still, -drag, span, -m.damping)
        share = delay / span - _crossing(back, m, m.offset, direction)
    driven = (share > 0.005) & (share < 0.98) & (arcs >= trigger.arc_least)
    share = np.where(driven, share, quarter)
    angle, speed, _ = flow.at(share)
    braked = _brake(m, arcs, direction, angle, before=True)
    taken = _taken(m, m.height(arcs), braked.work)
    speed = direction * np.sqrt(np.maximum(speed**2 + 2 * m.omega**2 * taken, 0))
    carried = loop_current(m, angle, speed)
    return Flow(arcs, share * span, angle, speed, drag, driven, braked.late, carried)


def loop_current(m: DrivenMovement, angle: Array, speed: Array) -> Array:
    """Return the current that the EMF alone drives round a closed loop; none without a loop."""
    if not m.looped:
        return np.zeros_like(angle)
    before = m.grip(angle - speed * m.lag)
    return np.asarray(-before * speed / (m.r_coil + m.clamp.resistance))


def leave(
    m: DrivenMovement, angle: Array, speed: Array, drag: Array, direction: int,
    braked_from: Array | None = None,
) -> Left:  # fmt: skip
    """Return the turning points that follow; NaN for a swing that does not reach one.

    The clamp brakes without a pulse from there on, or from the places `braked_from`.
    """
    w = m.omega
    energy = np.sqrt(np.maximum(speed**2 / w**2 + 2 * m.height(angle), 1e-300))
    # Twice the sine of half the arc is the root of twice the height, for a pendulum.
    reach = energy if m.kind == "balance" else 2 * np.arcsin(np.minimum(energy / 2, 0.999))
    left = np.arccos(np.clip(direction * angle / reach, -1, 1)) / w
    span = 1.12 * float(left.max())
    flow = _stretch(m, angle, speed, drag, span, m.damping)
    share = left / span
    for _ in range(6):
        _, rate, a = flow.at(share)
        step = rate / (span * np.where(direction * a < 0, a, -direction * w * w))
        share = np.clip(share - step, 0.0, 1.2)
        if np.abs(step).max() < 1e-13:
            break
    arc, rate, _ = flow.at(share)
    arc = direction * arc
    reached = (share < 1.1) & (arc > 0)
    border = angle if braked_from is None else braked_from
    braked = _brake(m, np.where(reached, arc, 0.0), direction, border, before=False)
    if np.any(braked.work):
        height = np.maximum(m.height(arc) + _taken(m, m.height(arc), braked.work), 0)
        root = np.sqrt(2 * height)
        arc = root if m.kind == "balance" else 2 * np.arcsin(root / 2)
    return Left(np.where(reached, arc, np.nan), share * span + braked.late)


def _taken(m: DrivenMovement, height: Array, work: Array) -> Array:
    """Return the change of height that braking makes, found at the speeds of an unbraked swing.

    Round a closed loop every part of it goes as the energy that is left.
    """
    change = work / (m.inertia * m.omega**2)
    if not m.looped:
        return np.asarray(change)
    height = np.maximum(height, 1e-300)
    return np.asarray(height * np.expm1(change / height))


def clamp_braking(m: DrivenMovement, arc: float, direction: int) -> float:
    """Return the energy that the clamp takes from a swing without a pulse.

    A diode conducts in the lobes of one sign, a resistor in all of them.
    """
    arcs, middle = np.array([arc]), np.array([m.offset / m.radius])
    parts = [_brake(m, arcs, direction, middle, before=before) for before in (True, False)]
    return -float(parts[0].work[0] + parts[1].work[0])


@dataclass(frozen=True, slots=True)
class _Brake:
    """Work of the clamp, below zero, and how much later the turning point comes by its place."""

    work: Array
    late: Array


def _brake(
    m: DrivenMovement, arcs: Array, direction: int, border: Array, *, before: bool
) -> _Brake:
    """Return what the clamp takes where the EMF exceeds its knee without a pulse.

    The current there follows the EMF after the coil's own time. Energy taken at a phase shifts
    the swing by the phase's tangent; up to the border it is taken off the speed at the border.
    A resistor has no knee: it conducts in the lobes of both signs.
    """
    none = np.zeros_like(arcs)
    knee = m.knee
    fastest = m.omega * m.radius * float(np.sqrt(2 * m.height(arcs.max()))) if arcs.size else 0.0
    if not m.looped and fastest * m.linkage.slope_peak <= knee:
        return _Brake(none, none)
    reach = 6 * m.lobe
    low, high = (m.offset - reach) / m.radius, (m.offset + reach) / m.radius
    places = np.linspace(low, high, _BRAKE_PLACES)
    grip = direction * m.grip(places)
    # Where even the widest swing, its loss given back, stays below the knee there is nothing.
    most = fastest / m.radius * np.sqrt(1 + np.pi * m.damping / m.omega)
    loud = np.full(grip.shape, True) if m.looped else -grip * most > knee
    if not loud.any():
        return _Brake(none, none)
    places, grip = places[loud][:, None], grip[loud][:, None]
    top, here = np.maximum(m.height(arcs), 1e-300), m.height(places)
    phase = _phase(m, places, top, direction)
    # Near the knee a thousandth of the speed counts: the loss on the way so far, or still to come.
    gone = (phase + np.pi / 2 + np.sin(phase) * np.cos(phase)) / np.pi
    lost = np.pi * m.damping / m.omega * top * (-gone if before else 1 - gone)
    rest = np.maximum(top + lost - here, 0)
    speed = m.omega * np.sqrt(2 * rest)
    driving = -grip * speed
    width = (high - low) / (_BRAKE_PLACES - 1)
    # A place stands for the stretch about it, of which the border may cut a part off; round a
    # loop its current flows when the magnet has gone on.
    on = speed * m.lag if m.looped else 0.0
    past = (direction * (places - border) + on) / width
    part = np.clip(0.5 + (-past if before else past), 0.0, 1.0)
    over = (part > 0) & ((speed > 0) if m.looped else (driving > knee))
    if not over.any():
        return _Brake(none, none)
    excess = driving[over]
    current = excess / (m.r_coil + m.clamp.resistance) if m.looped else _through(m, excess)
    lag = m.l_coil / m.stiff_off(current)
    everywhere = np.broadcast_to(places, driving.shape)[over]
    later = everywhere + direction * speed[over] * lag
    work = np.zeros_like(driving)
    work[over] = direction * m.grip(later) * current * part[over] * width
    shift = np.zeros_like(driving)
    shift[over] = np.tan(_phase(m, later, np.broadcast_to(top, driving.shape)[over], direction))
    if before:
        shift -= np.tan(_phase(m, border, top, direction))
    late = (work * shift).sum(axis=0) / (2 * m.inertia * m.omega**3 * top)
    return _Brake(work.sum(axis=0), late)


def _through(m: DrivenMovement, excess: Array) -> Array:
    """Return the current that an EMF beyond the knee drives through coil and clamp."""
    i_gone = GONE * m.i_scale
    # In the current's logarithm the clamp's law is convex: from above the steps cannot overshoot.
    current = excess / m.r_coil
    for _ in range(12):
        miss = -m.held_off(current) - excess
        fall = np.maximum(-miss / (current * m.stiff_off(current)), -20.0)
        current = np.maximum(current * np.exp(fall), 1e-3 * i_gone)
        if np.abs(fall).max() < _CLOSE:
            break
    return np.maximum(current, i_gone)


def _phase(m: DrivenMovement, angle: Array, top: Array, direction: int) -> Array:
    """Return the swing's phase at an angle, from the middle."""
    share = np.sqrt(np.minimum(m.height(angle) / top, _TURN))
    return np.asarray(direction * np.sign(angle) * np.arcsin(share))
