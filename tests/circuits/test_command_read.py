"""The command: faces, copy of the design, picture, a split rate error, refusals."""

import json
import re
from pathlib import Path

import numpy as np
import pytest

from circuits.command import main
from circuits.design_file import read_design
from tests.circuits.captures.invented_captures import coil_pulse, foyer_pass, written
from tests.sources import Kind, source

EXAMPLES = Path(__file__).parents[2] / "examples"
SCHOOL = str(EXAMPLES / "school_pendulum.toml")
SWING = str(EXAMPLES / "school_ringdown.csv")


def as_json(capsys: pytest.CaptureFixture[str], *arguments: str, code: int = 0) -> dict[str, dict]:
    assert main(["read", *arguments, "--json"]) == code
    content: dict[str, dict] = json.loads(capsys.readouterr().out)
    return content


@source(Kind.IDENTITY, "the example was made with 1/Q = 1/246 + 0.0024 deg/(pi arc), 1.317 s")
def test_example_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    content = as_json(capsys, SWING, "--design", SCHOOL, "--coil", "open")
    assert list(content)[:5] == ["title", "version", "values", "findings", "assumed"]
    quality = content["values"]["movement.quality_factor"]
    truth = 1 / (1 / 246 + 0.0024 / np.pi / np.degrees(0.04 / 0.46))
    assert quality["low"] <= truth <= quality["high"]
    assert quality["basis"] == "measured"
    period = content["values"]["movement.period"]
    assert period["unit"] == "s"
    assert abs(period["value"] - 1.317) < period["high"] - period["low"]
    assert content["kind"] == "ringdown"
    rows = {row["id"]: row for row in content["beside"]}
    assert rows["movement.quality_factor"]["designed"] == 260
    assert rows["movement.quality_factor"]["within"] is True


def test_text_says_what_why_and_how_far(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["read", SWING, "--design", SCHOOL]) == 0
    out = capsys.readouterr().out
    for part in ("a free swing that dies away", "How the file was read", "What it tells",
                 "A = A0 exp(-pi n/Q)", "Beside the design", "For a copy"):  # fmt: skip
        assert part in out
    assert max(len(line) for line in out.splitlines() if "school_ringdown" not in line) <= 90


