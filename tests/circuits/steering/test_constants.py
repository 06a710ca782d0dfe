"""The C header of a design's firmware: complete, right, compilable, safe, and its command."""

import json
import os
import re
import signal
import subprocess
import sys
import time
from dataclasses import fields, replace
from pathlib import Path

import pytest

from calc.regulator import RegulatorConstants
from calc.regulator_sizing import magnitudes
from circuits.command import main
from circuits.design_file import parse_design, read_design
from circuits.errors import DesignFileError
from circuits.ledger import Ledger, Severity
from circuits.pipeline import compute
from circuits.steering import constants_checks
from circuits.steering.constants import FirmwareConstants, firmware_constants
from circuits.steering.constants_header import (
    HEADER,
    comment_text,
    header_text,
    regulator_group,
)
from circuits.steering.constants_source import source_text
from circuits.steering.planned_loop import planned_loop
from tests.circuits.steering.compilers import STRICT, built, compiler
from tests.circuits.steering.trial_year import CONSTANTS
from tests.sources import Kind, source

EXAMPLE = Path("examples/foyer_sculpture.toml")


@pytest.fixture(scope="module")
def foyer() -> FirmwareConstants:
    return firmware_constants(read_design(EXAMPLE))


def numbers(header: str) -> dict[str, int]:
    """Every number that a header defines."""
    found = re.findall(r"^#define (\w+) \((-?)INT(?:32|64)_C\((\d+)\)\)$", header, re.M)
    return {name: int(sign + digits) for name, sign, digits in found}


@source(Kind.IDENTITY, "the sheet's own figures in ticks and counts")
def test_the_header_holds_the_sheets_figures(foyer: FirmwareConstants) -> None:
    sheet = compute(read_design(EXAMPLE), remedies=False).values
    found = numbers(foyer.header())
    tick = 1 / 32768  # assumed by the sheet, too
    volts = {name: float(sheet[f"pickup.{name}"].value) for name in ("threshold", "v_bias")}
    v_reference = float(sheet["supply.v_logic_fresh"].value)
    assert found["TIMER_TICK"] == round(tick * 1e12)
    assert found["PICKUP_BITS"] == 10
    assert found["PICKUP_THRESHOLD"] == int(volts["threshold"] / v_reference * 1024)
    assert found["PICKUP_BASELINE"] == round(volts["v_bias"] / v_reference * 1024)
    deaf = float(sheet["timing.deaf_until"].value)
    # Rounded up: deaf for a tick too long at most, never too short.
    assert 0 <= found["PICKUP_DEAF"] * tick - deaf < tick
    width = float(sheet["drive.pulse_width"].value)
    assert found["PULSE_WIDTH"] * tick == pytest.approx(width, abs=tick / 2)
    assert found["STEERING_NOMINAL"] == pytest.approx(
        found["MOVEMENT_BEAT"] * found["STEERING_BEATS"], abs=found["STEERING_BEATS"]
    )


def test_every_constant_has_unit_and_origin(foyer: FirmwareConstants) -> None:
    header = foyer.header()
    for group in foyer.groups:
        for constant in group.constants:
            assert constant.unit
            assert len(constant.origin) > 8
            assert f"[{constant.unit}]" in " ".join(header.split()).replace(" * ", " ")
    assert set(numbers(header)) == {c.name for group in foyer.groups for c in group.constants}
    limits = {32: (1 << 31) - 1, 64: (1 << 63) - 1}
    assert all(abs(c.value) <= limits[c.bits] for group in foyer.groups for c in group.constants)


def test_what_the_file_leaves_out_is_told(foyer: FirmwareConstants) -> None:
    header = " ".join(foyer.header().replace("\n *", "").split())
    assert "Assumed, not stated: controller.tick = 30.5 us" in header
    text = EXAMPLE.read_text().replace("adc_bits = 10\n", "")
    assert "controller.adc_bits = 10" in " ".join(
        firmware_constants(parse_design(text, "foyer.toml")).assumed
    )


@pytest.mark.parametrize("name", ["foyer_sculpture", "school_pendulum", "balance"])
def test_header_and_step_compile_for_every_example(name: str, tmp_path: Path) -> None:
    found = firmware_constants(read_design(f"examples/{name}.toml"))
    (tmp_path / HEADER).write_text(found.header())
    (tmp_path / "step.c").write_text(source_text())
    built(tmp_path, compiler("gcc", "clang", "cc"), "-std=c99", *STRICT, "-c", "step.c")
    built(tmp_path, compiler("g++", "clang++", "c++"), *STRICT, "-x", "c++", "-c", "step.c")


HOSTILE = (
    "*/ int owned = 1; /*",
    "ends with a backslash \\",
    "trigraph ??/",
    "/* nested",
    "new\nline\r#error owned",
    "\u2028\u202e#define INT32_C(x) 7",
    "*" + "/" * 500,
    "ü µ Ω 時計",
)  # fmt: skip


