"""The clamp's parts as one law of the current."""

import math
from dataclasses import dataclass

import numpy as np

from calc.clamp_law import ClampLaw, Junction
from calc.junction_fit import diode_law
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.part_records import Diode, Zener
from circuits.preferred_values import next_lower
from circuits.stages.switch_figures import V_THERMAL

RATING_ROOM = 1.3
"""A switch's breakdown over the kick, at least."""
MOST_SLOPE = 0.15
"""Logarithm of a zener's breakdown as a share of its voltage, at most; common practice."""
DIODE_ROOM = 1.2
"""A chosen diode's rated current over the coil's, at least: so that it is never tight."""
SMALL_DIODE, LARGE_DIODE = "1N4148", "1N4001"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClampParts:
    """What the clamp is made of; what does not apply is None."""

    kind: str
    diode: Diode | None
    zener: Zener | None
    resistor: float | None
    law: ClampLaw


def clamp_parts(
    design: Design, catalogue: Catalogue, v_highest: float, i_highest: float, v_breakdown: float
) -> ClampParts:
    """Return the clamp as stated, with parts chosen where they are left out."""
    kind = design.clamp.kind or "diode"
    bearable = v_breakdown / RATING_ROOM
    if kind == "resistor":
        resistor = design.clamp.resistor
        if resistor is None:
            resistor = next_lower(max((bearable - v_highest) / i_highest, 1.0))
        return ClampParts(
            kind=kind, diode=None, zener=None, resistor=resistor,
            law=ClampLaw(resistance=resistor),
        )  # fmt: skip
    diode = None if kind == "switch_zener" else _diode(design, catalogue, i_highest)
    zener = None
    if kind != "diode":
        zener = _zener(design, catalogue, kind, v_highest, bearable)
    return ClampParts(
        kind=kind, diode=diode, zener=zener, resistor=None,
        law=_law(diode, zener, from_supply=kind == "switch_zener"),
    )  # fmt: skip


def _diode(design: Design, catalogue: Catalogue, i_highest: float) -> Diode:
    if design.clamp.diode:
        return catalogue.diode(design.clamp.diode)
    small = catalogue.diode(SMALL_DIODE)
    return small if DIODE_ROOM * i_highest <= small.i_f_av else catalogue.diode(LARGE_DIODE)


def _zener(
    design: Design, catalogue: Catalogue, kind: str, v_highest: float, bearable: float
) -> Zener:
    if design.clamp.zener:
        return catalogue.zener(design.clamp.zener)
    wanted = 2 * v_highest if kind == "switch_zener" else 1.5 * v_highest
    most = bearable if kind == "switch_zener" else bearable - v_highest - 1.0
    least = 1.2 * v_highest if kind == "switch_zener" else 0.0
    fitting = [z for z in catalogue.zeners() if z.v_z_max <= most and z.v_z_min >= least]
    pool = fitting or list(catalogue.zeners())
    return min(pool, key=lambda z: (abs(z.v_z_typ - wanted), z.p_tot))


def _law(diode: Diode | None, zener: Zener | None, *, from_supply: bool) -> ClampLaw:
    constant, resistance = 0.0, 0.0
    junctions: list[Junction] = []
    if diode is not None:
        points = sorted(
            (p.i_f, typ) for p in diode.forward if (typ := p.v_f_typ or p.v_f_max) is not None
        )
        typical = [(p.i_f, p.v_f_typ) for p in diode.forward if p.v_f_typ is not None]
        points = sorted(typical) if len(typical) > 1 else points
        fitted = diode_law(
            i_f=np.array([i for i, _ in points]), v_f=np.array([v for _, v in points]),
            v_thermal=V_THERMAL,
        )  # fmt: skip
        junctions.append(fitted.junction)
        resistance = fitted.resistance
    if zener is not None:
        constant = zener.v_z_typ
        if zener.r_z_max:
            # The differential resistance falls as the current rises: a logarithm through the test.
            # The limit of r_z is far above what a zener of low voltage has: not beyond its share.
            v_log = min(zener.r_z_max * zener.i_z_test, MOST_SLOPE * zener.v_z_typ)
            junctions.append(Junction(v_log=v_log, i_log=zener.i_z_test / 100))
            constant = zener.v_z_typ - v_log * math.log(101.0)
    return ClampLaw(
        v_constant=constant, junctions=tuple(junctions), resistance=resistance,
        from_supply=from_supply,
    )  # fmt: skip
