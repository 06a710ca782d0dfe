"""The magnet's path past the coil: its plane, its circle and how near it passes."""

from dataclasses import dataclass

import numpy as np

from calc.linkage import arc_linkage, face_linkage
from calc.linkage_curve import LinkageCurve
from calc.linkage_parts import MagnetShape, WindingShape
from calc.magnet import tilted_clearance
from calc.pendulum import effective_length
from circuits.design import Design
from circuits.errors import DesignFileError
from circuits.format_quantity import show
from circuits.ledger import Change, Ledger
from circuits.stages.magnet import missing
from circuits.stages.moving_body import millimetres

NEAR_ENOUGH = 0.5e-3
"""Room under the magnet that a hand-built movement keeps: common practice, no source."""

LEAST = 0.1e-3
"""Less room than this no bobbin and no pivot keeps: taken as touching."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MagnetPath:
    """The path: `plane` is arc (over the coil) or face (parallel to the winding's face)."""

    plane: str
    radius: float
    offset: float
    reach: float

    def curve(
        self, magnet: MagnetShape, winding: WindingShape, gap: float, position: float
    ) -> LinkageCurve:
        """Return the linkage of a winding that stands `position` along the path from the coil."""
        if self.plane == "face":
            circle = 2 * np.pi * self.radius
            curve = face_linkage(
                magnet=magnet, winding=winding, gap=gap, radius=self.radius,
                reach=min(self.reach + abs(position), 0.94 * circle),
            )  # fmt: skip
        else:
            curve = arc_linkage(
                magnet=magnet, winding=winding, gap=gap, radius=self.radius,
                offset=self.offset + position,
            )  # fmt: skip
        return curve.shifted(position) if position else curve

    def apart(self, position: float) -> float:
        """Return the distance between the coil's axis and one `position` along the path."""
        if self.plane == "face":
            return float(2 * self.radius * abs(np.sin(position / (2 * self.radius))))
        there, here = (np.sin(s / self.radius) for s in (self.offset + position, self.offset))
        return float(self.radius * abs(there - here))


def path_of(design: Design, ledger: Ledger, sides: str) -> MagnetPath:
    """Return the path of the design file."""
    radius = _radius(design)
    offset = design.magnet.offset or 0.0
    movement = design.movement
    if abs(offset) >= 0.95 * radius:
        raise missing(
            design, "offset", f"{show(offset, 'm')} with a radius of {show(radius, 'm')}",
            "the magnet never comes there: set the coil nearer the middle of the swing",
        )  # fmt: skip
    half = movement.arc * radius if movement.arc is not None else (movement.travel or 0.0) / 2
    return MagnetPath(
        plane=_plane(design, ledger, sides), radius=radius, offset=offset,
        reach=max(half + abs(offset), 1e-3 * radius),
    )  # fmt: skip


def _plane(design: Design, ledger: Ledger, sides: str) -> str:
    plane = design.movement.plane
    if plane is None:
        if sides == "both":
            plane, why = "face", "a magnet between two coils passes parallel to their faces"
        elif design.movement.kind == "balance":
            plane, why = "face", "a balance's magnet passes parallel to the winding's face"
        else:
            plane, why = "arc", "a pendulum's magnet swings over the coil"
        ledger.assume("movement.plane", plane, None, why)
    if plane == "arc" and sides == "both":
        raise DesignFileError(
            file=design.file, section="coil", key="sides",
            found='coils on both sides of a magnet with plane = "arc"',
            wanted='a coil above the swing would be in its way: write sides = "one" if the second '
            'coil lies under the first, or plane = "face" if the magnet passes between two coils '
            "that face each other",
        )  # fmt: skip
    return plane


def _radius(design: Design) -> float:
    movement = design.movement
    if movement.magnet_radius is not None:
        return movement.magnet_radius
    if movement.kind != "balance":
        if movement.period is not None:
            return effective_length(period=movement.period)
        if movement.effective_length is not None:
            return movement.effective_length
    raise DesignFileError(
        file=design.file, section="movement", key="magnet_radius", found="nothing",
        wanted='state how far the magnet is from the axis, such as magnet_radius = "18 mm"',
    )  # fmt: skip


def gap_of(design: Design, own: float | None = None) -> float:
    """Return the distance from magnet face to winding face; `own` is the pickup coil's."""
    gap = design.magnet.gap if own is None else own
    if gap is None:
        raise missing(
            design, "gap", "nothing",
            'measure from the magnet\'s face to the winding and write gap = "3.5 mm": one '
            "millimetre changes everything by a fifth",
        )  # fmt: skip
    return gap + (design.magnet.flange or 0.0)


def check_clearance(
    design: Design,
    ledger: Ledger,
    path: MagnetPath,
    magnet: MagnetShape,
    *,
    gap: float,
    slack: float,
) -> None:
    """Enter the room between magnet and bobbin; the tilted magnet's edge dips lowest."""
    flange = design.magnet.flange or 0.0
    room = gap - flange
    if path.plane == "arc":
        room = tilted_clearance(gap=gap - flange, radius=path.radius, half=magnet.half)
        if path.radius <= magnet.depth:
            raise DesignFileError(
                file=design.file, section="movement", key="magnet_radius",
                found=f"{show(path.radius, 'm')} with a magnet {show(magnet.depth, 'm')} deep",
                wanted='measure from the pivot to the magnet\'s face, or write plane = "face"',
            )  # fmt: skip
    _refuse_touching(design, "magnet", gap - flange, room + flange)
    clear = room - slack
    tilt = "" if path.plane == "face" else " where the tilted magnet dips lowest"
    wider = gap - flange + 1.2 * NEAR_ENOUGH - clear
    ledger.at_least(
        "linkage.clearance", clear, NEAR_ENOUGH, "m",
        f"The magnet clears the bobbin by {show(clear, 'm')}{tilt}.",
        remedy="" if clear >= NEAR_ENOUGH else "Widen the gap: play, warped bobbins and dirt use "
        "it up.",
        changes=() if clear >= NEAR_ENOUGH else (
            (Change(section="magnet", key="gap", text=millimetres(wider)),),
        ),
        soft=True,
    )  # fmt: skip


def check_pickup(design: Design, path: MagnetPath, magnet: MagnetShape) -> None:
    """Refuse a pickup coil that the magnet would hit, or that its path cannot reach."""
    keys = design.pickup_coil
    if keys is None:
        return
    gap, flange = gap_of(design, keys.gap), design.magnet.flange or 0.0
    room = gap
    if path.plane == "arc":
        room = tilted_clearance(gap=gap, radius=path.radius, half=magnet.half)
    _refuse_touching(design, "pickup_coil", gap - flange, room)
    limit = 0.95 * path.radius if path.plane == "arc" else 0.9 * np.pi * path.radius
    there = abs(path.offset + (keys.position or 0.0))
    if there >= limit:
        raise DesignFileError(
            file=design.file, section="pickup_coil", key="position",
            found=f"{show(keys.position or 0.0, 'm')} along a path of radius "
            f"{show(path.radius, 'm')}",
            wanted=f"keep it within {show(limit, 'm')} of the middle of the swing",
        )  # fmt: skip


def _refuse_touching(design: Design, section: str, stated: float, room: float) -> None:
    if room >= LEAST:
        return
    dip = stated - room + (design.magnet.flange or 0.0)
    raise DesignFileError(
        file=design.file, section=section, key="gap",
        found=f"{show(stated, 'm')}, while the magnet's edge dips {show(dip, 'm')} as it tilts"
        if dip > 0 else show(stated, "m"),
        wanted="the magnet would touch the winding: set a gap of "
        f"{millimetres(dip + NEAR_ENOUGH)} or more, or take a magnet shorter along the motion",
    )  # fmt: skip