@pytest.mark.parametrize("title", HOSTILE)
def test_no_title_can_leave_its_comment(title: str, tmp_path: Path) -> None:
    """The header must compile strictly and define what it did without the title."""
    constants = numbers_of_a_header("plain")
    (tmp_path / HEADER).write_text(_header(title))
    (tmp_path / "step.c").write_text(source_text())
    built(tmp_path, compiler("gcc", "clang", "cc"), "-std=c99", "-trigraphs", *STRICT, "-c",
          "step.c")  # fmt: skip
    assert numbers(_header(title)) == constants
    assert "owned" not in re.sub(r"/\*.*?\*/", "", _header(title), flags=re.S)


def _header(title: str) -> str:
    origins = {field.name: title for field in fields(RegulatorConstants)}
    return header_text(title, (title,), (regulator_group(CONSTANTS, origins),))


def numbers_of_a_header(title: str) -> dict[str, int]:
    return numbers(_header(title))


def test_comment_text_is_short_plain_ascii() -> None:
    for title in HOSTILE:
        text = comment_text(title)
        assert text.isascii()
        assert text.isprintable()
        assert "*" not in text
        assert len(text) <= 160


def test_a_counter_of_sixteen_bits_is_minded(foyer: FirmwareConstants) -> None:
    finding = foyer.ledger.findings["constants.counter"]
    assert finding.severity is Severity.MIND
    assert "goes round every 2 s" in finding.text  # 65 536 / 32 768
    assert "36.4 h" in finding.text  # 2**32 / 32 768
    assert "Mind: An interval of" in foyer.header()


@source(Kind.IDENTITY, "half a tick in so many ticks of a beat, times 86 400 s")
def test_rounding_to_whole_ticks_is_priced(foyer: FirmwareConstants) -> None:
    beat = numbers(foyer.header())["MOVEMENT_BEAT"] / 65536
    cost = abs(round(beat) / beat - 1) * 86400
    text = foyer.ledger.findings["constants.rounding"].text
    printed = float(re.search(r"([\d.]+) s/day for good", text).group(1))  # type: ignore[union-attr]
    assert printed == pytest.approx(cost, rel=6e-3)


def test_coarse_ticks_are_minded() -> None:
    """A millisecond's tick: few steps of the width, a threshold of few counts."""
    text = EXAMPLE.read_text().replace("[drive]\n", '[drive]\npulse_width = "8 ms"\n', 1)
    text = text.replace("adc_bits = 10\n", 'adc_bits = 6\ntick = "1 ms"\n')
    found = firmware_constants(parse_design(text, "coarse.toml")).ledger.findings
    assert found["constants.steps"].severity is Severity.MIND
    assert found["constants.threshold"].severity is Severity.MIND


def test_widths_within_one_tick_fail(tmp_path: Path) -> None:
    """Three to ten milliseconds hold one whole tick of ten."""
    design = tmp_path / "one.toml"
    design.write_text(
        EXAMPLE.read_text().replace("adc_bits = 10\n", 'adc_bits = 10\ntick = "10 ms"\n')
    )
    found = firmware_constants(read_design(design))
    assert found.ledger.findings["constants.steps"].severity is Severity.FAILS
    assert main(["constants", str(design)]) == 1


def test_a_width_at_its_limit_is_minded(foyer: FirmwareConstants) -> None:
    done, loop, of_loop = planned_loop(read_design(EXAMPLE))
    stuck = replace(foyer.regulator, width_centre=foyer.regulator.width_max)
    ledger = Ledger()
    constants_checks.judge(ledger, done, loop, of_loop, stuck, magnitudes(stuck))
    assert ledger.findings["constants.saturates"].severity is Severity.MIND


def test_a_movement_that_nothing_steers_is_refused_in_words() -> None:
    text = EXAMPLE.read_text().replace("[drive]\n", '[drive]\npulse_width = "0.9 ms"\n', 1)
    with pytest.raises(DesignFileError) as caught:
        firmware_constants(parse_design(text, "weak.toml"))
    assert "weak.toml: [rate]" in str(caught.value)


