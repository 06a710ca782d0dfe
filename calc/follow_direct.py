"""The direct engine: one swing after another, movement and current integrated together."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError, require
from calc.follow import GONE, DrivenMovement, SwingOutcome
from calc.follow_panel import LOOKS, Panel, State
from calc.follow_stretch import ENERGIES, powers, solve
from calc.sign_change import sign_change
from calc.units import Count, Radian, Second

Array = NDArray[np.float64]

_RESOLVED = 1e-7
"""What the last terms of a stretch's series may hold, as a share of the whole.

At the end of a stretch the error is far smaller: some 1e-13 of arc and time.
"""
_FALL = 0.9
"""Share of a released current that may fall away in one stretch."""
_LEFT = 1e-3
"""Share of the largest current that a loop may still hold when the swing turns round."""


class _Course:
    """One swing under way."""

    def __init__(self, movement: DrivenMovement, arc: float, direction: int) -> None:
        self.m = movement
        self.direction = direction
        self.state = State(0.0, -direction * arc, 0.0, 0.0)
        self.rest = "clamp" if movement.looped else "open"
        self.mode = self.rest
        self.drag = direction * movement.work_per_swing / (2 * arc * movement.inertia)
        self.energy = np.zeros(len(ENERGIES))
        self.arc = arc
        self.i_gone = GONE * movement.i_scale
        self.t_cross: float | None = None
        self.t_on: float | None = None
        self.longest = {"open": movement.period / 4, "on": np.inf, "clamp": np.inf}
        tau = movement.l_coil / movement.r_loop
        self.length = {"open": movement.period / 4, "on": tau, "clamp": 2 * tau}
        self.armed = movement.driven(direction) and arc >= movement.trigger.arc_least
        self.releasing = False
        fastest = float(np.sqrt(2 * movement.height(arc))) * movement.omega * movement.radius
        # A tenth more: the pulse itself speeds the magnet up.
        self.reaches_knee = 1.1 * fastest * movement.linkage.slope_peak > movement.knee
        if self.reaches_knee or movement.trigger.kind == "level" or movement.looped:
            # No lobe of the EMF may pass between two looks.
            self.longest["open"] = len(LOOKS) * movement.lobe / (4 * fastest)
        if movement.looped:
            self.longest["clamp"] = min(2 * movement.lobe / fastest, movement.period / 4)
            self.length["clamp"] = self.longest["clamp"]

    def stretch(self, limit: float) -> Panel:
        """Return the next stretch, as long as its series resolves it."""
        mode = self.mode
        h = min(self.length[mode], self.longest[mode], limit)
        if mode == "clamp" and self.releasing and self.m.clamp.junctions:
            h = min(h, self._fall())
        shortest = 1e-7 * self.m.period
        while True:
            panel, left = solve(self.m, self.state, mode, h, arc=self.arc, drag=self.drag)
            if panel is not None and (left <= _RESOLVED or h <= shortest):
                break
            if panel is None and h <= shortest:
                raise OutOfRangeError("follow: the current does not settle; check the circuit")
            h *= 0.5
        panel.powers = powers(self.m, panel, mode, drag=self.drag, releasing=self.releasing)
        power = 1 / (len(panel.by.points) - 1)
        growth = 2.5 if left == 0 else min(2.5, 0.9 * (_RESOLVED / left) ** power)
        if h < limit or growth < 1:
            self.length[mode] = h * growth
        return panel

    def _fall(self) -> float:
        """Return the time in which most of the current falls away, at the pace there is.

        A junction's law bends the sharper the nearer the current comes to nothing: the stretches
        must shrink with it.
        """
        m, s = self.m, self.state
        pace = float(m.held_off(np.array([s.current]))[0]) - self._emf(s)
        return _FALL * s.current * m.l_coil / -pace if pace < 0 else np.inf

    # -- events --------------------------------------------------------------------------------

    def events(self, panel: Panel) -> tuple[float, set[str]]:
        """Return the earliest event within a stretch, as its share; 1 and nothing if none.

        Crossing and trigger may be one moment: what happens together is returned together.
        """
        angle, speed = panel.looked()
        found: list[tuple[float, str]] = []
        d, m = self.direction, self.m

        def first(values: Array, name: str, value: Callable[[float], float]) -> None:
            rising = np.flatnonzero((values[:-1] < 0) & (values[1:] >= 0))
            if rising.size:
                low, high = LOOKS[rising[0]], LOOKS[rising[0] + 1]
                where = sign_change(value, float(low), float(high), xtol=1e-15)
                found.append((where, name))

        if self.t_cross is None:
            first(
                d * (angle * m.radius - m.offset), "cross",
                lambda share: d * (panel.at(share).angle * m.radius - m.offset),
            )  # fmt: skip
        trigger = m.trigger
        if self.armed and trigger.kind == "place":
            first(
                d * (angle * m.radius - m.offset) + trigger.lead, "trigger",
                lambda share: d * (panel.at(share).angle * m.radius - m.offset) + trigger.lead,
            )  # fmt: skip
        if self.armed and trigger.kind == "level":
            first(
                m.grip(angle) * speed - trigger.level, "trigger",
                lambda share: self._emf(panel.at(share)) - trigger.level,
            )  # fmt: skip
        if panel.start.t + panel.length > 0.1 * m.period:
            first(-d * speed, "turn", lambda share: -d * panel.at(share).speed)
        if self.mode == "clamp" and (self.releasing or not m.looped):
            current = panel.by.look @ panel.current
            current[0] = panel.start.current
            first(
                self.i_gone - current, "gone", lambda share: self.i_gone - panel.at(share).current
            )
        if self.mode == "open" and self.reaches_knee:
            first(
                -m.grip(angle) * speed - m.knee, "knee",
                lambda share: -self._emf(panel.at(share)) - m.knee,
            )  # fmt: skip
        earliest = min((where for where, _ in found), default=1.0)
        return earliest, {name for where, name in found if where - earliest < 1e-12}

    def _emf(self, state: State) -> float:
        return float(self.m.grip(np.array([state.angle]))[0]) * state.speed

    # -- the whole swing -----------------------------------------------------------------------

    def run(self, t_on_at: float | None) -> SwingOutcome:
        """Return the swing; `t_on_at` is when the previous pass has set its pulse to begin."""
        m = self.m
        t_on = np.inf
        if m.trigger.kind == "previous" and self.armed:
            t_on = np.inf if t_on_at is None else max(t_on_at, 0.0)
        if m.trigger.kind == "turn" and self.armed:
            t_on = float(m.trigger.delay_at(np.array(self.arc), self.direction))
        t_off = np.inf
        for _ in range(4000):
            edge = t_off if self.mode == "on" else t_on
            panel = self.stretch(edge - self.state.t if np.isfinite(edge) else np.inf)
            share, names = self.events(panel)
            self.energy += panel.energies(share)
            at_edge = share == 1 and np.isfinite(edge)
            self.state = panel.at(share)
            if "turn" in names:
                if self.mode == "on" or self._still_releasing():
                    raise OutOfRangeError(
                        "follow: the pulse must end before the swing does; it lasts beyond the "
                        "turning point: shorten it or swing wider"
                    )
                return self._outcome()
            if "cross" in names:
                self.t_cross = self.state.t
            if "trigger" in names:
                self.armed = False
                t_on = self.state.t + float(m.trigger.delay_at(np.array(self.arc), self.direction))
            if "gone" in names:
                self._rest()
            elif "knee" in names:
                self.mode, self.state = "clamp", self.state._replace(current=self.i_gone)
            reached = at_edge and abs(self.state.t - edge) <= 1e-12 * m.period
            if self.mode != "on" and (reached or t_on <= self.state.t):
                self.mode, self.t_on, self.armed = "on", self.state.t, False
                t_off, t_on = self.state.t + m.pulse_width, np.inf
                self.length["on"] = 2 * m.l_coil / m.r_loop
            elif self.mode == "on" and reached:
                t_off = np.inf
                self._switch_off()
        raise OutOfRangeError("follow: the swing does not end; check inertia and linkage")

    def _switch_off(self) -> None:
        if self.m.looped:
            self.length["clamp"] = 2 * self.m.lag
        self.mode, self.releasing = "clamp", self.state.current > self.i_gone
        if not self.releasing:
            self._rest()

    def _rest(self) -> None:
        """Let the pulse's current be gone; what the EMF drives round a loop flows on."""
        self.mode, self.releasing = self.rest, False
        if not self.m.looped:
            self.state = self.state._replace(current=0.0)

    def _still_releasing(self) -> bool:
        """Whether the pulse's own current is left; in a loop the EMF never lets it be none."""
        least = _LEFT * self.m.i_scale if self.m.looped else 0.0
        return self.mode == "clamp" and self.releasing and self.state.current > least

    def _outcome(self) -> SwingOutcome:
        m = self.m
        arc_end = self.direction * self.state.angle
        if not arc_end > 0:
            raise OutOfRangeError("follow: the movement must pass its middle; it has stopped")
        gain = m.inertia * m.omega**2 * float(m.height(arc_end) - m.height(self.arc))
        energies = dict(zip(ENERGIES, self.energy.tolist(), strict=True))
        return SwingOutcome(
            arc_start=self.arc, arc_end=arc_end, time=self.state.t, t_cross=self.t_cross,
            t_on=self.t_on, e_gain=gain, **energies,
        )  # fmt: skip


