"""Two designs side by side: what differs, what it changes, and what of a copy is accepted."""

import json

import pytest

from circuits.command import main
from circuits.comparison import Comparison, compare
from circuits.comparison_side import read_side
from circuits.face_compare import comparison_json, comparison_text
from tests.sources import Kind, source

FOYER = "examples/foyer_sculpture.toml"


def _text():
    with open(FOYER, encoding="utf-8") as file:
        return file.read()


def _edited(tmp_path, name, *edits):
    text = _text()
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def _compared(first, second) -> Comparison:
    return compare(read_side(first), read_side(second), lambda entries: entries)


def _measured(tmp_path, **figures):
    path = tmp_path / "measured.json"
    values = {
        name.replace("__", "."): {
            "value": value, "unit": unit, "low": low, "high": high, "basis": "measured"
        }
        for name, (value, unit, low, high) in figures.items()
    }  # fmt: skip
    path.write_text(json.dumps({"title": "first piece", "version": "1", "values": values}))
    return path


def test_a_design_beside_itself_differs_in_nothing():
    found = _compared(FOYER, FOYER)
    assert not found.differences
    assert not found.turns
    assert not any(pair.moves for pair in found.pairs)
    assert "The files state the same." in comparison_text(found)
    assert main(["compare", FOYER, FOYER]) == 0


def test_the_same_value_in_another_writing_is_no_difference(tmp_path):
    other = _edited(tmp_path, "b.toml", ('wire = "0.2 mm"', 'wire = "200 um"'))
    assert not _compared(FOYER, other).differences


@source(Kind.IDENTITY, "the changed design's own sheet: one change alone is that whole design")
def test_a_single_difference_does_what_the_second_sheet_shows(tmp_path):
    """Measured: the effects of the gap alone against the second's own figures, to the last bit."""
    other = _edited(tmp_path, "b.toml", ('gap = "7 mm"  ', 'gap = "8 mm"  '))
    found = _compared(FOYER, other)
    assert [(d.section, d.key) for d in found.differences] == [("magnet", "gap")]
    only = found.differences[0]
    assert (only.first, only.second) == ("7 mm", "8 mm")
    assert only.effects
    for effect in only.effects:
        assert effect.before == found.first.values[effect.id].value
        assert effect.after == found.second.values[effect.id].value
    assert only.turns == found.turns


def test_two_differences_are_told_apart(tmp_path):
    """A magnet grade moves the linkage and not the winding; a winding moves both."""
    other = _edited(
        tmp_path,
        "b.toml",
        ('gap = "7 mm"  ', 'gap = "8 mm"  '),
        ('wire = "0.2 mm"', 'wire = "0.18 mm"'),
    )
    gap, wire = _compared(FOYER, other).differences
    assert (gap.key, wire.key) == ("gap", "wire")
    moved = {effect.id for effect in wire.effects}
    assert not {effect.id for effect in gap.effects} & {"coil.r_coil", "coil.n_turns"}
    assert moved & {"coil.r_coil", "coil.n_turns", "coil.wire_length", "coil.l_coil"}


def test_a_copy_beyond_the_tolerance_is_refused(tmp_path, capsys):
    """One millimetre of gap is beyond the half that [tolerance] allows: the EMF shows it."""
    other = _edited(tmp_path, "b.toml", ('gap = "7 mm"  ', 'gap = "8 mm"  '))
    assert main(["compare", FOYER, str(other)]) == 1
    printed = capsys.readouterr().out
    row = next(line for line in printed.splitlines() if line.startswith("  emf.emf_peak: "))
    assert row.endswith("OUTSIDE")
    assert "A copy of the first is accepted within" in printed
    near = _edited(tmp_path, "c.toml", ('gap = "7 mm"  ', 'gap = "7.3 mm"  '))
    assert main(["compare", FOYER, str(near)]) == 0


def test_a_measurement_counts_with_its_uncertainty(tmp_path):
    """319 to 386 mV are allowed: 300 mV +-5 lies outside, 300 mV +-25 may lie within."""
    low, high = read_side(FOYER).values["emf.emf_peak"].span
    far = 0.94 * low
    for half, within in ((0.01 * low, False), (0.1 * low, True)):
        path = _measured(tmp_path, emf__emf_peak=(far, "V", far - half, far + half))
        (pair,) = _compared(FOYER, path).pairs
        assert pair.agrees is within
    path = _measured(tmp_path, emf__emf_peak=((low + high) / 2, "V", None, None))
    assert _compared(FOYER, path).pairs[0].agrees


