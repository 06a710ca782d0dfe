"""Whether the pickup's divider suits the pin, the winding and the sagging rail."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from calc.divider import leakage_shift, loading_loss
from calc.ringing import winding_ringing
from circuits.design import Design
from circuits.format_quantity import percent, show
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.preferred_values import next_lower
from circuits.stages.clamp import ClampResult
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult
from circuits.stages.emf import EmfResult
from circuits.stages.rails import Rails

if TYPE_CHECKING:
    from circuits.stages.pickup import PickupResult

JUNCTION = 0.5
"""From about this voltage on a silicon junction conducts."""
C_WINDING = 150e-12
LOADED = 0.05


def check(
    design: Design, ledger: Ledger, rails: Rails, coil: CoilResult, emf: EmfResult,
    drive: DriveResult, clamp: ClampResult, pickup: PickupResult, v_top: float, peak_high: float,
) -> None:  # fmt: skip
    """Enter every check of the pickup that does not need the filter."""
    if pickup.arrangement == "at_switch":
        _headroom(design, ledger, rails, pickup, v_top)
    else:
        _headroom_about_bias(ledger, pickup, peak_high)
    _baseline(design, ledger, rails, pickup)
    _source(ledger, pickup)
    _loading(ledger, coil, pickup)
    _junction(ledger, emf, clamp)
    _ringing(ledger, coil, drive, pickup)
    if pickup.v_pulse > 0:
        _mutual(ledger, pickup)


def _headroom(
    design: Design, ledger: Ledger, rails: Rails, pickup: PickupResult, v_top: float
) -> None:
    """Highest level at the pin against full scale, at the state that is closer to it."""
    assert pickup.pin is not None
    tolerance = design.tolerance.resistor or 0.0
    ratio = pickup.r_lower / (pickup.r_lower + pickup.r_upper)
    gain = pickup.gain * (1 + 2 * tolerance * (1 - ratio))
    states = (
        (gain * v_top, pickup.pin.v_reference_fresh, "fresh"),
        (gain * (v_top - rails.v_max + rails.spent.v_coil), pickup.pin.v_reference_spent, "spent"),
    )
    value, limit, state = max(states, key=lambda entry: entry[0] / entry[1])
    wanted = 0.88 * limit / value * gain
    fitted = next_lower(pickup.r_upper * wanted / (1 - wanted)) if 0 < wanted < 1 else 0.0
    ledger.at_most(
        "pickup.headroom", value, limit, "V",
        f"With {state} cells the pin rises to {show(value, 'V')} at most (rail, clamp's drop and "
        f"EMF through the divider), against {show(limit, 'V')} full scale of the converter.",
        remedy="Divide more: a smaller lower resistor.",
        changes=((Change(section="pickup", key="lower", text=f"{fitted:g} ohm"),),)
        if fitted else (),
    )  # fmt: skip


def _headroom_about_bias(ledger: Ledger, pickup: PickupResult, peak_high: float) -> None:
    assert pickup.pin is not None
    limit = min(
        pickup.v_bias_spent,
        pickup.pin.v_reference_spent - pickup.v_bias_spent,
        pickup.pin.v_reference_fresh - pickup.v_bias_fresh,
    )
    ledger.at_most(
        "pickup.headroom", peak_high, max(limit, 0.0), "V",
        f"The pin swings by {show(peak_high, 'V')} about its bias; ground and full scale of the "
        f"converter leave {show(max(limit, 0.0), 'V')}.",
        remedy="Bring the bias to the middle of the converter's range, or use fewer turns.",
        changes=((Change(section="pickup", key="lower", text=f"{pickup.r_upper:g} ohm"),),),
    )  # fmt: skip


def _baseline(design: Design, ledger: Ledger, rails: Rails, pickup: PickupResult) -> None:
    """How far the rest level leaves a baseline that was right with fresh cells."""
    assert pickup.pin is not None
    pin, word = pickup.pin, design.pickup.baseline
    counts = pickup.v_bias_spent - (
        pickup.v_bias_fresh * pin.v_reference_spent / pin.v_reference_fresh
    )
    volts = pickup.v_bias_spent - pickup.v_bias_fresh
    if word is None:
        word = "tracked"
        ledger.assume("pickup.baseline", word, None, "firmware that follows the slow rest level")
    by_rail = pickup.v_bias_spent - (
        pickup.v_bias_fresh * rails.spent.v_logic / rails.fresh.v_logic
    )
    shift = {
        "tracked": 0.0,
        "ratiometric": abs(by_rail),
        "fixed": abs(counts if pin.reference_is_rail else volts),
    }[word]
    ledger.value(
        "pickup.v_rest_shift", abs(volts), "V", words="fall of the rest level, fresh to spent",
        basis=Basis.COMPUTED, rule="rest with fresh cells less rest with spent ones",
    )  # fmt: skip
    ledger.at_most(
        "pickup.baseline", shift, pickup.threshold, "V",
        f"With a {word} baseline the rest level leaves it by {show(shift, 'V')} as the cells sag; "
        f"the threshold stands {show(pickup.threshold, 'V')} from it.",
        remedy="Let the firmware track the rest level between passes, or measure it against the "
        "rail.",
        changes=(
            (Change(section="pickup", key="baseline", text="tracked"),),
            (Change(section="pickup", key="baseline", text="ratiometric"),),
        ),
    )  # fmt: skip


def _source(ledger: Ledger, pickup: PickupResult) -> None:
    assert pickup.pin is not None
    r_parallel = 1 / (1 / pickup.r_upper + 1 / pickup.r_lower)
    # The bypass holds a mid-rail up: the pin looks into the listening winding instead.
    seen = pickup.r_winding if pickup.arrangement == "mid_rail" else r_parallel
    what = "listening winding as" if pickup.arrangement == "mid_rail" else "divider as"
    both = "" if pickup.arrangement == "mid_rail" else ", both resistors in parallel"
    ledger.at_most(
        "pickup.source", seen, pickup.pin.r_source_max, "ohm",
        f"The pin sees the {what} {show(seen, 'ohm')}{both}; its "
        f"converter accepts {show(pickup.pin.r_source_max, 'ohm')}. The filter's capacitor feeds "
        "the sample, so more only slows the recovery from each sample and adds leakage.",
        remedy="Smaller resistors in the same ratio.", soft=True,
    )  # fmt: skip
    shift = leakage_shift(i_leakage=pickup.pin.i_leakage, r_source=r_parallel)
    ledger.value(
        "pickup.v_leakage", shift, "V", words="shift of the rest level by the pin's leakage",
        basis=Basis.COMPUTED, rule="greatest leakage x source resistance",
    )  # fmt: skip


def _loading(ledger: Ledger, coil: CoilResult, pickup: PickupResult) -> None:
    if pickup.arrangement == "at_switch":
        source, load = coil.r_coil, pickup.r_upper + pickup.r_lower
    elif pickup.coupling is not None:
        source, load = pickup.r_winding, 1 / (1 / pickup.r_upper + 1 / pickup.r_lower)
    else:
        source, load = pickup.r_winding, pickup.pin.r_load if pickup.pin else inf
    lost = loading_loss(r_source=source, r_load=load)
    ledger.value(
        "pickup.loading", lost, "1", words="share of the EMF lost to the divider's load",
        basis=Basis.COMPUTED, rule="winding / (winding + load)",
    )  # fmt: skip
    ledger.at_most(
        "pickup.loading", lost, LOADED, "1",
        f"The bias network takes {percent(lost)} of the winding's EMF.",
        remedy="Larger bias resistors, as far as the converter's limit allows.", soft=True,
    )  # fmt: skip


def _junction(ledger: Ledger, emf: EmfResult, clamp: ClampResult) -> None:
    """Warn of a reading that a junction flattens."""
    if emf.flux_rate_pickup is not None:
        return
    limit = min(clamp.v_knee, JUNCTION) if clamp.kind == "diode" else clamp.v_knee
    peak = emf.emf_peak
    ledger.at_most(
        "pickup.junction", peak, limit, "V",
        f"The coil gives {show(peak, 'V')}; from about {show(limit, 'V')} on, the clamp conducts "
        "on the half above the rail and flattens what is read there: above about 0.5 V across a "
        "junction a reading may be clamped.",
        remedy="Measure with the coil unplugged; for timing the crossing itself is not moved much.",
        soft=True,
    )  # fmt: skip


def _ringing(ledger: Ledger, coil: CoilResult, drive: DriveResult, pickup: PickupResult) -> None:
    ledger.assume("coil.capacitance", C_WINDING, "F", "usual for a layer winding, from memory")
    load = pickup.r_upper + pickup.r_lower if pickup.arrangement == "at_switch" else inf
    found = winding_ringing(
        l_coil=coil.l_coil, r_coil=coil.r_coil, c_node=C_WINDING + max(drive.c_switch, 0.0),
        r_load=load,
    )  # fmt: skip
    ledger.value(
        "pickup.f_ring", found.f_ring, "Hz", words="ringing of the coil once the clamp lets go",
        basis=Basis.COMPUTED, rule="1/(2 pi sqrt(L C)), C of winding and switch",
    )  # fmt: skip
    ledger.value(
        "pickup.t_ring", found.tau_ring, "s", words="time in which the ringing falls to a third",
        basis=Basis.COMPUTED, rule="2/(R/L + 1/(R_load C))",
    )  # fmt: skip


def _mutual(ledger: Ledger, pickup: PickupResult) -> None:
    words = (("pulse", pickup.v_pulse, "as the switch closes"),
             ("kick", pickup.v_kick, "as it opens"))  # fmt: skip
    for name, value, when in words:
        ledger.value(
            f"pickup.v_mutual_{name}", value, "V",
            words=f"voltage that the drive induces in the pickup coil {when}",
            basis=Basis.COMPUTED, rule="M di/dt with di/dt = v / L",
        )  # fmt: skip
    beyond = pickup.v_kick > pickup.v_bias_spent
    ledger.say(
        "pickup.mutual", Severity.MIND if beyond else Severity.GOOD,
        f"Mutual inductance carries {show(pickup.v_pulse, 'V')} of each pulse and "
        f"{show(pickup.v_kick, 'V')} of each kick into the pickup coil"
        + (", beyond ground and rail: the pin's clamps must take it and it counts in the deaf "
           "time." if beyond else "; the pin stays between ground and rail."),
        remedy="Two Schottky diodes at the pin, behind the filter's resistor." if beyond else "",
        value=pickup.v_kick, unit="V",
    )  # fmt: skip
