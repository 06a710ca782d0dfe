"""Pickup: arrangements that can be built, the divider, what the pin sees and stands."""

from math import sqrt

import pytest

from circuits.errors import DesignFileError
from circuits.format_quantity import show
from circuits.ledger import Severity
from tests.circuits.drive_designs import sheet_with
from tests.circuits.listening import COIL, MOVEMENT, PICKUP_COIL, heard
from tests.sources import Kind, source

DIVIDER = '[pickup]\nupper = "10 kohm"\nlower = "10 kohm"\n'
COUPLED = '[pickup]\narrangement = "through_capacitor"\n'


def severity(extra: str, id: str, **kwargs: str) -> Severity:
    return heard(extra, **kwargs).ledger.findings[id].severity


@pytest.mark.parametrize(
    ("extra", "arrangement"),
    [("", "at_switch"), (PICKUP_COIL, "mid_rail"), (COUPLED, "through_capacitor"),
     (COUPLED + PICKUP_COIL, "through_capacitor")],
)  # fmt: skip
def test_windings_suggest_the_arrangement(extra: str, arrangement: str) -> None:
    found = heard(extra)
    assert found.pickup.arrangement == arrangement
    for symbol in ("r_upper", "r_lower", "v_bias", "r_source", "i_drain", "threshold"):
        assert f"pickup.{symbol}" in found.ledger.values
    for state in ("fresh", "spent"):
        for name in ("rest", "lobe", "lobe_last", "pulse", "kick", "next"):
            assert f"pickup.v_{name}_{state}" in found.ledger.values
    assert len(found.ledger.test_points) >= 2


@pytest.mark.parametrize(
    ("extra", "coil", "found"),
    [('[pickup]\narrangement = "at_switch"\n' + PICKUP_COIL, COIL, "shows the drive coil only"),
     ('[pickup]\narrangement = "mid_rail"\n', COIL, "mid_rail without a"),
     ("", COIL + 'use = "drive"\n', "nothing listens"),
     ('[pickup]\narrangement = "at the switch"\n', COIL, "at_switch is meant"),
     ('[pickup]\narrangement = "bridge"\n', COIL, "write one of at_switch")],
)  # fmt: skip
def test_other_combinations_are_refused_with_the_reason(extra: str, coil: str, found: str) -> None:
    with pytest.raises(DesignFileError, match=found):
        heard(extra, coil_text=coil)


@source(Kind.IDENTITY, "the divider solved with the coil in series and the pin as load")
def test_stated_divider_is_solved_with_its_load() -> None:
    found = heard(DIVIDER)
    rail = 3 * 1.58
    coil = found.pickup.r_winding
    assert found.pickup.r_upper == found.pickup.r_lower == 10e3
    assert found.value("pickup.v_bias") == pytest.approx(rail * 10e3 / (20e3 + coil), rel=1e-3)
    assert found.value("pickup.i_drain") == pytest.approx(rail / (20e3 + coil), rel=1e-3)
    assert found.value("pickup.r_source") == pytest.approx(5e3, rel=2e-3)
    loaded = heard(DIVIDER + '[controller]\nadc_resistance = "32 kohm"\n')
    assert loaded.value("pickup.v_bias") == pytest.approx(
        found.value("pickup.v_bias") * 32 / 37, rel=1e-3
    )


def test_sized_divider_fits_under_the_reference_fresh_and_spent() -> None:
    found = heard()
    finding = found.ledger.findings["pickup.headroom"]
    assert finding.severity is Severity.GOOD
    assert finding.margin is not None
    assert 0.1 < finding.margin < 0.25
    assert found.value("pickup.r_source") <= 10e3
    fixed = heard('[controller]\nadc_reference = "1.1 V"\n')
    assert fixed.ledger.findings["pickup.headroom"].severity is Severity.GOOD
    assert fixed.pickup.gain < 0.2


def test_stated_divider_that_exceeds_the_reference_fails_and_is_cured() -> None:
    extra = '[controller]\nadc_reference = "1.1 V"\n'
    finding = heard(DIVIDER + extra).ledger.findings["pickup.headroom"]
    assert finding.severity is Severity.FAILS
    change = finding.changes[0][0]
    cured = f'[pickup]\nupper = "10 kohm"\nlower = "{change.text}"\n'
    assert severity(cured + extra, "pickup.headroom") is Severity.GOOD


