"""The pulse width as a voltage for a logger."""

from pathlib import Path

import pytest

from circuits.design_file import parse_design
from circuits.ledger import Severity
from circuits.pipeline import compute
from circuits.sheet import Sheet

FOYER = (Path(__file__).parents[2] / "examples" / "foyer_sculpture.toml").read_text()


def sheet(keys: str, *, remedies: bool = False) -> Sheet:
    return compute(parse_design(f"{FOYER}\n[log_output]\n{keys}\n", "f.toml"), remedies=remedies)


def value(of: Sheet, name: str) -> float:
    found = of.values[f"log_output.{name}"].value
    assert isinstance(found, float | int)
    return float(found)


def severity(of: Sheet, name: str) -> Severity:
    return next(f.severity for f in of.findings if f.id == f"log_output.{name}")


@pytest.mark.parametrize("poles", [1, 2])
def test_what_is_left_out_is_sized_so_that_nothing_fails(poles: int) -> None:
    found = sheet(f"poles = {poles}")
    for name in ("ripple", "settling", "bits", "loading", "full_scale"):
        assert severity(found, name) in (Severity.GOOD, Severity.TIGHT), name
    assert value(found, "bits") == pytest.approx(8.0)
    low, high = found.values["log_output.ripple"].low, found.values["log_output.ripple"].high
    assert low is not None
    assert high is not None
    assert low < value(found, "ripple") < high


def test_two_sections_settle_sooner_for_the_same_ripple() -> None:
    assert value(sheet("poles = 2"), "settling") < 0.5 * value(sheet("poles = 1"), "settling")


def test_a_small_capacitor_fails_and_is_cured() -> None:
    found = sheet('pwm_frequency = "500 Hz"\nresistor = "10k"\ncapacitor = "100 nF"', remedies=True)
    assert severity(found, "ripple") is Severity.FAILS
    assert found.cures["log_output.ripple"].changes[0].key == "capacitor"


def test_the_scale_leads_back_to_the_width() -> None:
    """Volts at the logger for a width, and back; the sagging pin level is told."""
    found = sheet('full_scale = "20 ms"\npwm_frequency = "1 kHz"')
    v_fresh = 20e-3 / value(found, "scale") / (1 - value(found, "loading"))
    assert v_fresh == pytest.approx(3 * 1.58, rel=0.02)
    assert severity(found, "scale") is Severity.MIND


def test_a_full_scale_below_the_pulse_fails() -> None:
    found = sheet('full_scale = "5 ms"', remedies=True)
    assert severity(found, "full_scale") is Severity.FAILS
    assert found.cures["log_output.full_scale"].changes[0].text == "10 ms"
