"""An invented movement's year for trials of step functions, and faults to seed into one."""

from dataclasses import fields
from pathlib import Path

import numpy as np

from calc.regulator import RegulatorConstants
from calc.regulator_sizing import regulator_constants
from circuits.steering.constants_header import header_text, regulator_group
from circuits.steering.constants_source import source_text
from circuits.steering.firmware_course import FirmwareCourse

TICK = 1 / 32768
BEAT = 0.8123
BEATS = 64
SLOPE, PROMPT, LAG = -0.33, -0.01, 324.0

CONSTANTS = regulator_constants(
    law="pi", tick=TICK, beat=BEAT, beats_per_correction=BEATS, width_min=4e-3,
    width_centre=7.5e-3, width_max=12e-3, width_step=TICK, direction=-1, kp=0.0028, ki=7e-5,
    dead_band=0.0, error_limit=60.0,
)  # fmt: skip


def trial_header(constants: RegulatorConstants = CONSTANTS) -> str:
    origins = {field.name: "an invented movement" for field in fields(RegulatorConstants)}
    return header_text("an invented movement", (), (regulator_group(constants, origins),))


def trial_year(days: float = 365.0) -> FirmwareCourse:
    """A steel rod in a room, a tuning fork, cells that run down over the year; all invented."""
    hours = np.arange(0, 24 * 365 + 1)
    yearly, daily = np.sin(2 * np.pi * hours / 8760), np.sin(2 * np.pi * hours / 24)
    widths = np.linspace(2e-3, 15e-3, 53)
    arcs = np.where(widths < 2.99e-3, 0.0, 0.08 * np.sqrt(widths / 7.5e-3))
    return FirmwareCourse(
        tick=TICK, beat=BEAT, beats_per_correction=BEATS, time_constant=LAG, slope_prompt=PROMPT,
        jitter=4e-4, width_start=7.5e-3, width_min=CONSTANTS.width_min,
        width_max=CONSTANTS.width_max, arc_least=0.03, allowed=20.0, settled_after=2 * 86400.0,
        widths=widths, shares=np.array([0.0, 1.0]),
        rates=SLOPE * np.array([widths - 9.5e-3, widths - 7e-3]),
        arcs=np.array([0.9 * arcs, arcs]), course_step=3600.0,
        weather=-5.75e-6 * (6 * yearly + 2 * daily), crystal=-3.5e-8 * (8 + 6 * yearly) ** 2,
        fresh=np.linspace(1, 0, len(hours)), days=days,
    )  # fmt: skip


def with_fault(directory: Path, *changes: tuple[str, str]) -> Path:
    """Write our own step function with some places replaced."""
    text = source_text()
    for old, new in changes:
        assert text.count(old) >= 1, old
        text = text.replace(old, new)
    path = directory / "step.c"
    path.write_text(text)
    return path


def with_body(directory: Path, body: str, before: str = "") -> Path:
    """Write a step function that does nothing but some statements."""
    path = directory / "step.c"
    path.write_text(
        "#include <stdint.h>\n#include <stdio.h>\n#include <stdlib.h>\n#include <string.h>\n"
        "#include <unistd.h>\n#include <fcntl.h>\n#include <signal.h>\n#include <sys/socket.h>\n"
        f"{before}\nstatic volatile uint32_t calls;\n"
        "void steering_start(uint32_t now) { (void)now; }\n"
        f"int32_t steering_step(uint32_t now) {{ (void)now; ++calls; {body} return 240; }}\n"
    )
    return path