@source(Kind.COMMON_PRACTICE, "no source: a rest level that falls by far more than the threshold")
def test_fixed_baseline_dies_as_the_rail_sags() -> None:
    extra = '[controller]\nadc_reference = "3 V"\n[pickup]\nbaseline = '
    found = heard(extra + '"fixed"\n')
    finding = found.ledger.findings["pickup.baseline"]
    assert finding.severity is Severity.FAILS
    fall = found.pickup.v_bias_fresh - found.pickup.v_bias_spent
    assert finding.value == pytest.approx(fall, rel=1e-9)
    assert fall > 10 * found.pickup.threshold
    for word in ("ratiometric", "tracked"):
        assert severity(extra + f'"{word}"\n', "pickup.baseline") is Severity.GOOD
    regulated = '[pickup]\nbaseline = "ratiometric"\n[controller]\nadc_reference = "rail"\n'
    text = MOVEMENT + 'regulator_output = "2.5 V"\n'
    assert severity(regulated, "pickup.baseline", movement_text=text) is Severity.FAILS


@pytest.mark.parametrize(
    ("polarity", "trigger", "expected"),
    [("repel", "crossing", Severity.GOOD), ("repel", "threshold", Severity.GOOD),
     ("attract", "threshold", Severity.GOOD), ("attract", "previous_pass", Severity.GOOD),
     ("attract", "crossing", Severity.FAILS)],
)  # fmt: skip
def test_attraction_from_the_crossing_brakes(
    polarity: str, trigger: str, expected: Severity
) -> None:
    extra = f'[drive]\npolarity = "{polarity}"\ntrigger = "{trigger}"\n'
    finding = heard(extra).ledger.findings["pickup.trigger_polarity"]
    assert finding.severity is expected
    if expected is Severity.FAILS:
        assert len(finding.changes) == 3


def test_lobe_order_follows_the_polarity() -> None:
    repel = heard()
    attract = heard('[drive]\npolarity = "attract"\ntrigger = "threshold"\n')
    rest = repel.value("pickup.v_rest_fresh")
    assert repel.value("pickup.v_lobe_fresh") > rest > repel.value("pickup.v_lobe_last_fresh")
    assert attract.value("pickup.v_lobe_fresh") < rest < attract.value("pickup.v_lobe_last_fresh")


@source(Kind.IDENTITY, "M di/dt at both edges; a winding on the same bobbin")
def test_windings_on_one_bobbin_carry_pulse_and_kick_over() -> None:
    found = heard(PICKUP_COIL)
    v_max = found.ledger.values["pickup.v_mutual_pulse"]
    assert found.pickup.v_pulse == v_max.value
    ratio = found.pickup.v_kick / found.pickup.v_pulse
    assert 1.1 < ratio < 1.25
    # Turns 3 to 1 and nearly full coupling: two to three times the rail.
    assert 2 < found.pickup.v_pulse / (3 * 1.65) <= 3
    assert found.ledger.findings["pickup.mutual"].severity is Severity.MIND
    apart = heard(PICKUP_COIL + 'position = "60 mm"\n')
    assert apart.pickup.v_pulse < 0.2 * found.pickup.v_pulse


def test_injection_is_held_by_a_resistor_or_a_schottky() -> None:
    small = '[filter]\nresistor = "1 kohm"\ncapacitor = "10 uF"\n'
    finding = heard(PICKUP_COIL + small).ledger.findings["pickup.injection"]
    assert finding.severity is Severity.FAILS
    cured = PICKUP_COIL + small + '[controller]\npin_clamp = "schottky"\n'
    assert severity(cured, "pickup.injection") is Severity.GOOD
    assert severity(PICKUP_COIL, "pickup.injection") is not Severity.FAILS


@source(Kind.MEASURED, "moosteria.blogspot.com, October 2021 (a builder's measurements)",
        printed="0.5 to 0.65 V looks like a junction conducting")  # fmt: skip
