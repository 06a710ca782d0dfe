"""How far the movement must be pushed so that it goes on by itself."""

from dataclasses import dataclass

from circuits.sheet import Sheet

SURELY = 1.2
"""A push by hand goes so much beyond the least arc that grows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Push:
    """Half arc to push to [rad]; `least` is below which it dies away, zero for none."""

    arc: float
    least: float


def push_of(sheet: Sheet) -> Push:
    """Return the push: beyond what dies away and what the firmware does not see."""
    least = 0.0
    for name in ("rate.arc_unstable", "timing.arc_seen"):
        entry = sheet.values.get(name)
        if entry is not None:
            least = max(least, float(entry.value))
    for finding in sheet.findings:
        if finding.id == "rate.start" and finding.value is not None:
            least = max(least, finding.value)
    wanted = float(sheet.values["movement.arc"].value)
    return Push(arc=SURELY * least if least else 0.5 * wanted, least=least)
