"""Switches that cannot do this job, refused in words with what would do."""

import re

from circuits.design import Design
from circuits.errors import DesignFileError

_NPN = 'write switch = "npn" or "nmos": coil from the positive rail, switch from coil to ground'
_REASONS = {
    "darlington": (
        "a Darlington, which keeps about 1 V for itself and wants up to 2.5 V at its base: on "
        "cells of 1.5 to 3 V a third to two thirds of the supply is lost",
        'write switch = "nmos" with a type that is specified at the pin\'s voltage, or "npn"',
    ),
    "pnp": (
        "a PNP on the high side, whose base must reach the supply to switch it off; as a "
        "follower it cannot saturate and the coil never gets the whole supply",
        _NPN,
    ),
    "pmos": (
        "a P-channel MOSFET on the high side, which needs a second transistor to drive it",
        _NPN,
    ),
    "emitter": (
        "a coil in the emitter: the follower cannot saturate and gives the coil the pin's "
        "voltage less 0.7 V",
        _NPN,
    ),
    "bridge": (
        "a bridge, which loses one to three volts in its two switches and is not needed: one "
        "polarity of pulse is enough",
        _NPN,
    ),
}
_WORDS = {
    "pfet": "pmos", "p_channel": "pmos", "emitter_follower": "emitter", "follower": "emitter",
    "common_collector": "emitter", "high_side": "pnp", "h_bridge": "bridge", "h-bridge": "bridge",
}  # fmt: skip
_TYPES = (
    (r"TIP1[1-4][0-7].*|BD6(7[5-9]|8[0-2]).*|MPSA1[34].*|MPSA29.*|BC517.*|ULN2[08].*|BCV27.*",
     "darlington"),
    (r"BC(32[78]|55[6-9]|560|807|85[6-9]).*|P?N?2?N?(2907|3906|440[23]).*|MPSA56.*|TIP[34]2.*"
     r"|BD1(36|38|40).*", "pnp"),
    (r"AO340[13]A?|IRLML(6402|2244|6401).*|SI2301.*|DMG23(01|05).*|BS250.*|IRF9\d+.*|FQP27P.*",
     "pmos"),
)  # fmt: skip


def refuse_unsuited(design: Design) -> None:
    """Raise where the stated switch or type number is of a kind that this drive cannot use."""
    switch, name = design.drive.switch, design.drive.transistor
    if switch is not None and switch not in ("npn", "nmos"):
        plain = switch.casefold().replace(" ", "_")
        _refuse(design, "switch", switch, _WORDS.get(plain, plain))
    if name is None or name in design.part:
        return
    plain = re.sub(r"[^A-Z0-9]", "", name.upper())
    for pattern, kind in _TYPES:
        if re.fullmatch(pattern, plain):
            _refuse(design, "transistor", name, kind)


def _refuse(design: Design, key: str, found: str, kind: str) -> None:
    reason, wanted = _REASONS.get(kind, ("", 'write "npn" or "nmos"'))
    raise DesignFileError(
        file=design.file, section="drive", key=key,
        found=f'"{found}"' + (f", {reason}" if reason else ""), wanted=wanted,
    )  # fmt: skip
