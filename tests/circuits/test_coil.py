"""The coil at the winder's bench: what is left out is sized, what competes is compared."""

import json
from dataclasses import replace
from math import pi
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest

from circuits.catalogue import Catalogue
from circuits.design import (
    PickupCoil,
)
from circuits.design_write import with_changes
from circuits.errors import DesignFileError
from circuits.ledger import Basis, Ledger, Severity
from circuits.stages import coil
from tests.circuits.windings import BOBBIN, designed, sized, value
from tests.sources import Kind, source

BUILDER = "a builder's coil, moosteria.blogspot.com, October 2021"
REFERENCE = json.loads((Path(__file__).parents[1] / "data" / "winding_reference.json").read_text())
BUILDERS_BOBBIN = {"inner_diameter": 6e-3, "outer_diameter": 30e-3, "height": 10e-3}

# The builder's three facts


@source(
    Kind.MEASURED,
    BUILDER,
    printed="35 ohm, 32 AWG, bobbin inner 6 mm, outer about 30 mm, length 10 mm, about 60 m",
)
def test_builders_facts_are_compared_and_not_silently_chosen() -> None:
    """Worked by hand: 60 m make 1061 turns, 35 ohm make 1150; 28 to 31 % copper, 8 % apart."""
    keys = {"awg": 32, "resistance": 35.0, "wire_length": 60.0, **BUILDERS_BOBBIN}
    result, ledger = sized(keys)
    assert result.n_turns == 1150
    turns = ledger.values["coil.n_turns"]
    assert (turns.low, turns.high) == pytest.approx((1061, 1150), abs=0.5)
    agreement = ledger.findings["coil.agreement"]
    assert agreement.severity is Severity.MIND
    assert "1061 turns" in agreement.text
    assert "1150 turns" in agreement.text
    assert "differ by 8" in agreement.text
    fill = ledger.findings["coil.fill_factor"]
    assert fill.severity is Severity.MIND
    assert fill.text.startswith("28 to 31 % of the window is copper")
    assert "below the stated outer diameter" in fill.text


@source(Kind.MEASURED, BUILDER, printed="35 ohm, 32 AWG, bobbin 6/30/10 mm")
def test_builders_coil_by_its_resistance_alone() -> None:
    """Worked by hand: 65.0 m, 1150 turns, copper at the edge of a loose winding."""
    result, ledger = sized({"awg": 32, "resistance": 35.0, **BUILDERS_BOBBIN})
    assert (result.n_turns, result.r_coil) == (1150, 35.0)
    assert value(ledger, "wire_length") == pytest.approx(65.0, abs=0.05)
    assert value(ledger, "fill_factor") == pytest.approx(0.31, abs=0.005)
    assert ledger.findings["coil.fill_factor"].severity is Severity.TIGHT


@source(Kind.MEASURED, BUILDER, printed="full neat winding about 2000 turns and 60 ohm")
def test_builders_bobbin_wound_full() -> None:
    """ "About": worked by hand to one figure; a careful hand is good to a tenth."""
    result, ledger = sized({"awg": 32, **BUILDERS_BOBBIN})
    assert result.n_turns == pytest.approx(2000, rel=0.1)
    assert result.r_coil == pytest.approx(60.0, rel=0.1)
    assert ledger.values["coil.n_turns"].basis is Basis.SIZED
    assert "coil.packing" in ledger.assumed


@pytest.mark.parametrize(("mean", "length", "r"), [(15e-3, 20.7, 7.0), (20e-3, 27.6, 9.4)])
@source(
    Kind.PUBLISHED,
    "a public open-hardware repository's build notes, turns and gauge; worked by hand",
    printed="about 440 turns each of 30 AWG; mean dia 15-20 mm: 20.7-27.6 m, 7.0-9.4 ohm",
)
def test_two_coils_of_thirty_gauge(mean: float, length: float, r: float) -> None:
    """Half the last printed digit."""
    keys = {
        "inner_diameter": mean - 4e-3, "outer_diameter": mean + 4e-3, "height": 10e-3,
        "awg": 30, "turns": 440, "count": 2, "connection": "series",
    }  # fmt: skip
    result, ledger = sized(keys)
    assert value(ledger, "wire_length") == pytest.approx(length, abs=0.05)
    assert result.r_coil == pytest.approx(2 * r, abs=2 * 0.05)
    assert (result.linkage_factor, result.n_turns) == (2.0, 440)


