"""Energy: every drain on the cells while the movement swings over its wanted arc."""

from dataclasses import dataclass

from calc.mosfet import gate_current
from calc.supply import mean_current, pulse_duty
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.errors import DesignFileError
from circuits.format_quantity import percent, show
from circuits.ledger import Basis, Ledger
from circuits.preferred_values import next_higher
from circuits.ratings import resistor_rating
from circuits.stages.clamp import ClampResult
from circuits.stages.drive import DriveResult, DriveState
from circuits.stages.movement import MovementResult
from circuits.stages.pickup import PickupResult
from circuits.stages.pulse import PulseResult
from circuits.stages.pulse_sheet import AT_WANTED
from circuits.stages.rails import QUIESCENT, Rail, Rails

SLEEP = 2e-6
ACTIVE_TIME = 5e-3
ACTIVE = 1e-3
LED_DROP = 1.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Drain:
    """One consumer, averaged over time, at fresh and at spent cells."""

    name: str
    words: str
    i_fresh: float
    i_spent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyResult:
    """The mean demand on the cells, at one arc."""

    drains: tuple[Drain, ...]
    i_mean: float
    i_mean_spent: float


def size(
    design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails, movement: MovementResult,
    drive: DriveResult, pickup: PickupResult, pulse: PulseResult, clamp: ClampResult | None = None,
) -> EnergyResult:  # fmt: skip
    """Return every drain on the cells, the largest first."""
    swing = movement.period / 2
    interval = swing * drive.swings_per_pulse
    if pulse.width >= interval:
        raise DesignFileError(
            file=design.file, section="drive", key="pulse_width", found=show(pulse.width, "s"),
            wanted=f"keep it below the {show(interval, 's')} between pulses",
        )  # fmt: skip
    share = pulse_duty(pulse_width=pulse.width, interval=interval, pulses=1.0, duty=drive.duty)
    ledger.value(
        "energy.duty", share, "1", words="share of the time that the coil is fed",
        basis=Basis.COMPUTED, rule="pulse width / time between pulses x duty inside the pulse",
    )  # fmt: skip
    # An EMF above the rail pushes charge back, which primary cells do not take as a refund.
    i_fresh, i_spent = (
        mean_current(q_event=max(outcome.q_supply, 0.0), interval=interval)
        for outcome in (pulse.fresh, pulse.spent)
    )
    ledger.value(
        "energy.i_coil_mean", i_fresh, "A",
        words=f"coil's mean current, {AT_WANTED}", basis=Basis.COMPUTED,
        rule="charge a pulse / time between", state="fresh",
    )  # fmt: skip
    drains = [
        Drain(
            name="pulse", words="the pulses through the coil",
            i_fresh=i_fresh, i_spent=i_spent,
        ),
        Drain(
            name="divider", words="the pickup's divider",
            i_fresh=pickup.i_drain_fresh, i_spent=pickup.i_drain_spent,
        ),
        _base(drive, share, interval),
        Drain(
            name="leakage", words="leakage of the open switch, its limit",
            i_fresh=drive.i_leakage, i_spent=drive.i_leakage,
        ),
        *_controller(design, catalogue, ledger, swing),
        *_regulator(design, ledger),
        *_indicator(design, ledger, rails),
        *_clamp_resistor(design, pulse, interval),
        *_standing(clamp),
    ]  # fmt: skip
    drains.sort(key=lambda drain: -drain.i_fresh)
    total, total_spent = sum(d.i_fresh for d in drains), sum(d.i_spent for d in drains)
    ledger.value(
        "energy.i_mean", total, "A", words=f"mean current from the cells, {AT_WANTED}",
        basis=Basis.COMPUTED, rule="sum of all drains", low=min(total, total_spent),
        high=max(total, total_spent), state="fresh",
    )  # fmt: skip
    ledger.value(
        "energy.i_mean_spent", total_spent, "A", words=f"mean current from the cells, {AT_WANTED}",
        basis=Basis.COMPUTED, rule="sum of all drains", state="spent",
    )  # fmt: skip
    for drain in drains:
        ledger.value(
            f"energy.i_{drain.name}", drain.i_fresh, "A",
            words=drain.words + (f", {AT_WANTED}" if drain.name == "pulse" else ""),
            basis=Basis.COMPUTED, rule=f"{percent(drain.i_fresh / total)} of the whole",
            state="fresh",
        )  # fmt: skip
    return EnergyResult(drains=tuple(drains), i_mean=total, i_mean_spent=total_spent)


