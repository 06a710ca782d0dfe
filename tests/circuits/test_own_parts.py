"""Parts of the user's own in [part.NAME]: read like the catalogue's, refused with the place."""

from typing import Any

import pytest

from circuits.catalogue import Catalogue, Diode, Mosfet, Transistor
from circuits.errors import DesignFileError
from tests.sources import Kind, source

FET: dict[str, Any] = {
    "kind": "nmos",
    "v_dss": "30 V",
    "v_gs_max": "12 V",
    "i_d_max": "3 A",
    "p_tot": "1 W",
    "v_gs_th_max": "1.2 V",
    "on": [{"v_gs": "2.5 V", "i_d": "1 A", "r_ds_on_max": "50 mohm"}],
    "q_g": "4 nC",
}
NPN: dict[str, Any] = {
    "kind": "npn",
    "v_ceo": "40 V",
    "i_c_max": "600 mA",
    "p_tot": "625 mW",
    "gain": [{"i_c": "10 mA", "v_ce": "1 V", "h_fe_min": 100, "h_fe_max": 300}],
    "saturation": [
        {"i_c": "150 mA", "i_b": "15 mA", "v_ce_sat_max": "0.3 V", "v_be_sat_max": "1.2 V"}
    ],
    "note": "from the drawer",
}
ONE_OF_EACH: dict[str, dict[str, Any]] = {
    "npn": NPN,
    "nmos": FET,
    "diode": {
        "kind": "diode", "v_rrm": "60 V", "i_f_av": "1 A",
        "forward": [{"i_f": "100 mA", "v_f_max": "0.5 V"}],
    },
    "zener": {
        "kind": "zener", "v_z_min": "9.4 V", "v_z_typ": "10 V", "v_z_max": "10.6 V",
        "i_z_test": "5 mA", "p_tot": "500 mW",
    },
    "magnet": {
        "kind": "magnet", "b_r_min": "1.1 T", "b_r_max": "1.2 T", "alpha_b_r": "-0.12 %/K",
        "t_max": "80 degC", "h_cj_min": "900 kA/m",
    },
    "wire": {
        "kind": "wire", "d_wire": "0.15 mm", "d_overall_grade1": "0.17 mm",
        "d_overall_grade2": "0.18 mm", "r_per_metre": "0.97 ohm/m",
    },
    "cell": {
        "kind": "cell", "v_nominal": "1.2 V", "v_fresh": "1.35 V", "q_cell": "2000 mAh",
        "cutoff_typ": "1 V", "shelf_life": "3 years", "self_discharge": "10 %/month",
    },
    "pin": {"kind": "pin", "r_pin": "30 ohm", "i_pin_max": "12 mA", "c_adc": "5 pF"},
}  # fmt: skip


def refused(table: dict[str, Any]) -> DesignFileError:
    with pytest.raises(DesignFileError) as caught:
        Catalogue({"MINE": table}, "my.toml")
    assert str(caught.value).startswith("my.toml: [part.MINE]")
    return caught.value


@pytest.mark.parametrize("kind", ONE_OF_EACH)
def test_every_kind_can_be_the_users_own(kind: str) -> None:
    catalogue = Catalogue({"MINE": ONE_OF_EACH[kind]})
    part = catalogue.part(kind, "mine")
    assert part.name == "MINE"
    assert catalogue.parts(kind)[0] is part
    assert catalogue.names(kind)[0] == "MINE"


@source(Kind.IDENTITY, "1 mohm is 0.001 ohm, 4 nC is 4e-9 C, 2000 mAh is 7200 C")
def test_quantities_are_read_with_their_units() -> None:
    fet = Catalogue({"MINE": FET}).transistor("MINE")
    assert isinstance(fet, Mosfet)
    assert fet.on[0].r_ds_on_max == pytest.approx(0.05)
    assert fet.q_g == pytest.approx(4e-9)
    assert fet.i_off_max is None
    cell = Catalogue({"MINE": ONE_OF_EACH["cell"]}).cell("MINE")
    assert cell.q_cell == pytest.approx(7200)
    assert cell.self_discharge == pytest.approx(0.1 / (365.25 / 12 * 86400), rel=1e-3)
    magnet = Catalogue({"MINE": ONE_OF_EACH["magnet"]}).magnet("MINE")
    assert magnet.t_max == pytest.approx(353.15)
    assert magnet.alpha_b_r == pytest.approx(-0.0012)


def test_gain_is_a_bare_number() -> None:
    part = Catalogue({"MINE": NPN}).transistor("MINE")
    assert isinstance(part, Transistor)
    assert (part.gain[0].h_fe_min, part.gain[0].h_fe_max) == (100, 300)
    assert part.note == "from the drawer"


def test_own_part_goes_before_the_catalogues() -> None:
    catalogue = Catalogue({"2n3904": NPN})
    assert catalogue.transistor("2N3904").i_c_max == pytest.approx(0.6)  # type: ignore[union-attr]
    plain = [name.casefold() for name in catalogue.names("npn")]
    assert plain.count("2n3904") == 1


