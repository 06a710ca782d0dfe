"""The design file's door: every key is read, every unusable file ends in one message."""

import os
import time
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from circuits.design import ChoiceKey, NumberKey, QuantityKey, TableKey
from circuits.design_file import parse_design, read_design, sections
from circuits.design_keys import keys_of
from circuits.design_text import LARGEST
from circuits.errors import DesignFileError
from tests.sources import Kind, source

BASE = """\
[movement]
period = "2 s"
[magnet]
shape = "cylinder"
diameter = "10 mm"
height = "5 mm"
gap = "4 mm"
"""
NEEDED = {
    "movement": 'period = "2 s"\n',
    "magnet": 'shape = "block"\nlength = "20 mm"\nwidth = "10 mm"\nheight = "5 mm"\ngap = "4 mm"\n',
    "supply": 'cell = "LR20"\n',
}
EVERY_KEY = [
    (section, key, declared)
    for section, record in sections().items()
    for key, (_, declared) in keys_of(record).items()
]


def refusal(text: str) -> DesignFileError:
    with pytest.raises(DesignFileError) as caught:
        parse_design(text, "trial.toml")
    assert "\n" not in str(caught.value)
    assert caught.value.found
    assert caught.value.wanted
    return caught.value


def sample(declared: Any) -> str:
    """Return a value that the key must accept, as the file spells it."""
    if isinstance(declared, QuantityKey):
        low, high = declared.plausible
        unit = {"K": "K", "rad": "rad"}.get(declared.unit, declared.unit)
        return f'"{(low + high) / 2!r} {unit}"'
    if isinstance(declared, NumberKey):
        low, high = declared.plausible or declared.possible
        return repr(int(low) if declared.whole else (low + high) / 2)
    if isinstance(declared, ChoiceKey):
        return f'"{declared.words[0]}"'
    if isinstance(declared, TableKey):
        spans = {"from": 0.7, "to": 0.3, "time": 240.0}
        if declared.record.__name__ == "TemperatureSpan":
            return '{ from = "278 K", to = "303 K" }'
        inner = [f'{key} = "{v} {"s" if key == "time" else "rad"}"' for key, v in spans.items()]
        return "{ " + ", ".join([*inner, 'coil = "open"']) + " }"
    return '"any words"'


def document(section: str, lines: str) -> str:
    """Return a whole design in which one section also holds these lines."""
    bodies = {name: text for name, text in NEEDED.items() if name != "supply"}
    key = lines.split("=", maxsplit=1)[0].strip()
    own = NEEDED.get(section, "")
    if key == "voltage":
        own = ""
    if section == "magnet" and key == "diameter":
        own = 'shape = "cylinder"\nheight = "5 mm"\ngap = "4 mm"\n'
    if section == "magnet" and key == "inner_diameter":
        own = 'shape = "ring"\ndiameter = "0.5 m"\nheight = "5 mm"\ngap = "4 mm"\n'
    kept = "".join(f"{line}\n" for line in own.splitlines() if line.split("=")[0].strip() != key)
    if section == "magnet" and key == "shape":
        kept = 'diameter = "10 mm"\nheight = "5 mm"\ngap = "4 mm"\n'
    bodies[section] = kept + lines
    return "".join(f"[{name}]\n{body}\n" for name, body in bodies.items())


def value_at(design: Any, section: str, key: str) -> Any:
    record = getattr(design, section)
    return getattr(record, keys_of(type(record))[key][0])


@pytest.mark.parametrize(("section", "key", "declared"), EVERY_KEY, ids=lambda x: str(x)[:30])
def test_every_key_of_the_schema_is_read(section: str, key: str, declared: Any) -> None:
    design = parse_design(document(section, f"{key} = {sample(declared)}\n"))
    value = value_at(design, section, key)
    assert value is not None
    if isinstance(declared, QuantityKey):
        assert value == pytest.approx(sum(declared.plausible) / 2, rel=1e-12, abs=1e-300)
    assert not [doubt for doubt in design.doubts if doubt.key == key]


@pytest.mark.parametrize(("section", "key", "declared"), EVERY_KEY, ids=lambda x: str(x)[:30])
@pytest.mark.parametrize("raw", ["nan", "inf", "true", "[]", "{ a = 1 }", "1979-05-27", '"\\n"'])
def test_no_key_takes_what_is_no_value(section: str, key: str, declared: Any, raw: str) -> None:
    error = refusal(document(section, f"{key} = {raw}\n"))
    assert error.section.startswith(section)
    assert error.key == key or isinstance(declared, TableKey)


