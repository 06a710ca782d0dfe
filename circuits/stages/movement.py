"""Movement: period, speed over the coil, energy and what a swing loses."""

from dataclasses import dataclass
from math import pi

import numpy as np

from calc.pendulum import circular_error
from calc.ringdown import arc_time_constant, swing_loss
from calc.swing import Swing
from calc.swing_energy import balance_energy, pendulum_energy, pendulum_swing_loss
from calc.swing_speed import drop_height
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.errors import DesignFileError
from circuits.format_quantity import DAY, show, show_range
from circuits.ledger import Basis, Change, Ledger
from circuits.stages import moving_body, quality
from circuits.stages.linkage import LinkageResult
from circuits.stages.moving_body import Body, millimetres

COUNTED = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementResult:
    """The free movement at the wanted arc; low, typical and high follow the quality factor.

    `period` is that of the smallest arc.
    `effective_length` is None for a balance, `mass` where only the inertia is known.
    """

    kind: str
    period: float
    omega: float
    arc: float
    radius: float
    inertia: float
    speed: float
    energy: float
    q_low: float
    q_typ: float
    q_high: float
    q_known: bool
    loss_low: float
    loss_typ: float
    loss_high: float
    offset: float
    swing: Swing
    effective_length: float | None = None
    mass: float | None = None

    @property
    def period_at_arc(self) -> float:
        """Period at the wanted arc."""
        return self.swing.period


def size(
    design: Design,
    catalogue: Catalogue,  # noqa: ARG001 - every stage is called alike
    ledger: Ledger,
    linkage: LinkageResult,
) -> MovementResult:
    """Return the free movement; fails on a file that does not say what swings, or how far."""
    body = moving_body.body(design, ledger)
    arc = moving_body.arc_of(design, ledger, body.radius, body.kind)
    swing = Swing(kind=body.kind, omega=2 * pi / body.period, arc=arc, radius=body.radius)
    offset = design.magnet.offset or 0.0
    speed = _speed_at(design, swing, offset)
    _check_reach(design, ledger, linkage, swing, offset)
    found = quality.find(design, ledger, body.kind, body.period, arc)
    extra = design.movement.work_per_swing or 0.0
    energy = _energy(body, arc)
    result = MovementResult(
        kind=body.kind,
        period=body.period,
        omega=swing.omega,
        arc=arc,
        radius=body.radius,
        inertia=body.inertia,
        speed=speed,
        energy=energy,
        q_low=found.low,
        q_typ=found.typ,
        q_high=found.high,
        q_known=found.known,
        loss_low=_loss(body, arc, energy, found.high) + extra,
        loss_typ=_loss(body, arc, energy, found.typ) + extra,
        loss_high=_loss(body, arc, energy, found.low) + extra,
        offset=offset,
        swing=swing,
        effective_length=body.effective_length,
        mass=design.movement.mass,
    )
    _enter(design, ledger, result)
    _test_point(ledger, result)
    return result


def _energy(body: Body, arc: float) -> float:
    relation = pendulum_energy if body.kind == "pendulum" else balance_energy
    return relation(inertia=body.inertia, period=body.period, arc=arc)


def _loss(body: Body, arc: float, energy: float, q_factor: float) -> float:
    if body.kind == "balance":
        return swing_loss(energy=energy, q_factor=q_factor)
    return pendulum_swing_loss(inertia=body.inertia, period=body.period, arc=arc, q_factor=q_factor)


def _speed_at(design: Design, swing: Swing, offset: float) -> float:
    """Return the speed as the magnet passes the coil's axis."""
    half = swing.arc * swing.radius
    if abs(offset) >= half:
        raise DesignFileError(
            file=design.file,
            section="magnet",
            key="offset",
            found=f"{show(offset, 'm')}, while the magnet swings {show(half, 'm')} to each side",
            wanted="it never reaches the coil's axis: set the coil nearer the middle of the "
            "swing, or swing wider",
        )
    return float(swing.speed(swing.time_at(np.array([offset])))[0])


def _check_reach(
    design: Design, ledger: Ledger, linkage: LinkageResult, swing: Swing, offset: float
) -> None:
    """Whether the magnet goes beyond the place where its linkage changes fastest."""
    if linkage.axis == "motion":
        return  # that place is the axis itself, which every pass crosses
    beyond = swing.arc * swing.radius - abs(offset)
    steepest = linkage.drive.path_peak
    wider = _wider(design, swing, 1.25 * (steepest + abs(offset)))
    central = (Change(section="magnet", key="offset", text="0 mm"),)
    ledger.at_least(
        "movement.reach",
        beyond,
        steepest,
        "m",
        f"The magnet goes {show(beyond, 'm')} beyond the coil's axis; its linkage is steepest "
        f"{show(steepest, 'm')} from it{', outside the swing' if beyond < steepest else ''}.",
        remedy="Swing wider, or take a narrower coil: the best place to push is never reached."
        if beyond < steepest
        else "",
        changes=(central, wider) if offset else (wider,),
        soft=True,
    )