@source(
    Kind.REFERENCE_LIBRARY,
    "independent reference (NumPy, SciPy, magpylib, ngspice), case A1_coil",
)
def test_inductance_of_the_reference_winding() -> None:
    """1e-6: the reference is good to 1e-9, the stage's quadrature is asked for no more."""
    case = REFERENCE["A1_coil"]
    result, _ = sized(
        {"inner_diameter": 2 * case["R1"], "outer_diameter": 2 * case["R2"],
         "height": case["h"], "turns": case["N"], "wire": 0.16e-3}
    )  # fmt: skip
    assert result.l_coil == pytest.approx(case["L_exact_H"], rel=1e-6)


# What is left out


def test_wire_left_out_is_the_thickest_that_fits() -> None:
    result, ledger = sized({"turns": 700, **BOBBIN})
    assert ledger.values["coil.d_wire"].basis is Basis.SIZED
    assert ledger.findings["coil.fits"].margin >= 0.1  # type: ignore[operator]
    thicker = min(s.d_wire for s in Catalogue().wires() if s.d_wire > result.d_wire)
    _, tight = sized({"turns": 700, "wire": thicker, **BOBBIN})
    assert tight.findings["coil.fits"].margin < 0.15  # type: ignore[operator]


def test_wire_left_out_with_a_resistance_keeps_the_resistance() -> None:
    result, ledger = sized({"resistance": 80.0, **BOBBIN})
    assert result.r_coil == 80.0
    assert ledger.findings["coil.fits"].severity is Severity.GOOD
    length = result.n_turns * pi * 15e-3
    made = length * 4 / (58e6 * pi * result.d_wire**2)
    assert made == pytest.approx(80.0, rel=0.002)


def test_wire_left_out_with_turns_and_resistance_is_the_nearest_size() -> None:
    """700 turns of 15 mm mean diameter are 33 m: 20 ohm ask for 0.1903 mm, the list has 0.2."""
    result, ledger = sized({"turns": 700, "resistance": 20.0, **BOBBIN})
    assert result.d_wire == pytest.approx(0.2e-3)
    assert "0.1903 mm" in ledger.values["coil.d_wire"].rule
    assert "coil.agreement" in ledger.findings


@pytest.mark.parametrize(
    "fact",
    [{"turns": 900}, {"wire_length": 45.0}, {"resistance": 30.0}, {"measured_resistance": 30.0}],
)
@source(Kind.IDENTITY, "the winding built up and then stated is the same winding")
def test_outer_diameter_left_out_is_computed(fact: dict[str, Any]) -> None:
    open_bobbin = {"wire": 0.2e-3, "inner_diameter": 8e-3, "height": 9e-3, **fact}
    result, ledger = sized(open_bobbin)
    outer = ledger.values["coil.outer_diameter"]
    assert outer.basis is Basis.SIZED
    again, _ = sized({**open_bobbin, "outer_diameter": outer.value})
    assert again.n_turns == result.n_turns
    assert again.r_coil == pytest.approx(result.r_coil, rel=1e-9)
    assert "coil.packing" in ledger.assumed
    assert ledger.findings["coil.fits"].severity in (Severity.GOOD, Severity.TIGHT)


@pytest.mark.parametrize(
    ("left_out", "key"),
    [
        ({"inner_diameter"}, "inner_diameter"),
        ({"height"}, "height"),
        ({"outer_diameter", "turns"}, "outer_diameter"),
        ({"wire", "turns"}, "wire"),
        ({"wire", "outer_diameter"}, "wire"),
    ],
)
def test_what_is_missing_is_named(left_out: set[str], key: str) -> None:
    keys = {"wire": 0.2e-3, "turns": 900, **BOBBIN}
    with pytest.raises(DesignFileError) as caught:
        sized({k: v for k, v in keys.items() if k not in left_out})
    assert (caught.value.section, caught.value.key) == ("coil", key)
    assert "add" in caught.value.wanted


