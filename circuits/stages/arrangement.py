"""Which way the pickup listens, and which combinations cannot be built."""

from difflib import get_close_matches

import numpy as np
from numpy.typing import NDArray

from circuits.design import Design
from circuits.errors import DesignFileError
from circuits.ledger import Change, Ledger, Severity
from circuits.stages.clamp import ClampResult
from circuits.stages.drive import DriveResult
from circuits.stages.emf import EmfResult
from circuits.stages.linkage import LinkageResult

WHISPER = 0.5
"""Share of the clamp's knee below which it takes nothing that counts."""
HALVINGS = 24
ARRANGEMENTS = ("at_switch", "mid_rail", "through_capacitor")


def arrangement_of(design: Design) -> str:
    """Return the arrangement that is stated, or the one that the windings suggest.

    Raises
    ------
    DesignFileError
        If the windings do not allow it.
    """
    stated = design.pickup.arrangement
    has_pickup = design.pickup_coil is not None
    use = design.coil.use or ("drive" if has_pickup else "shared")

    def refuse(found: str, wanted: str) -> DesignFileError:
        return DesignFileError(
            file=design.file, section="pickup", key="arrangement", found=found, wanted=wanted
        )

    if stated is not None and stated not in ARRANGEMENTS:
        near = get_close_matches(stated.lower().replace("-", "_").replace(" ", "_"), ARRANGEMENTS)
        raise refuse(
            repr(stated),
            f"write one of {', '.join(ARRANGEMENTS)}" + (f"; {near[0]} is meant?" if near else ""),
        )
    if use == "drive" and not has_pickup:
        raise refuse(
            "[coil] use = drive and no [pickup_coil]: nothing listens to the magnet",
            'write use = "shared" in [coil], or describe the listening winding in [pickup_coil]',
        )
    chosen = stated or ("mid_rail" if has_pickup else "at_switch")
    if chosen == "at_switch" and has_pickup:
        raise refuse(
            "at_switch with a [pickup_coil]: the switch's node shows the drive coil only",
            'use arrangement = "mid_rail", or leave out [pickup_coil]',
        )
    if chosen == "mid_rail" and not has_pickup:
        raise refuse(
            "mid_rail without a [pickup_coil]: the drive coil's end stands on the supply and "
            "cannot stand on a mid-rail divider",
            'use arrangement = "at_switch", or describe a listening winding in [pickup_coil]',
        )
    return chosen


def departure(
    emf: EmfResult,
    drive: DriveResult,
    clamp: ClampResult,
    r_coil: float,
    v_supply: float,
    v_knee_low: float,
) -> NDArray[np.float64]:
    """Return the node's departure from rest in a free pass, flattened where something conducts."""
    sign = 1.0 if drive.polarity == "repel" else -1.0
    if emf.flux_rate_pickup is not None:
        return np.asarray(sign * emf.flux_rate_pickup, dtype=np.float64)
    above = _clamped(sign * emf.flux_rate, clamp, r_coil, v_supply)
    return np.maximum(above, -v_knee_low)


def _clamped(
    e: NDArray[np.float64], clamp: ClampResult, r_coil: float, v_supply: float
) -> NDArray[np.float64]:
    """Return what the clamp leaves of an EMF behind the coil's resistance.

    A resistor takes its share on either side of rest, a junction above it only.
    """
    if clamp.resistor is not None:
        return e * (clamp.resistor / (clamp.resistor + r_coil))
    node = e.copy()
    loud = e > WHISPER * clamp.v_knee
    e_loud = e[loud]
    low, high = np.zeros_like(e_loud), np.maximum(e_loud, 0.0) / r_coil
    for _ in range(HALVINGS):
        i = 0.5 * (low + high)
        too_much = clamp.law.opposing(i, v_supply) + r_coil * i > e_loud
        low, high = np.where(too_much, low, i), np.where(too_much, i, high)
    node[loud] = e_loud - r_coil * low
    return node


def check_polarity(ledger: Ledger, drive: DriveResult, linkage: LinkageResult) -> None:
    """Whether the pulse that follows the event pushes or brakes."""
    lying = linkage.axis == "motion"
    if lying:
        ledger.say(
            "pickup.trigger_polarity", Severity.GOOD,
            "The node falls below rest as the large middle lobe begins, and that lobe can be "
            "driven.",
        )  # fmt: skip
    elif drive.polarity == "attract" and drive.trigger == "crossing":
        ledger.say(
            "pickup.trigger_polarity", Severity.FAILS,
            "An attracting pulse that starts at the crossing pulls the magnet back to the coil it "
            "is leaving: it brakes.",
            remedy="Let the pulse repel, or let it start before the crossing, from a threshold on "
            "the approach or timed from the previous pass.",
            changes=(
                (Change(section="drive", key="polarity", text="repel"),),
                (Change(section="drive", key="trigger", text="threshold"),),
                (Change(section="drive", key="trigger", text="previous_pass"),),
            ),
        )  # fmt: skip
    else:
        where = {
            "crossing": "from the falling crossing, on the lobe that lies below rest",
            "threshold": "from a threshold on the lobe that lies below rest",
            "previous_pass": "timed from the crossing of the pass before",
        }[drive.trigger]
        half = "leaves" if drive.polarity == "repel" else "approaches"
        ledger.say(
            "pickup.trigger_polarity", Severity.GOOD,
            f"The pulse {drive.polarity}s and is started {where}: it can do work while the magnet "
            f"{half} the coil.",
        )  # fmt: skip
