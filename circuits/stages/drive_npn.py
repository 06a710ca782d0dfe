"""A bipolar switch: chosen or checked, with its base resistor and the range of it."""

from dataclasses import dataclass

from calc.bipolar import (
    base_current,
    base_resistor_for_current,
    base_resistor_least,
    forced_gain,
    pin_current,
    switch_dissipation,
)
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.format_quantity import show, show_range
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.part_records import Transistor
from circuits.preferred_values import next_higher, next_lower
from circuits.stages.drive_load import Load
from circuits.stages.drive_pin import Pin
from circuits.stages.switch_figures import (
    BaseVoltage,
    base_voltage,
    bipolar_law,
    forced_gain_of,
    gain_at,
    specified_to,
)

SPARE = 0.88
"""Share of the specified forced gain that a sized resistor uses: the margin stays above 0.1."""
LEAST_SHARE = 1e-3
"""A pin below the base-emitter voltage leaves the switch all but off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BaseDrive:
    """What one transistor asks of the pin; `r_b_max` is None where the pin cannot reach it."""

    transistor: Transistor
    beta: float
    v_be: BaseVoltage
    r_b_min: float
    r_b_max: float | None
    r_b_sized: float | None

    @property
    def reached(self) -> bool:
        """Whether the pin can saturate it within its own limit."""
        return self.r_b_sized is not None


def _conductance(design: Design) -> float:
    return 1 / design.drive.pull_down if design.drive.pull_down else 0.0


def base_drive(
    design: Design, transistor: Transistor, pin: Pin, load: Load, coldest: float | None
) -> BaseDrive:
    """Return the range of the base resistor for one transistor."""
    i_worst = load.i_highest
    beta = design.drive.forced_gain or forced_gain_of(transistor, i_worst)
    v_be = base_voltage(transistor, i_worst, coldest)
    spread = design.tolerance.resistor or 0.0

    def largest(gain: float) -> float | None:
        states = ((pin.v_fresh, load.i_fresh), (pin.v_spent, load.i_spent))
        if any(v_pin <= v_be.high for v_pin, _ in states):
            return None
        return min(
            base_resistor_for_current(
                v_pin=v_pin, r_pin=pin.resistance, v_be=v_be.high, i_b=i_c / gain,
                g_pull_down=_conductance(design),
            )
            for v_pin, i_c in states
        ) / (1 + spread)  # fmt: skip

    r_b_min = 0.0
    if pin.v_max > v_be.low:
        r_b_min = base_resistor_least(
            v_pin=pin.v_max, r_pin=pin.resistance, v_be_min=v_be.low, i_pin_max=pin.i_max
        ) / max(1 - spread, 0.1)
    r_b_max, easy = largest(beta), largest(SPARE * beta)
    sized = None
    if r_b_max is not None and r_b_max > max(r_b_min, 1.0):
        for wanted in (easy, r_b_max):
            if wanted is not None and wanted >= 1.0 and next_lower(wanted) >= r_b_min:
                sized = next_lower(wanted)
                break
    return BaseDrive(
        transistor=transistor, beta=beta, v_be=v_be, r_b_min=r_b_min, r_b_max=r_b_max,
        r_b_sized=sized,
    )  # fmt: skip


def choose(
    design: Design, catalogue: Catalogue, pin: Pin, load: Load, coldest: float | None
) -> BaseDrive | None:
    """Return the transistor with room in its ratings that costs the pin least, if any."""
    fitting = []
    for transistor in catalogue.transistors():
        roomy = (
            transistor.i_c_max >= 1.5 * load.i_highest
            and transistor.v_ceo >= 1.3 * load.v_peak
            and specified_to(transistor) >= load.i_highest
        )
        if not roomy:
            continue
        drive = base_drive(design, transistor, pin, load, coldest)
        if drive.reached:
            law = bipolar_law(transistor, load.i_highest, load.i_highest / drive.beta)
            drop = float(law.drop(load.i_highest))
            fitting.append((round(1 / drive.beta, 3), drop, transistor.i_c_max, drive))
    return min(fitting, key=lambda entry: entry[:3])[3] if fitting else None


@dataclass(frozen=True, slots=True, kw_only=True)
class BaseState:
    """Base and pin current at one state of the supply."""

    i_b: float
    i_b_least: float
    i_pin: float


def base_state(design: Design, drive: BaseDrive, pin: Pin, v_pin: float, r_b: float) -> BaseState:
    """Return the currents at one pin voltage, typical and with every corner against it."""
    spread = design.tolerance.resistor or 0.0

    def current(v_be: float, resistance: float) -> float:
        slack = 1e-9
        if (v_pin - v_be) / (pin.resistance + resistance + slack) <= v_be * _conductance(design):
            return 0.0
        return base_current(
            v_pin=v_pin, r_pin=pin.resistance, r_b=resistance + slack, v_be=v_be,
            g_pull_down=_conductance(design),
        )  # fmt: skip

    i_pin = 0.0
    if v_pin > drive.v_be.low:
        i_pin = pin_current(
            v_pin=v_pin, r_pin=pin.resistance, r_b=r_b * (1 - spread) + 1e-9, v_be=drive.v_be.low
        )
    return BaseState(
        i_b=current(drive.v_be.typ, r_b),
        i_b_least=current(drive.v_be.high, r_b * (1 + spread)),
        i_pin=i_pin,
    )


def enter(
    design: Design,
    ledger: Ledger,
    drive: BaseDrive,
    pin: Pin,
    load: Load,
    *,
    other: str | None,
) -> tuple[float, BaseState, BaseState]:
    """Enter the base drive; return the resistor and the currents, fresh and spent.

    `other` names a MOSFET that the pin can drive, to fall back on.
    """
    stated = design.drive.base_resistor
    r_b = stated if stated is not None else drive.r_b_sized
    if r_b is None:
        r_b = next_higher(max(drive.r_b_min, 10.0))
    fresh = base_state(design, drive, pin, pin.v_fresh, r_b)
    spent = base_state(design, drive, pin, pin.v_spent, r_b)
    gains = [
        forced_gain(i_c=i_c, i_b=max(state.i_b_least, LEAST_SHARE * i_c / drive.beta))
        for state, i_c in ((fresh, load.i_fresh), (spent, load.i_spent))
    ]
    worst = max(gains)
    typical = forced_gain(
        i_c=load.i_fresh_typ, i_b=max(fresh.i_b, LEAST_SHARE * load.i_fresh_typ / drive.beta)
    )
    basis = Basis.SIZED if stated is None else Basis.STATED
    test = f"saturation of {drive.transistor.name} is specified at a forced gain of {drive.beta:g}"
    ledger.value(
        "drive.r_b", r_b, "ohm", words="base resistor", basis=basis,
        rule="(pin high - V_BE) x forced gain / coil current - pin resistance, next lower value",
    )  # fmt: skip
    ledger.value(
        "drive.r_b_min", drive.r_b_min, "ohm", words="least base resistor the pin bears",
        basis=Basis.COMPUTED, rule="(highest pin - least V_BE) / current limit - pin resistance",
    )  # fmt: skip
    if drive.r_b_max is not None and drive.r_b_max > 0:
        ledger.value(
            "drive.r_b_max", drive.r_b_max, "ohm", words="largest base resistor that saturates",
            basis=Basis.COMPUTED, rule=f"worst of fresh and spent, coldest V_BE; {test}",
        )  # fmt: skip
        least = base_state(design, drive, pin, pin.v_fresh, max(drive.r_b_min, 1.0))
        most = base_state(design, drive, pin, pin.v_fresh, drive.r_b_max)
        if drive.r_b_max > drive.r_b_min:
            span = show_range(drive.r_b_min, drive.r_b_max, "ohm")
            ledger.say(
                "drive.base_range", Severity.GOOD,
                f"Any base resistor from {span} will do; "
                f"the low end takes {show(least.i_pin, 'A')} from the cells during the pulse, the "
                f"high end {show(most.i_pin, 'A')}.",
            )  # fmt: skip
    ledger.value(
        "drive.beta_forced", typical, "1", words="forced gain", basis=Basis.COMPUTED,
        rule="coil current / base current", state="fresh", low=min(typical, *gains),
        high=max(typical, worst),
    )  # fmt: skip
    ledger.value(
        "drive.i_pin", fresh.i_pin, "A", words="current out of the pin", basis=Basis.COMPUTED,
        rule="(pin high - V_BE) / (base resistor + pin resistance)", state="fresh",
    )  # fmt: skip
    _judge(ledger, drive, load, other=other, worst=worst, r_b=r_b, more=_more_cells(design))
    _judge_pin(ledger, drive, pin, r_b, other)
    return r_b, fresh, spent


def _to_mosfet(other: str | None) -> tuple[tuple[Change, ...], ...]:
    if other is None:
        return ()
    return ((
        Change(section="drive", key="switch", text="nmos"),
        Change(section="drive", key="transistor", text=other),
    ),)  # fmt: skip


def _more_cells(design: Design) -> tuple[tuple[Change, ...], ...]:
    """Return one and two cells more in series, where cells feed the pin at all."""
    if not design.supply.cell or isinstance(design.controller.pin_high, float):
        return ()
    cells = design.supply.series or 1
    return tuple(
        (Change(section="supply", key="series", text=str(cells + extra)),) for extra in (1, 2)
    )


def _judge(
    ledger: Ledger, drive: BaseDrive, load: Load, *,
    other: str | None, worst: float, r_b: float, more: tuple[tuple[Change, ...], ...],
) -> None:  # fmt: skip
    name = drive.transistor.name
    shut = worst * LEAST_SHARE >= 0.99 * drive.beta
    gets = "next to none" if shut else f"1/{worst:.3g}"
    smaller: tuple[tuple[Change, ...], ...] = ()
    cure = "The pin cannot saturate it: use a logic-level MOSFET" + (
        f" such as {other}." if other else " or a coil of more resistance."
    )
    if drive.r_b_sized is not None and drive.r_b_sized < r_b:
        text = show(drive.r_b_sized, "ohm")
        smaller = ((Change(section="drive", key="base_resistor", text=text),),)
        cure = f"Fit {text}."
    elif shut:
        cure = "The pin's level does not open a cold base: more cells in series" + (
            f", or a logic-level MOSFET such as {other}." if other else "."
        )
    guaranteed, _ = gain_at(drive.transistor, load.i_highest)
    limit = max(drive.beta, guaranteed or 0.0)
    told = "specified to saturate" if guaranteed is None else "guaranteed to carry it"
    ledger.at_most(
        "drive.saturation", worst, limit, "1",
        f"At the worst corner the base gets {gets} of the coil's current; {name} is "
        f"{told} from 1/{limit:.3g}.",
        remedy=cure if worst > limit else "",
        changes=(*smaller, *_to_mosfet(other), *(more if shut else ())),
    )  # fmt: skip
    ledger.at_most(
        "drive.forced_gain", worst, drive.beta, "1",
        f"The drop of {name} is specified with the base at 1/{drive.beta:g} of the coil's "
        f"current; here it gets {gets}"
        + (", and the drop may be more than the figures here." if worst > drive.beta else "."),
        remedy=cure if worst > drive.beta else "", changes=(*smaller, *_to_mosfet(other)),
        soft=True,
    )  # fmt: skip
    most = specified_to(drive.transistor)
    if load.i_highest > most:
        ledger.say(
            "drive.saturation_specified", Severity.MIND,
            f"{name} is specified as a switch up to {show(most, 'A')}; this coil takes "
            f"{show(load.i_highest, 'A')}: nothing is guaranteed there.",
            remedy="Choose a transistor that is specified at this current.",
        )  # fmt: skip
    if not drive.v_be.known:
        ledger.assume(
            "drive.v_be_sat_max", drive.v_be.high, "V", f"none known for {name}; usual limit"
        )
    loss = switch_dissipation(
        v_ce_sat=float(
            bipolar_law(drive.transistor, load.i_highest, load.i_highest / drive.beta)
            .drop(load.i_highest)
        ),
        i_c=load.i_highest, v_be=drive.v_be.high, i_b=load.i_highest / drive.beta, duty=1.0,
    )  # fmt: skip
    ledger.at_most(
        "drive.power_rating", loss, 0.7 * drive.transistor.p_tot, "W",
        f"Held closed, {name} turns {show(loss, 'W')} into heat; 70 % of its rating is "
        f"{show(0.7 * drive.transistor.p_tot, 'W')}.",
        remedy="Choose a larger transistor or a coil of more resistance.",
    )  # fmt: skip


def _judge_pin(ledger: Ledger, drive: BaseDrive, pin: Pin, r_b: float, other: str | None) -> None:
    highest = 0.0
    if pin.v_max > drive.v_be.low:
        highest = pin_current(
            v_pin=pin.v_max, r_pin=pin.resistance, r_b=r_b + 1e-9, v_be=drive.v_be.low
        )
    changes: tuple[tuple[Change, ...], ...] = _to_mosfet(other)
    if drive.r_b_sized is not None and drive.r_b_sized > r_b:
        changes = (
            (Change(section="drive", key="base_resistor", text=show(drive.r_b_sized, "ohm")),),
            *changes,
        )
    ledger.at_most(
        "drive.pin_current", highest, pin.i_max, "A",
        f"The pin gives up to {show(highest, 'A')}; it may give {show(pin.i_max, 'A')}.",
        remedy=f"Fit at least {show(drive.r_b_min, 'ohm')}, or a logic-level MOSFET.",
        changes=changes,
    )  # fmt: skip
