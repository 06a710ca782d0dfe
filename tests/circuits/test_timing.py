"""Timing: jitter by contributor, hum in step with the beat, and one deaf time."""

from math import log, sqrt

import pytest

from circuits.design_file import parse_design
from circuits.ledger import Severity
from circuits.pipeline import compute
from tests.circuits.listening import COIL, MOVEMENT, PICKUP_COIL, heard
from tests.sources import Kind, source

QUIET = '[filter]\nhum = "0 V"\n[controller]\ntick = "1 us"\n'


@source(Kind.IDENTITY, "root of the squares; two events a beat")
def test_jitter_is_the_sum_of_its_shares() -> None:
    found = heard()
    shares = {
        name: found.value(f"timing.jitter_{name}") for name in ("thermal", "converter", "tick")
    }
    whole = sqrt(2 * sum(v**2 for v in shares.values()) + found.value("timing.jitter_hum") ** 2)
    assert found.timing.jitter == pytest.approx(whole, rel=1e-9)
    assert found.value("timing.jitter_converter") == max(shares.values())


def test_finer_converter_and_less_hum_time_better() -> None:
    coarse = heard(QUIET + "adc_bits = 10\n")
    fine = heard(QUIET + "adc_bits = 12\n")
    assert fine.timing.jitter == pytest.approx(coarse.timing.jitter / 4, rel=0.01)
    hum = heard('[filter]\nhum = "200 mV"\n')
    assert hum.value("timing.jitter_hum") > 50 * coarse.value("timing.jitter_tick")


def test_period_near_the_mains_makes_the_rate_wander() -> None:
    hum = '[filter]\nhum = "20 mV"\nmains = "50 Hz"\n'
    near = MOVEMENT.replace('"1.9 s"', '"2.0004 s"')
    assert "timing.hum" in heard(hum, movement_text=near).ledger.findings
    away = MOVEMENT.replace('"1.9 s"', '"1.95 s"')
    assert "timing.hum" not in heard(hum, movement_text=away).ledger.findings


@source(Kind.IDENTITY, "one pole: the pulse's depth falls to the hysteresis in tau ln(depth/level)")
def test_deaf_time_is_pulse_release_and_recovery() -> None:
    """1 ms: the closed form lets the pulse settle fully and takes no kick."""
    found = heard(width=0.2, v_clamp=0.8, t_zero=1e-6)
    depth = found.pickup.gain * 3 * 1.58
    by_hand = 0.2 + found.filter.tau_slow * log(depth / found.pickup.hysteresis)
    assert found.timing.deaf_until == pytest.approx(by_hand, abs=1e-3)
    assert found.ledger.findings["timing.kick"].severity is Severity.MIND


def test_deaf_time_must_end_before_the_next_pass() -> None:
    assert heard().ledger.findings["timing.deaf"].severity is Severity.GOOD
    slow = '[filter]\nresistor = "470 kohm"\ncapacitor = "1 uF"\n'
    finding = heard(slow).ledger.findings["timing.deaf"]
    assert finding.severity is Severity.FAILS
    assert finding.changes


def test_kick_through_mutual_inductance_counts() -> None:
    near = heard(PICKUP_COIL)
    assert near.timing.deaf_until > 0.02
    assert near.timing.deaf_until < heard(PICKUP_COIL, width=0.05).timing.deaf_until


def test_pulse_before_the_crossing_leaves_it_readable() -> None:
    text = MOVEMENT + COIL + '[drive]\npolarity = "attract"\ntrigger = "previous_pass"\n'
    findings = {f.id: f for f in compute(parse_design(text, "invented.toml")).findings}
    assert findings["timing.deaf"].severity is Severity.GOOD
    assert "the crossing of the same pass" in findings["timing.deaf"].text


def test_coupling_capacitor_is_cured_by_the_switch_s_own_signal() -> None:
    text = MOVEMENT + COIL + '[pickup]\narrangement = "through_capacitor"\ncoupling = "10 uF"\n'
    findings = {f.id: f for f in compute(parse_design(text, "invented.toml")).findings}
    assert findings["timing.residual"].severity is Severity.FAILS
    assert "With pickup.arrangement = at_switch" in findings["timing.residual"].remedy
