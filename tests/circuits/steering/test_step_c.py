"""The firmware's C: compiled by the system's compiler, step by step equal to the Python model."""

import struct
import subprocess
from dataclasses import fields, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from calc.regulator import ONE_TICK, RegulatorConstants, regulator_step, start_state
from calc.regulator_sizing import UINT32, check_constants, regulator_constants
from circuits.steering.constants_header import HEADER, header_text, regulator_group
from circuits.steering.constants_source import source_text
from tests.circuits.steering.compilers import STRICT, built, compiler
from tests.sources import Kind, source

# Includes the step function to look at the numbers that it keeps to itself.
DRIVER = r"""
#include <stdio.h>
#include "step.c"
int main(void)
{
    uint32_t count[1];
    int32_t width;
    if (fread(count, sizeof count, 1, stdin) != 1) { return 1; }
    steering_start(count[0]);
    while (fread(count, sizeof count, 1, stdin) == 1) {
        width = steering_step(count[0]);
        printf("%lld %lld %ld %d\n", (long long)steering_error, (long long)steering_total,
               (long)width, (int)steering_skipped);
    }
    return 0;
}
"""
PLAIN = RegulatorConstants(
    law="pi", beats_per_correction=64, nominal=1_700_000 * ONE_TICK + 21_845,
    interval_limit=27_000, width_min=98, width_centre=245, width_max=490, width_step=1,
    direction=-1, kp=22_870_000, ki=397_000, shift=30, dead_band=2, error_limit=983_040,
    total_limit=1_100_000,
)  # fmt: skip
# As large as the check lets them be: products of 62 bits, intervals of 32.
LARGEST = replace(
    PLAIN, nominal=(UINT32 - 70_000_000) * ONE_TICK + 65_535, interval_limit=67_000_000,
    width_max=2_000_000_000, width_centre=1_000_000_000, kp=(1 << 31) - 1, ki=1,
    shift=20, error_limit=(1 << 31) - 1, total_limit=1 << 52, dead_band=0,
)  # fmt: skip
COARSE = regulator_constants(
    law="pi", tick=1e-3, beat=0.5, beats_per_correction=10, width_min=4e-3, width_centre=9e-3,
    width_max=21e-3, width_step=3e-3, direction=1, kp=1.7, ki=0.3, dead_band=1e-3, error_limit=5.0,
)  # fmt: skip


def drawn(seed: int) -> RegulatorConstants:
    """Constants of a movement drawn at random, as large and as small as makers have them."""
    generator = np.random.default_rng(seed)
    tick = float(generator.choice([1 / 32768, 1e-6, 62.5e-9, 1e-3]))
    beat = float(generator.uniform(0.1, 1.5))
    low = float(generator.uniform(2, 9)) * max(tick, 1e-3)
    return regulator_constants(
        law="pi", tick=tick, beat=beat, beats_per_correction=int(generator.integers(2, 150)),
        width_min=low, width_centre=1.3 * low, width_max=2.2 * low,
        width_step=tick * int(generator.integers(1, 4)),
        direction=int(generator.choice([-1, 1])), kp=float(10 ** generator.uniform(-4, 0)),
        ki=float(10 ** generator.uniform(-6, -2)), dead_band=tick * int(generator.integers(0, 4)),
        error_limit=float(10 ** generator.uniform(0, 2)),
    )  # fmt: skip


CASES = {
    "pi": PLAIN,
    "integral": replace(PLAIN, law="integral", ki=22_870_000),
    "tick": replace(PLAIN, law="tick", dead_band=40),
    "largest": LARGEST,
    "coarse": COARSE,
    **{f"drawn_{seed}": drawn(seed) for seed in (1, 2, 3, 4)},
    "other_direction": replace(PLAIN, direction=1, width_step=5, dead_band=0),
}


def written(directory: Path, constants: RegulatorConstants) -> None:
    origins = {field.name: "a test" for field in fields(RegulatorConstants)}
    group = regulator_group(constants, origins)
    (directory / HEADER).write_text(header_text("a test", (), (group,)))
    (directory / "step.c").write_text(source_text())
    (directory / "driver.c").write_text(DRIVER)


