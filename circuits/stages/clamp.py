"""Clamp: what takes the coil's current when the switch opens."""

from dataclasses import dataclass
from math import isfinite

from calc.clamp import standing_current
from calc.clamp_law import ClampLaw
from calc.pass_braking import pass_braking
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.format_quantity import show
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.part_records import Diode, Zener
from circuits.ratings import resistor_rating
from circuits.stages.clamp_parts import RATING_ROOM, ClampParts, clamp_parts
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult
from circuits.stages.emf import EmfResult
from circuits.stages.rails import Rails

BODY_DIODE = 0.6
"""V; where the switch's own junction from ground to the node begins to conduct."""
KNEE_SHARE = 0.001
"""Share of the coil's current at which the clamp counts as conducting."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClampResult:
    """The clamp's law and what it does to the EMF of a free pass.

    `i_rest_fresh` and `i_rest_spent` are what flows through coil and clamp all the time.
    """

    kind: str
    law: ClampLaw
    v_knee: float
    v_switch_peak: float
    p_rating: float | None = None
    resistor: float | None = None
    i_rest_fresh: float = 0.0
    i_rest_spent: float = 0.0


def size(
    design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails, coil: CoilResult,
    emf: EmfResult, drive: DriveResult,
) -> ClampResult:  # fmt: skip
    """Choose or check the clamp, and enter it into the sheet."""
    v_highest = max(rails.v_max, rails.fresh.v_coil)
    if design.supply.coil_rail == "regulated":
        v_highest = rails.fresh.v_coil
    parts = clamp_parts(design, catalogue, v_highest, drive.i_highest, drive.v_breakdown)
    i_fresh = _current(rails.fresh.v_coil, rails.fresh.r_source, coil.r_coil, drive)
    peak = parts.law.switch_voltage(i_fresh, rails.fresh.v_coil)
    highest = parts.law.switch_voltage(drive.i_highest, v_highest)
    if parts.zener is not None:
        highest += parts.zener.v_z_max - parts.zener.v_z_typ
    ledger.value(
        "clamp.kind", parts.kind, None, words="clamp",
        basis=Basis.STATED if design.clamp.kind else Basis.SIZED, rule=_PLACES[parts.kind],
    )  # fmt: skip
    ledger.value(
        "clamp.v_switch_peak", peak, "V", words="kick at the switch after a long pulse",
        basis=Basis.COMPUTED,
        rule="supply + clamp's voltage at the coil's current" if not parts.law.from_supply
        else "zener's voltage at the coil's current",
        low=peak, high=max(highest, peak), state="fresh",
    )  # fmt: skip
    knee = float(parts.law.opposing(KNEE_SHARE * i_fresh, rails.fresh.v_coil))
    _list_parts(ledger, parts, v_highest)
    _ratings(catalogue, ledger, parts, drive, v_highest, highest)
    _braking(ledger, parts, rails, coil, emf, knee)
    at_rest = [
        standing_current(clamp=parts.law, v_supply=rail.v_coil, r_loop=coil.r_coil + rail.r_source)
        for rail in (rails.fresh, rails.spent)
    ]
    _at_rest(ledger, parts, rails, at_rest)
    _beside(ledger, parts, rails, coil, drive)
    return ClampResult(
        kind=parts.kind, law=parts.law, v_knee=knee, v_switch_peak=peak,
        p_rating=parts.zener.p_tot if parts.zener else None, resistor=parts.resistor,
        i_rest_fresh=at_rest[0], i_rest_spent=at_rest[1],
    )  # fmt: skip


_PLACES = {
    "diode": "from the switch to the coil's rail; costs nothing, holds the current on longest",
    "diode_zener": "diode and zener in series across the coil; quicker, higher at the switch",
    "switch_zener": "zener from the switch to ground; takes energy from the supply too",
    "resistor": "across the coil; draws current during every pulse",
}


def _current(v_coil: float, r_source: float, r_coil: float, drive: DriveResult) -> float:
    free = v_coil / (r_coil + r_source)
    limited = min(free, 0.999 * drive.fresh.law.i_limit)
    return max(v_coil - float(drive.fresh.law.drop(limited)), 0.1 * v_coil) * limited / v_coil


def _list_parts(ledger: Ledger, parts: ClampParts, v_highest: float) -> None:
    for reference, part in (("D1", parts.diode), ("D2", parts.zener)):
        if part is not None:
            ledger.part(reference, "clamp", part.name, _rating(part))
            role = "clamp.diode" if part is parts.diode else "clamp.zener"
            ledger.value(
                role, part.name, None, words=role.partition(".")[2], basis=Basis.CATALOGUE,
                rule="carries the coil's current",
            )  # fmt: skip
    if parts.resistor is not None:
        # A pulse that sticks on must not burn it.
        ledger.part(
            "R7", "clamp", show(parts.resistor, "ohm"),
            resistor_rating(v_highest**2 / parts.resistor),
        )  # fmt: skip
        ledger.value(
            "clamp.resistor", parts.resistor, "ohm", words="resistor across the coil",
            basis=Basis.COMPUTED, rule="kick = coil current x resistor",
        )  # fmt: skip


def _rating(part: Diode | Zener) -> str:
    if isinstance(part, Zener):
        return f"{show(part.v_z_typ, 'V')}, {show(part.p_tot, 'W')}"
    return f"{show(part.v_rrm, 'V')}, {show(part.i_f_av, 'A')}"


def _ratings(
    catalogue: Catalogue, ledger: Ledger, parts: ClampParts, drive: DriveResult, v_highest: float,
    highest: float,
) -> None:  # fmt: skip
    bearable = drive.v_breakdown / RATING_ROOM
    plain = (Change(section="clamp", key="kind", text="diode"),)
    ledger.at_most(
        "clamp.switch_rating", highest, bearable, "V",
        f"At switching off the switch sees up to {show(highest, 'V')}; {drive.transistor} bears "
        f"{show(drive.v_breakdown, 'V')}, of which 1/{RATING_ROOM:g} may be used.",
        remedy="Clamp lower, or choose a switch of higher voltage.", changes=(plain,),
    )  # fmt: skip
    diode, zener = parts.diode, parts.zener
    if diode is not None:
        larger = (Change(section="clamp", key="diode", text="1N4001"),)
        ledger.at_most(
            "clamp.diode_current", drive.i_highest, diode.i_f_av, "A",
            f"{diode.name} takes the coil's {show(drive.i_highest, 'A')}; it may carry "
            f"{show(diode.i_f_av, 'A')} without end.",
            soft=drive.i_highest <= (diode.i_fsm or diode.i_f_av),
            remedy="A larger diode, such as 1N4001.", changes=(larger,),
        )  # fmt: skip
        ledger.at_most(
            "clamp.diode_voltage", v_highest, diode.v_rrm / RATING_ROOM, "V",
            f"While the switch is on, {diode.name} blocks {show(v_highest, 'V')}; it bears "
            f"{show(diode.v_rrm, 'V')}.",
            remedy="A diode of higher voltage.", changes=(larger,),
        )  # fmt: skip
    if zener is not None and parts.kind == "switch_zener":
        above = [
            z for z in catalogue.zeners()
            if z.v_z_min >= 1.2 * v_highest and z.v_z_max <= bearable
        ]  # fmt: skip
        cures = [
            (Change(section="clamp", key="zener", text=z.name),)
            for z in sorted(above, key=lambda z: z.v_z_typ)[:2]
        ]
        ledger.at_least(
            "clamp.zener_above_rail", zener.v_z_min, v_highest, "V",
            f"A zener across the switch must exceed the rail of {show(v_highest, 'V')}; "
            f"{zener.name} may conduct from {show(zener.v_z_min, 'V')} on and would drain it "
            "all the time.",
            remedy="A zener of more than 1.2 times the rail, or a plain diode.",
            changes=(*cures, plain),
        )  # fmt: skip


def _at_rest(ledger: Ledger, parts: ClampParts, rails: Rails, at_rest: list[float]) -> None:
    """Tell of a zener so near to the rail that it lets current through between pulses."""
    zener = parts.zener
    if zener is None or not at_rest[0] > 0:
        return
    ledger.value(
        "clamp.i_rest", at_rest[0], "A", words="current through coil and zener at rest",
        basis=Basis.COMPUTED, rule="zener's logarithm through its test point, at the rail",
        state="fresh",
    )  # fmt: skip
    ledger.say(
        "clamp.rest_current", Severity.MIND,
        f"{zener.name} does not block the rail of {show(rails.fresh.v_coil, 'V')} wholly: about "
        f"{show(at_rest[0], 'A')} flows through coil and zener all the time, pulse or no pulse.",
        remedy="A zener of a higher voltage, or one between switch and rail with a diode.",
        value=at_rest[0], unit="A",
    )  # fmt: skip


def _beside(
    ledger: Ledger, parts: ClampParts, rails: Rails, coil: CoilResult, drive: DriveResult
) -> None:
    """Check that the switch carries the resistor's current beside the coil's."""
    if parts.resistor is None or not isfinite(drive.fresh.law.i_limit):
        return
    states = []
    for rail, state in ((rails.fresh, drive.fresh), (rails.spent, drive.spent)):
        own = rail.v_coil / (parts.resistor + rail.r_source)
        whole = own + rail.v_coil / (coil.r_coil + rail.r_source)
        states.append((own, whole, state.law.i_limit))
    own, whole, limit = max(states, key=lambda known: known[1] / known[2])
    ledger.at_most(
        "clamp.resistor_current", whole, limit, "A",
        f"While the switch is on the resistor takes up to {show(own, 'A')} beside the coil's "
        f"current, {show(whole, 'A')} in all; with its base current {drive.transistor} carries "
        f"{show(limit, 'A')}.",
        remedy="A larger resistor, or a diode, which takes nothing while the switch is on.",
        changes=((Change(section="clamp", key="kind", text="diode"),),),
    )  # fmt: skip


def _braking(
    ledger: Ledger, parts: ClampParts, rails: Rails, coil: CoilResult, emf: EmfResult, knee: float
) -> None:
    """Enter what a free pass loses when its EMF drives current through clamp or switch."""
    ledger.value(
        "clamp.v_knee", knee, "V", words="EMF from which the clamp conducts",
        basis=Basis.COMPUTED, rule="clamp's voltage at a thousandth of the coil's current",
    )  # fmt: skip
    loads = parts.resistor is not None
    lost = pass_braking(
        t=emf.t, emf=emf.flux_rate, clamp=parts.law, v_supply=rails.fresh.v_coil,
        r_coil=coil.r_coil,
    )  # fmt: skip
    rule = "EMF through coil and clamp's law, lobes of one sign"
    if loads:
        rule = "EMF through coil and resistor, lobes of both signs"
    ledger.value(
        "clamp.braking", lost, "J", words="energy that a free pass loses in the clamp",
        basis=Basis.COMPUTED, rule=rule,
    )  # fmt: skip
    remedy = "A zener in series with the diode raises the knee."
    if parts.resistor is not None:
        remedy = "A diode instead of the resistor: it conducts beyond its knee only."
        text = (
            f"The resistor loads the coil on every pass and takes {show(lost, 'J')} from it: it "
            "brakes all the time."
        )
    else:
        text = (
            f"At the wanted arc the EMF peaks at {show(emf.emf_peak, 'V')}; the clamp conducts "
            f"from {show(knee, 'V')} on, which takes "
            f"{show(lost, 'J') if lost > 0 else 'nothing'} from each pass."
        )
    ledger.at_most(
        "clamp.knee", emf.emf_peak, knee if knee > 0 else 1e-3, "V", text, soft=True,
        remedy=remedy,
    )  # fmt: skip
    second = rails.spent.v_coil + BODY_DIODE
    ledger.at_most(
        "clamp.switch_diode", emf.emf_peak, second, "V",
        f"Below ground the switch's own junction conducts: with spent cells from an EMF of "
        f"{show(second, 'V')} on; this one peaks at {show(emf.emf_peak, 'V')}.",
        soft=True, remedy="More cells, fewer turns or a wider gap; beyond it the pass is braked.",
    )  # fmt: skip
