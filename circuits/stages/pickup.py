"""Pickup: bias, divider and what the pin sees before the filter."""

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from calc.divider import Divider, divider
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.format_quantity import show
from circuits.ledger import Basis, Ledger
from circuits.preferred_values import best_pair, next_higher, next_lower
from circuits.ratings import capacitor_rating
from circuits.stages import pickup_checks, pickup_levels
from circuits.stages.arrangement import arrangement_of, check_polarity, departure
from circuits.stages.clamp import ClampResult
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult
from circuits.stages.emf import EmfResult
from circuits.stages.linkage import LinkageResult
from circuits.stages.pin_input import PinInput, pin_input
from circuits.stages.rails import Rails

DIODE_DROP = 0.7
HEADROOM = 0.12
"""Part of the reference that a sized divider leaves free, so that the margin is never tight."""
BYPASS_OVER_FILTER = 6e-3
"""Bypass of a mid-rail over the lobes' spacing [F/s]: two hundred times the capacitors that a
sized filter puts behind it, whose current would move the mid-rail with the signal."""
ARMED_SHARE = 0.35
"""A sized threshold stands at this share of the weakest lobe, half of what the filter keeps."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PickupResult:
    """The path from the winding to the filter.

    `gain` times the node's departure from rest is the departure at the filter's input, which
    rests at `v_bias_fresh` or `v_bias_spent` behind `r_source`. `departure` is the node's along
    `EmfResult.t`. `threshold` and `hysteresis` are magnitudes at the pin; `side` is 1 for a
    threshold towards ground, -1 for one away from it.
    """

    arrangement: str
    gain: float
    r_source: float
    v_bias_fresh: float
    v_bias_spent: float
    i_drain_fresh: float
    i_drain_spent: float
    threshold: float
    coupling: float | None
    hysteresis: float = 0.0
    side: float = 1.0
    r_upper: float = 0.0
    r_lower: float = inf
    r_winding: float = 0.0
    r_source_divider: float = 0.0
    l_winding: float = 0.0
    v_kick: float = 0.0
    v_pulse: float = 0.0
    v_diode: float = DIODE_DROP
    v_node_peak: float = 0.0
    slope_low: float = 1.0
    tau_winding: float = 0.0
    pin: PinInput | None = None
    departure: NDArray[np.float64] | None = None


def size(
    design: Design,
    catalogue: Catalogue,
    ledger: Ledger,
    rails: Rails,
    coil: CoilResult,
    pickup_coil: CoilResult | None,
    linkage: LinkageResult,
    emf: EmfResult,
    drive: DriveResult,
    clamp: ClampResult,
) -> PickupResult:
    """Size or check the pickup and enter it into the sheet.

    Parameters
    ----------
    design : Design
        The design file.
    catalogue : Catalogue
        The parts.
    ledger : Ledger
        The sheet.
    rails, coil, pickup_coil, linkage, emf, drive, clamp
        Results of the stages before.

    Returns
    -------
    pickup : PickupResult

    Raises
    ------
    DesignFileError
        If the windings do not allow the arrangement.
    """
    arrangement = arrangement_of(design)
    pin = pin_input(design, catalogue, ledger, rails)
    listening = coil if pickup_coil is None else pickup_coil
    free = departure(
        emf, drive, clamp, coil.r_coil, rails.fresh.v_coil, rails.spent.v_coil + DIODE_DROP
    )
    peak_high = float(np.abs(free).max()) * linkage.slope_high
    v_diode = clamp.v_switch_peak - rails.v_max if clamp.kind == "diode" else DIODE_DROP
    v_top = rails.v_max + v_diode + peak_high
    at_switch = arrangement == "at_switch"
    upper, lower = _resistors(design, rails, pin, v_top if at_switch else None)
    v_fresh = rails.fresh.v_coil if at_switch else rails.fresh.v_logic
    v_spent = rails.spent.v_coil if at_switch else rails.spent.v_logic
    series = coil.r_coil if at_switch else 0.0
    fresh, spent = (
        divider(v_supply=v, r_upper=series + upper, r_lower=lower, r_load=pin.r_load)
        for v in (v_fresh, v_spent)
    )
    gain = fresh.v_loaded / v_fresh if at_switch else 1.0
    low, high = _lobes(free)
    weakest = gain * min(abs(low), abs(high)) * linkage.slope_low
    threshold, hysteresis = _threshold(design, ledger, weakest)
    m = linkage.mutual if pickup_coil is not None else 0.0
    result = PickupResult(
        arrangement=arrangement,
        gain=gain,
        r_source=listening.r_coil if arrangement == "mid_rail" else fresh.r_source,
        v_bias_fresh=fresh.v_loaded,
        v_bias_spent=spent.v_loaded,
        i_drain_fresh=fresh.i_drain,
        i_drain_spent=spent.i_drain,
        threshold=threshold,
        coupling=_coupling(design, emf, fresh.r_source, arrangement),
        hysteresis=hysteresis,
        side=-1.0 if (design.pickup.threshold or 0.0) < 0 else 1.0,
        r_upper=upper,
        r_lower=lower,
        r_winding=listening.r_coil,
        r_source_divider=fresh.r_source,
        l_winding=listening.l_coil,
        v_pulse=abs(m) * rails.v_max / coil.l_coil,
        v_kick=abs(m) * max(clamp.v_switch_peak, rails.v_max) / coil.l_coil,
        v_diode=v_diode,
        v_node_peak=clamp.v_switch_peak,
        slope_low=linkage.slope_low,
        tau_winding=coil.l_coil / coil.r_coil,
        pin=pin,
        departure=free,
    )
    _enter(design, ledger, result, fresh.r_source, at_switch)
    _parts(design, ledger, result, emf, fresh.r_source, max(rails.v_max, result.v_node_peak))
    check_polarity(ledger, drive, linkage)
    pickup_checks.check(design, ledger, rails, coil, emf, drive, clamp, result, v_top, peak_high)
    pickup_levels.enter(ledger, rails, coil, drive, clamp, result)
    return result


def _lobes(free: NDArray[np.float64]) -> tuple[float, float]:
    return float(free.min()), float(free.max())


def _resistors(
    design: Design, rails: Rails, pin: PinInput, v_top: float | None
) -> tuple[float, float]:
    """Return the divider: stated, or sized for headroom and the converter's source limit."""
    keys = design.pickup
    if keys.upper is not None and keys.lower is not None:
        return keys.upper, keys.lower
    tolerance = design.tolerance.resistor or 0.0
    if v_top is None:
        ratio = 0.5
        # Leakage through the bias resistors must not move the rest by more than 50 mV.
        limit = min(max(0.05 / max(pin.i_leakage, 1e-12), 5e3), 50e3)
    else:
        sag = pin.v_reference_spent / pin.v_reference_fresh
        top = max(v_top, (v_top - rails.v_max + rails.spent.v_coil) / sag)
        wanted = (1 - HEADROOM) * pin.v_reference_fresh / top
        ratio = min(wanted / (1 + 2 * tolerance * (1 - min(wanted, 1.0))), 0.8)
        limit = 0.88 * pin.r_source_max
    if keys.upper is not None:
        lower = keys.upper * ratio / (1 - ratio)
        return keys.upper, next_lower(lower)
    if keys.lower is not None:
        return next_higher(keys.lower * (1 - ratio) / ratio), keys.lower
    total = limit / (ratio * (1 - ratio))
    pair = best_pair(ratio=ratio, total_low=0.75 * total, total_high=total)
    if v_top is not None and pair.ratio > ratio * 1.02:
        return next_higher(pair.r_upper * 1.02), pair.r_lower
    return pair.r_upper, pair.r_lower


