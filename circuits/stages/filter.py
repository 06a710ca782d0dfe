"""Filter: cut-off against mains, and what it does to the crossing."""

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from calc.crossing import FilteredWave, filtered_wave, wave_peak
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.format_quantity import show
from circuits.ledger import Basis, Ledger
from circuits.ratings import capacitor_rating
from circuits.stages import filter_checks, pickup_levels
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult
from circuits.stages.emf import EmfResult
from circuits.stages.event import Event, crossing_event, crossing_of, level_event
from circuits.stages.filter_choice import Chosen, choose, mains_gain
from circuits.stages.movement import MovementResult
from circuits.stages.pickup import PickupResult
from circuits.stages.rails import Rails

Array = NDArray[np.float64]
OTHER_ARCS = (0.8, 1.2)
COARSE = 4
"""Every so many samples are enough for the delay at another arc."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterResult:
    """The filter as a ladder with its source and load.

    `event_time` is when the firmware sees the event that triggers the pulse, from the moment
    the magnet stands on the coil's axis in the pass that is driven; before it is negative.
    `signal` is the departure of the pin from its baseline along `EmfResult.t`. `f_mains` and
    `mains_gain` are the mains frequency and what is left of it, relative to the pass band.
    """

    r: tuple[float, ...]
    c: tuple[float, ...]
    f_c: float
    gain: float
    delay: float
    event_time: float
    slope_at_event: float
    signal: NDArray[np.float64]
    tau_high: float = inf
    tau_slow: float = 0.0
    tau_fast: float = 0.0
    f_mains: float = 50.0
    mains_gain: float = 0.0
    peak_kept: float = 1.0
    peak: float = 0.0
    reached: bool = True
    crossing_time: float = 0.0
    crossing_slope: float = 0.0


def size(
    design: Design,
    catalogue: Catalogue,  # noqa: ARG001 - every stage is called alike
    ledger: Ledger,
    rails: Rails,
    coil: CoilResult,
    movement: MovementResult,
    emf: EmfResult,
    drive: DriveResult,
    pickup: PickupResult,
) -> FilterResult:
    """Size or check the filter and enter it into the sheet.

    Parameters
    ----------
    design : Design
        The design file.
    catalogue : Catalogue
        The parts.
    ledger : Ledger
        The sheet.
    rails, coil, movement, emf, drive, pickup
        Results of the stages before.

    Returns
    -------
    filter : FilterResult
    """
    assert pickup.departure is not None
    f_mains = design.filter.mains
    if f_mains is None:
        f_mains = 50.0
        ledger.assume("filter.mains", f_mains, "Hz", "mains of most countries; 60 Hz elsewhere")
    chosen = choose(design, pickup, emf.peak_spacing, f_mains)
    free = pickup.departure
    wave = _through(chosen, emf.t, free)
    falling = _falling(emf, drive)
    crossing = crossing_event(emf.t, wave.wave, wave.slope, falling=falling)
    true_crossing = _true_crossing(emf.t, free, falling)
    delay = crossing.t - true_crossing
    before = crossing.t if crossing.reached else float(emf.t[-1])
    kept, peak = _kept(emf.t, chosen.gain * free, wave, before, drive, pickup.side)
    event = crossing
    if drive.trigger == "threshold":
        event = level_event(
            emf.t, pickup.side * wave.wave, pickup.side * wave.slope, pickup.threshold
        )
    elif drive.trigger == "previous_pass":
        event = _previous(crossing, movement, motion=_lying(emf))
    result = FilterResult(
        r=(chosen.r,) * chosen.poles,
        c=(chosen.c,) * chosen.poles,
        f_c=chosen.f_c,
        gain=chosen.gain,
        delay=delay,
        event_time=event.t,
        slope_at_event=event.slope,
        signal=wave.wave,
        tau_high=chosen.tau_high,
        tau_slow=chosen.tau_slow,
        tau_fast=chosen.tau_fast,
        f_mains=f_mains,
        mains_gain=mains_gain(chosen, f_mains),
        peak_kept=kept,
        peak=peak,
        reached=event.reached,
        crossing_time=crossing.t,
        crossing_slope=crossing.slope,
    )
    others = tuple(_delay_at(chosen, emf, free, falling, arc) for arc in OTHER_ARCS)
    _enter(design, ledger, movement, result, others)
    _parts(ledger, result, rails.v_max)
    filter_checks.check(design, ledger, rails, coil, emf, drive, pickup, result)
    pickup_levels.enter_running(ledger, pickup, chosen.r)
    return result


def _through(chosen: Chosen, t: Array, free: Array) -> FilteredWave:
    return filtered_wave(
        t=t, wave=free, gain=chosen.gain, tau_high=chosen.tau_high, tau_slow=chosen.tau_slow,
        tau_fast=chosen.tau_fast,
    )  # fmt: skip


def _lying(emf: EmfResult) -> bool:
    """Whether the largest lobe stands at the centre: the magnet's axis lies along the motion."""
    return abs(float(emf.t[int(np.argmax(np.abs(emf.flux_rate)))])) < 0.1 * emf.peak_spacing


