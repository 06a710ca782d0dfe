"""The catalogue: figures within what is possible, pairs in order, a source beside each figure."""

import math
import re
from dataclasses import fields
from importlib.resources import files
from itertools import pairwise
from typing import Any

import pytest

from circuits.catalogue import KINDS, Catalogue
from circuits.errors import DesignFileError
from circuits.part_limits import BANDS, ORDERS, broken_rule
from circuits.part_reader import CatalogueError, read_part
from circuits.part_records import CONFIDENCES, Transistor
from tests.sources import Kind, source

CATALOGUE = Catalogue()
ALL = [(kind, part) for kind in KINDS for part in CATALOGUE.parts(kind)]
EACH = pytest.mark.parametrize(("kind", "part"), ALL, ids=lambda x: getattr(x, "name", x))

EACH_PART = pytest.mark.parametrize("part", [part for _, part in ALL], ids=lambda part: part.name)


def points_of(part: Any) -> list[Any]:
    return [
        entry
        for field in fields(part)
        if "points" in field.metadata
        for entry in getattr(part, field.name)
    ]


def test_every_kind_has_parts() -> None:
    """The walks below would pass on empty files."""
    counts = {kind: len(CATALOGUE.parts(kind)) for kind in KINDS}
    assert min(counts.values()) >= 4, counts
    assert sum(counts.values()) > 150


def test_every_data_file_is_a_kind() -> None:
    names = [entry.name for entry in files("circuits.parts").iterdir()]
    assert {name.removesuffix(".toml") for name in names if name.endswith(".toml")} == set(KINDS)


@EACH
def test_figures_lie_within_what_is_possible_and_in_order(kind: str, part: Any) -> None:
    assert broken_rule(part) is None
    assert isinstance(part, KINDS[kind])


@EACH_PART
def test_unknown_is_absent_and_never_zero(part: Any) -> None:
    for record in (part, *points_of(part)):
        for field in fields(record):
            value = getattr(record, field.name)
            if "unit" in field.metadata and field.name != "depth":
                assert value is None or value != 0, field.name


@EACH
def test_every_figure_has_a_source_and_a_confidence(kind: str, part: Any) -> None:
    for field in fields(part):
        if not ({"unit", "points"} & field.metadata.keys()) or not getattr(part, field.name):
            continue
        mark = part.marks[field.name]
        assert len(mark.source) > 3, field.name
        assert mark.confidence in CONFIDENCES
        assert CATALOGUE.source_of(kind, part.name, field.name) == str(mark)
        assert "://" not in str(mark), "a document, not a page that may be gone tomorrow"


@EACH_PART
def test_units_of_the_records_have_bands(part: Any) -> None:
    for record in (part, *points_of(part)):
        for field in fields(record):
            if "unit" in field.metadata:
                assert field.name in BANDS


def test_every_order_names_figures_of_one_record() -> None:
    records = [*KINDS.values()]
    records += [
        f.metadata["points"] for k in KINDS.values() for f in fields(k) if "points" in f.metadata
    ]
    together = [{f.name for f in fields(record)} for record in records]
    for low, high in ORDERS:
        assert any({low, high} <= names for names in together), (low, high)


@pytest.mark.parametrize("part", CATALOGUE.transistors(), ids=lambda part: part.name)
def test_a_saturated_transistor_drops_less_than_its_base(part: Transistor) -> None:
    for point in part.saturation:
        v_be = point.v_be_sat_max or point.v_be_sat_typ
        assert v_be is None or point.v_ce_sat_max < v_be
        assert 5 <= point.i_c / point.i_b <= 20, "a forced gain, not a current gain"
        assert point.i_c <= part.i_c_max


@pytest.mark.parametrize("part", CATALOGUE.transistors(), ids=lambda part: part.name)
def test_gain_points_rise_in_current_and_stay_within_the_rating(part: Transistor) -> None:
    for before, after in pairwise(part.gain):
        assert (before.i_c, before.v_ce) < (after.i_c, after.v_ce)
    assert all(point.i_c <= part.i_c_max for point in part.gain)


def test_free_air_power_heats_the_junction_within_reason() -> None:
    """P_tot times R_th(j-a) is the rise that the maker allows: 70 to 160 K."""
    for kind in ("npn", "nmos", "zener"):
        for part in CATALOGUE.parts(kind):
            if part.r_th_ja is not None:  # type: ignore[union-attr]
                assert 70 < part.p_tot * part.r_th_ja < 180, part.name  # type: ignore[union-attr]


@source(
    Kind.PUBLISHED,
    "onsemi P2N2222A data sheet; NXP PMBT2222A Rev 6",
    printed="0.3 V, 150 mA, 15 mA",
)
def test_pn2222a_reads_as_its_sheet() -> None:
    part = CATALOGUE.transistor("PN2222A")
    assert isinstance(part, Transistor)
    point = part.saturation[0]
    assert (point.i_c, point.i_b, point.v_ce_sat_max) == (0.15, 0.015, 0.3)
    assert part.i_c_max == 0.6
    assert "swapped" in part.note
    assert CATALOGUE.transistor("p2n2222a") is part


