"""What the catalogue knows of a part: frozen records in SI units, an unknown figure is None."""

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field
from types import MappingProxyType
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Who says so: document, test condition and how the figure was come by."""

    source: str
    confidence: str
    condition: str = ""

    def __str__(self) -> str:
        """Return source, condition and confidence on one line."""
        condition = f": {self.condition}" if self.condition else ""
        return f"{self.source}{condition} ({self.confidence})"


CONFIDENCES = ("looked-up", "memory", "computed", "assumed")
"""How a figure was come by: read in the document, remembered, worked out, or taken as usual."""

Marks = Mapping[str, Mark]


def needed(unit: str) -> Any:
    """Declare a figure that every part of the kind must have."""
    return field(metadata={"unit": unit})


def figure(unit: str) -> Any:
    """Declare a figure that may be unknown."""
    return field(default=None, metadata={"unit": unit})


def word(*choices: str, default: Any = MISSING) -> Any:
    """Declare a text, one of the given words if there are any."""
    return field(default=default, metadata={"words": choices})


def points(record: type[Any], *, wanted: bool = False) -> Any:
    """Declare a list of test points."""
    if wanted:
        return field(metadata={"points": record})
    return field(default=(), metadata={"points": record})


def no_marks() -> Marks:
    """Return the marks of a part that was made without any."""
    return MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class GainPoint:
    """Guaranteed current gain at one collector current; never a promise beyond the last point."""

    i_c: float = needed("A")
    v_ce: float = needed("V")
    h_fe_min: float = needed("1")
    h_fe_max: float | None = figure("1")


@dataclass(frozen=True, slots=True, kw_only=True)
class TypicalGainPoint:
    """Current gain as the maker's curve shows it, without any guarantee."""

    i_c: float = needed("A")
    v_ce: float = needed("V")
    h_fe_typ: float = needed("1")


@dataclass(frozen=True, slots=True, kw_only=True)
class SaturationPoint:
    """Voltages of the saturated switch at one collector and base current."""

    i_c: float = needed("A")
    i_b: float = needed("A")
    v_ce_sat_max: float = needed("V")
    v_be_sat_min: float | None = figure("V")
    v_be_sat_typ: float | None = figure("V")
    v_be_sat_max: float | None = figure("V")