def follow_swing(
    *, movement: DrivenMovement, arc: Radian, direction: Count, t_on: Second | None = None
) -> SwingOutcome:
    """Return one swing of a driven movement, from turning point to turning point.

    Parameters
    ----------
    movement : DrivenMovement
        Movement, coil and circuit.
    arc : float
        Angle of the turning point that the swing starts from, without sign [rad].
    direction : int
        1 for a swing in the positive direction, -1 for one back [1].
    t_on : float or None
        When the pulse starts, from the turning point, where the pass before has set it [s].

    Returns
    -------
    outcome : SwingOutcome
        Arcs, times and energies.

    Raises
    ------
    OutOfRangeError
        If arc is not above zero and, for a pendulum, below pi; if direction is neither 1 nor -1;
        if the pulse lasts beyond the turning point or the movement stops.

    Notes
    -----
    By collocation on Radau points, with events found as roots of the series;
    held by test_energy_of_a_swing_closes.

    References
    ----------
    E. Hairer and G. Wanner, Solving Ordinary Differential Equations II, 2nd ed., section IV.5.

    Examples
    --------
    >>> from calc.clamp_law import ClampLaw
    >>> from calc.follow import Trigger
    >>> from calc.linkage_curve import LinkageCurve
    >>> from calc.switch_law import SwitchLaw
    >>> x = np.linspace(-0.05, 0.05, 201)
    >>> u = x / 8e-3
    >>> bell = 1e-3 * np.exp(-(u**2) / 2)
    >>> curve = LinkageCurve(
    ...     path=x, node_flux=bell, node_slope=-u / 8e-3 * bell,
    ...     node_curvature=(u**2 - 1) / 8e-3**2 * bell,
    ... )
    >>> movement = DrivenMovement(
    ...     kind="pendulum", omega=4.0, inertia=0.2, radius=0.6, q_factor=800.0, linkage=curve,
    ...     v_supply=2.5, r_coil=45.0, l_coil=0.02, switch=SwitchLaw(v_constant=0.1),
    ...     clamp=ClampLaw(v_constant=0.7), pulse_width=0.02, trigger=Trigger(delay=0.001),
    ... )
    >>> swing = follow_swing(movement=movement, arc=0.06, direction=1)
    >>> round(swing.arc_end, 7), round(swing.time, 7)
    (0.0599016, 0.7855794)
    """
    require(arc > 0, "follow_swing: arc must be above zero")
    if movement.kind == "pendulum":
        require(arc < np.pi, "follow_swing: arc must stay below 180 degrees")
    require(direction in (1, -1), "follow_swing: direction must be 1 or -1")
    require(t_on is None or abs(t_on) < np.inf, "follow_swing: t_on must be a time")
    return _Course(movement, arc, direction).run(t_on)