@source(Kind.PUBLISHED, "ST BC337 (March 2003): 500 mA; onsemi BC337/D Rev 7: 800 mA")
def test_the_careful_figure_stands_where_makers_disagree() -> None:
    assert CATALOGUE.transistor("bc337-40").i_c_max == 0.5  # type: ignore[union-attr]
    assert "800 mA" in CATALOGUE.source_of("npn", "BC337-40", "i_c_max")


@source(Kind.PUBLISHED, "onsemi NDS7002A/D Rev 6; Vishay 70226; onsemi BSS138 data sheet")
@pytest.mark.parametrize("name", ["2N7000", "BS170", "BSS138", "IRLZ44N"])
def test_no_promise_below_the_lowest_gate_voltage(name: str) -> None:
    part = CATALOGUE.transistor(name)
    assert min(point.v_gs for point in part.on) >= 4.0  # type: ignore[union-attr]


@source(
    Kind.PUBLISHED,
    "Excel Semi BZX55C Rev 3f, rows 12 V and 30 V",
    printed="11.4 12.7, 28 32",
)
def test_zener_limits_are_tabulated_not_a_percentage() -> None:
    twelve, thirty = CATALOGUE.zener("BZX55C12"), CATALOGUE.zener("BZX55-C30")
    assert (twelve.v_z_min, twelve.v_z_max) == (11.4, 12.7)
    assert (thirty.v_z_min, thirty.v_z_max) == (28, 32)


@source(Kind.IDENTITY, "E24 values to 75 V; limits about 5 % to 8 % either side")
def test_zener_name_says_its_voltage() -> None:
    for part in CATALOGUE.zeners():
        written = re.sub(r"^BZX\d\dC", "", part.name).replace("V", ".")
        assert float(written) == part.v_z_typ
        assert 0.04 < (part.v_z_max - part.v_z_min) / part.v_z_typ / 2 < 0.08


@source(
    Kind.PUBLISHED,
    "IEC 60317-0-1:2013, a wire maker's table, row 0.100 mm",
    printed="0.108 0.117 0.118 0.125 2.034 2.176 2.333",
)
def test_wire_reads_as_its_table() -> None:
    wire = CATALOGUE.wire(0.1e-3)
    assert wire.name == "0.1 mm"
    printed = (
        wire.d_overall_grade1_min,
        wire.d_overall_grade1,
        wire.d_overall_grade2_min,
        wire.d_overall_grade2,
    )
    assert printed == (0.108e-3, 0.117e-3, 0.118e-3, 0.125e-3)
    assert (wire.r_per_metre_min, wire.r_per_metre, wire.r_per_metre_max) == (2.034, 2.176, 2.333)


@source(Kind.PUBLISHED, "IEC 60028:1925, standard annealed copper", printed="1/58 ohm mm2/m")
def test_wire_resistance_is_that_of_copper() -> None:
    """Fine sizes were read from a table that works with 1/58.5 and rounds to four digits."""
    for wire in CATALOGUE.wires():
        area = math.pi / 4 * wire.d_wire**2
        assert wire.r_per_metre is not None
        looked_up = wire.marks["r_per_metre"].confidence == "looked-up"
        rho = 1 / 58.5e6 if looked_up else 1 / 58e6
        assert wire.r_per_metre * area == pytest.approx(rho, rel=3e-4), wire.name


@source(Kind.IDENTITY, "between two sizes the overall diameter lies between theirs")
def test_wire_between_two_sizes_is_interpolated_and_says_so() -> None:
    """AWG 30 is 0.2546 mm, between 0.25 and 0.28 mm."""
    wire, below, above = (CATALOGUE.wire(d * 1e-3) for d in (0.25464, 0.25, 0.28))
    assert below.d_overall_grade1 < wire.d_overall_grade1 < above.d_overall_grade1
    assert below.d_overall_grade2 < wire.d_overall_grade2 < above.d_overall_grade2
    assert wire.d_wire == 0.25464e-3
    assert "interpolated between 0.25 mm and 0.28 mm" in wire.note
    assert wire.r_per_metre is None


@source(Kind.IDENTITY, "thin enamel stays in proportion, and continues the table at its ends")
@pytest.mark.parametrize(("d_wire", "at"), [(0.02e-3, "0.05 mm"), (1.6e-3, "1 mm")])
def test_wire_beyond_the_table_says_so(d_wire: float, at: str) -> None:
    wire, last = CATALOGUE.wire(d_wire), CATALOGUE.part("wire", at)
    ratio = last.d_overall_grade1 / last.d_wire  # type: ignore[union-attr]
    assert wire.d_overall_grade1 == pytest.approx(d_wire * ratio)
    assert "beyond the table" in wire.note