def test_more_than_half_a_volt_across_a_junction_is_questioned() -> None:
    assert severity("", "pickup.junction") is Severity.GOOD
    strong = COIL.replace("turns = 1000", "turns = 6000").replace("0.2 mm", "0.05 mm")
    assert severity("", "pickup.junction", coil_text=strong) is Severity.MIND


@source(Kind.COMMON_PRACTICE, "no source: 10 uF behind 50 kohm is not discharged a beat later; the"
        " remedy is to take the signal at the switch")  # fmt: skip
def test_coupling_capacitor_fails_on_a_shared_coil() -> None:
    extra = COUPLED + 'upper = "100 kohm"\nlower = "100 kohm"\ncoupling = "10 uF"\n'
    found = heard(extra)
    # A quarter of a volt where the clamp stands at the capacitor itself; behind the filter's
    # resistor it charges it more slowly.
    assert 0.02 < found.value("pickup.v_residual") < 0.05
    finding = found.ledger.findings["timing.residual"]
    assert finding.severity is Severity.FAILS
    assert finding.changes[0][0].text == "at_switch"
    assert found.value("pickup.v_next_fresh") > found.value("pickup.v_rest_fresh") + 0.02
    small = heard(extra.replace("10 uF", "100 nF"))
    assert small.value("pickup.v_residual") < 1e-6
    assert small.filter.delay < -0.010
    assert small.ledger.findings["pickup.high_pass"].severity is Severity.FAILS
    assert small.value("pickup.f_high") == pytest.approx(32, abs=0.5)


def test_threshold_is_sized_below_the_weakest_lobe() -> None:
    found = heard('[tolerance]\nremanence = "10%"\n')
    least = found.filter.peak * found.pickup.slope_low
    assert found.pickup.threshold < 0.65 * least
    assert found.ledger.findings["filter.threshold"].severity is Severity.GOOD
    high = heard('[pickup]\nthreshold = "300 mV"\n').ledger.findings["filter.threshold"]
    assert high.severity is Severity.FAILS
    cured = f'[pickup]\nthreshold = "{high.changes[0][0].text}"\n'
    assert severity(cured, "filter.threshold") is Severity.GOOD


def test_magnet_along_the_motion_wants_a_pulse_a_period() -> None:
    lying = MOVEMENT.replace('height = "5 mm"', 'height = "5 mm"\naxis = "motion"')
    found = heard("", movement_text=lying)
    assert found.ledger.findings["pickup.trigger_polarity"].severity is Severity.GOOD
    # The event is the fall into the middle lobe, before the centre but for the filter's delay.
    assert -0.1 < found.filter.event_time - found.filter.delay < 0
    with pytest.raises(DesignFileError, match="write 2"):
        heard("[drive]\nswings_per_pulse = 1\n", movement_text=lying)


@source(Kind.IDENTITY, "winding and switch capacitance as a resonant circuit")
def test_ringing_is_far_above_the_pass() -> None:
    found = heard()
    assert found.value("pickup.f_ring") == pytest.approx(
        1 / (2 * 3.14159265 * sqrt(0.0177 * 158e-12)), rel=0.5
    )
    assert found.value("pickup.t_ring") < 1e-3


def test_bench_check_at_the_tap_tells_what_the_filter_holds_up() -> None:
    """By hand: the tap is pulled to the node's share, its capacitor holds the rest level."""
    sheet = sheet_with()
    rest, pulse = (float(sheet.values[f"pickup.v_{n}_fresh"].value) for n in ("rest", "pulse"))
    source, r = (float(sheet.values[n].value) for n in ("pickup.r_source", "filter.r"))
    first = (pulse * r + rest * source) / (r + source)
    told = next(p.expected for p in sheet.test_points if p.condition == "running, switch pulsing")
    assert f"{show(first, 'V')} as the pulse begins" in told


def test_a_coupling_capacitor_takes_the_whole_step_to_the_tap() -> None:
    """By hand: 4.74 V less at the node are 4.74 V less behind the capacitor, even below ground.

    The pin's own clamps are behind the filter's resistor and do not hold the tap.
    """
    found = heard(COUPLED).ledger.values
    rest, pulse = (float(found[f"pickup.v_{name}_fresh"].value) for name in ("rest", "pulse"))
    assert rest - pulse == pytest.approx(float(found["supply.v_coil_fresh"].value))
    assert pulse < -0.7
