"""A maker's step function in its trial year: the good one, seeded faults, and hostile files.

The faults are seeded into our own step function; what they must lead to follows from the fault.
"""

import os
import shutil
import sys
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calc.regulator import quick_stepper, start_state
from circuits.errors import DesignFileError
from circuits.ledger import Severity
from circuits.steering import child, child_build
from circuits.steering.child import ChildRun, Trial
from circuits.steering.child_build import CompilerMissing
from circuits.steering.firmware import FirmwareTrial, findings_of, try_firmware
from circuits.steering.firmware_course import Rows, harness_input
from tests.circuits.steering.compilers import built, compiler
from tests.circuits.steering.trial_year import (
    BEAT,
    BEATS,
    CONSTANTS,
    LAG,
    PROMPT,
    SLOPE,
    TICK,
    trial_header,
    trial_year,
    with_body,
    with_fault,
)
from tests.sources import Kind, source

DAY = 86400.0
LISTED = sys.platform == "linux"


@pytest.fixture(autouse=True)
def _a_compiler() -> None:
    compiler("cc", "gcc", "clang")


def tried(path: Path, days: float = 365.0) -> FirmwareTrial:
    return try_firmware(trial_year(days), path, trial_header())


def kinds(trial: FirmwareTrial) -> list[str]:
    return [each.kind for each in trial.breaks]


def test_the_good_one_keeps_its_year(tmp_path: Path) -> None:
    trial = tried(with_fault(tmp_path))
    assert trial.breaks == ()
    assert trial.listed == LISTED
    assert trial.rows.column("time")[-1] > 364.9 * DAY
    assert np.abs(trial.rows.column("error")).max() < 0.5
    (finding,) = findings_of(trial, trial_year())
    assert finding.severity is Severity.GOOD
    # The sag of the cells alone asks for 2.5 ms, 82 ticks.
    assert trial.rows.column("width_last")[-1] - trial.rows.column("width_last")[0] > 60


@source(Kind.IDENTITY, "the same plant in the harness's C and here, correction by correction")
def test_the_harness_moves_as_the_plant_does(tmp_path: Path) -> None:
    """Without jitter both must give the same widths; a second of count before the start in both."""
    from dataclasses import replace

    still = np.zeros(50)
    course = replace(
        trial_year(), jitter=0.0, weather=still, crystal=still, fresh=still + 1.0, days=1.0
    )
    with Trial(with_fault(tmp_path), trial_header()) as trial:
        given = harness_input(course, 7.0, row=1.0, corrections=1500)
        rows = Rows.of(trial.run(given, 7.0, 1500))
    step = quick_stepper(CONSTANTS, start_state(CONSTANTS))
    width, lagged, time, counted = 7.5e-3, 7.5e-3, 0.0, int(1.0 / TICK)
    interval = BEAT * BEATS
    fade = np.exp(-interval / LAG)
    for k in range(1500):
        middle = width + (lagged - width) * (1 - fade) * LAG / interval
        rate = SLOPE * (middle - 7e-3) + PROMPT * (width - middle)
        time += interval / (1 + rate)
        lagged = width + (lagged - width) * fade
        now = int((1.0 + time) / TICK)
        _, _, ticks, _ = step(now - counted)
        counted = now
        width = ticks * TICK
        assert rows.column("width_last")[k] == ticks
        assert rows.column("error")[k] == pytest.approx(time - (k + 1) * interval, abs=1e-6)


ELAPSED = "(uint32_t)(now - steering_last)"


def test_a_counter_of_sixteen_bits_is_named(tmp_path: Path) -> None:
    trial = tried(with_fault(tmp_path, (ELAPSED, "(uint16_t)(now - steering_last)")))
    assert trial.first is not None
    assert trial.first.day == 0
    assert "16 bits" in trial.first.text
    assert "26 times" in trial.first.text  # 1 703 517 / 65 536
    assert "error" in kinds(trial)


