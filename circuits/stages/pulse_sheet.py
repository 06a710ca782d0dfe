"""What the pulse puts on the sheet: energies, its place in the pass, and the bench check."""

from calc.pulse import PulseOutcome
from circuits.design import Design
from circuits.format_quantity import percent, show
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult
from circuits.stages.emf import EmfResult
from circuits.stages.rails import Rails

AT_WANTED = "at the wanted arc"
"""Where energies and drains are computed; where the movement settles they are others."""
WEAK_PLACE = 0.35
"""Mean force over peak force below which most of the pulse falls where there is none."""

_FIGURES = (
    ("energy.e_pulse", "e_supply", "J", "energy from the supply into the coil's branch",
     "integral of V i"),
    ("energy.e_base", "e_base", "J", "energy that the pin gives to the base or gate",
     "pin high x base current x width"),
    ("energy.e_source", "e_source", "J", "energy lost in the supply's own resistance",
     "integral of i**2 times its resistance"),
    ("energy.e_copper", "e_copper", "J", "energy lost in the copper", "integral of i**2 R"),
    ("energy.e_switch", "e_switch", "J", "energy lost in the switch", "integral of drop x i"),
    ("energy.e_clamp", "e_clamp", "J", "energy lost in the clamp", "integral of its voltage x i"),
    ("energy.e_mechanical", "e_mechanical", "J", "energy given to the movement",
     "integral of back EMF x i"),
    ("energy.q_pulse", "q_supply", "C", "charge a pulse", "integral of i"),
    ("drive.i_coil", "i_peak", "A", "greatest coil current",
     "V = i R + L di/dt + back EMF + switch drop"),
    ("drive.v_switch", "v_switch_end", "V", "switch's drop at the end of the pulse",
     "catalogue's limits at this current"),
    ("clamp.t_decay", "t_decay", "s", "current down to 5 % after", "the same equation, released"),
    ("clamp.t_zero", "t_zero", "s", "current down to a millionth after",
     "the same equation, released"),
    ("clamp.e_clamp", "e_clamp", "J", "energy that the clamp takes", "integral of v i"),
)  # fmt: skip


def _words(plain: str, field: str, outcome: PulseOutcome) -> str:
    if field == "v_switch_end" and outcome.v_switch_end < 0:
        return f"{plain}; below zero: the EMF drives the current backwards through it"
    return plain


def enter_outcomes(ledger: Ledger, fresh: PulseOutcome, spent: PulseOutcome) -> None:
    """Enter current, release and energies at fresh and at spent cells."""
    for name, field, unit, plain, rule in _FIGURES:
        for outcome, state in ((fresh, "fresh"), (spent, "spent")):
            words = _words(plain, field, outcome)
            ledger.value(
                name if state == "fresh" else f"{name}_spent", float(getattr(outcome, field)),
                unit, words=f"{words}, {AT_WANTED}" if name.startswith("energy.") else words,
                basis=Basis.COMPUTED, rule=rule, state=state,
            )  # fmt: skip
    if fresh.e_supply > 0:
        ledger.value(
            "energy.efficiency", fresh.e_mechanical / fresh.e_supply, "1",
            words=f"share of the pulse that moves the movement, {AT_WANTED}",
            basis=Basis.COMPUTED, rule="mechanical / supplied", state="fresh",
        )  # fmt: skip
    worst = max(abs(fresh.balance_error), abs(spent.balance_error))
    ledger.at_most(
        "energy.balance", worst, 1e-6, "1",
        "Supplied energy less copper, switch, clamp, movement and what stays in the coil: the "
        f"bill is open by {worst:.1e} of it.",
        soft=True, remedy="The current's waveform is not resolved; treat energies with care.",
    )  # fmt: skip


