"""The drive stage: chosen or checked switch, base and gate, refusals."""

from typing import Any

import pytest

from circuits.catalogue import Catalogue
from circuits.errors import DesignFileError
from circuits.ledger import Basis, Severity
from circuits.part_records import Transistor
from circuits.preferred_values import is_preferred
from tests.circuits.drive_designs import coil_of, driven, sheet_with
from tests.sources import Kind, source

RELAY = {
    "supply": {"cell": None, "series": None, "voltage": "12 V"},
    "controller": {"pin_high": "5 V", "pin_resistance": "0 ohm", "pin_current_limit": "12 mA",
                   "brown_out": None},
}  # fmt: skip


def merged(base: dict[str, Any], **more: dict[str, Any]) -> dict[str, Any]:
    return {k: {**base.get(k, {}), **more.get(k, {})} for k in {**base, **more}}


@source(Kind.PUBLISHED, "question-and-answer thread on relay drive (newbedev.com copy)")
def test_relay_driver_needs_its_coil_tolerance_and_guaranteed_gain() -> None:
    """90 ohm +-10 % at 12 V: 148 mA at worst; a tutorial's 12.5 kohm leaves it starved."""
    drive, ledger = driven(
        coil_of(90.0, 0.1),
        **merged(RELAY, drive={"transistor": "2N4401", "base_resistor": "12.5 kohm"}),
    )
    assert drive.i_highest == pytest.approx(12 / 81)
    finding = ledger.findings["drive.saturation"]
    assert finding.severity is Severity.FAILS
    assert finding.changes
    assert drive.fresh.law.i_limit < 0.05


@source(Kind.PUBLISHED, "question-and-answer thread on relay drive (newbedev.com copy)")
def test_forced_gain_of_ten_out_of_reach_proposes_a_mosfet() -> None:
    """From 3.3 V it takes 14.8 mA, more than a 12 mA pin gives."""
    sections = merged(RELAY, controller={"pin_high": "3.3 V"}, drive={"transistor": "2N4401"})
    _, ledger = driven(coil_of(90.0, 0.1), **sections)
    finding = ledger.findings["drive.forced_gain"]
    assert finding.severity is Severity.MIND
    assert "MOSFET" in finding.remedy
    keys = {change.text for candidate in finding.changes for change in candidate}
    assert "nmos" in keys
    assert ledger.values["drive.r_b_max"].value < ledger.values["drive.r_b_min"].value  # type: ignore[operator]


@source(Kind.PUBLISHED, "question-and-answer thread on relay drive (newbedev.com copy)")
def test_transistor_beyond_its_rating_fails() -> None:
    """148 mA on a 2N3904 of 200 mA at most: within it but over 70 % of what may be used."""
    _, ledger = driven(coil_of(60.0, 0.1), **merged(RELAY, drive={"transistor": "2N3904"}))
    assert ledger.findings["drive.current_rating"].severity is Severity.FAILS


@source(Kind.IDENTITY, "the catalogue's own ratings")
def test_a_larger_switch_of_the_same_kind_is_offered_first() -> None:
    """Who has a bipolar transistor in three holes can put another there, but no other kind."""
    _, ledger = driven(coil_of(60.0, 0.1), **merged(RELAY, drive={"transistor": "2N3904"}))
    finding = ledger.findings["drive.current_rating"]
    first, *_, last = (next(iter(one)) for one in finding.changes)
    larger, small = Catalogue().transistor(first.text), Catalogue().transistor("2N3904")
    assert isinstance(larger, Transistor)
    assert isinstance(small, Transistor)
    assert larger.package == small.package
    assert larger.i_c_max > small.i_c_max
    assert (last.key, last.text) == ("switch", "nmos")


@source(Kind.PUBLISHED, "forum answer on an IRLZ44N from a 3.3 V pin (low trust, a trap)")
def test_mosfet_without_guarantee_is_minded_not_failed() -> None:
    sections = merged(
        RELAY, controller={"pin_high": "3.3 V"}, drive={"switch": "nmos", "transistor": "IRLZ44N"}
    )
    _, ledger = driven(coil_of(120.0), **sections)
    gate = ledger.findings["drive.gate_voltage"]
    assert gate.severity is Severity.MIND
    assert "not guaranteed at this gate voltage" in gate.text
    assert ledger.findings["drive.saturation"].severity is Severity.GOOD
    assert "loses" in ledger.findings["drive.saturation"].text


def test_mosfet_below_its_threshold_fails_with_one_that_is_specified() -> None:
    """2N7000: threshold up to 3.0 V, spent cells give 2.7 V."""
    _, ledger = driven(coil_of(36.0), drive={"switch": "nmos", "transistor": "2N7000"})
    finding = ledger.findings["drive.saturation"]
    assert finding.severity is Severity.FAILS
    names = [change.text for candidate in finding.changes for change in candidate]
    assert names
    _, again = driven(coil_of(36.0), drive={"switch": "nmos", "transistor": names[0]})
    assert again.findings["drive.saturation"].severity is Severity.GOOD


@pytest.mark.parametrize(
    ("keys", "word"),
    [
        ({"switch": "npn", "transistor": "TIP122"}, "Darlington"),
        ({"switch": "darlington"}, "Darlington"),
        ({"switch": None, "transistor": "BC556"}, "PNP"),
        ({"switch": "pnp"}, "follower"),
        ({"switch": "emitter follower"}, "emitter"),
        ({"switch": "h-bridge"}, "bridge"),
        ({"switch": "pmos"}, "P-channel"),
    ],
)
@source(Kind.PUBLISHED, "itecnotes.com copies of threads: PNP follower and Darlington from 3.3 V")
def test_unsuited_switches_are_refused_in_words(keys: dict[str, Any], word: str) -> None:
    with pytest.raises(DesignFileError) as refused:
        driven(coil_of(36.0), drive=keys)
    assert word in str(refused.value)
    assert "npn" in refused.value.wanted or "nmos" in refused.value.wanted
    assert refused.value.section == "drive"


