"""Whether the filter leaves enough of the lobes, keeps the mains out and spares the pin."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calc.divider import injection_current
from calc.ladder import pole_frequency
from calc.sampling import shared_charge
from circuits.design import Design
from circuits.format_quantity import percent, show, significant
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.preferred_values import next_higher, next_lower
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult
from circuits.stages.emf import EmfResult
from circuits.stages.filter_choice import turns_of
from circuits.stages.pickup import PickupResult
from circuits.stages.rails import Rails

if TYPE_CHECKING:
    from circuits.stages.filter import FilterResult

KEPT = 0.7
CUT_OFF_OFF = 0.1
EARLIER = 0.2
"""A capacitor that moves the crossing by more than this share of the lobes' spacing spoils it."""


def check(
    design: Design, ledger: Ledger, rails: Rails, coil: CoilResult, emf: EmfResult,
    drive: DriveResult, pickup: PickupResult, result: FilterResult,
) -> None:  # fmt: skip
    """Enter every check that needs the filter."""
    _kept(ledger, pickup, result)
    _mains(design, ledger, result)
    _reached(design, ledger, drive, pickup, result)
    _injection(ledger, rails, pickup, result)
    _sample(ledger, pickup, result)
    if pickup.coupling is not None:
        _high_pass(ledger, emf, coil, pickup, result)
    wanted = design.filter.cutoff
    if wanted is not None:
        off = abs(result.f_c / wanted - 1)
        ledger.at_most(
            "filter.cutoff", off, CUT_OFF_OFF, "1",
            f"The filter with its source and load falls by 3 dB at {show(result.f_c, 'Hz')}; "
            f"{show(wanted, 'Hz')} are wanted.",
            remedy="Leave out the resistor or the capacitor: it is then sized for the cut-off.",
            soft=True,
        )  # fmt: skip


def _kept(ledger: Ledger, pickup: PickupResult, result: FilterResult) -> None:
    faster = max(result.c[0] * 0.6, 1e-12)
    ledger.at_least(
        "filter.peak_kept", result.peak_kept, KEPT, "1",
        f"The filter keeps {percent(result.peak_kept)} of the lobe that is waited for, "
        f"{show(result.peak, 'V')} at the pin.",
        remedy="A higher cut-off, as far as the mains allow.", soft=True,
        changes=((Change(section="filter", key="capacitor",
                         text=f"{next_lower(faster, 'E6'):g} F"),),),
    )  # fmt: skip
    if pickup.coupling is None:
        ledger.say(
            "filter.delay", Severity.GOOD,
            f"The crossing comes {show(result.delay, 's')} late behind the filter, and later "
            "still when the arc falls; the delay of a steady tone would be "
            f"{show(result.tau_slow + result.tau_fast, 's')}.",
        )  # fmt: skip


def _mains(design: Design, ledger: Ledger, result: FilterResult) -> None:
    wanted = design.filter.mains_rejection
    if wanted is None:
        return
    poles = len(result.r)
    factor = turns_of(1.15 * wanted, poles) / turns_of(1 / result.mains_gain, poles)
    slower = next_higher(result.c[0] * max(factor, 1.1), "E6")
    two: tuple[tuple[Change, ...], ...] = ()
    if len(result.r) == 1:
        two = ((Change(section="filter", key="poles", text="2"),),)
    ledger.at_most(
        "filter.mains_gain", result.mains_gain, 1 / wanted, "1",
        f"Of {show(result.f_mains, 'Hz')} mains hum {percent(result.mains_gain)} pass the filter "
        f"(rejection {significant(1 / result.mains_gain)}); a rejection of {significant(wanted)} "
        f"is wanted, and the lobes keep {percent(result.peak_kept)}.",
        remedy="A lower cut-off, which costs signal and delay, or a rejection that the lobes "
        "leave room for.",
        changes=((Change(section="filter", key="capacitor", text=f"{slower:g} F"),), *two),
    )  # fmt: skip


def _reached(
    design: Design, ledger: Ledger, drive: DriveResult, pickup: PickupResult, result: FilterResult
) -> None:
    """Check that the lobe passes the threshold even with the weakest magnet."""
    least = result.peak * pickup.slope_low
    fitted = float(f"{0.5 * least:.1e}")
    what = "triggers" if drive.trigger == "threshold" else "arms"
    ledger.at_most(
        "filter.threshold", pickup.threshold, least, "V",
        f"The lobe that {what} the pulse reaches {show(least, 'V')} at the pin with the weakest "
        f"magnet; the threshold stands at {show(pickup.threshold, 'V')}.",
        remedy="A lower threshold, or more EMF.",
        changes=((Change(section="pickup", key="threshold", text=f"{fitted:g} V"),),)
        if fitted > 0 else (),
    )  # fmt: skip
    hum = design.filter.hum
    if hum is not None:
        at_pin = hum * result.mains_gain
        ledger.at_most(
            "filter.hum", at_pin, pickup.threshold, "V",
            f"Hum leaves {show(at_pin, 'V')} at the pin, against a threshold of "
            f"{show(pickup.threshold, 'V')}.",
            remedy="A lower cut-off, smaller bias resistors, or a screened lead.",
        )  # fmt: skip