@pytest.mark.parametrize(
    ("section", "key", "declared"),
    [entry for entry in EVERY_KEY if isinstance(entry[2], QuantityKey)],
    ids=lambda x: str(x)[:30],
)
def test_quantities_keep_to_their_bounds_and_doubtful_ones_are_noted(
    section: str, key: str, declared: QuantityKey
) -> None:
    beyond = refusal(
        document(section, f'{key} = "{declared.possible[1] * 1.01!r} {declared.unit}"\n')
    )
    assert beyond.key == key
    assert "possible is" in beyond.wanted
    assert declared.possible[0] <= declared.plausible[0] < declared.plausible[1]
    assert declared.plausible[1] <= declared.possible[1]
    bare = refusal(document(section, f"{key} = 2\n"))
    assert "quotes" in bare.wanted


def test_a_doubtful_decade_is_noted_and_not_refused() -> None:
    design = parse_design(BASE + '[coil]\nwire = "4 mm"\n')
    assert [(doubt.section, doubt.key, doubt.found) for doubt in design.doubts] == [
        ("coil", "wire", "4 mm")
    ]
    assert design.coil.wire == 0.004


def test_stated_tolerances_stand_beside_their_keys() -> None:
    design = parse_design(
        BASE + '[drive]\nbase_resistor = "4k7 5%"\n[coil]\nwire = "0.16 mm ±2 %"\n'
    )
    assert design.stated_tolerance == {"drive.base_resistor": 0.05, "coil.wire": 0.02}


@pytest.mark.parametrize(
    ("text", "value"), [('"5%"', 0.05), ('"5 %"', 0.05), ("0.05", 0.05), ("0", 0)]
)
def test_a_ratio_is_a_number_or_a_percentage(text: str, value: float) -> None:
    assert parse_design(BASE + f"[tolerance]\nresistor = {text}\n").tolerance.resistor == value


def test_sections_left_out_are_empty_or_none() -> None:
    design = parse_design(BASE)
    assert design.pickup_coil is None
    assert design.indicator is None
    assert all(getattr(design.drive, entry.name) is None for entry in fields(design.drive))
    assert is_dataclass(design.coil)


def test_own_parts_are_handed_on() -> None:
    design = parse_design(BASE + '[part."MY-1"]\nkind = "npn"\ngain = [{ i_c = "2 mA" }]\n')
    assert design.part["MY-1"]["kind"] == "npn"


UNUSABLE = {
    "unquoted quantity": ("[magnet]\ngap = 4 mm\n", "gap", '"4 mm"'),
    "unquoted with comma": ("[magnet]\ngap = 4,5 mm\n", "gap", '"4.5 mm"'),
    "decimal comma": ('[magnet]\ngap = "4,5 mm"\n', "gap", '"4.5 mm"'),
    "curly quotes": ("[magnet]\ngap = “4 mm”\n", "gap", "straight quotes"),
    "unit outside": ('[magnet]\ngap = "4" mm\n', "gap", "inside the quotes"),
    "bare word": ("[movement]\nkind = pendulum\n", "kind", '"pendulum"'),
    "no equals": ('[magnet]\ngap: "4 mm"\n', "", "gap = "),
    "no value": ("[magnet]\ngap =\n", "gap", "equals sign"),
    "not closed": ('[magnet]\ngap = "4 mm\n', "gap", "straight quote"),
    "twice": (BASE + 'gap = "3 mm"\n', "gap", "keep one"),
    "section twice": (BASE + '[magnet]\ngap = "3 mm"\n', "", "keep one"),
    "unknown key": ('[movement]\nperoid = "2 s"\n', "peroid", "period"),
    "another section's key": ('[movement]\ngap = "2 mm"\n', "gap", "[magnet]"),
    "unknown section": ('[movment]\nperiod = "2 s"\n', "", "[movement]"),
    "no section": ('period = "2 s"\n', "period", "[movement]"),
    "list of sections": ('[[movement]]\nperiod = "2 s"\n', "", "once"),
    "wrong dimension": ('[movement]\nperiod = "2 mm"\n', "period", "a time"),
    "negative": ('[movement]\nperiod = "-2 s"\n', "period", "possible is"),
    "zero": ('[movement]\nperiod = "0 s"\n', "period", "possible is"),
    "absurd": ('[movement]\nperiod = "1e30 s"\n', "period", "possible is"),
    "nan": ("[movement]\nperiod = nan\n", "period", "quotes"),
    "infinity": ('[movement]\nperiod = "inf s"\n', "period", "finite"),
    "arithmetic": ('[movement]\nperiod = "9**9**9"\n', "period", "no arithmetic"),
    "many factors": (f'[movement]\nperiod = "2{" *s" * 200}"\n', "period", "at most"),
    "huge count": (f"[coil]\nturns = {'9' * 900}\n", "turns", "from 1 to 1000000"),
    "broken count": ("[coil]\nturns = 10.5\n", "turns", "whole number"),
    "lone m": (BASE + '[coil]\nresistance = "1m"\n', "resistance", "in full"),
    "per cent as number": (BASE + "[tolerance]\nresistor = 5\n", "resistor", '"5 %"'),
    "wrong word": ('[movement]\nkind = "pendulm"\n', "kind", '"pendulum"'),
    "nested brackets": ("a = " + "[\n" * 20000, "", "one key a line"),
    "long line": ("a = " + "[" * 2000, "", "1000 characters"),
    "dotted names": ("[" + "a." * 300 + "a]\n", "", "1000 characters"),
    "huge integer": (f"[coil]\nturns = {'9' * 990}\n", "turns", "whole number"),
    "line separator": ('[design]\ntitle = "a\\u2028b"\n', "title", "one line"),
    "bidirectional": ('[design]\ntitle = "a\\u202eb"\n', "title", "one line"),
    "line break": ('[design]\ntitle = "a\\nb"\n', "title", "one line"),
    "written line break": ('[design]\ntitle = """a\nb"""\n', "title", "one line"),
    "delete character": ('[design]\nnote = "a\\u007f"\n', "note", "one line"),
    "null": ('[design]\ntitle = "\0"\n', "title", "without it"),
    "invisible blank": ('[movement]\n\u200bperiod = "2 s"\n', "", "without it"),
    "long text": (f'[design]\ntitle = "{"x" * 900}"\n', "title", "at most 500"),
    "empty text": ('[design]\ntitle = ""\n', "title", "leave the key out"),
    "nothing": ("", "", "coilwright new"),
    "comment only": ("# nothing\n", "", "coilwright new"),
    "empty sections": ("[movement]\n[magnet]\n", "", "period"),
    "no magnet": ('[movement]\nperiod = "2 s"\n', "", "gap"),
    "part name": (BASE + '[part."a\\u202e"]\nkind = "npn"\n', "", "letters"),
    "part text": (BASE + '[part.X]\nkind = "np\\nn"\n', "kind", "one line"),
    "part depth": (BASE + f"[part.X]\na.{'a.' * 20}a = 1\n", "a", "parts -h"),
}