def _threshold(design: Design, ledger: Ledger, weakest: float) -> tuple[float, float]:
    """Return threshold and hysteresis as magnitudes, sized from the weakest lobe if left out."""
    keys = design.pickup
    threshold = abs(keys.threshold) if keys.threshold is not None else 0.0
    if not threshold:
        threshold = float(f"{max(ARMED_SHARE * weakest, 1e-6):.1e}")
    hysteresis = keys.hysteresis
    if hysteresis is None:
        hysteresis = 0.5 * threshold
        ledger.assume(
            "pickup.hysteresis", hysteresis, "V", "half of the threshold; common practice"
        )
    return threshold, hysteresis


def _coupling(design: Design, emf: EmfResult, r_bias: float, arrangement: str) -> float | None:
    if arrangement != "through_capacitor":
        return None
    stated = design.pickup.coupling
    return stated if stated is not None else next_higher(10 * emf.peak_spacing / r_bias, "E6")


def _enter(
    design: Design, ledger: Ledger, result: PickupResult, r_parallel: float, at_switch: bool
) -> None:
    keys = design.pickup
    spread = {
        key: design.stated_tolerance.get(f"pickup.{key}", design.tolerance.resistor or 0.0)
        for key in ("upper", "lower")
    }
    for key, value in (("upper", result.r_upper), ("lower", result.r_lower)):
        own = spread[key]
        ledger.value(
            f"pickup.r_{key}", value, "ohm",
            words=f"{key} resistor of the divider",
            basis=Basis.STATED if getattr(keys, key) is not None else Basis.SIZED,
            rule="headroom under the converter's reference, then the least drain that its source "
            "limit allows" if at_switch else "half of the rail, leakage kept small",
            low=value * (1 - own) if own else None, high=value * (1 + own) if own else None,
        )  # fmt: skip
    low, high = _extremes(result, spread["upper"], spread["lower"])
    ledger.value(
        "pickup.v_bias", result.v_bias_fresh, "V", words="rest level at the pin, loaded",
        basis=Basis.COMPUTED, rule="supply x r_lower / (r_upper + r_lower), with coil and load",
        low=low.v_loaded if any(spread.values()) else None,
        high=high.v_loaded if any(spread.values()) else None, state="fresh",
    )  # fmt: skip
    ledger.value(
        "pickup.r_source", r_parallel, "ohm", words="source resistance of the divider",
        basis=Basis.COMPUTED, rule="both resistors in parallel: both ends are stiff",
    )  # fmt: skip
    for name, drain, state in (
        ("pickup.i_drain", result.i_drain_fresh, "fresh"),
        ("pickup.i_drain_spent", result.i_drain_spent, "spent"),
    ):
        ledger.value(
            name, drain, "A", words="standing drain of the divider", basis=Basis.COMPUTED,
            rule="supply / (r_upper + r_lower)", state=state,
            low=drain / (1 + max(spread.values())) if any(spread.values()) else None,
            high=drain / (1 - max(spread.values())) if any(spread.values()) else None,
        )  # fmt: skip
    ledger.value(
        "pickup.threshold", result.threshold if (keys.threshold or 0) >= 0 else -result.threshold,
        "V", words="threshold at the pin, from the baseline towards ground",
        basis=Basis.STATED if keys.threshold else Basis.SIZED,
        rule=f"{ARMED_SHARE} of the weakest lobe before the filter, at the least remanence",
    )  # fmt: skip
    ledger.value(
        "pickup.arrangement", result.arrangement, None, words="how the pickup listens",
        basis=Basis.STATED if keys.arrangement else Basis.SIZED, rule="windings that are there",
    )  # fmt: skip


