"""The door for one quantity, against what people write and what simulators made of it."""

import time
from decimal import Decimal
from itertools import product
from math import isfinite, pi

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from circuits.quantity import QuantityError, parse_quantity
from circuits.unit_text import WORDS, scale
from tests.sources import Kind, source

REFERENCE = pint.UnitRegistry()
SI_PREFIXES = {
    "": 1.0, "f": 1e-15, "p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "c": 1e-2, "k": 1e3,
    "M": 1e6, "G": 1e9,
}  # fmt: skip


def refusal(text: str, unit: str) -> QuantityError:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, unit)
    assert caught.value.found
    assert caught.value.wanted
    return caught.value


def read_or_refused(text: str, unit: str) -> bool:
    """Whether a text gives a finite figure or a printable refusal."""
    try:
        return isfinite(parse_quantity(text, unit).value)
    except QuantityError as error:
        return str(error).isprintable()


@source(
    Kind.SIMULATOR,
    "run with ngspice 39, November 2026; public threads: what a SPICE reader made of values "
    "that a person types",
    printed="1M -> 1 mohm; 4k7 -> 4 kohm; 4R7 -> 4 ohm; 4,7k -> 7 kohm; 10mF -> 10 mohm",
)
@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("1M", "ohm", 1e6),
        ("1MOhm", "ohm", 1e6),
        ("1 Mohm", "ohm", 1e6),
        ("100 M", "ohm", 100e6),
        ("100 MOhm", "ohm", 100e6),
        ("4k7", "ohm", 4700.0),
        ("4R7", "ohm", 4.7),
        ("10mF", "F", 0.01),
        ("100µ", "F", 100e-6),
        ("100μ", "F", 100e-6),
        ("1F", "F", 1.0),
        ("2A", "A", 2.0),
        ("1G", "ohm", 1e9),
    ],
)
def test_values_that_a_spice_reader_takes_wrongly(text: str, unit: str, value: float) -> None:
    assert parse_quantity(text, unit).value == value


@source(Kind.PUBLISHED, "public threads: a field that made 10kG of 1G, commas, lone m")
@pytest.mark.parametrize(
    ("text", "unit", "found", "wanted"),
    [
        ("4,7k", "ohm", "a comma", '"4.7k"'),
        ("1m", "ohm", "1m", '"1 Mohm"'),
        ("4m7", "ohm", "4m7", '"4.7 mohm"'),
        ("10m", "F", "10m", '"10 uF"'),
        ("10kG", "ohm", "flux density", "a resistance"),
        ("1Meg", "ohm", "Meg", "resistance"),
    ],
)
def test_ambiguous_values_are_asked_back(text: str, unit: str, found: str, wanted: str) -> None:
    error = refusal(text, unit)
    assert found in error.found
    assert wanted in error.wanted


@source(
    Kind.PUBLISHED,
    "public threads on micro and ohm signs, 2019 to 2026: U+00B5 and U+03BC, U+2126 and "
    "U+03A9 were each read wrongly somewhere",
    printed='"2.5 uF" with U+03BC returned value 2.5 with unit "uF"',
)
@pytest.mark.parametrize("micro", ["\u00b5", "\u03bc", "u"])
def test_every_micro_sign(micro: str) -> None:
    assert parse_quantity(f"4.6 {micro}H", "H").value == 4.6e-6
    assert parse_quantity(f"2.5 {micro}F", "F").value == 2.5e-6
    assert parse_quantity(f"0{micro}1", "F").value == 1e-7


@source(Kind.PUBLISHED, "public threads on ohm signs; Unicode folds U+2126 to U+03A9")
@pytest.mark.parametrize("ohm", ["\u2126", "\u03a9", "ohm", "Ohm", "ohms", "R"])
@pytest.mark.parametrize(("prefix", "factor"), [("", 1.0), ("k", 1e3), ("M", 1e6), ("m", 1e-3)])
def test_every_ohm_sign(ohm: str, prefix: str, factor: float) -> None:
    assert parse_quantity(f"47 {prefix}{ohm}", "ohm").value == pytest.approx(47 * factor, rel=1e-15)


@source(Kind.PUBLISHED, "IEC 60062, marking codes for resistors and capacitors", printed="4K7 R47")
@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("R47", "ohm", 0.47), ("0R5", "ohm", 0.5), ("470R", "ohm", 470.0), ("4K7", "ohm", 4700.0),
        ("2M2", "ohm", 2.2e6), ("10k", "ohm", 1e4), ("4.7k", "ohm", 4700.0), ("1G5", "ohm", 1.5e9),
        ("100n", "F", 1e-7), ("0u1", "F", 1e-7), ("4p7", "F", 4.7e-12), ("p33", "F", 0.33e-12),
        ("4u7", "F", 4.7e-6), ("1F5", "F", 1.5), ("4u7", "H", 4.7e-6), ("3V3", "V", 3.3),
        ("4k7 ohm", "ohm", 4700.0), ("4k7Ω", "ohm", 4700.0), ("4m7 ohm", "ohm", 4.7e-3),
    ],
)  # fmt: skip
def test_letter_codes(text: str, unit: str, value: float) -> None:
    assert parse_quantity(text, unit).value == value


