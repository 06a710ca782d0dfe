"""The sized design as plain circuits for the decks: parts as cards, stages as numbers."""

from dataclasses import dataclass, replace
from math import isfinite
from typing import cast

import numpy as np
from numpy.typing import NDArray

from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.ledger import Ledger
from circuits.part_cards import (
    breakdown_card,
    diode_card,
    mosfet_card,
    pin_junction,
    transistor_card,
)
from circuits.part_records import Mosfet
from circuits.stage_pass import StagePass
from circuits.stages.back_emf import back_emf_of
from circuits.stages.clamp import ClampResult
from circuits.stages.clamp_parts import clamp_parts
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult
from circuits.stages.drive_nmos import resistors
from circuits.stages.drive_pin import pin_of
from circuits.stages.emf import EmfResult
from circuits.stages.filter import FilterResult
from circuits.stages.linkage import LinkageResult
from circuits.stages.log_output import R_LOGGER, LogOutputResult
from circuits.stages.movement import MovementResult
from circuits.stages.pickup import PickupResult
from circuits.stages.pulse import PulseResult
from circuits.stages.rails import Rails
from netlists.drive_deck import LEAD, ClampParts, DriveCircuit
from netlists.filter_deck import ListeningCircuit
from netlists.log_deck import LogCircuit
from netlists.model_cards import BipolarCard, MosfetCard
from netlists.pass_deck import PassCircuit, PickupWinding
from netlists.pickup_path import Arrangement, PickupPath, PinClamp

Array = NDArray[np.float64]
FOLLOWED = 1.5
"""How long the release is followed, over the calculators' own time to zero."""
SHORTEST_RELEASE = 1e-4
THINNED = 600
"""Samples of one pass that a deck carries: the waveform is far smoother than the stages keep it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stages:
    """The results that the decks need, by their own types."""

    design: Design
    catalogue: Catalogue
    ledger: Ledger
    rails: Rails
    coil: CoilResult
    pickup_coil: CoilResult | None
    linkage: LinkageResult
    movement: MovementResult
    emf: EmfResult
    drive: DriveResult
    clamp: ClampResult
    pickup: PickupResult
    filter: FilterResult
    pulse: PulseResult
    log_output: LogOutputResult | None = None


def stages_of(done: StagePass, catalogue: Catalogue) -> Stages:
    """Return the results of a finished pass through the stages."""
    names = (
        "rails", "coil", "pickup_coil", "linkage", "movement", "emf", "drive", "clamp", "pickup",
        "filter", "pulse", "log_output",
    )  # fmt: skip
    return Stages(
        design=done.design,
        catalogue=catalogue,
        ledger=done.ledger,
        **{name: done.result(name) for name in names},
    )


def drive_circuit(s: Stages, state: str) -> DriveCircuit:
    """Return the drive with fresh or with spent cells, the whole pass about it."""
    rail = s.rails.fresh if state == "fresh" else s.rails.spent
    drive = s.drive.fresh if state == "fresh" else s.drive.spent
    outcome = s.pulse.fresh if state == "fresh" else s.pulse.spent
    pin = pin_of(s.design, s.catalogue, Ledger(), s.rails)
    part = s.catalogue.transistor(s.drive.transistor)
    card: BipolarCard | MosfetCard
    pull_down: float | None
    if isinstance(part, Mosfet):
        series, pull_down = resistors(s.design)
        card = mosfet_card(part)
    else:
        series, pull_down = _number(s, "drive.r_b"), s.design.drive.pull_down
        card = transistor_card(part, s.drive.i_highest)
    keep = _kept(s.emf.t)
    return DriveCircuit(
        v_supply=rail.v_coil,
        r_source=rail.r_source,
        r_coil=s.coil.r_coil,
        l_coil=s.coil.l_coil,
        t_emf=s.emf.t[keep],
        emf=back_emf_of(s.design, s.emf, s.drive.polarity)[keep],
        t_on=s.pulse.t_on,
        pulse_width=s.pulse.width,
        release=max(FOLLOWED * outcome.t_zero, SHORTEST_RELEASE),
        v_pin=drive.v_pin,
        r_drive=series + pin.resistance,
        pull_down=pull_down,
        switch=card,
        clamp=_clamp(s),
        reservoir=s.design.supply.reservoir,
        duty=s.drive.duty,
    )


def pulse_window(circuit: DriveCircuit) -> DriveCircuit:
    """Return the same drive with only that part of the EMF that its pulse meets."""
    t = circuit.t_emf
    begin = np.searchsorted(t, circuit.t_on - 2 * LEAD) - 4
    end = np.searchsorted(t, circuit.t_on + circuit.pulse_width + circuit.release) + 5
    window = slice(max(int(begin), 0), int(end))
    return replace(circuit, t_emf=t[window], emf=circuit.emf[window])


def listening_circuit(s: Stages) -> ListeningCircuit:
    """Return winding, divider and filter up to the pin."""
    return ListeningCircuit(
        v_rail=_pin_rail(s),
        r_winding=s.pickup.r_winding,
        l_winding=_listening(s).l_coil,
        path=_path(s, guarded=False),
    )


def free_signal(s: Stages) -> tuple[Array, Array]:
    """Return times and the departure of the winding's far end in a free pass."""
    keep = _kept(s.emf.t)
    departure = s.pickup.departure
    if departure is None:
        raise ValueError("the pickup stage gave no departure")
    return s.emf.t[keep], departure[keep]