@source(Kind.PUBLISHED, "alkaline and zinc-carbon D cells on one test: a third of the charge")
def test_zinc_carbon_is_not_alkaline() -> None:
    ratio = CATALOGUE.cell("R20").q_cell / CATALOGUE.cell("LR20").q_cell
    assert ratio == pytest.approx(1 / 3, rel=0.1)


@source(Kind.PUBLISHED, "Handbook of Batteries (Linden), table 4.9a", printed="34.2 61.5")
def test_cell_goes_by_its_common_names() -> None:
    cell = CATALOGUE.cell("lr20")
    assert CATALOGUE.cell("D alkaline") is cell
    assert cell.designation == "LR20"
    assert (cell.diameter_max, cell.height_max) == (34.2e-3, 61.5e-3)


@pytest.mark.parametrize("cell", CATALOGUE.cells(), ids=lambda cell: cell.name)
def test_a_higher_load_never_gives_more_charge(cell: Any) -> None:
    for before, after in pairwise(cell.capacity):
        assert before.i_load < after.i_load
        assert before.q_cell >= after.q_cell


@source(
    Kind.PUBLISHED,
    "Microchip ATmega328PB DC characteristics: 10 mA, V_CC 3 V",
    printed="2.1",
)
def test_pin_resistance_is_worked_from_the_guaranteed_high_level() -> None:
    pin = CATALOGUE.pin("ATmega328P")
    assert pin.i_high_test is not None
    assert 3.0 - pin.r_pin * pin.i_high_test == pytest.approx(2.1)


@pytest.mark.parametrize("pin", CATALOGUE.pins(), ids=lambda pin: pin.name)
def test_pin_resistance_and_drop_agree(pin: Any) -> None:
    if pin.v_high_drop is not None:
        assert pin.r_pin * pin.i_high_test == pytest.approx(pin.v_high_drop)


@pytest.mark.parametrize(
    ("spelling", "name"),
    [("2n3904", "2N3904"), (" 2N 3904 ", "2N3904"), ("bc547b", "BC547B"), ("BC337/25", "BC337-25")],
)
def test_spelling_does_not_matter(spelling: str, name: str) -> None:
    assert CATALOGUE.transistor(spelling).name == name


@pytest.mark.parametrize(
    ("find", "asked", "near"),
    [
        (CATALOGUE.transistor, "2N2222", "2N2222A"),
        (CATALOGUE.transistor, "BC547", "BC547B"),
        (CATALOGUE.diode, "1N4149", "1N4148"),
        (CATALOGUE.zener, "BZX55D5V1", "BZX55C5V1"),
        (CATALOGUE.magnet, "N43", "N4"),
        (CATALOGUE.cell, "LR21", "LR20"),
        (CATALOGUE.pin, "ATmega328X", "8-bit 20 mA"),
    ],
)
def test_unknown_name_offers_the_nearest(find: Any, asked: str, near: str) -> None:
    with pytest.raises(DesignFileError) as caught:
        find(asked)
    assert near in str(caught.value)
    assert f'"{asked}"' in caught.value.found
    assert "[part.NAME]" in caught.value.wanted


def test_a_name_of_control_characters_is_shown_harmlessly() -> None:
    with pytest.raises(DesignFileError) as caught:
        CATALOGUE.diode("\x1b[31m" + "x" * 500)
    assert "\x1b" not in str(caught.value)
    assert len(str(caught.value)) < 400


def test_reader_refuses_a_figure_without_source() -> None:
    with pytest.raises(CatalogueError, match="without source"):
        read_part(Transistor, "X", {"v_ceo": 40})


def test_reader_refuses_an_unknown_key() -> None:
    table = {"source": "a sheet", "confidence": "memory", "v_ceo": 40, "v_cbo": 60}
    with pytest.raises(CatalogueError, match="v_cbo"):
        read_part(Transistor, "X", table)


def test_reader_refuses_a_part_that_lacks_a_needed_figure() -> None:
    table = {"source": "a sheet", "confidence": "memory", "v_ceo": 40}
    with pytest.raises(CatalogueError, match="i_c_max"):
        read_part(Transistor, "X", table)


def test_a_list_takes_the_weakest_confidence_of_its_points() -> None:
    table = {
        "source": "a sheet", "confidence": "looked-up", "v_ceo": 40, "i_c_max": 1, "p_tot": 1,
        "saturation": [
            {"i_c": 0.1, "i_b": 0.01, "v_ce_sat_max": 0.2},
            {"i_c": 0.5, "i_b": 0.05, "v_ce_sat_max": 0.4, "confidence": "memory", "at": "25 degC"},
        ],
    }  # fmt: skip
    part = read_part(Transistor, "X", table)
    assert str(part.marks["saturation"]) == "a sheet: 25 degC (memory)"