def test_switch_and_type_must_agree() -> None:
    with pytest.raises(DesignFileError, match="nmos"):
        driven(coil_of(36.0), drive={"switch": "npn", "transistor": "AO3400A"})


def test_sized_resistor_lies_in_its_range_and_in_the_series() -> None:
    drive, ledger = driven(coil_of(75.0, 0.05), drive={"switch": None})
    value = {k.partition(".")[2]: v.value for k, v in ledger.values.items()}
    assert drive.kind == "npn"
    assert value["r_b_min"] <= value["r_b"] <= value["r_b_max"]  # type: ignore[operator]
    assert is_preferred(float(value["r_b"]))
    assert ledger.values["drive.r_b"].basis is Basis.SIZED
    assert ledger.findings["drive.saturation"].severity is Severity.GOOD
    assert ledger.findings["drive.pin_current"].severity in (Severity.GOOD, Severity.TIGHT)


def test_ends_of_the_range_are_where_the_checks_turn() -> None:
    _, sized = driven(coil_of(36.0), drive={"transistor": "PN2222A"})
    low = float(sized.values["drive.r_b_min"].value)
    high = float(sized.values["drive.r_b_max"].value)

    def severity(r_b: float, finding: str) -> Severity:
        keys = {"transistor": "PN2222A", "base_resistor": f"{r_b:.4f} ohm"}
        return driven(coil_of(36.0), drive=keys)[1].findings[finding].severity

    assert severity(1.01 * high, "drive.forced_gain") is Severity.MIND
    assert severity(0.99 * high, "drive.forced_gain") is not Severity.MIND
    assert severity(0.99 * low, "drive.pin_current") is Severity.FAILS
    assert severity(1.01 * low, "drive.pin_current") is not Severity.FAILS


def test_cold_and_spent_cells_narrow_the_range() -> None:
    plain = driven(coil_of(36.0), drive={"transistor": "PN2222A"})[1]
    cold = driven(
        coil_of(36.0), drive={"transistor": "PN2222A"},
        tolerance={"temperature": None}, design={"temperature": "-10 degC"},
    )[1]  # fmt: skip
    fresh_only = driven(
        coil_of(36.0), drive={"transistor": "PN2222A"}, supply={"cutoff_per_cell": "1.5 V"}
    )[1]
    most = [float(x.values["drive.r_b_max"].value) for x in (cold, plain, fresh_only)]
    assert most == sorted(most)
    assert most[0] < most[1] < most[2]


def test_stuck_pin_is_v_squared_over_r() -> None:
    _, ledger = driven(coil_of(36.0))
    v = float(ledger.values["supply.v_coil_fresh"].value)
    assert ledger.values["drive.p_stuck"].value == pytest.approx(v**2 / 36)
    assert "empties the cells" in ledger.findings["drive.stuck"].text


def test_boot_strap_pin_must_still_read_high() -> None:
    _, ledger = driven(coil_of(36.0), controller={"pull_up": "10 kohm"})
    assert ledger.findings["drive.boot_level"].severity is Severity.FAILS
    mosfet = {"switch": "nmos", "transistor": "AO3400A", "pull_down": "1 Mohm"}
    _, ledger = driven(coil_of(36.0), controller={"pull_up": "10 kohm"}, drive=mosfet)
    assert ledger.findings["drive.boot_level"].severity is Severity.GOOD


def test_axis_along_the_motion_pulses_every_second_swing() -> None:
    drive, _ = driven(coil_of(36.0), magnet={"axis": "motion"})
    assert drive.swings_per_pulse == 2
    with pytest.raises(DesignFileError, match="direction"):
        driven(coil_of(36.0), magnet={"axis": "motion"}, drive={"swings_per_pulse": 1})


@source(Kind.SIMULATOR, "independent reference (NumPy, SciPy, magpylib, ngspice), case C5b")
def test_starved_base_fails_with_a_remedy_that_has_been_tried() -> None:
    """10 kohm from 3 V on 30.2 ohm: the reference gets 38 mA where V/R says 99 mA."""
    sheet = sheet_with(
        remedies=True,
        coil={"measured_resistance": "30.2 ohm"},
        supply={"cell": None, "series": None, "voltage": "3 V"},
        drive={"transistor": "2N4401", "base_resistor": "10k", "pulse_width": "18 ms"},
    )
    finding = next(f for f in sheet.findings if f.id == "drive.saturation")
    assert finding.severity is Severity.FAILS
    assert "margin" in finding.remedy
    assert float(sheet.values["drive.i_coil"].value) < 0.06


def test_a_base_that_never_opens_is_told_in_words_and_cured_by_more_cells() -> None:
    """0.9 V of one spent cell behind the pin against a cold junction's drop."""
    sheet = sheet_with(
        remedies=True, supply={"series": 1}, controller={"brown_out": "0.8 V"},
    )  # fmt: skip
    found = next(f for f in sheet.findings if f.id == "drive.saturation")
    assert found.severity is Severity.FAILS
    assert "next to none" in found.text
    assert "e+" not in found.text
    assert "supply.series" in found.remedy