def _falling(emf: EmfResult, drive: DriveResult) -> bool:
    return drive.polarity == "repel" or _lying(emf)


def _true_crossing(t: Array, free: Array, falling: bool) -> float:
    found = crossing_of(t, free, np.gradient(free, t), falling=falling)
    return found.t if found is not None else 0.0


def _kept(
    t: Array, free: Array, wave: FilteredWave, before: float, drive: DriveResult, side: float
) -> tuple[float, float]:
    """Return the share of the lobe that is waited for that the filter keeps, and its height."""
    start, end = float(t[0]), float(t[-1])
    if drive.trigger == "threshold":
        direction, until = (-1 if side > 0 else 1), end
    else:
        # The lobe that arms the crossing stands before it, on the side that it comes from.
        direction = 1 if drive.polarity == "repel" or _raw_falls(t, free) else -1
        until = before
    if not start < until:
        # The crossing stands at the very start of the pass: no lobe comes before it.
        return 0.0, 0.0
    raw = wave_peak(t=t, wave=free, after=start, before=until, direction=direction).height
    left = wave_peak(t=t, wave=wave.wave, after=start, before=until, direction=direction).height
    return abs(left) / max(abs(raw), 1e-30), abs(left)


def _raw_falls(t: Array, free: Array) -> bool:
    """Whether the highest point of a waveform comes before its lowest."""
    return bool(t[int(np.argmax(free))] < t[int(np.argmin(free))])


def _previous(crossing: Event, movement: MovementResult, *, motion: bool) -> Event:
    """Return the crossing of the pass before as seen from the pass that is driven.

    The swing before passes the coil in the other direction, with the coil's offset on the other
    side of mid-swing; with the magnet's axis along the motion it shows the lobes upside down.
    """
    back = movement.period if motion else (
        0.5 * movement.period + 2 * movement.offset / max(movement.speed, 1e-9)
    )  # fmt: skip
    return Event(t=crossing.t - back, slope=crossing.slope, reached=crossing.reached)


def _delay_at(chosen: Chosen, emf: EmfResult, free: Array, falling: bool, arc: float) -> float:
    """Return the crossing's delay at another arc, by the energy of the free swing.

    The square of the speed grows by the same amount everywhere along the path.
    """
    speed, path, raw = emf.speed[::COARSE], emf.path[::COARSE], free[::COARSE]
    fastest = float(emf.speed.max())
    square = speed**2 + (arc**2 - 1) * fastest**2
    good = square > (0.05 * fastest) ** 2
    middle = int(np.argmin(np.abs(path)))
    if not good[middle]:
        return 0.0
    first = middle - int(np.argmax(~good[middle::-1])) + 1 if (~good[:middle]).any() else 0
    last = middle + int(np.argmax(~good[middle:])) if (~good[middle:]).any() else path.size
    new = np.sqrt(square[first:last])
    step = np.diff(path[first:last]) * 0.5 * (1 / new[1:] + 1 / new[:-1])
    if step.size < 8 or not (step > 0).all():
        return 0.0
    t = np.concatenate([[0.0], np.cumsum(step)])
    t -= t[middle - first]
    wave = raw[first:last] * new / np.maximum(speed[first:last], 1e-12)
    filtered = _through(chosen, t, wave)
    crossing = crossing_event(t, filtered.wave, filtered.slope, falling=falling)
    return crossing.t - _true_crossing(t, wave, falling)