def test_own_wire_is_found_by_its_diameter() -> None:
    catalogue = Catalogue({"MINE": ONE_OF_EACH["wire"]})
    assert catalogue.wire(0.15e-3).name == "MINE"
    assert catalogue.wire(0.16e-3).name == "0.16 mm"


def test_source_of_an_own_figure_is_the_design_file() -> None:
    catalogue = Catalogue({"MINE": FET})
    assert "design file" in catalogue.source_of("nmos", "MINE", "v_dss")
    assert catalogue.source_of("nmos", "MINE", "i_off_max") == ""


def test_own_name_is_offered_when_near() -> None:
    catalogue = Catalogue({"COILFET": FET})
    with pytest.raises(DesignFileError, match="COILFET"):
        catalogue.transistor("COILFETT")


def test_a_diode_of_the_users_own_has_the_kind_of_part_only() -> None:
    part = Catalogue({"MINE": ONE_OF_EACH["diode"]}).diode("MINE")
    assert isinstance(part, Diode)
    assert part.kind == ""


@pytest.mark.parametrize(
    ("changed", "key", "words"),
    [
        ({"kind": "nmoss"}, "kind", "nearest: nmos"),
        ({"kind": 3}, "kind", "found 3"),
        ({"v_ds": "30 V"}, "v_ds", "did you mean v_dss?"),
        ({"v_dss": 30}, "v_dss", '"30 V"'),
        ({"v_dss": "30 mA"}, "v_dss", "a current"),
        ({"v_dss": "thirty"}, "v_dss", "found"),
        ({"v_dss": True}, "v_dss", "found true"),
        ({"v_dss": "nan V"}, "v_dss", "finite"),
        ({"v_dss": "0 V"}, "v_dss", "between 1 and 2000 V"),
        ({"v_dss": "-30 V"}, "v_dss", "between"),
        ({"i_d_max": "3 MA"}, "i_d_max", "decimal point"),
        ({"v_gs_th_min": "1.5 V"}, "v_gs_th_min", "v_gs_th_max"),
        ({"note": "two\nlines"}, "note", "on one line"),
        ({"note": 5}, "note", "in quotes"),
        ({"on": []}, "on", "list of test points"),
        ({"on": "50 mohm"}, "on", "list of test points"),
        ({"on": [{"v_gs": "2.5 V", "i_d": "1 A"}]}, "on[1].r_ds_on_max", "state it"),
        (
            {"on": [{"v_gs": "2.5 V", "i_d": "1 A", "r_ds_on_max": "50"}]},
            "on[1].r_ds_on_max",
            "50 ohm",
        ),
        (
            {"on": [{"v_gs": "2.5 V", "i_d": "1 A", "r_ds_on_max": "50 mohm", "r": "1 ohm"}]},
            "on[1].r",
            "unknown key",
        ),
    ],
)
def test_what_is_wrong_is_named_with_its_place(
    changed: dict[str, Any], key: str, words: str
) -> None:
    error = refused(FET | changed)
    assert error.key == key
    assert words in str(error)


def test_on_resistance_that_rises_with_gate_voltage_is_refused() -> None:
    on = [
        {"v_gs": "2.5 V", "i_d": "1 A", "r_ds_on_max": "50 mohm"},
        {"v_gs": "4.5 V", "i_d": "1 A", "r_ds_on_max": "70 mohm"},
    ]
    assert "must fall with v_gs" in str(refused(FET | {"on": on}))


def test_saturation_above_the_base_voltage_is_refused() -> None:
    point = NPN["saturation"][0] | {"v_ce_sat_max": "1.5 V"}
    error = refused(NPN | {"saturation": [point]})
    assert error.key == "saturation[1].v_ce_sat_max"


@pytest.mark.parametrize("absent", ["v_ceo", "i_c_max", "p_tot", "saturation"])
def test_a_needed_figure_that_is_absent_is_named(absent: str) -> None:
    error = refused({key: value for key, value in NPN.items() if key != absent})
    assert error.key == absent
    assert error.found == "nothing"


def test_no_kind_is_asked_for() -> None:
    error = refused({key: value for key, value in FET.items() if key != "kind"})
    assert "npn, nmos, diode" in error.wanted


def test_forward_point_needs_one_of_two_voltages() -> None:
    error = refused(ONE_OF_EACH["diode"] | {"forward": [{"i_f": "1 A"}]})
    assert error.key == "forward[1].v_f_typ"


def test_something_that_is_no_table_is_refused() -> None:
    with pytest.raises(DesignFileError, match=r"\[part\] MINE: found 5"):
        Catalogue({"MINE": 5}, "my.toml")  # type: ignore[dict-item]


@pytest.mark.parametrize("name", ["", "a\x1b[31mb", "x" * 41, "two\nlines"])
def test_a_name_that_cannot_be_printed_is_refused(name: str) -> None:
    with pytest.raises(DesignFileError, match="the part name") as caught:
        Catalogue({name: FET}, "my.toml")
    assert str(caught.value).isprintable()
