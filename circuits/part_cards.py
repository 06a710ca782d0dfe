"""Model cards of the catalogue's parts, fitted to their own data-sheet points."""

import math

import numpy as np

from calc.junction_fit import diode_law
from circuits.part_records import Diode, Mosfet, Transistor, Zener
from circuits.stages.switch_figures import base_voltage, gain_at
from netlists.card_fit import On, Saturation, bipolar_through, mosfet_through
from netlists.model_cards import (
    SCHOTTKY_GAP,
    SILICON_GAP,
    V_THERMAL,
    BipolarCard,
    JunctionCard,
    MosfetCard,
    ZenerCard,
    junction_card,
    zener_card,
)

OWN_DROP, OWN_CURRENT = {True: 0.3, False: 0.6}, 1e-3
"""A pin's own junction, Schottky or silicon, at the current at which it counts as conducting;
common practice, no source [V, A]."""
USUAL_SLOPE = 0.03
"""Slope of a zener at its test current where the data sheet is silent, as a share of v_z / i_z;
common practice, no source."""


def transistor_card(part: Transistor, i_c: float) -> BipolarCard:
    """Return the card of an NPN transistor for a collector current about i_c [A].

    Parameters
    ----------
    part : Transistor
        With at least one saturation point.
    i_c : float
        Collector current of the design: the base's voltage is met at the point next above it.

    Returns
    -------
    card : BipolarCard
        With the guaranteed gain at i_c and the limits of V_CE(sat).
    """
    points = sorted(part.saturation, key=lambda point: point.i_c)
    chosen = next((point for point in points if point.i_c >= i_c), points[-1])
    v_be = base_voltage(part, i_c, None).typ
    return bipolar_through(
        [
            Saturation(
                i_c=point.i_c, i_b=point.i_b, v_ce=point.v_ce_sat_max,
                v_be=v_be if point is chosen else None,
            )
            for point in points
        ],
        h_fe=gain_at(part, i_c)[1],
    )  # fmt: skip


def mosfet_card(part: Mosfet) -> MosfetCard:
    """Return the card of a MOSFET through the limits of R_DS(on)."""
    points = sorted(part.on, key=lambda point: point.v_gs)
    return mosfet_through(
        [On(v_gs=point.v_gs, i_d=point.i_d, r_ds_on=point.r_ds_on_max) for point in points],
        v_gs_th_min=part.v_gs_th_min or 0.5 * part.v_gs_th_max,
        v_gs_th_max=part.v_gs_th_max,
    )


def forward_points(part: Diode) -> list[tuple[float, float]]:
    """Return current and voltage of the points that the card goes through, typical if known."""
    typical = [(p.i_f, p.v_f_typ) for p in part.forward if p.v_f_typ is not None]
    if len(typical) > 1:
        return sorted(typical)
    return sorted((p.i_f, v) for p in part.forward if (v := p.v_f_typ or p.v_f_max) is not None)


def diode_card(part: Diode) -> JunctionCard:
    """Return the card of a diode through its forward points."""
    points = forward_points(part)
    law = diode_law(
        i_f=np.array([i for i, _ in points]),
        v_f=np.array([v for _, v in points]),
        v_thermal=V_THERMAL,
    )
    schottky = "schottky" in part.kind.lower()
    return junction_card(
        v_log=law.junction.v_log,
        i_log=law.junction.i_log,
        resistance=law.resistance,
        gap=SCHOTTKY_GAP if schottky else SILICON_GAP,
    )


def breakdown_card(part: Zener) -> ZenerCard:
    """Return the card of a zener at its test current."""
    slope = part.r_z_max or USUAL_SLOPE * part.v_z_typ / part.i_z_test
    return zener_card(v_z=part.v_z_typ, i_z=part.i_z_test, r_z=slope)


def pin_junction(*, schottky: bool) -> JunctionCard:
    """Return the card of the junctions that guard a pin."""
    drop = OWN_DROP[schottky]
    return JunctionCard(
        i_saturation=OWN_CURRENT / math.expm1(drop / V_THERMAL),
        emission=1.0,
        resistance=0.0,
        gap=SCHOTTKY_GAP if schottky else SILICON_GAP,
    )