def test_iron_is_refused_in_words() -> None:
    with pytest.raises(DesignFileError, match="cogging"):
        sized({"wire": 0.2e-3, "core": "iron", **BOBBIN})
    sized({"wire": 0.2e-3, "core": "air", **BOBBIN})


def test_outer_not_above_inner_is_refused() -> None:
    with pytest.raises(DesignFileError, match="make it larger"):
        sized({"wire": 0.2e-3, "inner_diameter": 9e-3, "outer_diameter": 9e-3, "height": 9e-3})


# Facts that compete

CONSISTENT = {"wire": 0.2e-3, "turns": 800, "wire_length": 37.7, "resistance": 20.69, **BOBBIN}


def test_facts_that_agree_are_good() -> None:
    """800 turns of 15 mm mean diameter: 37.70 m, and 20.69 ohm at 0.54881 ohm/m."""
    _, ledger = sized({**CONSISTENT, "measured_resistance": 20.9})
    agreement = ledger.findings["coil.agreement"]
    assert agreement.severity is Severity.GOOD
    assert agreement.value == pytest.approx(0.010, abs=0.001)


RIVALS = [
    (key, rival)
    for key in ("turns", "wire_length", "resistance")
    for rival in ("turns", "wire_length", "resistance", "measured_resistance")
    if key != rival
]


@pytest.mark.parametrize(("key", "rival"), RIVALS)
@pytest.mark.parametrize("factor", [1.12, 0.5, 10.0])
def test_any_two_facts_that_disagree_are_reported(key: str, rival: str, factor: float) -> None:
    """12 % is worth minding; half or ten times cannot be true, and each cure cures it."""
    figures = {**CONSISTENT, "measured_resistance": 20.69}
    keys: dict[str, Any] = {"wire": 0.2e-3, **BOBBIN, key: figures[key] * factor}
    keys[rival] = figures[rival]
    if "turns" in keys:
        keys["turns"] = round(keys["turns"])
    design = designed(keys)
    ledger = Ledger()
    coil.size(design, Catalogue(), ledger)
    finding = ledger.findings["coil.agreement"]
    assert finding.severity is (Severity.MIND if factor == 1.12 else Severity.FAILS)
    for name in (key, rival):
        assert f"{name} = " in finding.text
    assert finding.changes
    for changes in finding.changes:
        assert all(change.key != "measured_resistance" for change in changes)
        cured = Ledger()
        coil.size(with_changes(design, changes), Catalogue(), cured)
        assert cured.findings["coil.agreement"].severity is Severity.GOOD


def test_the_most_trusted_fact_is_tried_as_the_true_one_first() -> None:
    """Counted turns before a meter's resistance, that before a reckoned length."""
    _, ledger = sized({"wire": 0.2e-3, "resistance": 20.69, "wire_length": 377.0, **BOBBIN})
    first, second = ledger.findings["coil.agreement"].changes
    assert [change.key for change in first] == ["wire_length"]
    assert first[0].text == "37.7 m"
    assert [change.key for change in second] == ["resistance"]


def test_a_stated_tolerance_widens_what_agrees() -> None:
    keys = {"wire": 0.2e-3, "turns": 800, "resistance": 22.7, **BOBBIN}
    _, strict = sized(keys)
    assert strict.findings["coil.agreement"].severity is Severity.MIND
    stated = MappingProxyType({"coil.resistance": 0.15})
    _, wide = sized(keys, stated_tolerance=stated)
    assert wide.findings["coil.agreement"].severity is Severity.GOOD