def _wider(design: Design, swing: Swing, half: float) -> tuple[Change, ...]:
    if design.movement.arc is None:
        return (Change(section="movement", key="travel", text=millimetres(2 * half)),)
    return (
        Change(section="movement", key="arc", text=f"{np.degrees(half / swing.radius):.3g} deg"),
    )


def _enter(design: Design, ledger: Ledger, result: MovementResult) -> None:
    movement = design.movement
    computed = Basis.COMPUTED
    ledger.value(
        "movement.period", result.period, "s",
        words="period, to and fro, at the smallest arc",
        basis=Basis.STATED if movement.period is not None else computed,
        rule="period of the design file" if movement.period is not None
        else "2 pi sqrt(effective_length / g)",
    )  # fmt: skip
    ledger.value(
        "movement.inertia", result.inertia, "kg*m^2",
        words="moment of inertia about the pivot",
        basis=Basis.STATED if movement.inertia is not None else computed,
        rule="inertia of the design file" if movement.inertia is not None
        else "mass times effective length squared",
    )  # fmt: skip
    ledger.value(
        "movement.speed", result.speed, "m/s",
        words="speed of the magnet over the coil's axis", basis=computed,
        rule="2 omega radius sin(arc/2) at mid-swing, free swing" if result.kind == "pendulum"
        else "omega radius arc at mid-swing, free swing",
    )  # fmt: skip
    ledger.value(
        "movement.travel", 2 * result.radius * result.arc, "m",
        words="way of the magnet, end to end", basis=computed, rule="2 magnet_radius arc",
    )  # fmt: skip
    ledger.value(
        "movement.energy", result.energy, "J", words="energy of the swing", basis=computed,
        rule="2 inertia omega^2 sin(arc/2)^2" if result.kind == "pendulum"
        else "inertia (omega arc)^2 / 2",
    )  # fmt: skip
    spread = result.loss_low != result.loss_high
    ledger.value(
        "movement.loss_per_swing", result.loss_typ, "J",
        words="energy lost in a swing, one way",
        basis=computed if result.q_known else Basis.ASSUMED,
        rule="pi energy / quality factor" + (", along the true swing"
        if result.kind == "pendulum" else "")
        + (", and work_per_swing" if movement.work_per_swing else ""),
        low=result.loss_low if spread else None, high=result.loss_high if spread else None,
    )  # fmt: skip
    ledger.value(
        "movement.time_constant",
        arc_time_constant(q_factor=result.q_typ, period=result.period), "s",
        words="time in which a new arc settles to 1/e",
        basis=computed if result.q_known else Basis.ASSUMED,
        rule="quality factor times period / pi",
        low=arc_time_constant(q_factor=result.q_low, period=result.period) if spread else None,
        high=arc_time_constant(q_factor=result.q_high, period=result.period) if spread else None,
    )  # fmt: skip
    if result.effective_length is None:
        return
    ledger.value(
        "movement.effective_length", result.effective_length, "m",
        words="length of the simple pendulum with this period", basis=computed,
        rule="g (period / 2 pi)^2" if movement.period is not None else "of the design file",
    )  # fmt: skip
    ledger.value(
        "movement.period_at_arc", result.period_at_arc, "s",
        words="period at the wanted arc", basis=computed,
        rule="period / agm(1, cos(arc/2)), the complete elliptic integral",
    )  # fmt: skip
    ledger.value(
        "movement.circular_error", DAY * circular_error(arc=result.arc), "s/day",
        words="circular error, against the smallest arc; negative loses", basis=computed,
        rule="agm(1, cos(arc/2)) - 1",
    )  # fmt: skip
    ledger.value(
        "movement.drop_height", drop_height(radius=result.radius, arc=result.arc), "m",
        words="rise of the magnet from mid-swing to its turning point", basis=computed,
        rule="magnet_radius (1 - cos(arc))",
    )  # fmt: skip


def _test_point(ledger: Ledger, result: MovementResult) -> None:
    expected = COUNTED * result.period_at_arc
    slack = 0.005 * expected
    ledger.test_point(
        "movement",
        f"coil disconnected, at an arc of {show(result.arc, 'rad')}",
        f"a watch, over {COUNTED} periods (to and fro, {2 * COUNTED} beats)",
        f"{show(expected, 's', 4)} ({show_range(expected - slack, expected + slack, 's', 4)})",
        "write the measured time over the count as period into [movement]; half or double the "
        "time means that beats and periods were mixed up",
    )