def test_a_letter_code_says_that_its_unit_came_from_the_key() -> None:
    assert not parse_quantity("4k7", "ohm").explicit_unit
    assert parse_quantity("4k7 ohm", "ohm").explicit_unit
    assert parse_quantity("4.7 kohm", "ohm").explicit_unit
    assert not parse_quantity("0.05", "1").explicit_unit


@pytest.mark.parametrize(
    ("number", "unit", "offered"), [("35", "ohm", "35 ohm"), ("18", "s", "18 ms")]
)
def test_a_bare_number_is_offered_with_a_unit(number: str, unit: str, offered: str) -> None:
    """A coil of 35 ohm must not be offered as one of 35 kohm."""
    with pytest.raises(QuantityError) as caught:
        parse_quantity(number, unit)
    assert f'"{offered}"' in caught.value.wanted


@source(Kind.IDENTITY, "the definitions of the units")
@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("0.16 mm", "m", 0.00016), ("18 mohm", "ohm", 0.018), ("3e-6 kg*m^2", "kg*m^2", 3e-6),
        ("3e-6 kg·m²", "kg*m^2", 3e-6), ("30 g*cm^2", "kg*m^2", 3e-6), ("180 deg", "rad", pi),
        ("20 degC", "K", 293.15), ("-40 °C", "K", 233.15), ("-40 degF", "K", 233.15),
        ("20 ℃", "K", 293.15),
        ("293 K", "K", 293.0), ("2500 mAh", "C", 9000.0), ("0.5 s/day", "s/day", 0.5),
        ("250 ms/day", "s/day", 0.25), ("7 s/week", "s/day", 1.0), ("12e-6 1/K", "1/K", 12e-6),
        ("12 ppm/K", "1/K", 12e-6), ("12e-6/degC", "1/K", 12e-6), ("20 ppm", "1", 20e-6),
        ("5 %", "1", 0.05), ("5%", "1", 0.05), ("0.05", "1", 0.05), ("2 years", "s", 63115200.0),
        ("6 months", "s", 15778800.0), ("3 days", "s", 259200.0), ("2 h", "s", 7200.0),
        ("10 min", "s", 600.0), ("18 ms", "s", 0.018), ("2e6 N/m", "N/m", 2e6), ("1.2 T", "T", 1.2),
        ("12 kG", "T", 1.2), ("0.5 in", "m", 0.0127), ("-900 1/day", "1/day", -900.0),
        (".5 V", "V", 0.5),
        ("\uff11\uff10 mm", "m", 0.01), ("5\u00a0mm", "m", 0.005), ("\u22122 mm", "m", -0.002),
    ],
)  # fmt: skip
def test_what_people_write(text: str, unit: str, value: float) -> None:
    # Units that are no power of ten apart meet in the last digit or two of a double.
    assert parse_quantity(text, unit).value == pytest.approx(value, rel=5e-16)


@pytest.mark.parametrize(
    "text", ["4k7 5%", "4k7 5 %", "4k7 ±5 %", "4k7 ±5%", "4k7 +/-5%", "4.7 kΩ 5%"]
)
def test_a_tolerance_behind_the_value(text: str) -> None:
    quantity = parse_quantity(text, "ohm")
    assert (quantity.value, quantity.tolerance) == (4700.0, 0.05)


HOSTILE = [
    "", " ", "nan", "NaN m", "inf", "-inf m", "infinity m", "0x10 m", "1_000 m", "1'000 m",
    "1,000 m",
    "9**9**9", "9**9**9 m", "9^9 m", "2*3 m", "1/2 m", "1+1 m", "(1) m", "1 m m", "1 m*", "1 /m/",
    "1 m^99", "1 m^-", "__import__('os')", "1 __class__", "1 m.real", "1e999 m", "1e-999 m",
    "1e99999999 m", "1e m", "m", "1 m; 2", "1 m # x", "1\x00 m", "1\n m", "1 m\r", "1 m\u2028",
    "1 m\u2029",
    "1\u202e m", "1\u200b m", "\ufeff1 m", "\ud800", "1 " + "m*" * 2000 + "m",
    "1 " + "m*" * 20 + "m",
    "1" * 5000 + " m", "1" * 60 + "e300 m", "½ m", "٣ m", "1 furlongs", "1 Q", "1 mM",
    "1 delta_degC", "5",
    "5 %", "5 mm 500 %", "5 mm ± %", "\ufdfa" * 60, "1 " + "\ufdfa" * 60, "a" * 64, "1" * 64,
    " " * 64,
]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
@pytest.mark.parametrize("unit", ["m", "ohm"])
def test_what_is_no_quantity_is_refused_in_words(text: str, unit: str) -> None:
    error = refusal(text, unit)
    assert str(error).isprintable()
    assert len(str(error)) < 300


def test_both_kinds_are_named_when_the_dimension_is_wrong() -> None:
    error = refusal("5 mm", "ohm")
    assert "a length" in error.found
    assert "a resistance" in error.wanted