def test_every_measured_figure_with_a_span_is_judged(tmp_path):
    """The slope of the linkage is on no meter's scale, but a capture's fit gives it."""
    _, high = read_side(FOYER).values["linkage.slope_peak"].span
    path = _measured(tmp_path, linkage__slope_peak=(1.2 * high, "Wb/m", 1.19 * high, 1.21 * high))
    assert _compared(FOYER, path).pairs[0].agrees is False


def test_no_line_is_wider_than_a_terminal(tmp_path):
    other = _edited(tmp_path, "b.toml", ('gap = "7 mm"  ', 'gap = "9 mm"  '))
    text = comparison_text(_compared(FOYER, other), everything=True)
    assert max(map(len, text.splitlines())) <= 80


def test_another_unit_is_another_figure(tmp_path):
    path = _measured(tmp_path, emf__emf_peak=(350.0, "mV", None, None))
    found = _compared(FOYER, path)
    assert not found.pairs
    assert "no figure in common" in comparison_text(found)


def test_what_fails_only_on_the_second_is_named(tmp_path, capsys):
    other = _edited(
        tmp_path,
        "b.toml",
        ('kind = "diode"\ndiode = "1N4148"', 'kind = "resistor"\nresistor = "100 kohm"'),
    )
    found = _compared(FOYER, other)
    assert found.breaks
    assert main(["compare", FOYER, str(other), "--json"]) == 1
    content = json.loads(capsys.readouterr().out)
    failing = {entry["id"] for entry in content["findings"] if entry["severity"] == "fails"}
    assert {f"compare.{turn.id}" for turn in found.breaks} <= failing


def test_parts_that_both_leave_out_are_named_as_sized_anew(tmp_path):
    other = _edited(tmp_path, "b.toml", ('gap = "7 mm"  ', 'gap = "9 mm"  '))
    text = comparison_text(_compared(FOYER, other))
    assert "Sized anew for the second" in text
    assert "drive.pulse_width" in text


def test_the_sheets_own_json_compares_equal(tmp_path):
    path = tmp_path / "sheet.json"
    assert main(["design", FOYER, "--json", "-o", str(path)]) == 0
    found = _compared(FOYER, path)
    assert len(found.pairs) == len(found.first.values)
    assert not any(pair.moves for pair in found.pairs)
    json.loads(comparison_json(found))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "no JSON"),
        ("[]", "no figures"),
        ('{"values": {"a.b": 3}}', "no figure"),
        ('{"values": {"a.b": {"value": NaN, "unit": "V"}}}', "no finite number"),
        ('{"values": {"a.b": {"value": true, "unit": "V"}}}', "no finite number"),
        ('{"values": {"a.b": {"value": 1, "unit": 3}}}', "no short text"),
        ('{"values": {}, "findings": [3]}', "no finding"),
        ('{"values": {}, "findings": [{"id": "a.b", "severity": "awful"}]}', "severity"),
        ('{"values": {}, "title": "a\\u001b[2J"}', "no short text"),
        ("[" * 100_000, "no JSON"),
    ],
)
def test_a_file_that_holds_no_figures_is_refused(tmp_path, capsys, text, said):
    path = tmp_path / "bad.json"
    path.write_text(text)
    assert main(["compare", FOYER, str(path)]) == 2
    message = capsys.readouterr().err
    assert said in message
    assert len(message.splitlines()) == 1


def test_an_output_file_is_kept_unless_told(tmp_path):
    path = tmp_path / "out.txt"
    path.write_text("mine")
    assert main(["compare", FOYER, FOYER, "-o", str(path)]) == 2
    assert path.read_text() == "mine"
    assert main(["compare", FOYER, FOYER, "-o", str(path), "--force"]) == 0
    assert path.read_text() != "mine"


def test_a_measurement_judges_no_design(tmp_path, capsys):
    """The findings of a capture are about the capture: none of the design's is called unjudged."""
    path = tmp_path / "measured.json"
    wanted = ["read", "examples/school_ringdown.csv", "--coil", "open", "--json", "-o", str(path)]
    main(wanted)
    capsys.readouterr()
    assert main(["compare", "examples/school_pendulum.toml", str(path)]) == 0
    printed = capsys.readouterr().out
    assert "not judged" not in printed
    table = printed.partition("A copy of the first")[0].splitlines()
    rows = {line.split()[0]: line for line in table if line.startswith("  movement")}
    assert rows["movement.quality_factor:"].endswith("within")
    # The period is known to 11 us in 1.3 s, and shown so.
    assert "1.317005 s" in rows["movement.period:"]