def test_a_counter_that_looks_alike_after_a_turn_is_named(tmp_path: Path) -> None:
    """Interval and nominal cut to 16 bits, without sign: an early interval looks very late."""
    cut = "(uint16_t)((uint16_t)(now - steering_last) - (uint16_t)(STEERING_NOMINAL / 65536))"
    trial = tried(with_fault(
        tmp_path, ("(int64_t)elapsed * 65536 - STEERING_NOMINAL;", f"(int64_t){cut} * 65536;"),
    ))  # fmt: skip
    assert trial.first is not None
    assert trial.first.kind == "wrapped"
    assert "a counter of 16 bits goes round every 2 s" in trial.first.text


def test_a_signed_comparison_of_counts_is_named(tmp_path: Path) -> None:
    """The count of 32 bits goes round after 2**32 / 32768 s, on the second day."""
    trial = tried(with_fault(
        tmp_path, (ELAPSED, "now > steering_last ? now - steering_last : 0u"),
        ("if (steering_skipped", "steering_error = most; if (steering_skipped"),
    ))  # fmt: skip
    assert trial.first is not None
    assert trial.first.kind == "wrapped"
    assert "36.4 h" in trial.first.text
    assert trial.first.day == pytest.approx(2**32 * TICK / DAY, abs=0.8)


def test_a_sum_of_ticks_that_goes_round_is_named_with_its_day(tmp_path: Path) -> None:
    """Time since the start in 32 bits: 2**32 ticks are passed on the second day."""
    trial = tried(with_fault(
        tmp_path,
        ("seen = steering_limited(steering_error + difference, -most, most);",
         "{ static uint32_t total_ticks; static int64_t due; total_ticks += elapsed;"
         " due += STEERING_NOMINAL;"
         " seen = steering_limited((int64_t)total_ticks * 65536 - due, -most, most); }"),
    ))  # fmt: skip
    assert trial.first is not None
    assert trial.first.kind == "wrapped"
    assert "4294967296" in trial.first.text
    assert trial.first.day == pytest.approx(2**32 * TICK / DAY, abs=2 / 24)
    assert "latched" in kinds(trial)


def test_a_wrong_sign_is_named(tmp_path: Path) -> None:
    trial = tried(with_fault(
        tmp_path, ("STEERING_WIDTH_CENTRE + STEERING_DIRECTION",
                   "STEERING_WIDTH_CENTRE - STEERING_DIRECTION"),
    ))  # fmt: skip
    assert "sign" in kinds(trial)
    assert kinds(trial).index("sign") < kinds(trial).index("error")
    assert "wrapped" not in kinds(trial)
    # It must latch as soon as it is judged, after two days.
    assert trial.first is not None
    assert 1 <= trial.first.day <= 3


def test_a_missing_clamp_is_named(tmp_path: Path) -> None:
    """The weather alone never asks for the limits: the trial pushes the rate for an hour."""
    trial = tried(with_fault(
        tmp_path, ("(int32_t)steering_limited(wanted, STEERING_WIDTH_MIN, STEERING_WIDTH_MAX)",
                   "(int32_t)wanted"),
    ))  # fmt: skip
    assert kinds(trial) == ["width"]
    assert "132 to 393 are allowed" in trial.breaks[0].text


@source(Kind.IDENTITY, "0.4464 tick lost in each of 26 617 is 1.449 s/day")
def test_a_rounded_constant_is_named_with_its_cost(tmp_path: Path) -> None:
    whole = "(int64_t)(STEERING_NOMINAL / STEERING_BEATS / 65536) * STEERING_BEATS * 65536;"
    trial = tried(with_fault(tmp_path, ("STEERING_NOMINAL;", whole)))
    assert kinds(trial) == ["rounded"]
    assert "gains 1.45 s/day" in trial.breaks[0].text
    assert "28.6 ticks" in trial.breaks[0].text  # 64 beats of 0.4464 tick
    # 20 s are allowed: 13.8 days after the two in which it settles.
    assert trial.breaks[0].day == pytest.approx(2 + 20 / 1.449, abs=1.0)


