"""A MOSFET switch: chosen or checked at the gate voltage that the pin gives."""

from dataclasses import dataclass

from calc.mosfet import gate_voltage, on_drop, on_resistance_guess
from calc.switch_law import SwitchLaw
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.format_quantity import show
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.part_records import Mosfet
from circuits.stages.drive_load import Load
from circuits.stages.drive_pin import Pin
from circuits.stages.switch_figures import on_point

GATE_RESISTOR = 100.0
PULL_DOWN = 100e3
BARELY_ON = 0.05
"""Overdrive in V below which the linear law says nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GateState:
    """Gate voltage and on-resistance at one state; a guess where nothing is guaranteed."""

    v_gs: float
    r_ds_on: float
    guaranteed: bool


def resistors(design: Design) -> tuple[float, float]:
    """Return gate resistor and pull-down, stated or usual."""
    r_g = design.drive.gate_resistor
    return GATE_RESISTOR if r_g is None else r_g, design.drive.pull_down or PULL_DOWN


def gate_state(design: Design, mosfet: Mosfet, pin: Pin, v_pin: float) -> GateState:
    """Return what one MOSFET does at one pin voltage."""
    r_g, pull_down = resistors(design)
    v_gs = gate_voltage(v_pin=v_pin, r_pin=pin.resistance, r_g=r_g, g_pull_down=1 / pull_down)
    point = on_point(mosfet, v_gs)
    if point is not None:
        return GateState(v_gs=v_gs, r_ds_on=point.r_ds_on_max, guaranteed=True)
    lowest = min(mosfet.on, key=lambda entry: entry.v_gs)
    overdrive = max(v_gs, mosfet.v_gs_th_max + BARELY_ON)
    guess = on_resistance_guess(
        r_ds_on=lowest.r_ds_on_max, v_gs_test=max(lowest.v_gs, overdrive + 1e-6),
        v_gs_th=mosfet.v_gs_th_max, v_gs=overdrive,
    )  # fmt: skip
    return GateState(v_gs=v_gs, r_ds_on=guess, guaranteed=False)


def choose(design: Design, catalogue: Catalogue, pin: Pin, load: Load) -> Mosfet | None:
    """Return the MOSFET specified at the spent pin's voltage that costs least gate charge."""
    fitting = [
        mosfet
        for mosfet in catalogue.mosfets()
        if mosfet.i_d_max >= 1.5 * load.i_highest
        and mosfet.v_dss >= 1.3 * load.v_peak
        and mosfet.v_gs_max >= pin.v_max
        and gate_state(design, mosfet, pin, pin.v_spent).guaranteed
    ]
    # 10 nC stands for an unknown gate charge: it only breaks ties.
    return min(fitting, key=lambda m: (m.q_g or 10e-9, m.on[0].r_ds_on_max), default=None)


def law_of(state: GateState) -> SwitchLaw:
    """Return the drop of the closed MOSFET."""
    return SwitchLaw(resistance=state.r_ds_on)