def judge_place(
    design: Design, ledger: Ledger, drive: DriveResult, emf: EmfResult, outcome: PulseOutcome,
    *, t_on: float, width: float,
) -> None:  # fmt: skip
    """Judge whether the push goes with the motion, and whether it falls where there is force."""
    other = "repel" if drive.polarity == "attract" else "attract"
    cures: tuple[tuple[Change, ...], ...] = (
        (Change(section="drive", key="polarity", text=other),),
        (
            Change(section="drive", key="trigger", text="previous_pass"),
            Change(section="drive", key="polarity", text="attract"),
        ),
    )
    force = outcome.e_mechanical / (max(outcome.q_supply, 1e-30) * emf.emf_peak)
    if outcome.e_mechanical <= 0:
        ledger.say(
            "pulse.wrong_way", Severity.FAILS,
            f"A coil that {_VERBS[drive.polarity]} from {show(abs(t_on), 's')} "
            f"{'before' if t_on < 0 else 'after'} the centre on pushes against the "
            f"motion: the pulse takes {show(-outcome.e_mechanical, 'J')} from the movement.",
            remedy=f"Swap the coil's two ends (polarity = \"{other}\"), or let it attract before "
            "the centre, timed from the previous pass.",
            changes=cures, value=outcome.e_mechanical, unit="J",
        )  # fmt: skip
        return
    ledger.say(
        "pulse.wrong_way", Severity.GOOD,
        f"The push goes with the motion: the coil {_VERBS[drive.polarity]} from "
        f"{show(abs(t_on), 's')} {'before' if t_on < 0 else 'after'} the centre on.",
    )  # fmt: skip
    later = emf.peak_spacing / 2 - width / 2 - t_on
    cure: tuple[tuple[Change, ...], ...] = ()
    if design.drive.pulse_delay is None and later > 0 and drive.polarity == "repel":
        text = f"{later * 1e3:.3g} ms"
        cure = ((Change(section="drive", key="pulse_delay", text=text),),)
    ledger.say(
        "pulse.dead_centre", Severity.GOOD if force >= WEAK_PLACE else Severity.MIND,
        f"Over the pulse the force is {percent(force)} of its peak on average; with the magnet on "
        "the coil's axis there is none.",
        remedy="" if force >= WEAK_PLACE
        else f"Start the pulse {show(abs(later), 's')} {'later' if later > 0 else 'earlier'}.",
        changes=cure, value=force, unit="1",
    )  # fmt: skip


_VERBS = {"repel": "repels", "attract": "attracts"}


def enter_bench(ledger: Ledger, rails: Rails, coil: CoilResult, fresh: PulseOutcome) -> None:
    """Enter what the oscilloscope shows at the switch and across a shunt."""
    rail = rails.fresh.v_coil
    ledger.test_point(
        "switch node to ground", "switch off, at rest", "voltmeter", f"{show(rail, 'V')}, the rail",
        "0 V: the switch is shorted or always driven; in between: leakage or a wrong pull-down",
    )  # fmt: skip
    ledger.test_point(
        "switch node to ground", "switch on", "oscilloscope",
        f"{show(fresh.v_switch_end, 'V')} or less at the end of the pulse",
        "more: the switch is starved; check base or gate voltage and the resistor",
    )  # fmt: skip
    ledger.test_point(
        "switch node to ground", "just after the switch turns off", "oscilloscope, 1:10 probe",
        f"a kick to {show(fresh.v_switch_peak, 'V')}, down to the rail within "
        f"{show(fresh.t_zero, 's')}",
        "much higher: the clamp is missing or open; no kick: the clamp is shorted; rail held "
        "down: diode the wrong way round",
    )  # fmt: skip
    rise = coil.l_coil / coil.r_coil
    ledger.test_point(
        "1 ohm shunt in the coil's lead", "switch on", "oscilloscope across the shunt",
        f"a rise to {show(fresh.i_peak, 'V')} (1 V is 1 A) with a time "
        f"constant of {show(rise, 's')}, then a sag as the magnet moves; down to a twentieth "
        f"{show(fresh.t_decay, 's')} after the switch opens",
        "less: cells' resistance or the switch; a different time constant: other turns",
    )  # fmt: skip