def test_lost_arc_is_named(tmp_path: Path) -> None:
    trial = tried(with_body(tmp_path, "return calls > 4000 ? 0 : 246;"))
    assert "width" in kinds(trial)
    (lost,) = [each for each in trial.breaks if each.kind == "arc"]
    assert lost.day == pytest.approx(4000 * BEAT * BEATS / DAY, abs=0.1)


HOSTILE = {
    "opens a file": ('if (calls > 3000) open("/etc/passwd", O_RDONLY);', "", "forbidden"),
    "writes a file": ('fclose(fopen("LEFT", "w"));', "", "forbidden"),
    "forks": ("if (calls > 3000) fork();", "", "forbidden"),
    "opens a socket": ("socket(AF_INET, SOCK_STREAM, 0);", "", "forbidden"),
    "starts a program": ('execl("/bin/sh", "sh", "-c", "touch LEFT", (char *)0);', "", "forbidden"),
    "ends others": ("kill(-1, SIGKILL);", "", "forbidden"),
    "works before main": (
        "", '__attribute__((constructor)) static void f(void) { fclose(fopen("LEFT", "w")); }',
        "forbidden",
    ),
    "takes memory": ("for (;;) { char *p = malloc(1 << 20); memset(p, 1, 1 << 20); }", "", "crash"),
    "recurses": (
        "f((int)calls);",
        "static int f(int k) { volatile char a[999]; a[0] = (char)k; return f(k + 1) + a[0]; }",
        "crash",
    ),
    "loops": ("if (calls > 5000) for (;;) { }", "", "time"),
    "prints": ('printf("late\\n"); fflush(stdout);', "", "garbage"),
    "prints for ever": ('for (;;) { static char page[4096]; write(1, page, 4096); }', "", "output"),
    "ends itself": ("if (calls > 10) exit(0);", "", "exit"),
}  # fmt: skip


@pytest.mark.skipif(not LISTED, reason="the kernel's list of calls is Linux's")
@pytest.mark.parametrize("name", list(HOSTILE))
def test_a_hostile_file_is_contained(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(child, "RUN_SECONDS", 1)
    homes = tmp_path / "homes"
    homes.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(homes))
    monkeypatch.chdir(tmp_path)
    body, before, kind = HOSTILE[name]
    trial = tried(with_body(tmp_path, body, before), days=20.0)
    assert kinds(trial)[0] == kind
    assert trial.listed
    finding = findings_of(trial, trial_year())[0]
    assert finding.severity is Severity.FAILS
    assert finding.remedy
    # Nothing is left: neither a file of its own nor the directory in which it ran.
    assert sorted(os.listdir(tmp_path)) == ["homes", "step.c"]
    assert os.listdir(homes) == []
    if "3000" in body:
        assert f"day {int(3000 * BEAT * BEATS / DAY) + 1}" in finding.text


UNUSABLE = {
    "int x = ;\n": "line 1: expected expression",
    "int x;\n": "no function steering_start",
    "void steering_start(unsigned now) {}\n": "no function steering_step",
    '#include "/dev/zero"\n': "does not compile",
    "#include __FILE__\n": "line 1: #include nested",
    '#include "mine.h"\n': "line 1: mine.h: No such file",
    "#error stop\n": "line 1: #error stop",
}


@pytest.mark.parametrize("text", list(UNUSABLE))
def test_what_does_not_compile_is_answered_in_a_line(text: str, tmp_path: Path) -> None:
    path = tmp_path / "step.c"
    path.write_text(text)
    with pytest.raises(DesignFileError, match=r"step\.c") as caught:
        tried(path)
    assert UNUSABLE[text] in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_main_of_its_own_is_refused(tmp_path: Path) -> None:
    path = with_body(tmp_path, "")
    path.write_text(path.read_text() + "int main(void) { return 0; }\n")
    with pytest.raises(DesignFileError, match="a function main of its own"):
        tried(path)


def test_its_own_header_beside_it_is_taken(tmp_path: Path) -> None:
    """A header that rounds the interval: the maker's, not ours, must be what runs."""
    path = with_fault(tmp_path)
    text = trial_header()
    rounded = CONSTANTS.nominal // (BEATS * 65536) * (BEATS * 65536)
    (tmp_path / "steering_constants.h").write_text(
        text.replace(str(CONSTANTS.nominal), str(rounded))
    )
    assert kinds(tried(path, days=40.0)) == ["rounded"]