def _extremes(result: PickupResult, upper: float, lower: float) -> tuple[Divider, Divider]:
    """Return the divider with its resistors at opposite ends of their tolerances."""
    series = result.r_winding if result.arrangement == "at_switch" else 0.0
    whole = series + result.r_upper + result.r_lower
    load = result.pin.r_load if result.pin is not None else inf
    nominal = result.r_lower / whole / (1 + result.r_source_divider / load)
    low, high = (
        divider(
            v_supply=result.v_bias_fresh / nominal,
            r_upper=series + result.r_upper * (1 + sign * upper),
            r_lower=result.r_lower * (1 - sign * lower), r_load=load,
        )
        for sign in (1, -1)
    )  # fmt: skip
    return low, high


def _parts(
    design: Design, ledger: Ledger, result: PickupResult, emf: EmfResult, r_parallel: float,
    v_highest: float,
) -> None:  # fmt: skip
    ledger.part("R2", "pickup, upper resistor of the divider", show(result.r_upper, "ohm"), "0.1 W")
    ledger.part("R3", "pickup, lower resistor of the divider", show(result.r_lower, "ohm"), "0.1 W")
    if result.arrangement == "mid_rail":
        stated = design.pickup.bypass
        least = max(10 / r_parallel, BYPASS_OVER_FILTER) * emf.peak_spacing
        bypass = stated or next_higher(least, "E6")
        ledger.value(
            "pickup.bypass", bypass, "F", words="bypass of the mid-rail divider",
            basis=Basis.STATED if stated else Basis.SIZED,
            rule="stiff beside the filter's capacitors; divider x bypass ten times as long as the "
            "pass",
        )  # fmt: skip
        ledger.part(
            "C1", "pickup, bypass of the mid-rail", show(bypass, "F"), capacitor_rating(v_highest)
        )
    if result.coupling is not None:
        ledger.value(
            "pickup.coupling", result.coupling, "F", words="coupling capacitor",
            basis=Basis.STATED if design.pickup.coupling else Basis.SIZED,
            rule="bias x coupling ten times as long as the pass",
        )  # fmt: skip
        ledger.part(
            "C1", "pickup, coupling capacitor", show(result.coupling, "F"),
            capacitor_rating(v_highest),
        )  # fmt: skip