def _base(drive: DriveResult, share: float, interval: float) -> Drain:
    def mean(state: DriveState) -> float:
        charge = gate_current(q_g=drive.q_gate, rate=1 / interval)
        return state.i_pin * share + charge if drive.kind == "nmos" else state.i_b * share

    words = "base drive" if drive.kind == "npn" else "gate drive and pull-down"
    return Drain(name="drive", words=words, i_fresh=mean(drive.fresh), i_spent=mean(drive.spent))


def _controller(
    design: Design, catalogue: Catalogue, ledger: Ledger, swing: float
) -> tuple[Drain, ...]:
    controller = design.controller
    asleep = controller.sleep_current
    if asleep is None:
        chip = catalogue.pin(controller.chip) if controller.chip else None
        known = chip.i_sleep if chip else None
        asleep = SLEEP if known is None else known
        ledger.assume(
            "controller.sleep_current", asleep, "A",
            f"pin class {chip.name}" if chip and known is not None else "usual sleep with a clock",
        )  # fmt: skip
    awake = controller.active_current
    if awake is None:
        awake = ACTIVE
        ledger.assume("controller.active_current", awake, "A", "1 MHz, usual, no source")
    time = controller.active_time
    if time is None:
        time = ACTIVE_TIME
        ledger.assume("controller.active_time", time, "s", "a beat's work, usual, no source")
    share = min(time / swing, 1.0)
    return (
        Drain(
            name="awake", words="controller awake", i_fresh=awake * share, i_spent=awake * share
        ),
        Drain(
            name="asleep", words="controller asleep", i_fresh=asleep * (1 - share),
            i_spent=asleep * (1 - share),
        ),
    )  # fmt: skip


def _regulator(design: Design, ledger: Ledger) -> tuple[Drain, ...]:
    if design.supply.regulator_output is None:
        return ()
    own = design.supply.regulator_quiescent
    if own is None:
        own = QUIESCENT
        ledger.assume("supply.regulator_quiescent", own, "A", "usual low-drop regulator, no source")
    return (Drain(name="regulator", words="regulator's own current", i_fresh=own, i_spent=own),)


def _indicator(design: Design, ledger: Ledger, rails: Rails) -> tuple[Drain, ...]:
    led = design.indicator
    if led is None:
        return ()
    drop = led.led_drop
    if drop is None:
        drop = LED_DROP
        ledger.assume("indicator.led_drop", drop, "V", "red light-emitting diode, usual")

    ledger.part("D3", "indicator", f"light-emitting diode, {show(drop, 'V')}")
    resistor = led.resistor
    if resistor is None and led.led_current and rails.fresh.v_logic > drop:
        resistor = next_higher((rails.fresh.v_logic - drop) / led.led_current)
    if resistor is not None:
        power = max(rails.fresh.v_logic - drop, 0.0) ** 2 / resistor
        ledger.part(
            "R8", "indicator, series resistor", show(resistor, "ohm"), resistor_rating(power)
        )
        ledger.value(
            "indicator.r", resistor, "ohm", words="series resistor of the indicator",
            basis=Basis.SIZED if led.resistor is None else Basis.STATED,
            rule="(fresh rail - drop) / current, next higher value",
        )  # fmt: skip

    def current(rail: Rail) -> float:
        return max(rail.v_logic - drop, 0.0) / resistor if resistor is not None else 0.0

    return (
        Drain(
            name="indicator", words="the indicator, always on", i_fresh=current(rails.fresh),
            i_spent=current(rails.spent),
        ),
    )  # fmt: skip


def _clamp_resistor(design: Design, pulse: PulseResult, interval: float) -> tuple[Drain, ...]:
    if design.clamp.kind != "resistor":
        return ()
    return (
        Drain(
            name="clamp", words="clamp resistor while the switch is on",
            i_fresh=pulse.fresh.q_beside / interval, i_spent=pulse.spent.q_beside / interval,
        ),
    )  # fmt: skip


def _standing(clamp: ClampResult | None) -> tuple[Drain, ...]:
    if clamp is None or not clamp.i_rest_fresh > 0:
        return ()
    return (
        Drain(
            name="zener", words="the zener across the switch, which does not block the rail",
            i_fresh=clamp.i_rest_fresh, i_spent=clamp.i_rest_spent,
        ),
    )  # fmt: skip
