"""EMF: the waveform that one pass induces, in time about the coil's axis."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.emf import Burst, emf_burst
from calc.linkage_curve import LinkageCurve
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.format_quantity import percent, show, show_range
from circuits.ledger import Basis, Ledger, Severity
from circuits.stages.linkage import LinkageResult
from circuits.stages.movement import MovementResult

SAMPLES = 2400
"""Samples of one pass."""
FADED = 3e-4
"""The burst ends where the slope has fallen to this share of its peak."""
STEADY = 0.05
"""A speed that falls by more than this until the slope's peak is worth knowing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EmfResult:
    """One pass in the positive direction; time zero is the magnet on the coil's axis.

    `path` is measured from the drive coil's axis, as the linkage curves are. `flux_rate` is the
    rate of change of the linkage at the terminals: the EMF that opposes a repelling current is
    its negative, the one that opposes an attracting current is itself.
    """

    t: NDArray[np.float64]
    path: NDArray[np.float64]
    speed: NDArray[np.float64]
    flux_rate: NDArray[np.float64]
    flux_rate_pickup: NDArray[np.float64] | None
    emf_peak: float
    peak_spacing: float
    emf_peak_pickup: float | None = None


def size(
    design: Design,  # noqa: ARG001 - every stage is called alike
    catalogue: Catalogue,  # noqa: ARG001
    ledger: Ledger,
    linkage: LinkageResult,
    movement: MovementResult,
) -> EmfResult:
    """Return the EMF of one free pass and enter it into the sheet.

    Parameters
    ----------
    design : Design
        The design file.
    catalogue : Catalogue
        The parts.
    ledger : Ledger
        The sheet.
    linkage : LinkageResult
        The linkage along the path.
    movement : MovementResult
        The free swing.

    Returns
    -------
    emf : EmfResult
    """
    curves = [linkage.drive] if linkage.pickup is None else [linkage.drive, linkage.pickup]
    t, path, speed = _pass(movement, max(_extent(curve) for curve in curves))
    flux_rate = linkage.drive.slope(path) * speed
    burst = emf_burst(t=t, flux_rate=flux_rate)
    of_pickup, pickup_burst = None, None
    if linkage.pickup is not None:
        of_pickup = linkage.pickup.slope(path) * speed
        pickup_burst = emf_burst(t=t, flux_rate=of_pickup)
    _enter(ledger, linkage, burst)
    if pickup_burst is not None:
        low, high = _spread(linkage, pickup_burst.emf_peak)
        ledger.value(
            "emf.emf_peak_pickup", pickup_burst.emf_peak, "V",
            words="peak of the pickup coil's EMF in a free pass", basis=Basis.COMPUTED,
            rule="speed x slope of the pickup coil's linkage",
            low=low, high=high,
        )  # fmt: skip
    _say_speed(ledger, linkage, movement)
    _bench(ledger, linkage, "coil", burst, flux_rate)
    if pickup_burst is not None and of_pickup is not None:
        _bench(ledger, linkage, "pickup coil", pickup_burst, of_pickup)
    spacing = burst.spacing or _lasts(t, flux_rate)
    return EmfResult(
        t=t, path=path, speed=speed, flux_rate=flux_rate, flux_rate_pickup=of_pickup,
        emf_peak=burst.emf_peak, peak_spacing=spacing,
        emf_peak_pickup=None if pickup_burst is None else pickup_burst.emf_peak,
    )  # fmt: skip


def _extent(curve: LinkageCurve) -> float:
    """Return the farthest place from the drive coil's axis at which the slope still counts."""
    places = np.append(curve.path, curve.centre + 3 * (curve.path[[0, -1]] - curve.centre))
    counts = places[np.abs(curve.slope(places)) > FADED * curve.slope_peak]
    return float(np.abs(counts).max())


