"""What swings and how far, reconciled from the keys of the design file."""

from dataclasses import dataclass
from math import pi

from calc.pendulum import STANDARD_GRAVITY, effective_length, small_arc_period
from circuits.design import Design
from circuits.errors import DesignFileError
from circuits.format_quantity import percent, show
from circuits.ledger import Basis, Change, Ledger

LENGTH_AGREES = 0.03
TRAVEL_AGREES = 0.05
BALANCE_POINT_ABOVE = 1.03


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """What swings, without its arc."""

    kind: str
    period: float
    effective_length: float | None
    radius: float
    inertia: float


def missing(design: Design, key: str, found: str, wanted: str) -> DesignFileError:
    """Return the error for a key of [movement]."""
    return DesignFileError(
        file=design.file, section="movement", key=key, found=found, wanted=wanted
    )


def body(design: Design, ledger: Ledger) -> Body:
    """Return what swings, reconciled where the file states more than it must."""
    kind = design.movement.kind
    if kind is None:
        kind = "pendulum"
        ledger.assume("movement.kind", kind, None, "a pendulum unless the file says otherwise")
    period, length = _period(design, ledger, kind)
    radius = design.movement.magnet_radius
    if radius is None:
        if length is None:
            raise missing(
                design, "magnet_radius", "nothing",
                'state how far the magnet is from the staff, such as magnet_radius = "18 mm"',
            )  # fmt: skip
        radius = length
        ledger.assume("movement.magnet_radius", radius, "m", "magnet at the centre of oscillation")
    return Body(
        kind=kind,
        period=period,
        effective_length=length if kind == "pendulum" else None,
        radius=radius,
        inertia=_inertia(design, ledger, kind, length),
    )


def _period(design: Design, ledger: Ledger, kind: str) -> tuple[float, float | None]:
    """Return the period and, for a pendulum, the length that belongs to it."""
    period, stated = design.movement.period, design.movement.effective_length
    if kind == "balance":
        if period is None:
            raise missing(
                design, "period", "nothing",
                'time ten periods (to and fro) of the balance, and write period = "0.62 s"',
            )  # fmt: skip
        return period, stated
    ledger.assume("movement.g", STANDARD_GRAVITY, "m/s^2", "standard gravity, CGPM 1901")
    if period is None:
        if stated is None:
            raise missing(
                design, "period", "neither period nor effective_length",
                'time a hundred periods (to and fro) at a small arc and write period = "1.7 s", '
                'or state effective_length = "0.72 m" from pivot to centre of oscillation',
            )  # fmt: skip
        return small_arc_period(effective_length=stated), stated
    length = effective_length(period=period)
    if stated is not None:
        ledger.at_most(
            "movement.length",
            abs(stated / length - 1),
            LENGTH_AGREES,
            "1",
            f"A period of {show(period, 's', 4)} belongs to {show(length, 'm')} from pivot to "
            f"centre of oscillation; the file states {show(stated, 'm')}, "
            f"{percent(abs(stated / length - 1))} off: the period is used.",
            remedy="Leave effective_length out: a counted period is easier to trust than a "
            "measured length.",
            changes=(
                (Change(section="movement", key="effective_length", text=millimetres(length)),),
            ),
            soft=True,
        )
    return period, length


def _inertia(design: Design, ledger: Ledger, kind: str, length: float | None) -> float:
    inertia, mass = design.movement.inertia, design.movement.mass
    if inertia is None:
        if kind == "balance":
            raise missing(
                design, "inertia", "nothing",
                'state it: inertia = "8e-7 kg*m^2"; of a ring, its mass times its radius squared',
            )  # fmt: skip
        if mass is None or length is None:
            raise missing(
                design, "mass", "neither mass nor inertia",
                'weigh what swings and write mass = "420 g", or state inertia = "0.2 kg*m^2"',
            )  # fmt: skip
        return mass * length**2
    if mass is not None and kind == "pendulum" and length is not None:
        ledger.at_most(
            "movement.inertia",
            inertia / (mass * length**2),
            BALANCE_POINT_ABOVE,
            "1",
            f"The stated inertia puts the balance point {show(inertia / (mass * length), 'm')} "
            f"below the pivot; it cannot lie below the centre of oscillation at "
            f"{show(length, 'm')}.",
            remedy="Weigh again, or leave inertia out: mass times length squared is then used.",
            soft=True,
        )
    return inertia


def arc_of(design: Design, ledger: Ledger, radius: float, kind: str) -> float:
    """Return half the swing, from arc or travel, and enter it."""
    arc, travel = design.movement.arc, design.movement.travel
    if arc is None and travel is None:
        raise missing(
            design, "arc", "neither arc nor travel",
            'say how far it shall swing: arc = "3 deg" (half), or travel = "80 mm" (magnet, '
            "end to end)",
        )  # fmt: skip
    if travel is not None:
        from_travel = travel / (2 * radius)
        if arc is not None and abs(from_travel / arc - 1) > TRAVEL_AGREES:
            raise missing(
                design, "travel",
                f"{show(travel, 'm')} beside arc = {show(arc, 'rad')}, which at "
                f"{show(radius, 'm')} is {show(2 * radius * arc, 'm')} end to end",
                "leave one of the two out; arc is half the swing, travel the whole",
            )  # fmt: skip
        arc = from_travel if arc is None else arc
    assert arc is not None
    if kind == "pendulum" and arc >= pi:
        raise missing(
            design, "arc" if travel is None else "travel", show(arc, "rad"),
            "a pendulum's arc must stay below 180 degrees; arc is half the swing",
        )  # fmt: skip
    ledger.value(
        "movement.arc",
        arc,
        "rad",
        words="arc, half the swing",
        basis=Basis.STATED if design.movement.arc is not None else Basis.COMPUTED,
        rule="arc of the design file"
        if design.movement.arc is not None
        else "travel / (2 magnet_radius), along the path",
    )
    return arc


def millimetres(length: float) -> str:
    """Return a length as the design file writes it."""
    return f"{1e3 * length:.4g} mm"
