"""What holds for every part: figures within what is possible, pairs in their physical order."""

from dataclasses import dataclass, fields
from itertools import pairwise
from typing import Any

# Possible, not usual: what lies outside is a slip of the decimal point or of the unit.
BANDS: dict[str, tuple[float, float]] = {
    "v_ceo": (1, 2000),
    "v_ebo": (0.5, 50),
    "i_c_max": (1e-3, 500),
    "p_tot": (1e-3, 1000),
    "r_th_ja": (0.5, 2000),
    "i_off_max": (1e-13, 0.1),
    "f_t": (1e4, 1e12),
    "v_dss": (1, 2000),
    "v_gs_max": (1, 60),
    "i_d_max": (1e-3, 1000),
    "v_gs_th_min": (0.05, 20),
    "v_gs_th_max": (0.1, 20),
    "i_d_th": (1e-9, 1),
    "q_g": (1e-12, 1e-5),
    "v_rrm": (1, 20000),
    "i_f_av": (1e-3, 1000),
    "i_fsm": (1e-2, 1e5),
    "i_r_max": (1e-13, 0.5),
    "c_j": (1e-14, 1e-7),
    "t_rr": (1e-11, 1e-3),
    "v_z_min": (0.5, 1000),
    "v_z_typ": (0.5, 1000),
    "v_z_max": (0.5, 1000),
    "i_z_test": (1e-7, 10),
    "r_z_max": (0.01, 1e5),
    "b_r_min": (0.05, 2),
    "b_r_max": (0.05, 2),
    "h_cj_min": (1e3, 5e6),
    "alpha_b_r": (-0.01, -1e-5),
    "alpha_h_cj": (-0.02, 0.02),
    "t_max": (250, 900),
    "mu_rec": (1, 20),
    "d_wire": (5e-6, 1e-2),
    "d_overall_grade1": (6e-6, 1.2e-2),
    "d_overall_grade2": (6e-6, 1.2e-2),
    "d_overall_grade1_min": (6e-6, 1.2e-2),
    "d_overall_grade2_min": (6e-6, 1.2e-2),
    "r_per_metre": (1e-4, 1e3),
    "r_per_metre_min": (1e-4, 1e3),
    "r_per_metre_max": (1e-4, 1e3),
    "v_nominal": (0.5, 60),
    "v_fresh": (0.5, 60),
    "v_fresh_max": (0.5, 60),
    "q_cell_low": (1, 1e7),
    "q_cell": (1, 1e7),
    "q_cell_high": (1, 1e7),
    "r_internal": (1e-4, 1e3),
    "r_internal_max": (1e-4, 1e3),
    "r_internal_spent": (1e-4, 1e4),
    "shelf_life": (1e6, 2e9),
    "shelf_life_high": (1e6, 2e9),
    "self_discharge": (1e-12, 1e-6),
    "cutoff_typ": (0.3, 60),
    "i_load_max": (1e-6, 1e3),
    "t_min": (150, 300),
    "mass": (1e-4, 100),
    "diameter_max": (1e-3, 1),
    "height_max": (1e-3, 1),
    "r_pin": (0.1, 1e5),
    "v_high_drop": (1e-3, 5),
    "i_high_test": (1e-6, 1),
    "i_pin_max": (1e-6, 1),
    "i_pin_abs": (1e-6, 1),
    "i_injection_max": (1e-6, 1),
    "i_leakage_max": (1e-13, 1e-3),
    "r_source_max": (10, 1e9),
    "c_adc": (1e-14, 1e-8),
    "r_adc": (1, 1e7),
    "i_sleep": (1e-10, 1),
    "v_min": (0.3, 60),
    "i_c": (1e-9, 500),
    "i_b": (1e-9, 100),
    "v_ce": (0.1, 1000),
    "h_fe_min": (1, 1e5),
    "h_fe_typ": (1, 1e5),
    "h_fe_max": (1, 1e5),
    "v_ce_sat_max": (1e-3, 10),
    "v_be_sat_min": (0.1, 5),
    "v_be_sat_typ": (0.1, 5),
    "v_be_sat_max": (0.1, 5),
    "v_gs": (0.3, 60),
    "i_d": (1e-6, 1000),
    "r_ds_on_max": (1e-4, 1e3),
    "i_f": (1e-9, 1e4),
    "v_f_typ": (0.05, 10),
    "v_f_max": (0.05, 10),
    "i_load": (1e-9, 100),
    "r_load": (1e-3, 1e6),
    "time": (1, 1e9),
    "v_cutoff": (0.1, 60),
    "fraction": (1e-6, 1),
    "depth": (0, 1),
    "v_open": (0.3, 60),
    "v_open_band": (1e-3, 1),
}