@dataclass(frozen=True, slots=True, kw_only=True)
class Transistor:
    """A bipolar NPN transistor."""

    name: str
    package: str = word(default="")
    v_ceo: float = needed("V")
    v_ebo: float | None = figure("V")
    i_c_max: float = needed("A")
    p_tot: float = needed("W")
    r_th_ja: float | None = figure("K/W")
    i_off_max: float | None = figure("A")
    f_t: float | None = figure("Hz")
    gain: tuple[GainPoint, ...] = points(GainPoint)
    gain_cold: tuple[GainPoint, ...] = points(GainPoint)
    gain_typ: tuple[TypicalGainPoint, ...] = points(TypicalGainPoint)
    saturation: tuple[SaturationPoint, ...] = points(SaturationPoint, wanted=True)
    note: str = word(default="")
    marks: Marks = field(default_factory=no_marks, repr=False, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class OnPoint:
    """On-resistance that the maker guarantees at one gate voltage."""

    v_gs: float = needed("V")
    i_d: float = needed("A")
    r_ds_on_max: float = needed("ohm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mosfet:
    """An N-channel enhancement MOSFET."""

    name: str
    package: str = word(default="")
    v_dss: float = needed("V")
    v_gs_max: float = needed("V")
    i_d_max: float = needed("A")
    p_tot: float = needed("W")
    r_th_ja: float | None = figure("K/W")
    i_off_max: float | None = figure("A")
    v_gs_th_min: float | None = figure("V")
    v_gs_th_max: float = needed("V")
    i_d_th: float | None = figure("A")
    on: tuple[OnPoint, ...] = points(OnPoint, wanted=True)
    q_g: float | None = figure("C")
    note: str = word(default="")
    marks: Marks = field(default_factory=no_marks, repr=False, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class ForwardPoint:
    """Forward voltage at one current, typical or limit or both."""

    i_f: float = needed("A")
    v_f_typ: float | None = figure("V")
    v_f_max: float | None = figure("V")


@dataclass(frozen=True, slots=True, kw_only=True)
class Diode:
    """A clamp (flyback) diode."""

    name: str
    kind: str = word(default="")
    package: str = word(default="")
    v_rrm: float = needed("V")
    i_f_av: float = needed("A")
    i_fsm: float | None = figure("A")
    i_r_max: float | None = figure("A")
    c_j: float | None = figure("F")
    t_rr: float | None = figure("s")
    forward: tuple[ForwardPoint, ...] = points(ForwardPoint, wanted=True)
    note: str = word(default="")
    marks: Marks = field(default_factory=no_marks, repr=False, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Zener:
    """A zener diode of one voltage; limits as tabulated, they are not a plain percentage."""

    name: str
    v_z_min: float = needed("V")
    v_z_typ: float = needed("V")
    v_z_max: float = needed("V")
    i_z_test: float = needed("A")
    r_z_max: float | None = figure("ohm")
    p_tot: float = needed("W")
    r_th_ja: float | None = figure("K/W")
    note: str = word(default="")
    marks: Marks = field(default_factory=no_marks, repr=False, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class MagnetGrade:
    """A permanent magnet material."""

    name: str
    material: str = word(default="")
    b_r_min: float = needed("T")
    b_r_max: float = needed("T")
    h_cj_min: float | None = figure("A/m")
    alpha_b_r: float | None = figure("1/K")
    alpha_h_cj: float | None = figure("1/K")
    t_max: float | None = figure("K")
    mu_rec: float | None = figure("1")
    note: str = word(default="")
    marks: Marks = field(default_factory=no_marks, repr=False, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class WireSize:
    """Round enamelled copper wire; overall diameters are the largest of their grade."""

    name: str
    d_wire: float = needed("m")
    d_overall_grade1: float = needed("m")
    d_overall_grade2: float = needed("m")
    d_overall_grade1_min: float | None = figure("m")
    d_overall_grade2_min: float | None = figure("m")
    r_per_metre: float | None = figure("ohm/m")
    r_per_metre_min: float | None = figure("ohm/m")
    r_per_metre_max: float | None = figure("ohm/m")
    note: str = word(default="")
    marks: Marks = field(default_factory=no_marks, repr=False, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class CapacityPoint:
    """Charge that a cell gave at one load down to one cut-off."""

    i_load: float = needed("A")
    v_cutoff: float = needed("V")
    q_cell: float = needed("C")


@dataclass(frozen=True, slots=True, kw_only=True)
class DurationPoint:
    """Least average duration that a standard asks of a cell, at one load down to one cut-off."""

    r_load: float | None = figure("ohm")
    i_load: float | None = figure("A")
    v_cutoff: float = needed("V")
    time: float = needed("s")


@dataclass(frozen=True, slots=True, kw_only=True)
class CutoffPoint:
    """Share of the low-rate charge that is given when a cell has fallen to a voltage."""

    v_cutoff: float = needed("V")
    fraction: float = needed("1")


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenPoint:
    """Rested open-circuit voltage at a depth of discharge."""

    depth: float = needed("1")
    v_open: float = needed("V")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One cell; low and high charge span makers and single cells."""

    name: str
    chemistry: str = word(default="")
    size: str = word(default="")
    v_nominal: float = needed("V")
    v_fresh: float = needed("V")
    v_fresh_max: float | None = figure("V")
    q_cell_low: float | None = figure("C")
    q_cell: float = needed("C")
    q_cell_high: float | None = figure("C")
    r_internal: float | None = figure("ohm")
    r_internal_max: float | None = figure("ohm")
    r_internal_spent: float | None = figure("ohm")
    shelf_life: float | None = figure("s")
    shelf_life_high: float | None = figure("s")
    self_discharge: float | None = figure("1/s")
    cutoff_typ: float = needed("V")
    i_load_max: float | None = figure("A")
    t_min: float | None = figure("K")
    t_max: float | None = figure("K")
    mass: float | None = figure("kg")
    diameter_max: float | None = figure("m")
    height_max: float | None = figure("m")
    capacity: tuple[CapacityPoint, ...] = points(CapacityPoint)
    loaded: tuple[CapacityPoint, ...] = points(CapacityPoint)
    durations: tuple[DurationPoint, ...] = points(DurationPoint)
    remaining: tuple[CutoffPoint, ...] = points(CutoffPoint)
    v_open: tuple[OpenPoint, ...] = points(OpenPoint)
    v_open_band: float | None = figure("V")
    note: str = word(default="")
    marks: Marks = field(default_factory=no_marks, repr=False, compare=False)

    @property
    def designation(self) -> str:
        """Return the IEC designation, the name by which the cell is known."""
        return self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class PinClass:
    """A microcontroller's pin: what it gives as an output and what it stands as an input."""

    name: str
    r_pin: float = needed("ohm")
    v_high_drop: float | None = figure("V")
    i_high_test: float | None = figure("A")
    i_pin_max: float = needed("A")
    i_pin_abs: float | None = figure("A")
    i_injection_max: float | None = figure("A")
    i_leakage_max: float | None = figure("A")
    r_source_max: float | None = figure("ohm")
    c_adc: float | None = figure("F")
    r_adc: float | None = figure("ohm")
    i_sleep: float | None = figure("A")
    v_min: float | None = figure("V")
    note: str = word(default="")
    marks: Marks = field(default_factory=no_marks, repr=False, compare=False)