def counts(constants: RegulatorConstants, steps: int, seed: int) -> list[int]:
    """Counts at the events: near the interval, at its limits, and wild ones; round the 32 bits."""
    generator = np.random.default_rng(seed)
    near, off = constants.nominal // ONE_TICK, constants.interval_limit
    found = [int(generator.integers(0, 1 << 32))]
    for k in range(steps):
        small = int(generator.integers(-off // 20 - 1, off // 20 + 2))
        push = off // 2 if (k // 150) % 3 == 1 else -off // 2 if (k // 150) % 3 == 2 else 0
        elapsed = near + small + push
        if k % 41 == 0:
            elapsed = near + int(generator.choice([off, off + 1, -off, -off - 1, 0, 1]))
        if k % 97 == 0:
            elapsed = int(generator.integers(0, 1 << 32))
        found.append((found[-1] + max(elapsed, 0)) & UINT32)
    return found


def of_the_c(directory: Path, given: list[int]) -> list[tuple[int, ...]]:
    done = subprocess.run(
        [str(directory / "driver")], input=struct.pack(f"={len(given)}I", *given),
        capture_output=True, timeout=30, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr.decode()
    return [tuple(map(int, line.split())) for line in done.stdout.decode().splitlines()]


def of_the_model(constants: RegulatorConstants, given: list[int]) -> list[tuple[int, ...]]:
    state, found = start_state(constants), []
    for before, now in pairwise(given):
        elapsed = (now - before) & UINT32
        state = regulator_step(constants=constants, state=state, elapsed=elapsed)
        found.append((state.error, state.total, state.width, state.skipped))
    return found


@source(Kind.IDENTITY, "the same whole numbers by the system's C compiler")
@pytest.mark.parametrize("name", list(CASES))
@pytest.mark.parametrize("seed", [1, 2])
def test_the_compiled_step_is_bit_equal_to_the_model(name: str, seed: int, tmp_path: Path) -> None:
    """With the sanitiser for undefined behaviour in place: no overflow, no shift of a negative."""
    constants = CASES[name]
    check_constants(constants)
    written(tmp_path, constants)
    gcc = compiler("gcc", "clang", "cc")
    built(
        tmp_path, gcc, "-std=c99", *STRICT, "-Wconversion", "-O1", "-fsanitize=undefined",
        "-fno-sanitize-recover=all", "-o", "driver", "driver.c",
    )  # fmt: skip
    given = counts(constants, 3000, seed)
    expected = of_the_model(constants, given)
    assert of_the_c(tmp_path, given) == expected
    widths = {row[2] for row in expected}
    assert len(widths) > 2
    assert expected[-1][3] > 20


@pytest.mark.parametrize("name", ["pi", "integral", "tick"])
def test_the_step_compiles_as_cpp_too(name: str, tmp_path: Path) -> None:
    written(tmp_path, CASES[name])
    cpp = compiler("g++", "clang++", "c++")
    built(tmp_path, cpp, "-std=c++11", *STRICT, "-Wconversion", "-x", "c++", "-c", "step.c")


def test_the_step_needs_no_library(tmp_path: Path) -> None:
    """A controller may have neither a C library nor a floating point unit."""
    written(tmp_path, PLAIN)
    cc = compiler("gcc", "clang", "cc")
    built(tmp_path, cc, "-std=c99", *STRICT, "-ffreestanding", "-Os", "-c", "step.c")
    names = subprocess.run(
        ["nm", "-u", "step.o"], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert names.stdout.strip() in ("", "_GLOBAL_OFFSET_TABLE_", "U _GLOBAL_OFFSET_TABLE_")
    code = "".join(
        line.split("/*")[0] for line in (tmp_path / "step.c").read_text().splitlines(True)
    )
    assert "float" not in code
    assert "double " not in code


def test_a_counter_that_goes_round_changes_nothing(tmp_path: Path) -> None:
    """The same intervals from another count at the start give the same widths."""
    written(tmp_path, PLAIN)
    built(tmp_path, compiler("gcc", "clang", "cc"), "-std=c99", "-O2", "-o", "driver", "driver.c")
    given = counts(PLAIN, 400, 3)
    moved = [(count + 0xC000_0000) & UINT32 for count in given]
    assert of_the_c(tmp_path, given) == of_the_c(tmp_path, moved)