@pytest.mark.parametrize("name", UNUSABLE)
def test_an_unusable_text_names_the_key_and_what_would_do(name: str) -> None:
    text, key, wanted = UNUSABLE[name]
    begin = time.monotonic()
    error = refusal(text)
    assert time.monotonic() - begin < 2.0
    assert error.key == key
    assert wanted in error.wanted
    assert str(error).startswith("trial.toml: ")
    assert str(error).isprintable()


CONTRADICTIONS = {
    "two remanences": (BASE + 'grade = "N38"\nremanence = "1.2 T"\n', "remanence"),
    "two wires": (BASE + '[coil]\nwire = "0.2 mm"\nawg = 32\n', "awg"),
    "two listening wires": (BASE + '[pickup_coil]\nwire = "0.2 mm"\nawg = 32\n', "awg"),
    "two supplies": (BASE + '[supply]\ncell = "LR20"\nvoltage = "5 V"\n', "voltage"),
    "two losses": (
        '[movement]\nperiod = "2 s"\nquality_factor = 300\nbearing = "ball"\n',
        "bearing",
    ),
    "no period": ('[movement]\nkind = "pendulum"\n', "period"),
    "length of a balance": (
        '[movement]\nkind = "balance"\nperiod = "1 s"\neffective_length = "1 m"\n',
        "effective_length",
    ),
    "over the top": ('[movement]\nperiod = "1 s"\narc = "200 deg"\n', "arc"),
    "growing ring-down": (
        '[movement]\nperiod = "2 s"\n'
        'ring_down = { from = "3 deg", to = "4 deg", time = "3 min" }\n',
        "to",
    ),
    "ring-down without time": (
        '[movement]\nperiod = "2 s"\nring_down = { from = "3 deg", to = "2 deg" }\n',
        "time",
    ),
    "no gap": (BASE.replace('gap = "4 mm"\n', ""), "gap"),
    "no shape": (BASE.replace('shape = "cylinder"\n', ""), "shape"),
    "cylinder with width": (BASE + 'width = "5 mm"\n', "width"),
    "ring without a hole": (BASE.replace("cylinder", "ring"), "inner_diameter"),
    "ring of nothing": (
        BASE.replace("cylinder", "ring") + 'inner_diameter = "10 mm"\n',
        "diameter",
    ),
    "block without length": (BASE.replace("cylinder", "block"), "length"),
    "winding of nothing": (
        BASE + '[coil]\ninner_diameter = "20 mm"\nouter_diameter = "20 mm"\n',
        "outer_diameter",
    ),
    "wire wider than the window": (
        BASE + '[coil]\ninner_diameter = "20 mm"\nouter_diameter = "21 mm"\nwire = "0.6 mm"\n',
        "wire",
    ),
    "connection of one": (BASE + '[coil]\ncount = 1\nconnection = "series"\n', "connection"),
    "one on both sides": (BASE + '[coil]\ncount = 1\nsides = "both"\n', "sides"),
    "supply of nothing": (BASE + '[supply]\nreservoir = "470 uF"\n', "cell"),
    "cells of a voltage": (BASE + '[supply]\nvoltage = "5 V"\nseries = 3\n', "series"),
    "regulated to nothing": (
        BASE + '[supply]\ncell = "LR20"\ncoil_rail = "regulated"\n',
        "regulator_output",
    ),
    "zener of a plain diode": (BASE + '[clamp]\nkind = "diode"\nzener = "BZX55C12"\n', "zener"),
    "widths crossed": (BASE + '[rate]\nwidth_min = "30 ms"\nwidth_max = "20 ms"\n', "width_max"),
    "warm before cold": (
        BASE + '[tolerance]\ntemperature = { from = "30 degC", to = "5 degC" }\n',
        "to",
    ),
}