def enter(
    design: Design,
    ledger: Ledger,
    mosfet: Mosfet,
    pin: Pin,
    load: Load,
    *,
    other: Mosfet | None,
) -> tuple[GateState, GateState]:
    """Enter the gate drive; return the switch at fresh and at spent cells."""
    r_g, pull_down = resistors(design)
    fresh = gate_state(design, mosfet, pin, pin.v_fresh)
    spent = gate_state(design, mosfet, pin, pin.v_spent)
    stated = design.drive.gate_resistor is not None
    ledger.value(
        "drive.r_g", r_g, "ohm", words="gate resistor",
        basis=Basis.STATED if stated else Basis.SIZED,
        rule="keeps the edge from ringing; at this pace any value to some kilohms does",
    )  # fmt: skip
    ledger.value(
        "drive.r_pull_down", pull_down, "ohm", words="gate pull-down",
        basis=Basis.STATED if design.drive.pull_down else Basis.SIZED,
        rule="holds the switch off while the pin floats in reset",
    )  # fmt: skip
    i_pin = fresh.v_gs / pull_down
    ledger.value(
        "drive.i_pin", i_pin, "A", words="current out of the pin while on", basis=Basis.COMPUTED,
        rule="gate voltage / pull-down", state="fresh",
    )  # fmt: skip
    ledger.value(
        "drive.v_gs_spent", spent.v_gs, "V", words="gate voltage, spent cells",
        basis=Basis.COMPUTED, rule="pin through gate resistor onto the pull-down", state="spent",
    )  # fmt: skip
    ledger.value(
        "drive.r_ds_on", spent.r_ds_on, "ohm", words="on-resistance, spent cells",
        basis=Basis.CATALOGUE if spent.guaranteed else Basis.ASSUMED,
        rule="greatest that the maker guarantees at this gate voltage" if spent.guaranteed
        else "linear law of the channel: a guess", state="spent",
    )  # fmt: skip
    edge = pin.v_max / max(pin.resistance + r_g, 1e-3)
    ledger.at_most(
        "drive.pin_current", edge, 4 * pin.i_max, "A",
        f"Charging the gate takes {show(edge, 'A')} from the pin for some nanoseconds.",
        soft=True, remedy=f"A gate resistor of {show(GATE_RESISTOR, 'ohm')} or more limits it.",
    )  # fmt: skip
    ledger.at_most(
        "drive.gate_rating", pin.v_max, mosfet.v_gs_max, "V",
        f"The gate bears {show(mosfet.v_gs_max, 'V')}; the pin gives up to {show(pin.v_max, 'V')}.",
        remedy="Choose a MOSFET with a higher gate rating.",
        changes=_to(other),
    )  # fmt: skip
    _judge(ledger, mosfet, load, spent, other)
    return fresh, spent


def _to(other: Mosfet | None) -> tuple[tuple[Change, ...], ...]:
    if other is None:
        return ()
    return ((Change(section="drive", key="transistor", text=other.name),),)


def _judge(
    ledger: Ledger, mosfet: Mosfet, load: Load, spent: GateState, other: Mosfet | None
) -> None:
    drop = on_drop(i_d=load.i_spent, r_ds_on=spent.r_ds_on)
    power = on_drop(i_d=load.i_highest, r_ds_on=spent.r_ds_on) * load.i_highest
    rail = load.v_spent
    lost = f"{show(drop, 'V')} of {show(rail, 'V')}, {show(power, 'W')} of heat at most"
    if other is not None:
        better = f"Choose one that is specified there, such as {other.name}."
    else:
        better = "Choose one that is specified at this gate voltage, or use an NPN transistor."
    lowest = min(point.v_gs for point in mosfet.on)
    at = f"{mosfet.name} gets {show(spent.v_gs, 'V')} at its gate from spent cells"
    if spent.guaranteed:
        ledger.at_most(
            "drive.saturation", drop, 0.2 * rail, "V",
            f"{at} and is specified there; it loses at most {lost}.",
            remedy="Choose one with less on-resistance.", changes=_to(other),
        )  # fmt: skip
    elif spent.v_gs <= mosfet.v_gs_th_max + BARELY_ON:
        ledger.at_least(
            "drive.saturation", spent.v_gs, mosfet.v_gs_th_max * 1.05 + BARELY_ON, "V",
            f"{at}; its threshold may be as high as {show(mosfet.v_gs_th_max, 'V')}: it need not "
            "switch on at all.",
            remedy=better, changes=_to(other),
        )  # fmt: skip
    else:
        ledger.at_most(
            "drive.saturation", drop, 0.2 * rail, "V",
            f"{at}, between threshold and the lowest gate voltage it is specified at "
            f"({show(lowest, 'V')}). If the linear law is right, it loses {lost}.",
            remedy=better, changes=_to(other),
        )  # fmt: skip
        ledger.say(
            "drive.gate_voltage", Severity.MIND,
            f"The on-resistance of {mosfet.name} is not guaranteed at this gate voltage.",
            remedy=better,
        )  # fmt: skip
    ledger.at_most(
        "drive.power_rating", power, 0.7 * mosfet.p_tot, "W",
        f"Held closed, {mosfet.name} turns {show(power, 'W')} into heat; 70 % of its rating is "
        f"{show(0.7 * mosfet.p_tot, 'W')}.",
        remedy="Choose a larger type or a coil of more resistance.", changes=_to(other),
    )  # fmt: skip