def pass_circuit(s: Stages) -> PassCircuit:
    """Return drive and pickup over two passes, with fresh cells."""
    drive = drive_circuit(s, "fresh")
    crossing = float(s.movement.swing.time_at(np.array([s.movement.offset]))[0])
    beat = s.movement.swing.period / 2 - 2 * crossing
    pickup = None
    if s.emf.flux_rate_pickup is not None and s.pickup_coil is not None:
        keep = _kept(s.emf.t)
        signal = _sense(s) * s.emf.flux_rate_pickup[keep]
        pickup = PickupWinding(
            r_winding=s.pickup_coil.r_coil,
            l_winding=s.pickup_coil.l_coil,
            mutual=s.linkage.mutual,
            signal=signal,
            signal_next=_back(drive.t_emf, signal),
        )
    return PassCircuit(
        drive=drive,
        path=_path(s, guarded=True),
        v_logic=s.rails.fresh.v_logic,
        beat=beat,
        emf_next=_back(drive.t_emf, drive.emf),
        pickup=pickup,
    )


def _sense(s: Stages) -> float:
    return -1.0 if s.drive.polarity == "attract" else 1.0


def _back(t: Array, signal: Array) -> Array:
    """Return what the swing back induces: the same places, the other way round."""
    return np.asarray(-np.interp(-t, t, signal, left=0.0, right=0.0))


def _kept(t: Array) -> slice:
    return slice(None, None, max(len(t) // THINNED, 1))


def _number(s: Stages, name: str) -> float:
    return float(s.ledger.values[name].value)


def _listening(s: Stages) -> CoilResult:
    return s.coil if s.pickup_coil is None else s.pickup_coil


def _pin_rail(s: Stages) -> float:
    rail = s.rails.fresh
    return rail.v_coil if s.pickup.arrangement == "at_switch" else rail.v_logic


def _path(s: Stages, *, guarded: bool) -> PickupPath:
    pickup = s.pickup
    bypass = s.ledger.values.get("pickup.bypass")
    pin = pickup.pin
    clamp = None
    if guarded:
        clamp = PinClamp(
            junction=pin_junction(schottky=pin is not None and pin.shunted),
            v_logic=s.rails.fresh.v_logic,
        )
    return PickupPath(
        arrangement=cast(Arrangement, pickup.arrangement),
        upper=pickup.r_upper,
        lower=pickup.r_lower if isfinite(pickup.r_lower) else None,
        bypass=None if bypass is None else float(bypass.value),
        coupling=pickup.coupling,
        r=s.filter.r,
        c=s.filter.c,
        r_load=pin.r_load if pin is not None and isfinite(pin.r_load) else None,
        clamp=clamp,
    )


def _clamp(s: Stages) -> ClampParts:
    v_highest = max(s.rails.v_max, s.rails.fresh.v_coil)
    if s.design.supply.coil_rail == "regulated":
        v_highest = s.rails.fresh.v_coil
    parts = clamp_parts(s.design, s.catalogue, v_highest, s.drive.i_highest, s.drive.v_breakdown)
    return ClampParts(
        across_switch=parts.kind == "switch_zener",
        junction=None if parts.diode is None else diode_card(parts.diode),
        zener=None if parts.zener is None else breakdown_card(parts.zener),
        resistance=parts.resistor,
    )


def log_circuit(found: LogOutputResult) -> LogCircuit:
    """Return the log output as the simulator gets it: at half the duty, where it ripples most."""
    return LogCircuit(
        v_high=max(found.v_fresh, found.v_spent), f_pwm=found.f_pwm, duty=0.5, r=found.r,
        c=found.c, poles=found.poles, r_load=R_LOGGER,
    )  # fmt: skip