@pytest.mark.parametrize("name", CONTRADICTIONS)
def test_a_section_that_contradicts_itself_is_refused(name: str) -> None:
    text, key = CONTRADICTIONS[name]
    assert refusal(text).key == key


@source(Kind.COMMON_PRACTICE, "no source")
@pytest.mark.parametrize(
    "lines",
    [
        '[movement]\neffective_length = "0.99 m"\nperiod = "2 s"\n',
        '[movement]\nperiod = "2 s"\narc = "2 deg"\ntravel = "70 mm"\n',
        '[movement]\nperiod = "2 s"\n'
        '[coil]\nturns = 1000\nresistance = "35 ohm"\nwire_length = "60 m"\n',
        '[movement]\nperiod = "2 s"\n'
        '[filter]\ncutoff = "10 Hz"\nresistor = "4k7"\ncapacitor = "1u"\n',
    ],
)
def test_facts_that_a_stage_can_reconcile_are_let_through(lines: str) -> None:
    assert parse_design(lines + BASE.split('period = "2 s"\n')[1])


def test_a_byte_order_mark_is_stripped(tmp_path: Path) -> None:
    path = tmp_path / "marked.toml"
    path.write_bytes(b"\xef\xbb\xbf" + BASE.encode())
    assert read_design(path).magnet.gap == 0.004
    assert read_design(str(path)).file == str(path)


@pytest.mark.parametrize(
    ("name", "data", "found"),
    [
        ("utf-16", BASE.encode("utf-16"), "UTF-16"),
        ("latin-1", b'[design]\ntitle = "caf\xe9"\n', "line 2, column 13"),
        ("large", b"#" * 10_000_000, "more than 64 kB"),
        ("just too large", b"#" * (LARGEST + 1), "more than 64 kB"),
        ("zeros", bytes(1000), "U+0000"),
        ("picture", b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "not UTF-8"),
    ],
)
def test_bytes_that_are_no_design_file(tmp_path: Path, name: str, data: bytes, found: str) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    begin = time.monotonic()
    with pytest.raises(DesignFileError, match="found") as caught:
        read_design(path)
    assert found in caught.value.found
    assert time.monotonic() - begin < 2.0


def test_places_that_hold_no_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    places = {
        tmp_path: "a directory",
        tmp_path / "none.toml": "no such file",
        tmp_path / "pipe": "a pipe or device",
        Path("/dev/zero"): "a pipe or device",
        tmp_path / ("x" * 5000): "too long",
        tmp_path / "a\nb": "no such file",
        tmp_path / "a\0b": "a name that cannot be",
    }
    for path, found in places.items():
        with pytest.raises(DesignFileError) as caught:
            read_design(path)
        assert found in caught.value.found
        assert str(caught.value).isprintable()


@settings(max_examples=150, deadline=None)
@given(
    text=st.lists(
        st.sampled_from(
            ["[movement]", "[", "]", "{", "}", "=", '"', "\n", "period", '"2 s"', ".", ",", "#",
             "'", "nan", "1e9", "\\u2028", "é", "\r", "[[part.X]]", "true", '"""', "0x1", "-",
             "gap"]
        ),
        max_size=40,
    ).map("".join)
)  # fmt: skip
def test_any_text_is_read_or_refused(text: str) -> None:
    """No other exception leaves the door, whatever the text."""
    try:
        design = parse_design(text)
    except DesignFileError as error:
        message = str(error)
    else:
        message = design.file
    assert message.isprintable()
