"""Ratings in the parts list: none is blank where a part can be overloaded."""

import pytest

from circuits.ratings import capacitor_rating, resistor_rating
from tests.circuits.drive_designs import sheet_with
from tests.sources import Kind, source


@source(Kind.COMMON_PRACTICE, "no source")
@pytest.mark.parametrize(
    ("power", "rating"), [(0.0, "0.1 W"), (0.06, "0.25 W"), (0.49, "1 W"), (20.0, "40 W or more")]
)
def test_a_resistor_stands_twice_its_power(power: float, rating: str) -> None:
    assert resistor_rating(power) == rating


@source(Kind.COMMON_PRACTICE, "no source")
def test_a_capacitor_stands_one_and_a_half_times_its_voltage() -> None:
    assert capacitor_rating(4.0) == "6 V or more"


@pytest.mark.parametrize("kind", ["diode", "diode_zener", "switch_zener", "resistor"])
@pytest.mark.parametrize("switch", ["npn", "nmos"])
def test_every_part_that_can_be_overloaded_has_a_rating(kind: str, switch: str) -> None:
    sheet = sheet_with(
        clamp={"kind": kind}, drive={"switch": switch, "pull_down": "100k"},
        supply={"reservoir": "220 uF"}, indicator={"led_current": "1 mA"},
    )  # fmt: skip
    for part in sheet.parts:
        if part.reference[0] in "RCQ" or part.reference in ("D1", "D2"):
            assert part.rating, part


def test_a_clamp_resistor_stands_a_pulse_that_sticks_on() -> None:
    # 5 V over 39 ohm are 0.64 W without end, twice that is 1.28 W.
    sheet = sheet_with(
        clamp={"kind": "resistor", "resistor": "39 ohm"},
        supply={"cell": None, "series": None, "voltage": "5 V"},
    )  # fmt: skip
    assert {part.reference: part.rating for part in sheet.parts}["R7"] == "2 W"
