"""Catalogue parts as they are on one board: one value where the catalogue has least and most."""

from collections.abc import Mapping
from dataclasses import replace

from circuits.catalogue import (
    Catalogue,
    Cell,
    Diode,
    MagnetGrade,
    Mosfet,
    Part,
    SaturationPoint,
    Transistor,
    Zener,
)
from circuits.stages.switch_figures import base_voltage

SPENT = 0.999
"""Share of the way to the cut-off that counts as spent: at the cut-off itself no cell is left."""
R_INTERNAL, TIMES_SPENT = 0.3, 4.0


class BoardCatalogue(Catalogue):
    """The catalogue with some parts as they are on one board."""

    def __init__(self, base: Catalogue, changed: Mapping[str, Part]) -> None:
        super().__init__()
        self.file, self.own_names = base.file, base.own_names
        self._own = {kind: dict(parts) for kind, parts in base._own.items()}
        for kind, part in changed.items():
            self._own[kind][part.name] = part


def cell_of(cell: Cell, *, charge: float, worn: float, v_spent: float) -> Cell:
    """Return a cell with its own charge, worn by a share of its life.

    Parameters
    ----------
    cell : Cell
        The catalogue's.
    charge : float
        Its charge over the catalogue's.
    worn : float
        0 when fresh, 1 when spent.
    v_spent : float
        Voltage at which it counts as spent.

    Returns
    -------
    cell : Cell
    """
    r_fresh = R_INTERNAL if cell.r_internal is None else cell.r_internal
    r_spent = TIMES_SPENT * r_fresh if cell.r_internal_spent is None else cell.r_internal_spent
    q_cell = cell.q_cell * charge
    return replace(
        cell,
        v_fresh=cell.v_fresh + SPENT * worn * (v_spent - cell.v_fresh),
        v_fresh_max=cell.v_fresh_max or 1.05 * cell.v_fresh,
        r_internal=r_fresh + worn * (r_spent - r_fresh), r_internal_spent=r_spent,
        q_cell=q_cell, q_cell_low=q_cell, q_cell_high=q_cell,
        capacity=tuple(replace(point, q_cell=point.q_cell * charge) for point in cell.capacity),
    )  # fmt: skip


def grade_of(grade: MagnetGrade, b_r: float) -> MagnetGrade:
    """Return a grade of one remanence."""
    return replace(grade, b_r_min=b_r, b_r_max=b_r)


def diode_of(diode: Diode, times: float) -> Diode:
    """Return a diode whose forward voltages are so many times the catalogue's."""
    return replace(
        diode,
        forward=tuple(
            replace(
                point,
                v_f_typ=None if point.v_f_typ is None else point.v_f_typ * times,
                v_f_max=None if point.v_f_max is None else point.v_f_max * times,
            )
            for point in diode.forward
        ),
    )


def zener_of(zener: Zener, times: float) -> Zener:
    """Return a zener of one voltage, so many times its typical one."""
    v_z = zener.v_z_typ * times
    return replace(zener, v_z_min=v_z, v_z_typ=v_z, v_z_max=v_z)


def mosfet_of(mosfet: Mosfet, times: float) -> Mosfet:
    """Return a MOSFET whose on-resistances are so many times their limits."""
    return replace(
        mosfet, on=tuple(replace(p, r_ds_on_max=p.r_ds_on_max * times) for p in mosfet.on)
    )


def transistor_of(
    transistor: Transistor, *, v_be_share: float, drop: float, gain: float
) -> Transistor:
    """Return a transistor with its own voltages and gain.

    Parameters
    ----------
    transistor : Transistor
        The catalogue's.
    v_be_share : float
        Where its base-emitter voltage lies: -1 least, 0 typical, 1 largest.
    drop : float
        Its saturation voltages over the catalogue's limits.
    gain : float
        Its current gain over the guaranteed least.

    Returns
    -------
    transistor : Transistor
    """

    def own(point: SaturationPoint) -> SaturationPoint:
        one = base_voltage(replace(transistor, saturation=(point,)), point.i_c, None)
        end = one.high if v_be_share > 0 else one.low
        v_be = one.typ + abs(v_be_share) * (end - one.typ)
        return replace(
            point, v_ce_sat_max=point.v_ce_sat_max * drop, v_be_sat_min=v_be, v_be_sat_typ=v_be,
            v_be_sat_max=v_be,
        )  # fmt: skip

    return replace(
        transistor,
        saturation=tuple(own(point) for point in transistor.saturation),
        gain=tuple(replace(p, h_fe_min=p.h_fe_min * gain) for p in transistor.gain),
    )