@pytest.mark.parametrize(
    ("text", "unit", "offered"),
    [
        ("10 MM", "m", "10 mm"),
        ("50 hz", "Hz", "50 Hz"),
        ("10 PF", "F", "10 pF"),
        ("5 furlong", "m", "0.16 mm"),
    ],
)
def test_an_unknown_unit_comes_with_one_that_does(text: str, unit: str, offered: str) -> None:
    assert f'"{offered}"' in refusal(text, unit).wanted


def test_ratios_and_angles_are_never_taken_for_each_other() -> None:
    assert "an angle" in refusal("2 deg", "1").found
    assert "a ratio" in refusal("2 %", "rad").found


@source(Kind.REFERENCE_LIBRARY, "pint, its own default definitions")
@pytest.mark.parametrize(
    ("unit", "plain"),
    [("m", "m"), ("g", "g"), ("s", "s"), ("A", "A"), ("ohm", "ohm"), ("V", "V"), ("F", "F"),
    ("H", "H"),
     ("T", "T"), ("G", "1e-4*T"), ("Hz", "Hz"), ("J", "J"), ("W", "W"), ("N", "N"), ("C", "C"),
     ("Wb", "Wb"), ("Ah", "A*hour"), ("rad", "radian"), ("min", "minute"), ("day", "day")],
)  # fmt: skip
def test_prefixes_and_units_mean_what_they_mean_elsewhere(unit: str, plain: str) -> None:
    """A short definitions file must not let `mm`, `min` or `ms` fall on another unit."""
    for prefix, size in SI_PREFIXES.items():
        if unit == "day" and prefix:
            continue
        ours = scale(prefix + unit)
        assert ours is not None
        theirs = size * REFERENCE.Quantity(plain).to_base_units().magnitude
        assert float(ours.factor) == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize("unit", WORDS)
def test_the_example_of_each_kind_is_itself_readable(unit: str) -> None:
    assert parse_quantity(WORDS[unit][1], unit).value


@settings(max_examples=300, deadline=None)
@given(
    mantissa=st.integers(-(10**12), 10**12),
    power=st.integers(-30, 30),
    named=st.sampled_from([("mm", 3), ("um", 6), ("m", 0), ("cm", 2), ("km", -3)]),
)
def test_a_decimal_number_is_read_to_the_last_digit(
    mantissa: int, power: int, named: tuple[str, int]
) -> None:
    unit, places = named
    exact = float(Decimal(mantissa).scaleb(power - places))
    assert parse_quantity(f"{mantissa}e{power} {unit}", "m").value == exact


@settings(max_examples=300, deadline=None)
@given(whole=st.integers(0, 999), rest=st.integers(0, 99), letter=st.sampled_from("RkM"))
def test_a_letter_code_and_its_long_form_agree(whole: int, rest: int, letter: str) -> None:
    long = f"{whole}.{rest} {letter.replace('R', '')}ohm"
    assert (
        parse_quantity(f"{whole}{letter}{rest}", "ohm").value == parse_quantity(long, "ohm").value
    )


@settings(max_examples=500, deadline=None)
@given(text=st.text(max_size=70), unit=st.sampled_from(list(WORDS)))
def test_any_text_is_read_or_refused(text: str, unit: str) -> None:
    """No other exception leaves the door, whatever the text."""
    assert read_or_refused(text, unit)


@settings(max_examples=500, deadline=None)
@given(
    number=st.sampled_from(["1", "-2.5e3", "0", "7."]),
    factors=st.lists(
        st.tuples(
            st.sampled_from(["*", "/", " ", "", "·"]),
            st.sampled_from(
                ["m", "kg", "degC", "%", "rad", "day", "fm", "GG", "m2", "s^-9", "R**9", "one"]
            ),
        ),
        max_size=8,
    ),
)
def test_any_unit_expression_is_read_or_refused(
    number: str, factors: list[tuple[str, str]]
) -> None:
    text = number + "".join(by + name for by, name in factors)
    for unit in ("m", "K", "1"):
        assert read_or_refused(text, unit)


def test_a_refusal_takes_no_time() -> None:
    """Hostile texts cost a fraction of a millisecond; the bound leaves room for a busy machine."""
    parse_quantity("1 mm", "m")
    begin = time.process_time()
    for text, unit in product(HOSTILE, ("m", "ohm")):
        with pytest.raises(QuantityError):
            parse_quantity(text, unit)
    assert time.process_time() - begin < 0.02 * len(HOSTILE) * 2


@source(Kind.FROM_MEMORY, "ASTM B258, round wires: 0.2019 mm and 0.1601 mm")
@pytest.mark.parametrize(
    ("text", "diameter"),
    [("AWG 32", "0.202 mm"), ("32 AWG", "0.202 mm"), ("#34awg", "0.16 mm"), ("awg34", "0.16 mm")],
)
def test_a_wire_gauge_is_answered_with_its_diameter(text: str, diameter: str) -> None:
    assert refusal(text, "m").wanted == f'write its bare diameter, "{diameter}"'