def test_copy_keeps_comments_and_is_never_overwritten_untold(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "measured.toml"
    before = Path(SCHOOL).read_bytes()
    assert main(["read", SWING, "--design", SCHOOL, "--write-back", str(copy)]) == 0
    assert "written with movement.quality_factor = " in capsys.readouterr().err
    text = copy.read_text(encoding="utf-8")
    assert text.startswith("# A school demonstration pendulum")
    assert "# of the magnet, end to end" in text
    design = read_design(copy)
    assert design.movement.quality_factor == pytest.approx(237, abs=2)
    assert design.movement.period is None
    assert design.movement.effective_length == pytest.approx(
        9.80665 * (1.317 / 2 / np.pi) ** 2, rel=1e-4
    )
    assert 0 < (design.tolerance.quality_factor or 0) < 0.02
    assert Path(SCHOOL).read_bytes() == before
    assert main(["read", SWING, "--design", SCHOOL, "--write-back", str(copy)]) == 2
    assert "exists already" in capsys.readouterr().err
    force = ["read", SWING, "--design", SCHOOL, "--write-back", str(copy), "--force"]
    assert main(force) == 0


@pytest.mark.parametrize("capture", ["ringdown", "emf", "drive"])
def test_picture_is_the_same_twice_with_text_as_text(
    tmp_path: Path, capture: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = {"ringdown": Path(SWING)}.get(capture, tmp_path / "c.csv")
    if capture == "emf":
        t = np.arange(-0.4, 1.6, 1e-3)
        written(path, "time (s),coil (V)", t, foyer_pass(t, 1))
    elif capture == "drive":
        t, current, switch = coil_pulse(1)
        written(path, "time (s),current (A),switch (V)", t, current, switch)
    drawn = [tmp_path / name for name in ("a.svg", "b.svg")]
    for target in drawn:
        assert main(["read", str(path), "--picture", str(target)]) == 0
    capsys.readouterr()
    assert drawn[0].read_bytes() == drawn[1].read_bytes()
    text = drawn[0].read_text(encoding="utf-8")
    assert "<text" in text
    marked = {"ringdown": "Q = ", "emf": "crossing", "drive": ">off<"}[capture]
    assert marked in text
    assert not re.search(r"\d{4}-\d\d-\d\dT", text)


CLOCK = """
[movement]
kind = "pendulum"
effective_length = "994 mm"
mass = "4.123 kg"
magnet_radius = "1.05 m"
arc = "2 deg"
quality_factor = 5000
rod_expansion = "17.3e-6 1/K"
nut_pitch = "1 mm"
[magnet]
shape = "cylinder"
diameter = "15 mm"
height = "8 mm"
axis = "coil"
grade = "N42"
gap = "7 mm"
[coil]
use = "shared"
wire = "0.2 mm"
inner_diameter = "14 mm"
outer_diameter = "36 mm"
height = "10 mm"
[supply]
cell = "LR20"
series = 3
[controller]
chip = "ATmega328P"
crystal_tolerance = "30 ppm"
[drive]
switch = "npn"
transistor = "PN2222A"
[clamp]
kind = "diode"
diode = "1N4148"
[pickup]
arrangement = "at_switch"
[filter]
poles = 1
[tolerance]
temperature = { from = "6 degC", to = "22 degC" }
"""


@source(
    Kind.IDENTITY,
    "an electric clock of model-engineer.co.uk, thread on an electric clock, reworked: 90 s/day "
    "are 2.07 mm, and 16 K of 303 stainless steel give 12 s/day",
    printed="lost 1.5 min in 24 h",
)
def test_ninety_seconds_a_day_are_the_nut_first(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "clock.toml"
    path.write_text(CLOCK, encoding="utf-8")
    content = as_json(capsys, "--explain", "-90 s/day", "--design", str(path))
    assert 1e3 * content["values"]["explain.bob_change"]["value"] == pytest.approx(2.07, abs=0.006)
    assert content["values"]["explain.nut_turns"]["value"] == pytest.approx(2.07, abs=0.006)
    assert content["values"]["explain.temperature"]["value"] == pytest.approx(-12, abs=0.1)
    causes = {cause["name"]: cause for cause in content["causes"]}
    assert set(causes) == {
        "bob position", "temperature", "arc", "impulse", "place", "support", "reference clock"
    }  # fmt: skip
    assert causes["bob position"]["share"] == 1
    assert causes["temperature"]["share"] == pytest.approx(1 / 8, abs=0.01)
    for name in ("arc", "impulse", "reference clock"):
        assert causes[name]["share"] < 0.05
    assert main(["read", "--explain", "-90 s/day", "--design", str(path)]) == 0
    out = capsys.readouterr().out
    assert "Bob position can explain all of it." in out
    assert "too low: raise it" in out
    assert main(["read", "--explain", "+12 s/day", "--design", str(path)]) == 0
    out = capsys.readouterr().out
    assert "too high: lower it" in out
    out = " ".join(out.split())
    assert "a support that makes it gain, which none does" in out
    assert "an impulse that acts before the centre; the design's has its middle" in out
    assert "a reference that loses 12 s/day itself" in out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "no CAPTURE"),
        (["nowhere.csv"], "nowhere.csv"),
        ([SWING, "--write-back", "x.toml"], "add --design FILE"),
        (["--explain", "-9 s/day"], "add --design FILE"),
        ([SWING, "--clock-error", "3"], "--clock-error"),
        ([SWING, "--shunt", "-1 ohm"], "give a figure above zero"),
        ([SWING, "--beats", "--periods"], "not allowed"),
        ([SWING, "--as", "drive"], "--units"),
        ([SWING, "--as", "emf"], "--units V"),
    ],
)
def test_what_cannot_be_used_is_one_line(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["read", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err
    assert err.count("\n") == 1


def test_one_file_for_two_outputs_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    same = str(tmp_path / "one")
    assert main(["read", SWING, "--picture", same, "-o", same]) == 2
    assert "one file for two outputs" in capsys.readouterr().err
    assert not Path(same).exists()


def test_a_bare_list_of_beats_is_taken_for_crossing_times(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bare.csv"
    path.write_text("".join(f"{1.0003 * n:.4f}\n" for n in range(1, 200)), encoding="utf-8")
    assert main(["read", str(path)]) == 2, "without --beats nothing says what they are"
    capsys.readouterr()
    bare = as_json(capsys, str(path), "--beats")
    assert bare["values"]["movement.period"]["value"] == pytest.approx(2.0006, abs=1e-6)
    assert "in s" in next(f["text"] for f in bare["findings"] if f["id"] == "capture.bare_times")
    told = as_json(capsys, str(path), "--beats", "--columns", "time", "--units", "s")
    assert told["values"] == bare["values"]


def test_a_rate_that_is_none_is_refused_before_the_capture_is_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["read", str(tmp_path / "none.csv"), "--explain", "4 s", "--design", SCHOOL]) == 2
    assert "--explain" in capsys.readouterr().err