@source(Kind.IDENTITY, "the gains as stated, in 2^-SHIFT")
def test_gains_of_the_wrong_sign_are_written_as_stated_and_fail(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A gain that is cut to zero would hide the mistake: the sheet says that it runs away."""
    design = tmp_path / "wrong.toml"
    text = EXAMPLE.read_text()
    design.write_text(text.replace("[rate]\n", "[rate]\nkp = 6e-4\nki = 2e-5\n"))
    assert main(["constants", str(design)]) == 1
    header = capsys.readouterr().out
    found = numbers(header)
    assert found["STEERING_KP"] / 2 ** found["STEERING_SHIFT"] == pytest.approx(6e-4, rel=1e-5)
    assert found["STEERING_KI"] / 2 ** found["STEERING_SHIFT"] == pytest.approx(2e-5, rel=1e-4)
    # A wider pulse makes it lose; the stated gains widen it when it lags.
    assert found["STEERING_DIRECTION"] == 1
    plain = " ".join(header.replace("*", " ").split())
    assert "Fails: Where the loop works" in plain
    assert "kp and ki have the other sign" in plain
    assert main(["steer", str(design)]) == 1
    assert "(steering.sign)" in capsys.readouterr().out
    assert main(["design", str(design)]) == 1


def test_gains_of_two_signs_are_not_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """kp of the wrong sign beside a sized ki: one direction cannot stand for both."""
    design, header = tmp_path / "two.toml", tmp_path / "two.h"
    design.write_text(EXAMPLE.read_text().replace("[rate]\n", "[rate]\nkp = 6e-4\n"))
    assert main(["constants", str(design), "-o", str(header)]) == 2
    assert "must have one sign" in capsys.readouterr().err
    assert not header.exists()
    assert main(["steer", str(design)]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "kp has the other sign" in said
    assert "must have one sign" in said


def test_the_command_writes_header_and_step(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    header, step = tmp_path / "foyer-1.h", tmp_path / "step.c"
    asked = ["constants", str(EXAMPLE), "-o", str(header), "--source", str(step)]
    assert main(asked) == 0
    assert '#include "foyer-1.h"' in step.read_text()
    assert "constants.counter" in capsys.readouterr().out
    built(tmp_path, compiler("gcc", "clang", "cc"), "-std=c99", *STRICT, "-c", "step.c")
    assert main(asked) == 2
    assert "exists already" in capsys.readouterr().err
    assert main([*asked, "--force"]) == 0


def test_the_command_prints_header_or_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["constants", str(EXAMPLE)]) == 0
    printed = capsys.readouterr().out
    assert printed.startswith("/* Constants of the firmware for: Foyer sculpture */")
    assert main(["constants", str(EXAMPLE), "--json"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert {"title", "version", "values", "findings", "assumed", "constants"} == set(content)
    by_name = {entry["name"]: entry["value"] for entry in content["constants"]}
    assert by_name == numbers(printed)
    assert content["values"]["firmware.timer_tick"]["value"] == pytest.approx(1 / 32768, rel=1e-6)


def test_a_header_that_c_cannot_include_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = tmp_path / 'a"b.h'
    step = tmp_path / "step.c"
    assert main(["constants", str(EXAMPLE), "-o", str(bad), "--source", str(step)]) == 2
    assert "letters, digits" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_steer_tries_a_step_function(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The design's own constants and step hold its year; the wrong sign does not."""
    compiler("cc", "gcc", "clang")
    path = tmp_path / "step.c"
    path.write_text(source_text())
    assert main(["steer", str(EXAMPLE), "--firmware", str(path)]) == 0
    assert "Nothing broke." in capsys.readouterr().out
    path.write_text(
        source_text().replace("_CENTRE + STEERING_DIRECTION", "_CENTRE - STEERING_DIRECTION")
    )
    assert main(["steer", str(EXAMPLE), "--firmware", str(path), "--json"]) == 1
    content = json.loads(capsys.readouterr().out)
    assert "firmware.sign" in {finding["id"] for finding in content["findings"]}
    path.write_text("int x = ;\n")
    assert main(["steer", str(EXAMPLE), "--firmware", str(path)]) == 2
    assert "line 1" in capsys.readouterr().err


def test_a_loop_without_authority_is_told_from_a_bad_step_function(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Widths too near each other for the cells' sag: the written step function breaks as well."""
    compiler("cc", "gcc", "clang")
    design, path = tmp_path / "narrow.toml", tmp_path / "step.c"
    design.write_text(
        EXAMPLE.read_text().replace(
            "[rate]\n", '[rate]\nwidth_min = "7.2 ms"\nwidth_max = "8 ms"\n'
        )
    )
    path.write_text(source_text())
    assert main(["steer", str(design), "--firmware", str(path)]) == 1
    printed = " ".join(capsys.readouterr().out.split())
    assert "firmware.written" in printed
    assert "firmware.rounded" not in printed


def test_steer_says_that_a_compiler_is_missing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    path = tmp_path / "step.c"
    path.write_text(source_text())
    assert main(["steer", str(EXAMPLE), "--firmware", str(path)]) == 3
    assert "no C compiler" in capsys.readouterr().err


def test_an_interrupted_trial_leaves_nothing(tmp_path: Path) -> None:
    """Exit code 130 as soon as it is asked, no directory and no process left."""
    compiler("cc", "gcc", "clang")
    path, home = tmp_path / "step.c", tmp_path / "home"
    home.mkdir()
    path.write_text(
        "#include <stdint.h>\nvoid steering_start(uint32_t now) { (void)now; }\n"
        "int32_t steering_step(uint32_t now) { for (;;) { (void)now; } }\n"
    )
    asked = ["steer", str(EXAMPLE), "--firmware", str(path)]
    process = subprocess.Popen(
        [sys.executable, "-m", "circuits.command", *asked], stderr=subprocess.PIPE, text=True,
        env={**os.environ, "TMPDIR": str(home)},
    )  # fmt: skip
    until = time.monotonic() + 60
    while not list(home.glob("*/build/trial")) and time.monotonic() < until:
        time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "interrupted" in said
    assert list(home.iterdir()) == []