def test_measured_resistance_overrides_and_says_by_how_much() -> None:
    result, ledger = sized({"wire": 0.2e-3, "turns": 800, "measured_resistance": 21.9, **BOBBIN})
    entry = ledger.values["coil.r_coil"]
    assert (result.r_coil, entry.basis) == (21.9, Basis.MEASURED)
    assert "5.8" in entry.rule
    assert "above" in entry.rule
    assert result.n_turns == 800


def test_measured_inductance_overrides_and_says_by_how_much() -> None:
    keys = {"wire": 0.2e-3, "turns": 800, **BOBBIN}
    computed, _ = sized(keys)
    result, ledger = sized({**keys, "measured_inductance": 0.7 * computed.l_coil})
    assert result.l_coil == 0.7 * computed.l_coil
    assert ledger.values["coil.l_coil"].basis is Basis.MEASURED
    assert ledger.findings["coil.inductance"].severity is Severity.MIND
    assert value(ledger, "tau") == pytest.approx(result.l_coil / result.r_coil)


# A winding that does not fit


@pytest.mark.parametrize(
    "keys",
    [
        {"wire": 0.25e-3, "turns": 2000},
        {"awg": 30, "turns": 2000},
        {"awg": 26, "resistance": 30.0},
        {"wire": 0.3e-3, "wire_length": 100.0},
        {"wire": 0.2e-3, "turns": 5000},
    ],
)
def test_too_many_turns_fail_and_every_cure_cures(keys: dict[str, Any]) -> None:
    design = designed({**keys, **BOBBIN})
    ledger = Ledger()
    coil.size(design, Catalogue(), ledger)
    finding = ledger.findings["coil.fits"]
    assert finding.severity is Severity.FAILS
    assert "thinner wire" in finding.remedy
    assert finding.changes
    for changes in finding.changes:
        cured = Ledger()
        coil.size(with_changes(design, changes), Catalogue(), cured)
        assert cured.findings["coil.fits"].severity is Severity.GOOD, changes


# The pickup coil, the parts and the bench


def test_pickup_coil_is_a_winding_of_its_own() -> None:
    keys = PickupCoil(wire=0.08e-3, turns=2500, inner_diameter=8e-3, height=6e-3)
    design = replace(designed({"wire": 0.2e-3, **BOBBIN}), pickup_coil=keys)
    ledger = Ledger()
    result = coil.size_pickup(design, Catalogue(), ledger)
    assert result is not None
    assert result.n_turns == ledger.values["pickup_coil.n_turns"].value == 2500
    assert all(name.startswith("pickup_coil.") for name in ledger.values)
    assert ledger.parts[0].reference == "L2"
    assert coil.size_pickup(replace(design, pickup_coil=None), Catalogue(), Ledger()) is None


def test_what_to_buy_and_what_to_measure() -> None:
    """45.24 m wound and a tenth to spare; 1.4 g of enamelled wire in 5 m."""
    _, ledger = sized({"wire": 0.2e-3, "turns": 960, "enamel": 2, **BOBBIN})
    assert value(ledger, "spool_length") == pytest.approx(1.1 * 45.24, rel=1e-3)
    assert value(ledger, "spool_mass") == pytest.approx(1.1 * value(ledger, "mass"))
    wire, bobbin = ledger.parts
    assert "0.2 mm, grade 2" in wire.part
    assert "inner 8 mm" in bobbin.part
    assert "coil.enamel" not in ledger.assumed
    (point,) = ledger.test_points
    assert point.instrument == "ohmmeter"
    assert "20 degC" in point.condition


@pytest.mark.parametrize("name", ["n_turns", "d_wire", "wire_length", "r_coil", "l_coil"])
def test_every_promised_value_is_there(name: str) -> None:
    _, ledger = sized({"wire": 0.2e-3, **BOBBIN})
    assert value(ledger, name) > 0
    units = {"n_turns": "1", "r_coil": "ohm", "l_coil": "H"}
    assert ledger.values[f"coil.{name}"].unit == units.get(name, "m")
    assert 0.3 < value(ledger, "fill_factor") < 0.6
