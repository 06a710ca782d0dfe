"""A driven movement as one system, and what one of its swings turns out to be.

A swing runs from one turning point to the next. The angle, its rate and the coil's current obey

    angle'' = -omega^2 f(angle) - (omega / q_factor) angle' - drag + torque / inertia
    l_coil current' = drive voltage - losses - back EMF

with f the sine for a pendulum and the angle itself for a balance. Torque and back EMF are the
same slope of the linkage, times the current and times the speed.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from calc.calculator import require
from calc.clamp_law import ClampLaw
from calc.linkage_curve import LinkageCurve
from calc.loaded_switch import LoadedSwitch, loaded
from calc.switch_law import SwitchLaw
from calc.units import (
    Henry,
    Joule,
    KilogramSquareMetre,
    Metre,
    Ohm,
    Radian,
    RadianPerSecond,
    Ratio,
    Second,
    Volt,
)

Array = NDArray[np.float64]

GONE = 1e-6
"""Share of the largest current below which the coil counts as open."""


@lru_cache(maxsize=16)
def _between(arcs: tuple[float, ...], delays: tuple[float, ...]) -> PchipInterpolator:
    """Return the monotone cubic through delays, against the logarithm of the arc."""
    return PchipInterpolator(np.log(arcs), delays)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trigger:
    """What starts the pulse: an event of the pass, and a delay from there.

    `kind` is `place` (the magnet reaches a point `lead` before the coil's axis; zero lead is the
    crossing itself), `level` (the EMF that opposes a driving current rises through `level`),
    `previous` (the crossing of the pass before, so that the delay is nearly a swing or a period) or
    `turn` (the turning point from which the swing starts: for an event that comes at another place
    in each arc, and before the middle; `delays_back` are then those of the way back).
    A filter answers a slow pass later: `delays` are added to the delay at the arcs `arcs`, from
    which a swing starts. Below `arc_least` the event is not seen and no pulse comes.
    """

    kind: str = "place"
    lead: Metre = 0.0
    level: Volt = 0.0
    delay: Second = 0.0
    arcs: tuple[Radian, ...] = ()
    delays: tuple[Second, ...] = ()
    delays_back: tuple[Second, ...] = ()
    arc_least: Radian = 0.0

    def delay_at(self, arc: Array, direction: int = 1) -> Array:
        """Return the whole delay in a swing that starts from an arc, by a monotone cubic."""
        if len(self.arcs) < 2:
            return np.full(np.shape(arc), self.delay)
        own = self.delays_back if direction < 0 and self.delays_back else self.delays
        inside = np.clip(arc, self.arcs[0], self.arcs[-1])
        more = _between(self.arcs, own)(np.log(inside))
        return np.maximum(self.delay + more, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrivenMovement:
    """Movement, magnet and coil, current and switch.

    Attributes
    ----------
    kind : str
        `pendulum` or `balance`.
    omega : float
        Angular frequency of the smallest swing [rad/s].
    inertia : float
        Moment of inertia about the pivot [kg*m^2].
    radius : float
        Distance of the magnet from the pivot [m].
    q_factor : float
        Quality factor by viscous losses [1].
    work_per_swing : float
        Work that a train takes from every swing, spread over its way [J].
    linkage : LinkageCurve
        Flux linkage against the magnet's way along its path from the coil's axis.
    offset : float
        Place of the coil's axis on the path, from mid-swing [m].
    sense : float
        1 where the current attracts the magnet, -1 where it repels it.
    both_ways : bool
        Whether every pass is driven, or only those in the positive direction.
    v_supply, r_source : float
        Voltage of the supply without load [V], and its resistance [ohm].
    r_coil, l_coil : float
        The coil [ohm], [H].
    switch, clamp : SwitchLaw, ClampLaw
        What they keep for themselves.
    duty : float
        Share of the pulse that is on [1].
    pulse_width : float
        Time from switching on to switching off [s]; zero for none.
    trigger : Trigger
        When the pulse starts.
    """

    kind: str
    omega: RadianPerSecond
    inertia: KilogramSquareMetre
    radius: Metre
    q_factor: Ratio
    work_per_swing: Joule = 0.0
    linkage: LinkageCurve
    offset: Metre = 0.0
    sense: Ratio = -1.0
    both_ways: bool = True
    v_supply: Volt
    r_source: Ohm = 0.0
    r_coil: Ohm
    l_coil: Henry
    switch: SwitchLaw
    clamp: ClampLaw
    duty: Ratio = 1.0
    pulse_width: Second
    trigger: Trigger

    def __post_init__(self) -> None:
        where = "driven movement"
        require(self.kind in ("pendulum", "balance"), f"{where}: kind must be pendulum or balance")
        require(
            self.trigger.kind in ("place", "level", "previous", "turn"), f"{where}: unknown trigger"
        )
        for name in ("omega", "inertia", "radius", "v_supply", "r_coil", "l_coil"):
            require(getattr(self, name) > 0, f"{where}: {name} must be above zero")
        require(
            self.q_factor > 5,
            f"{where}: q_factor must be above 5; below that it hardly swings by itself",
        )
        for name in ("work_per_swing", "r_source", "pulse_width"):
            require(getattr(self, name) >= 0, f"{where}: {name} must not be below zero")
        require(self.trigger.delay >= 0, f"{where}: delay must not be below zero")
        require(
            self.knee > 0,
            f"{where}: the clamp must not conduct at rest; across the switch its voltage must "
            "exceed the supply's",
        )
        require((self.duty > 0) & (self.duty <= 1), f"{where}: duty must lie above 0 and up to 1")

    @property
    def period(self) -> float:
        """Period of the smallest swing [s]."""
        return 2 * np.pi / self.omega

    @property
    def lobe(self) -> float:
        """Half the distance between neighbouring lobes of the linkage's slope [m].

        With the magnet's axis along the coil's this is where the slope peaks.
        """
        places = self.linkage.lobe_paths
        if len(places) < 2:
            return float(self.linkage.path[-1] - self.linkage.path[0]) / 20
        return float(np.diff(places).min()) / 2

    @property
    def knee(self) -> float:
        """EMF from which the clamp conducts without a pulse [V]."""
        return float(self.clamp.opposing(GONE * self.i_scale, self.v_supply))

    @property
    def looped(self) -> bool:
        """Whether a resistor keeps the coil in a closed loop, for currents of both signs."""
        return self.clamp.beside < np.inf

    @property
    def lag(self) -> float:
        """Time by which the current in that loop follows the EMF [s]."""
        return self.l_coil / (self.r_coil + self.clamp.resistance)

    @property
    def damping(self) -> float:
        """Viscous damping, omega over the quality factor [1/s]."""
        return self.omega / self.q_factor

    @property
    def r_loop(self) -> float:
        """Resistance that the current meets besides switch and clamp [ohm]."""
        return self.r_coil + self.source_share * self.r_source

    @property
    def source_share(self) -> float:
        """Share of the driven time for which the current passes the supply."""
        return 1.0 if self.clamp.from_supply else self.duty

    @property
    def closed(self) -> SwitchLaw | LoadedSwitch:
        """The closed switch as the coil meets it, beside a clamp that draws current too."""
        return loaded(self.switch, self.clamp, v_supply=self.v_supply, r_source=self.r_source)

    @property
    def i_scale(self) -> float:
        """Current that supply and resistance alone would allow [A]."""
        return self.v_supply / (self.r_coil + self.r_source)

    def height(self, angle: Array | float) -> Array:
        """Return the potential energy over inertia and omega squared."""
        angle = np.asarray(angle)
        if self.kind == "balance":
            return angle**2 / 2
        half: Array = 2 * np.sin(angle / 2) ** 2
        return half

    def pull(self, angle: Array) -> Array:
        """Return the restoring torque over inertia and omega squared, towards the middle."""
        return angle if self.kind == "balance" else np.sin(angle)

    def stiffness(self, angle: Array) -> Array:
        """Return the slope of the pull."""
        return np.ones_like(angle) if self.kind == "balance" else np.cos(angle)

    def grip(self, angle: Array) -> Array:
        """Return the slope of the linkage by angle, signed so that its push is positive [Wb]."""
        slope = self.linkage.slope(self.radius * angle - self.offset)
        return self.sense * self.radius * slope

    def driven(self, direction: int) -> bool:
        """Whether a pass in this direction gets a pulse."""
        return self.pulse_width > 0 and (self.both_ways or direction > 0)

    def held_on(self, i: Array) -> Array:
        """Return the voltage left after switch and resistance while the pulse lasts."""
        left = self.duty * (self.v_supply - self.closed.drop(i)) - self.r_loop * i
        if self.duty < 1:
            left = left - (1 - self.duty) * self.clamp.opposing(i, self.v_supply)
        return left

    def stiff_on(self, i: Array) -> Array:
        """Return how fast that voltage falls as the current rises [ohm]."""
        slope = self.r_loop + self.duty * self.closed.slope(i)
        if self.duty < 1:
            slope = slope + (1 - self.duty) * self.clamp.slope(i)
        return slope

    def held_off(self, i: Array) -> Array:
        """Return the voltage that carries the current on through the clamp; negative brakes it."""
        through = self.r_source if self.clamp.from_supply else 0.0
        left: Array = -self.clamp.opposing(i, self.v_supply) - (self.r_coil + through) * i
        return left

    def stiff_off(self, i: Array) -> Array:
        """Return how fast that voltage falls as the current rises [ohm]."""
        through = self.r_source if self.clamp.from_supply else 0.0
        rise: Array = self.clamp.slope(i) + self.r_coil + through
        return rise


@dataclass(frozen=True, slots=True, kw_only=True)
class SwingOutcome:
    """One swing from turning point to turning point; times from the first of them.

    `t_cross` is when the magnet passed the coil's axis and `t_on` when the pulse began; None where
    it did not. Energies over the whole swing: `e_mechanical` is what the coil gave to
    the movement, braking counted negative; `e_loss` the viscous loss, `e_train` the train's work;
    `e_gain` the change of the movement's energy from turning point to turning point.
    """

    arc_start: Radian
    arc_end: Radian
    time: Second
    t_cross: Second | None
    t_on: Second | None
    e_supply: Joule
    e_source: Joule
    e_copper: Joule
    e_switch: Joule
    e_clamp: Joule
    e_mechanical: Joule
    e_loss: Joule
    e_train: Joule
    e_gain: Joule
    e_brake: Joule

    @property
    def mechanical_balance(self) -> float:
        """Energy that the movement cannot account for, as a share of what it lost."""
        lost = self.e_loss + self.e_train
        return (self.e_gain - self.e_mechanical + lost) / lost

    @property
    def electrical_balance(self) -> float:
        """Supplied energy that nobody took, as a share of it; zero where nothing was supplied."""
        if not self.e_supply:
            return 0.0
        taken = self.e_source + self.e_copper + self.e_switch + self.e_clamp + self.e_mechanical
        return (self.e_supply - taken) / self.e_supply