# Within one record: the first never exceeds the second.
ORDERS: tuple[tuple[str, str], ...] = (
    ("v_z_min", "v_z_typ"),
    ("v_z_typ", "v_z_max"),
    ("v_z_min", "v_z_max"),
    ("b_r_min", "b_r_max"),
    ("v_gs_th_min", "v_gs_th_max"),
    ("v_gs_th_max", "v_gs_max"),
    ("h_fe_min", "h_fe_max"),
    ("v_be_sat_min", "v_be_sat_typ"),
    ("v_be_sat_typ", "v_be_sat_max"),
    ("v_be_sat_min", "v_be_sat_max"),
    ("v_ce_sat_max", "v_be_sat_max"),
    ("i_b", "i_c"),
    ("v_f_typ", "v_f_max"),
    ("i_f_av", "i_fsm"),
    ("d_wire", "d_overall_grade1"),
    ("d_overall_grade1", "d_overall_grade2"),
    ("d_overall_grade1_min", "d_overall_grade1"),
    ("d_overall_grade2_min", "d_overall_grade2"),
    ("r_per_metre_min", "r_per_metre"),
    ("r_per_metre", "r_per_metre_max"),
    ("v_nominal", "v_fresh"),
    ("v_fresh", "v_fresh_max"),
    ("cutoff_typ", "v_nominal"),
    ("q_cell_low", "q_cell"),
    ("q_cell", "q_cell_high"),
    ("r_internal", "r_internal_max"),
    ("r_internal", "r_internal_spent"),
    ("shelf_life", "shelf_life_high"),
    ("t_min", "t_max"),
    ("i_pin_max", "i_pin_abs"),
)

# Along a list of test points: the first rises, and the second then goes the way of the sign.
COURSES: dict[str, tuple[str, str, int]] = {
    "forward": ("i_f", "v_f_typ", 1),
    "on": ("v_gs", "r_ds_on_max", -1),
    "saturation": ("i_c", "v_ce_sat_max", 1),
    "remaining": ("v_cutoff", "fraction", -1),
    "v_open": ("depth", "v_open", -1),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """A rule that a part breaks."""

    field: str
    found: str
    wanted: str


def broken_rule(part: Any) -> Broken | None:
    """Return the first rule that a part's figures break, or None."""
    broken = _in_record(part, "")
    if broken:
        return broken
    for field in fields(part):
        if "points" not in field.metadata:
            continue
        entries = getattr(part, field.name)
        for number, entry in enumerate(entries, start=1):
            broken = _in_record(entry, f"{field.name}[{number}].")
            if broken:
                return broken
        broken = _along(field.name, entries)
        if broken:
            return broken
    return None


def _in_record(record: Any, within: str) -> Broken | None:
    for field in fields(record):
        unit, value = field.metadata.get("unit"), getattr(record, field.name)
        if unit is None or value is None:
            continue
        low, high = BANDS[field.name]
        if not low <= value <= high:
            return Broken(
                field=within + field.name,
                found=_with_unit(value, unit),
                wanted=f"it must lie between {low:g} and {_with_unit(high, unit)}; "
                "check the decimal point and the unit",
            )
    for low_name, high_name in ORDERS:
        low_value = getattr(record, low_name, None)
        high_value = getattr(record, high_name, None)
        if low_value is not None and high_value is not None and not low_value <= high_value:
            return Broken(
                field=within + low_name,
                found=f"{low_value:g} above {high_name} = {high_value:g}",
                wanted="put the smaller one first, as the data sheet does",
            )
    if not _conducts(record):
        return Broken(
            field=within + "v_f_typ",
            found="neither v_f_typ nor v_f_max",
            wanted="state one of the two",
        )
    return None


def _conducts(record: Any) -> bool:
    names = [field.name for field in fields(record)]
    return "v_f_typ" not in names or record.v_f_typ is not None or record.v_f_max is not None


def _along(name: str, entries: tuple[Any, ...]) -> Broken | None:
    if name not in COURSES:
        return None
    over, of, sign = COURSES[name]
    known = [entry for entry in entries if getattr(entry, of) is not None]
    for before, after in pairwise(sorted(known, key=lambda entry: float(getattr(entry, over)))):
        if sign * (getattr(after, of) - getattr(before, of)) < 0:
            return Broken(
                field=name,
                found=f"{of} = {getattr(before, of):g} at {over} = {getattr(before, over):g} "
                f"and {getattr(after, of):g} at {getattr(after, over):g}",
                wanted=f"{of} must {'rise' if sign > 0 else 'fall'} with {over}; read the "
                "sheet again",
            )
    return None


def _with_unit(value: float, unit: str) -> str:
    return f"{value:g}" if unit == "1" else f"{value:g} {unit}"