def _injection(ledger: Ledger, rails: Rails, pickup: PickupResult, result: FilterResult) -> None:
    """Check what the kick drives into the pin's clamp, without help from the capacitor."""
    pin = pickup.pin
    assert pin is not None
    r_series = max(pickup.r_source + sum(result.r), 1e-3)
    high = pin.v_high
    if pickup.arrangement == "at_switch":
        nodes = (pickup.v_node_peak, 0.0)
        ratio, bias = pickup.gain, 0.0
    elif pickup.v_kick > 0:
        nodes = (pickup.v_kick, -pickup.v_pulse)
        ratio, bias = 1.0, pickup.v_bias_spent
    else:
        r_series = max(pickup.r_winding + sum(result.r), 1e-3)
        nodes = (pickup.v_diode, -rails.v_max)
        ratio, bias = 1.0, pickup.v_bias_spent
    currents = [
        injection_current(v_node=node, v_high=high, v_low=pin.v_low, ratio=ratio, v_bias=bias,
                          r_series=r_series)
        for node in nodes
    ]  # fmt: skip
    worst = max(abs(i) for i in currents)
    if pin.shunted and worst > 0:
        ledger.say(
            "pickup.injection", Severity.GOOD,
            f"At pulse and kick up to {show(worst, 'A')} flow into the Schottky clamps at the "
            "pin, not into the pin.", value=worst, unit="A",
        )  # fmt: skip
        return
    larger: tuple[tuple[Change, ...], ...] = ()
    if pin.i_injection_max > 0:
        more = next_higher(max(result.r[0], 10.0) * max(1.2 * worst / pin.i_injection_max, 1.2))
        larger = ((Change(section="filter", key="resistor", text=f"{more:g} ohm"),),)
    ledger.at_most(
        "pickup.injection", worst, pin.i_injection_max, "A",
        f"At pulse and kick up to {show(worst, 'A')} flow into the pin's own clamp; it stands "
        f"{show(pin.i_injection_max, 'A')}. Current drawn below ground also spoils the readings "
        "of other channels.",
        remedy="Schottky diodes from the pin to ground and rail, or a larger filter resistor.",
        changes=(
            (Change(section="controller", key="pin_clamp", text="schottky"),),
            *larger,
        ),
    )  # fmt: skip


def _sample(ledger: Ledger, pickup: PickupResult, result: FilterResult) -> None:
    pin = pickup.pin
    assert pin is not None
    share = shared_charge(c_adc=pin.c_adc, c_filter=result.c[-1])
    quarter = 0.25 / 2**pin.n_bits
    ledger.at_most(
        "filter.sample", share, quarter, "1",
        f"Each sample takes {percent(share)} of the voltage from the filter's capacitor; a "
        f"quarter of a step of the converter is {percent(quarter)}.",
        remedy="A larger capacitor at the pin, or a sampling time that lets it settle.", soft=True,
    )  # fmt: skip


def _high_pass(
    ledger: Ledger, emf: EmfResult, coil: CoilResult, pickup: PickupResult, result: FilterResult
) -> None:
    """Check that the coupling capacitor does not differentiate the pass."""
    assert pickup.coupling is not None
    f_high = pole_frequency(r=pickup.r_source_divider, c=pickup.coupling)
    ledger.value(
        "pickup.f_high", f_high, "Hz", words="high-pass of the coupling capacitor",
        basis=Basis.COMPUTED, rule="1/(2 pi R C), both bias resistors in parallel",
    )  # fmt: skip
    moved = result.tau_slow + result.tau_fast - result.delay
    wanted = next_higher(10 * emf.peak_spacing / (pickup.r_source_divider + coil.r_coil), "E6")
    ledger.at_most(
        "pickup.high_pass", max(moved, 0.0), EARLIER * emf.peak_spacing, "s",
        f"The coupling capacitor makes a high-pass of {show(f_high, 'Hz')}: the crossing comes "
        f"{show(abs(result.delay), 's')} {'early' if result.delay < 0 else 'late'}, moved by about "
        f"{show(moved, 's')}.",
        remedy="A larger coupling capacitor, or no capacitor: arrangement at_switch.",
        changes=(
            (Change(section="pickup", key="coupling", text=f"{wanted:g} F"),),
            (Change(section="pickup", key="arrangement", text="at_switch"),),
        ),
    )  # fmt: skip