def test_no_compiler_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda _: None)
    with pytest.raises(CompilerMissing, match="no C compiler"):
        tried(with_fault(tmp_path))


def test_a_file_that_is_none_is_refused(tmp_path: Path) -> None:
    for path, words in ((tmp_path, "directory"), (tmp_path / "none.c", "no such file")):
        with pytest.raises(DesignFileError) as caught:
            tried(path)
        assert words in str(caught.value).lower()


def test_without_the_kernels_list_it_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A kernel that refuses the list: limits alone hold it, and the finding says so."""
    once = Trial._once

    def without(self: Trial, *asked: Any) -> ChildRun | None:
        return once(self, *asked) if self._kind == child.LIMITS else None

    monkeypatch.setattr(Trial, "_once", without)
    trial = tried(with_fault(tmp_path), days=20.0)
    assert not trial.listed
    assert [f.id for f in findings_of(trial, trial_year())] == [
        "firmware.year", "firmware.confined",
    ]  # fmt: skip


@pytest.mark.skipif(not LISTED, reason="the kernel's list of calls is Linux's")
def test_a_system_whose_own_start_asks_for_more_is_not_blamed_on_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A list that lets not even a calm step function start: the trial goes on under limits."""
    parts = child_build._own_parts(child_build.find_compiler())
    text = (files("circuits.steering") / "confine.c").read_text()
    strict = text.replace("CONFINE_CALL(SYS_arch_prctl),", "").replace(
        "CONFINE_CALL(SYS_set_tid_address),", ""
    )
    assert strict != text
    (tmp_path / "confine.c").write_text(strict)
    (tmp_path / "confine.h").write_text((files("circuits.steering") / "confine.h").read_text())
    built(tmp_path, child_build.find_compiler(), "-w", "-o", "confine", "confine.c")
    data = (tmp_path / "confine").read_bytes()
    monkeypatch.setattr(child_build, "_own_parts", lambda _: {**parts, "confine": data})
    trial = tried(with_fault(tmp_path), days=20.0)
    assert not trial.listed
    assert trial.breaks == ()


@pytest.mark.skipif(not LISTED, reason="the kernel's list of calls is Linux's")
@pytest.mark.parametrize(
    ("body", "kind"),
    [("return 246;", ""), ('open("LEFT", O_CREAT | O_RDWR, 0600);', "forbidden"),
     ('open("/etc/passwd", O_RDONLY);', "forbidden"), ("fork();", "forbidden")],
)  # fmt: skip
def test_without_a_static_library_it_is_held_as_well(
    body: str, kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The loader must open the shared library; once in main no file can be opened at all."""
    limited = child_build._limited

    def no_static(command: list[str], directory: Path) -> tuple[bool, str]:
        return (False, "no") if "-static" in command else limited(command, directory)

    monkeypatch.setattr(child_build, "_limited", no_static)
    monkeypatch.chdir(tmp_path)
    trial = tried(with_body(tmp_path, body), days=1.0)
    assert trial.listed
    assert len(trial.rows) == (0 if kind else 24)
    assert kind in ["", *kinds(trial)]
    assert os.listdir(tmp_path) == ["step.c"]


def test_integers_without_a_stated_width_are_minded(tmp_path: Path) -> None:
    """In code, not in a comment or a text; on 8 bits an int has 16."""
    for text, minded in (
        ("/* an int */ static uint32_t calls2; // long", False),
        ("static long calls2;", True),
        ("static unsigned calls2;", True),
    ):
        trial = tried(with_fault(tmp_path, ("static uint32_t steering_last;",
                                            f"static uint32_t steering_last;\n{text}\n")),
                      days=1.0)  # fmt: skip
        found = {finding.id for finding in findings_of(trial, trial_year(1.0))}
        assert ("firmware.plain_int" in found) == minded
