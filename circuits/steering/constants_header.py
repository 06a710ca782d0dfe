"""The firmware's constants as a C header of our own layout."""

from dataclasses import dataclass

from calc.regulator import LAWS, RegulatorConstants

HEADER = "steering_constants.h"
GUARD = "STEERING_CONSTANTS_H"
LONGEST = 96
"""Characters of a comment's line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Constant:
    """One whole number of the firmware, with its unit and where it came from.

    `bits` is the width of the signed type that it is written for, 32 or 64; times `si` it is in
    `si_unit`, which is 1 for ticks, counts and scaled numbers.
    """

    name: str
    value: int
    unit: str
    origin: str
    bits: int = 32
    si: float = 1
    si_unit: str = "1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Constants that belong together, under a line of words."""

    words: str
    constants: tuple[Constant, ...]


def comment_text(text: str, longest: int = 160) -> str:
    """Return a text that can neither end a comment nor continue it, whoever wrote it.

    >>> comment_text("Foyer */ int x; /* sculpture")
    'Foyer / int x; / sculpture'
    """
    kept = "".join(c if " " <= c <= "~" and c not in "*?\\" else " " for c in text)
    joined = " ".join(kept.split())
    return joined if len(joined) <= longest else joined[: longest - 3].rstrip() + "..."


def _wrapped(text: str, room: int) -> list[str]:
    lines: list[str] = [""]
    for word in text.split():
        piece = word[:room]
        if lines[-1] and len(lines[-1]) + 1 + len(piece) > room:
            lines.append("")
        lines[-1] = f"{lines[-1]} {piece}".strip()
    return lines


def _comment(text: str) -> list[str]:
    lines = _wrapped(comment_text(text, 600), LONGEST - 6)
    if len(lines) == 1:
        return [f"/* {lines[0]} */"]
    return [f"/* {lines[0]}", *(f" * {line}" for line in lines[1:-1]), f" * {lines[-1]} */"]


def _number(constant: Constant) -> str:
    if constant.bits == 64:
        return f"(INT64_C({constant.value}))"
    return f"({'' if constant.value >= 0 else '-'}INT32_C({abs(constant.value)}))"


def regulator_group(constants: RegulatorConstants, origins: dict[str, str]) -> Group:
    """Return the controller's constants; `origins` says by field where each came from."""
    c = constants

    def entry(name: str, value: int, unit: str, field: str, bits: int = 32) -> Constant:
        return Constant(name=f"STEERING_{name}", value=value, unit=unit, origin=origins[field],
                        bits=bits)  # fmt: skip

    scaled = f"2^-{c.shift}"
    return Group(
        words="The regulator, one step each STEERING_BEATS beats",
        constants=(
            entry("LAW", LAWS.index(c.law), "0 pi, 1 integral, 2 one step up or down", "law"),
            entry("BEATS", c.beats_per_correction, "beats", "beats_per_correction"),
            entry("NOMINAL", c.nominal, "1/65536 tick", "nominal", 64),
            entry("INTERVAL_LIMIT", c.interval_limit, "ticks", "interval_limit"),
            entry("WIDTH_MIN", c.width_min, "ticks", "width_min"),
            entry("WIDTH_CENTRE", c.width_centre, "ticks", "width_centre"),
            entry("WIDTH_MAX", c.width_max, "ticks", "width_max"),
            entry("WIDTH_STEP", c.width_step, "ticks", "width_step"),
            entry("DIRECTION", c.direction, "+1 a wider pulse gains, -1 it loses", "direction"),
            entry("KP", c.kp, f"{scaled} tick of width a tick of time error", "kp", 64),
            entry("KI", c.ki, f"{scaled} tick of width a tick of summed error", "ki", 64),
            entry("SHIFT", c.shift, "bits", "shift"),
            entry("DEAD_BAND", c.dead_band, "ticks", "dead_band"),
            entry("ERROR_LIMIT", c.error_limit, "ticks", "error_limit"),
            entry("TOTAL_LIMIT", c.total_limit, "ticks", "total_limit", 64),
        ),
    )


def header_text(title: str, notes: tuple[str, ...], groups: tuple[Group, ...]) -> str:
    """Return the whole header."""
    lines = [*_comment(f"Constants of the firmware for: {comment_text(title)}")]
    for note in notes:
        lines += _comment(note)
    lines += [f"#ifndef {GUARD}", f"#define {GUARD}", "", "#include <stdint.h>"]
    for group in groups:
        lines += ["", "", *_comment(f"{group.words}.")]
        for constant in group.constants:
            lines += ["", *_comment(f"[{constant.unit}] {constant.origin}")]
            lines.append(f"#define {constant.name} {_number(constant)}")
    return "\n".join([*lines, "", "#endif"]) + "\n"
