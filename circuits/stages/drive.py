"""Drive: the switch, its base or gate resistor and what the pin must give."""

from dataclasses import dataclass

from calc.supply import stuck_power, time_to_flat
from calc.switch_law import SwitchLaw
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.errors import DesignFileError
from circuits.format_quantity import show
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.part_records import Mosfet, Transistor
from circuits.ratings import resistor_rating
from circuits.stages import drive_nmos, drive_npn
from circuits.stages.coil import CoilResult
from circuits.stages.drive_load import Load, load_of
from circuits.stages.drive_pin import Pin, pin_of
from circuits.stages.drive_refusals import refuse_unsuited
from circuits.stages.rails import Rails
from circuits.stages.switch_figures import bipolar_law
from circuits.temperature_span import span_of

LEAKAGE = 100e-9
"""A; usual catalogue limit of a small transistor, where the part's own is unknown."""
C_SWITCH = {"npn": 8e-12, "nmos": 80e-12}
"""F; usual output capacitance (from memory): it only sets how the open node rings."""
SHARE_OF_RATING = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveState:
    """The switch at one state of the supply; `i_pin` is what the pin gives while on."""

    v_pin: float
    i_b: float
    law: SwitchLaw
    i_pin: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveResult:
    """The switch chosen or checked."""

    kind: str
    transistor: str
    fresh: DriveState
    spent: DriveState
    v_breakdown: float
    i_leakage: float
    c_switch: float
    polarity: str
    trigger: str
    swings_per_pulse: int
    duty: float
    q_gate: float = 0.0
    i_highest: float = 0.0


def size(
    design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails, coil: CoilResult
) -> DriveResult:
    """Choose or check the switch and what drives it, and enter it into the sheet."""
    refuse_unsuited(design)
    pin = pin_of(design, catalogue, ledger, rails)
    load = load_of(design, catalogue, rails, coil)
    span = span_of(design)
    coldest = span[0] if span else design.design.temperature
    part, base = _part(design, catalogue, pin, load, coldest)
    fallback = drive_nmos.choose(design, catalogue, pin, load)
    kind = "nmos" if isinstance(part, Mosfet) else "npn"
    ledger.value(
        "drive.transistor", part.name, None, words="switch",
        basis=Basis.STATED if design.drive.transistor else Basis.SIZED,
        rule="ratings with room, saturated at spent cells, then least from the pin",
    )  # fmt: skip
    if isinstance(part, Mosfet):
        on_fresh, on_spent = drive_nmos.enter(design, ledger, part, pin, load, other=fallback)
        pull_down = drive_nmos.resistors(design)[1]
        fresh = DriveState(
            v_pin=pin.v_fresh, i_b=0.0, law=drive_nmos.law_of(on_fresh),
            i_pin=on_fresh.v_gs / pull_down,
        )  # fmt: skip
        spent = DriveState(
            v_pin=pin.v_spent, i_b=0.0, law=drive_nmos.law_of(on_spent),
            i_pin=on_spent.v_gs / pull_down,
        )  # fmt: skip
        rating, v_off, q_gate = part.i_d_max, part.v_dss, part.q_g or 0.0
        r_g = float(ledger.values["drive.r_g"].value)
        ledger.part("R1", "gate resistor", show(r_g, "ohm"), resistor_rating(0.0))
        ledger.part(
            "R6", "gate pull-down", show(pull_down, "ohm"),
            resistor_rating(on_fresh.v_gs**2 / pull_down),
        )  # fmt: skip
        _gate_bench(ledger, on_fresh.v_gs)
    else:
        drive = base or drive_npn.base_drive(design, part, pin, load, coldest)
        other = fallback.name if fallback else None
        r_b, at_fresh, at_spent = drive_npn.enter(design, ledger, drive, pin, load, other=other)
        least = drive_npn.LEAST_SHARE / drive.beta

        def state(v_pin: float, base: drive_npn.BaseState, i_c: float) -> DriveState:
            i_b = max(base.i_b, least * i_c)
            return DriveState(
                v_pin=v_pin, i_b=i_b, law=bipolar_law(part, i_c, i_b), i_pin=base.i_pin
            )

        fresh = state(pin.v_fresh, at_fresh, load.i_fresh)
        spent = state(pin.v_spent, at_spent, load.i_spent)
        rating, v_off, q_gate = part.i_c_max, part.v_ceo, 0.0
        # A pulse that sticks on must not burn it.
        ledger.part(
            "R1", "base resistor", show(r_b, "ohm"), resistor_rating(at_fresh.i_pin**2 * r_b)
        )
        if design.drive.pull_down is not None:
            ledger.part(
                "R6", "base pull-down", show(design.drive.pull_down, "ohm"), resistor_rating(0.0)
            )
        _base_bench(ledger, drive, pin, r_b)
    ledger.part("Q1", "coil switch", part.name, f"{show(v_off, 'V')}, {show(rating, 'A')}")
    ledger.at_most(
        "drive.current_rating", load.i_highest, SHARE_OF_RATING * rating, "A",
        f"The coil may take {show(load.i_highest, 'A')}; {part.name} bears {show(rating, 'A')}, "
        f"of which 80 % may be used.",
        remedy="Choose a larger switch or a coil of more resistance.",
        changes=(*_larger(catalogue, part, load), *_to(fallback, part.name)),
    )  # fmt: skip
    leakage = part.i_off_max
    if leakage is None:
        leakage = LEAKAGE
        ledger.assume("drive.i_leakage", leakage, "A", "usual catalogue limit, no source")
    _stuck(design, catalogue, ledger, rails, coil)
    _float(design, ledger, kind, rails)
    return DriveResult(
        kind=kind, transistor=part.name, fresh=fresh, spent=spent, v_breakdown=v_off,
        i_leakage=leakage, c_switch=C_SWITCH[kind], polarity=design.drive.polarity or "repel",
        trigger=design.drive.trigger or "crossing", swings_per_pulse=_swings(design),
        duty=design.drive.duty or 1.0, q_gate=q_gate, i_highest=load.i_highest,
    )  # fmt: skip