def _enter(
    design: Design,
    ledger: Ledger,
    movement: MovementResult,
    result: FilterResult,
    others: tuple[float, ...],
) -> None:
    keys = design.filter
    sized = "lobes kept and mains kept out, in preferred values"
    for key, value, unit, stated in (
        ("r", result.r[0], "ohm", keys.resistor),
        ("c", result.c[0], "F", keys.capacitor),
    ):
        ledger.value(
            f"filter.{key}", value, unit,
            words="filter's resistor" if key == "r" else "filter's capacitor",
            basis=Basis.STATED if stated is not None else Basis.SIZED, rule=sized,
        )  # fmt: skip
    ledger.value(
        "filter.poles", len(result.r), "1", words="poles of the filter, equal parts each",
        basis=Basis.STATED if keys.poles else Basis.SIZED, rule=sized,
    )  # fmt: skip
    of_r = design.stated_tolerance.get("filter.resistor", design.tolerance.resistor or 0.0)
    of_c = design.stated_tolerance.get("filter.capacitor", design.tolerance.capacitor or 0.0)
    spread = of_r + of_c
    ledger.value(
        "filter.f_c", result.f_c, "Hz", words="true cut-off (-3 dB) with source and load",
        basis=Basis.COMPUTED, rule="ladder solved; two equal poles: 0.374/(2 pi R C), not 0.644",
        low=result.f_c / (1 + of_r) / (1 + of_c) if spread else None,
        high=result.f_c / (1 - of_r) / (1 - of_c) if spread else None,
    )  # fmt: skip
    ledger.value(
        "filter.mains_gain", result.mains_gain, "1", words="what is left of the mains",
        basis=Basis.COMPUTED, rule=f"gain at {show(result.f_mains, 'Hz')} against the pass band",
    )  # fmt: skip
    ledger.value(
        "filter.delay", result.delay, "s", words="delay of the crossing",
        basis=Basis.COMPUTED, rule="real EMF through the ladder: neither RC nor fixed",
    )  # fmt: skip
    ledger.value(
        "filter.delay_travel", result.delay * movement.speed, "m",
        words="what the magnet travels in that delay", basis=Basis.COMPUTED,
        rule="delay x speed at the crossing",
    )  # fmt: skip
    for arc, delay in zip(OTHER_ARCS, others, strict=True):
        name = "less" if arc < 1 else "more"
        if delay:
            ledger.value(
                f"filter.delay_{name}_arc", delay, "s",
                words=f"delay of the crossing at {arc} of the arc", basis=Basis.COMPUTED,
                rule="the same, with the speeds of that arc",
            )  # fmt: skip
    ledger.value(
        "filter.peak_kept", result.peak_kept, "1", words="share of the lobe that is kept",
        basis=Basis.COMPUTED, rule="peak behind the filter / peak before it",
    )  # fmt: skip
    ledger.value(
        "filter.event_time", result.event_time, "s",
        words="when the firmware sees the event, from the magnet on the coil's axis",
        basis=Basis.COMPUTED, rule="filtered waveform through the trigger's level",
    )  # fmt: skip


def _parts(ledger: Ledger, result: FilterResult, v_highest: float) -> None:
    for number, (r, c) in enumerate(zip(result.r, result.c, strict=True), start=1):
        ledger.part(f"R{3 + number}", "filter, series resistor", show(r, "ohm"), "0.1 W")
        ledger.part(
            f"C{1 + number}", "filter, capacitor to ground", show(c, "F"),
            capacitor_rating(v_highest),
        )  # fmt: skip
