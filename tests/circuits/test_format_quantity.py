"""Figures as they are printed."""

import math

import pytest

from circuits.format_quantity import show, show_range, show_temperature, significant
from tests.sources import Kind, source


@source(Kind.COMMON_PRACTICE, "SI prefixes in steps of a thousand, no source")
@pytest.mark.parametrize(
    ("value", "unit", "printed"),
    [
        (330.0, "ohm", "330 ohm"),
        (999.6, "ohm", "1 kohm"),
        (0.01219, "H", "12.2 mH"),
        (0.0184, "s", "18.4 ms"),
        (2.1 * 365.25 * 86400, "s", "2.1 years"),
        (365.25 * 86400, "s", "1 year"),
        (90.0, "s", "90 s"),
        (1e-7, "V", "100 nV"),
        (1.6e-4, "m", "0.16 mm"),
        (3e-6, "m", "3 um"),
        (-600.0, "s/day/rad", "-10.5 s/day per deg"),
        (0.0, "V", "0 V"),
        (-0.25, "V", "-250 mV"),
        (math.pi / 72, "rad", "2.5 deg"),
        (-6.5801, "s/day", "-6.58 s/day"),
        (64800.0, "C", "18 Ah"),
        (1.17, "Wb/m", "1.17 V per m/s"),
        (1480, "1", "1480"),
        (0.3456, "1", "0.346"),
        (3e-6, "kg*m^2", "3e-6 kg*m^2"),
        ("BC337-25", None, "BC337-25"),
        (math.inf, "A", "without limit"),
    ],
)
def test_a_figure_reads_with_three_digits(value: float, unit: str | None, printed: str) -> None:
    assert show(value, unit) == printed


def test_both_ends_of_a_span_share_one_unit() -> None:
    assert show_range(900.0, 1100.0, "ohm") == "0.9 to 1.1 kohm"
    assert show_range(5.0e7, 9.0e7, "s") == "1.58 to 2.85 years"
    assert show_range(0.0, 0.02, "V") == "0 to 20 mV"
    assert show_range(0.5, 0.5001, "1") == "0.5"


def test_what_is_printed_comes_back_within_half_a_digit() -> None:
    """Half of the third digit is at most 0.5 % of the figure."""
    for exponent in range(-12, 9):
        for mantissa in (1.0, 1.2345, 5.55, 9.994, 9.996):
            value = mantissa * 10.0**exponent
            assert float(significant(value)) == pytest.approx(value, rel=0.005)


def test_absolute_temperature_is_in_celsius() -> None:
    assert show_temperature(273.15 - 12.0) == "-12 degC"