def _larger(
    catalogue: Catalogue, part: Transistor | Mosfet, load: Load
) -> tuple[tuple[Change, ...], ...]:
    """Return bipolar switches that bear the current, those that fit the same holes first."""
    if isinstance(part, Mosfet):
        return ()
    bear = [
        other for other in catalogue.transistors()
        if load.i_highest <= SHARE_OF_RATING * other.i_c_max and other.v_ceo >= part.v_ceo
    ]  # fmt: skip
    bear.sort(key=lambda other: (other.package != part.package, other.i_c_max, other.name))
    return tuple(
        (Change(section="drive", key="transistor", text=other.name),) for other in bear[:2]
    )


def _to(fallback: Mosfet | None, now: str) -> tuple[tuple[Change, ...], ...]:
    if fallback is None or fallback.name == now:
        return ()
    return ((
        Change(section="drive", key="switch", text="nmos"),
        Change(section="drive", key="transistor", text=fallback.name),
    ),)  # fmt: skip


def _part(
    design: Design, catalogue: Catalogue, pin: Pin, load: Load, coldest: float | None
) -> tuple[Transistor | Mosfet, drive_npn.BaseDrive | None]:
    switch, name = design.drive.switch, design.drive.transistor
    if name is not None:
        part = catalogue.transistor(name)
        kind = "nmos" if isinstance(part, Mosfet) else "npn"
        if switch is not None and switch != kind:
            raise DesignFileError(
                file=design.file, section="drive", key="switch", found=f'"{switch}" with {name}',
                wanted=f'write switch = "{kind}", or choose another transistor',
            )  # fmt: skip
        return part, None
    if switch != "nmos":
        base = drive_npn.choose(design, catalogue, pin, load, coldest)
        if base is not None:
            return base.transistor, base
    mosfet = None if switch == "npn" else drive_nmos.choose(design, catalogue, pin, load)
    if mosfet is not None:
        return mosfet, None
    if switch == "nmos":
        return max(
            catalogue.mosfets(),
            key=lambda m: (m.v_dss >= load.v_peak and m.i_d_max >= load.i_highest, -m.v_gs_th_max),
        ), None  # fmt: skip
    return max(catalogue.transistors(), key=lambda t: (t.v_ceo >= load.v_peak, t.i_c_max)), None