def _pass(
    movement: MovementResult, extent: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return times about the crossing, places from the coil's axis, and speeds."""
    swing, offset = movement.swing, movement.offset
    # A hair inside the turning points: rounding must not carry the ends beyond them.
    half = swing.arc * swing.radius * (1 - 1e-12)
    ends = np.clip(np.array([offset - extent, offset + extent]), -half, half)
    crossing = float(swing.time_at(np.array([offset]))[0])
    start, stop = (float(end) for end in swing.time_at(ends) - crossing)
    step = (stop - start) / SAMPLES
    # Whole steps from the crossing keep it a sample of its own.
    t = step * np.arange(np.ceil(start / step), np.floor(stop / step) + 1)
    return t, swing.path(t + crossing) - offset, swing.speed(t + crossing)


def _lasts(t: NDArray[np.float64], flux_rate: NDArray[np.float64]) -> float:
    """Return how long a lone lobe stands above half its height: what it is filtered by."""
    size = np.abs(flux_rate)
    return float(t[1] - t[0]) * max(int(np.count_nonzero(size > size.max() / 2)), 1)


def _spread(linkage: LinkageResult, peak: float) -> tuple[float | None, float | None]:
    low, high = linkage.slope_low * peak, linkage.slope_high * peak
    return (low, high) if low < high else (None, None)


def _enter(ledger: Ledger, linkage: LinkageResult, burst: Burst) -> None:
    low, high = _spread(linkage, burst.emf_peak)
    ledger.value(
        "emf.emf_peak", burst.emf_peak, "V", words="peak of the EMF in a free pass",
        basis=Basis.COMPUTED, rule="speed x slope of the linkage, along the true swing",
        low=low, high=high,
    )  # fmt: skip
    if burst.lobes > 1:
        ledger.value(
            "emf.peak_spacing", burst.spacing, "s",
            words="time from the first lobe's peak to the last lobe's", basis=Basis.COMPUTED,
            rule="peaks of the waveform in time",
        )  # fmt: skip
    else:
        ledger.say(
            "emf.lone_lobe", Severity.MIND,
            "The swing stays on one side of the coil: a pass gives one lobe and no crossing "
            "between two.",
            remedy="Swing wider, or bring the coil nearer to the middle of the swing.",
        )  # fmt: skip
    ledger.value(
        "emf.t_peak", abs(burst.t_peak), "s",
        words="time between the crossing and the greatest EMF", basis=Basis.COMPUTED,
        rule="peak of the waveform in time",
    )  # fmt: skip


def _say_speed(ledger: Ledger, linkage: LinkageResult, movement: MovementResult) -> None:
    """Whether the speed may be taken as constant over the coil."""
    swing, peak = movement.swing, linkage.drive.path_peak
    half = swing.arc * swing.radius
    place = movement.offset + peak
    if not peak or place >= half:
        # The movement's own finding says that the slope's peak lies outside the swing.
        return
    then = float(swing.speed(swing.time_at(np.array([place])))[0])
    lost = 1 - then / movement.speed
    ledger.value(
        "emf.speed_lost", lost, "1", words="speed lost between the crossing and the slope's peak",
        basis=Basis.COMPUTED, rule="1 - speed there / speed at the crossing",
    )  # fmt: skip
    ledger.say(
        "emf.speed", Severity.GOOD if abs(lost) < STEADY else Severity.MIND,
        f"From the coil's axis to the place of the greatest push, {show(peak, 'm')} on, the magnet "
        f"loses {percent(lost)} of its speed.",
        remedy="" if abs(lost) < STEADY else "The arc is small beside the coil: speed times slope "
        "at the crossing overstates the EMF, and a little less arc costs much of it.",
        value=lost, unit="1",
    )  # fmt: skip


def _bench(
    ledger: Ledger, linkage: LinkageResult, name: str, burst: Burst, flux_rate: NDArray[np.float64]
) -> None:
    gap = linkage.gap if name == "coil" else linkage.pickup_gap or linkage.gap
    low, high = (share * burst.emf_peak for share in (linkage.slope_low, linkage.slope_high))
    band = show(burst.emf_peak, "V") if low == high else show_range(low, high, "V")
    large = flux_rate[np.abs(flux_rate) > 0.5 * burst.emf_peak]
    equal = float(large.max()) > 0.5 * burst.emf_peak and float(large.min()) < -0.5 * burst.emf_peak
    if linkage.axis == "motion":
        lobes = f"{burst.lobes} lobes, the middle one largest with {band}"
        turned = "its sign follows the direction of the pass"
    else:
        number = {1: "one lobe", 2: "two lobes of opposite sign"}.get(
            burst.lobes, f"{burst.lobes} lobes"
        )
        lobes = f"{number}, {'each' if equal and burst.lobes == 2 else 'the largest'} {band}"
        turned = "the same order of lobes on both passes"
    apart = f", {show(burst.spacing, 's')} from first peak to last" if burst.lobes > 1 else ""
    ledger.test_point(
        f"{name}, its two ends, unplugged from the circuit",
        f"swinging at the wanted arc, gap {show(gap, 'm')}",
        "oscilloscope, no load",
        f"{lobes}{apart}; {turned}",
        "less: gap too wide, arc too small or a weaker magnet; only part of a lobe: the coil is "
        "off the middle of the swing; measure unplugged, since a transistor's junction flattens "
        "what exceeds about half a volt",
    )