def _swings(design: Design) -> int:
    stated = design.drive.swings_per_pulse
    along = design.magnet.axis == "motion"
    if along and stated is not None and stated % 2:
        raise DesignFileError(
            file=design.file, section="drive", key="swings_per_pulse", found=str(stated),
            wanted="write 2: with the magnet's axis along the motion the EMF turns with the "
            "direction, so that one polarity of pulse drives every second swing only",
        )  # fmt: skip
    return stated or (2 if along else 1)


def _stuck(
    design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails, coil: CoilResult
) -> None:
    v_coil = rails.fresh.v_coil
    power = stuck_power(v_coil=v_coil, r_coil=coil.r_coil)
    ledger.value(
        "drive.p_stuck", power, "W", words="coil's power if the pulse sticks on",
        basis=Basis.COMPUTED, rule="V**2 / R", state="fresh",
    )  # fmt: skip
    current = v_coil / coil.r_coil
    flat = ""
    if design.supply.cell:
        cell = catalogue.cell(design.supply.cell)
        charge = cell.q_cell * (design.supply.parallel or 1)
        flat = f" and empties the cells in {show(time_to_flat(q_cell=charge, i_load=current), 's')}"
    ledger.say(
        "drive.stuck", Severity.MIND,
        f"If the pin sticks high the coil turns {show(power, 'W')} into heat{flat}; "
        f"how hot it gets only a trial shows.",
        remedy="Give the switch a limit in hardware: a capacitor in series with the base or gate, "
        "a fuse that the mean current does not open, or the controller's watchdog.",
    )  # fmt: skip


def _float(design: Design, ledger: Ledger, kind: str, rails: Rails) -> None:
    pull_up = design.controller.pull_up
    if pull_up is None:
        if design.drive.pull_down is None and kind == "npn":
            ledger.say(
                "drive.pull_down", Severity.MIND,
                "While the controller is in reset its pin floats and only the base's own "
                "leakage holds the switch.",
                remedy="100 kohm from base to ground costs some microamperes during the pulse.",
            )  # fmt: skip
        return
    v_rail = rails.fresh.v_logic
    if kind == "nmos":
        pull_down = drive_nmos.resistors(design)[1]
        level = v_rail * pull_down / (pull_down + pull_up)
        least = (Change(section="drive", key="pull_down", text=show(5 * pull_up, "ohm")),)
        cures: tuple[tuple[Change, ...], ...] = (least,)
    else:
        value = ledger.values["drive.r_b"].value
        r_b = float(value) if not isinstance(value, str) else 0.0
        level = 0.7 + (v_rail - 0.7) * r_b / (r_b + pull_up)
        cures = ()
    ledger.at_least(
        "drive.boot_level", level, 0.7 * v_rail, "V",
        f"At boot the pin with its {show(pull_up, 'ohm')} pull-up reads {show(level, 'V')}; a sure "
        f"high is {show(0.7 * v_rail, 'V')}. Until the program runs, the pull-up holds the switch "
        "on.",
        remedy="Drive the switch from a pin that is not read at boot.", changes=cures,
    )  # fmt: skip


def _base_bench(ledger: Ledger, drive: drive_npn.BaseDrive, pin: Pin, r_b: float) -> None:
    ledger.test_point(
        "base to emitter", "switch off", "voltmeter", "0 V, below 0.3 V",
        "higher: the pin does not go low or is not yet an output",
    )  # fmt: skip
    ledger.test_point(
        "base to emitter", "switch on", "oscilloscope",
        f"{show(drive.v_be.low, 'V')} to {show(drive.v_be.high, 'V')}; across the base resistor "
        f"{show((pin.v_fresh - drive.v_be.typ) * r_b / (r_b + pin.resistance), 'V')}",
        "more than 1.2 V: base and emitter or the type are mixed up; less than 0.5 V: the pin "
        "gives no current",
    )  # fmt: skip


def _gate_bench(ledger: Ledger, v_gs: float) -> None:
    ledger.test_point(
        "gate to source", "switch off", "voltmeter", "0 V",
        "higher: pull-down missing or the pin is not an output",
    )  # fmt: skip
    ledger.test_point(
        "gate to source", "switch on", "oscilloscope", show(v_gs, "V"),
        "less: the pin is overloaded or the pull-down is too small",
    )  # fmt: skip
