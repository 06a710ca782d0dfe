"""Pulse: the coil's current from switching on to zero, and where its energy goes."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.pulse import PulseCircuit, PulseOutcome, PulseWidth, coil_pulse, least_pulse_width
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.driven import Driven, held_width
from circuits.format_quantity import percent, show
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.stages import push_choice
from circuits.stages.back_emf import back_emf_of, source_seen
from circuits.stages.clamp import ClampResult
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult, DriveState
from circuits.stages.emf import EmfResult
from circuits.stages.filter import FilterResult
from circuits.stages.linkage import LinkageResult
from circuits.stages.movement import MovementResult
from circuits.stages.pulse_sheet import enter_bench, enter_outcomes, judge_place
from circuits.stages.push_choice import PushChoice
from circuits.stages.rails import Rail, Rails
from circuits.stages.stronger import stronger

SPENT_LOBE = 0.02
"""Share of the EMF's peak below which a longer pulse gives nothing worth its charge."""
FIRST_WIDTH = 0.02
SHORTEST = 1e-5
"""s; where a clamp lets current through by itself the least pulse would be none at all."""
NEGLIGIBLE = 2e-3
"""Change of the source's resistance over the coil's that needs no second search."""
SAMPLES = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseResult:
    """The pulse as it stands in the pass; times from the magnet on the coil's axis."""

    width: float
    delay: float
    t_on: float
    fresh: PulseOutcome
    spent: PulseOutcome
    best: PulseWidth | None = None
    e_wanted: float = 0.0
    choice: PushChoice | None = None


def size(
    design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails, coil: CoilResult,
    movement: MovementResult, emf: EmfResult, drive: DriveResult, clamp: ClampResult,
    filter: FilterResult, linkage: LinkageResult | None = None,
) -> PulseResult:  # fmt: skip
    """Place the pulse in the pass, size or check its width, and bill its energy.

    With the linkage a sized width is sharpened on the moving system; without it the energies of
    a free swing decide.
    """
    back_emf = back_emf_of(design, emf, drive.polarity)
    delay, sized_delay = _delay(design, emf, drive, filter)
    t_on = filter.event_time + delay
    widest = design.rate.width_max or _widest(emf.t, back_emf, t_on)
    wanted = movement.loss_typ * drive.swings_per_pulse
    stated = design.drive.pulse_width
    reach = max(widest, stated or 0.0)
    t, e = _window(*_reaching(emf.t, back_emf, t_on, reach), t_on, reach)

    def circuit(rail: Rail, state: DriveState, width: float) -> PulseCircuit:
        p_base = state.v_pin * (state.i_b if drive.kind == "npn" else state.i_pin)
        return PulseCircuit(
            v_supply=rail.v_coil, r_source=source_seen(design, rail.r_source, width),
            r_coil=coil.r_coil, l_coil=coil.l_coil, switch=state.law, clamp=clamp.law,
            duty=drive.duty, p_base=p_base, t_emf=t, emf=e,
        )  # fmt: skip

    best = least_pulse_width(
        circuit=circuit(rails.spent, drive.spent, stated or FIRST_WIDTH), t_on=t_on,
        e_wanted=wanted, width_max=widest,
    )  # fmt: skip
    first, refined = (
        source_seen(design, rails.spent.r_source, w) for w in (FIRST_WIDTH, max(best.width, 1e-5))
    )
    if stated is None and best.reached and abs(refined - first) > NEGLIGIBLE * coil.r_coil:
        best = least_pulse_width(
            circuit=circuit(rails.spent, drive.spent, best.width), t_on=t_on, e_wanted=wanted,
            width_max=widest,
        )  # fmt: skip
    # Where no width holds the arc, and the best is none at all, show a pulse that can be judged.
    shown = max(best.width, SHORTEST if best.reached else FIRST_WIDTH)
    if stated is None and best.reached and linkage is not None:
        shown = held_width(
            Driven(
                design=design, rails=rails, coil=coil, linkage=linkage, movement=movement,
                emf=emf, drive=drive, clamp=clamp, filter=filter, width=shown, t_on=t_on,
            )
        )  # fmt: skip
    width = stated or shown
    fresh = coil_pulse(
        circuit=circuit(rails.fresh, drive.fresh, width), t_on=t_on, pulse_width=width
    )
    spent = coil_pulse(
        circuit=circuit(rails.spent, drive.spent, width), t_on=t_on, pulse_width=width
    )
    choice = push_choice.choose(
        design, rails, coil, emf, drive, clamp, event=filter.event_time, t_on=t_on, width=width,
        wanted=wanted,
    )  # fmt: skip
    result = PulseResult(
        width=width, delay=delay, t_on=t_on, fresh=fresh, spent=spent, best=best, e_wanted=wanted,
        choice=choice,
    )  # fmt: skip
    _judge_pass(design, ledger, emf, drive, filter, result)
    if drive.duty < 1:
        _judge_duty(ledger, drive.duty, min(fresh.q_supply, spent.q_supply))
    _enter_place(ledger, movement, result, stated is not None, sized_delay)
    enter_outcomes(ledger, fresh, spent)
    if emf.t[0] <= t_on < emf.t[-1]:
        judge_place(design, ledger, drive, emf, result.spent, t_on=t_on, width=width)
    _judge_arc(design, catalogue, ledger, movement, result, stated is not None)
    push_choice.enter(design, ledger, choice, event=filter.event_time)
    if clamp.p_rating is not None:
        mean = fresh.e_clamp / (movement.period / 2 * drive.swings_per_pulse)
        ledger.at_most(
            "clamp.power_rating", mean, 0.5 * clamp.p_rating, "W",
            f"The zener turns {show(mean, 'W')} into heat on average; half its rating is "
            f"{show(0.5 * clamp.p_rating, 'W')}.",
            remedy="A zener of more power, or a plain diode.",
            changes=((Change(section="clamp", key="kind", text="diode"),),),
        )  # fmt: skip
    enter_bench(ledger, rails, coil, fresh)
    return result


def _delay(
    design: Design, emf: EmfResult, drive: DriveResult, filter: FilterResult
) -> tuple[float, bool]:
    stated = design.drive.pulse_delay
    if stated is not None:
        return stated, False
    return _sized_delay(design, emf, drive, filter), True


def _sized_delay(design: Design, emf: EmfResult, drive: DriveResult, filter: FilterResult) -> float:
    width = design.drive.pulse_width or FIRST_WIDTH
    lying = design.magnet.axis == "motion"
    early = filter.event_time < 0 and drive.polarity == "repel" and not lying
    if drive.trigger == "crossing" and early:
        # Repelled before it stands over the coil the magnet would be braked: wait for the place.
        return max(emf.peak_spacing / 2 - width / 2, 0.0) - filter.event_time
    if drive.trigger != "previous_pass":
        return 0.0
    middle = emf.peak_spacing / 2 if not lying else 0.0
    side = -1.0 if drive.polarity == "attract" else 1.0
    place = max(side * middle - width / 2, float(emf.t[0]))
    return place - filter.event_time


def _judge_pass(
    design: Design, ledger: Ledger, emf: EmfResult, drive: DriveResult, filter: FilterResult,
    result: PulseResult,
) -> None:  # fmt: skip
    """Fail a pulse that starts while the magnet is nowhere near the coil."""
    first, last = float(emf.t[0]), float(emf.t[-1])
    if first <= result.t_on < last:
        return
    within = _sized_delay(design, emf, drive, filter)
    changes = []
    if within >= 0 and first <= filter.event_time + within < last:
        text = f"{1e3 * within:.4g} ms"
        changes.append((Change(section="drive", key="pulse_delay", text=text),))
    ledger.say(
        "pulse.in_pass", Severity.FAILS,
        f"The pulse starts {show(abs(result.t_on), 's')} "
        f"{'after' if result.t_on > 0 else 'before'} the magnet stands over the coil, but the "
        f"pass lasts from {show(first, 's')} to {show(last, 's')} about that moment: the pulse "
        "meets no magnet and moves nothing.",
        remedy="Let the pulse start within the pass.", changes=tuple(changes),
    )  # fmt: skip


def _judge_duty(ledger: Ledger, duty: float, charge: float) -> None:
    """Fail a pulse that is chopped so far down that no current builds up."""
    if charge > 0:
        return
    ledger.say(
        "drive.duty", Severity.FAILS,
        f"Chopped to {percent(duty)} of the time the mean voltage does not exceed clamp and back "
        "EMF: no current builds up, and the pulse takes nothing from the cells.",
        remedy="A greater share, or a longer pulse that is not chopped.",
        changes=tuple(
            (Change(section="drive", key="duty", text=f"{share:g}"),)
            for share in (0.5, 0.7, 1.0) if share > duty
        ),
    )  # fmt: skip


def _reaching(
    t: NDArray[np.float64], back_emf: NDArray[np.float64], t_on: float, reach: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the EMF up to a pulse outside the pass: none, as the magnet is away."""
    if t[0] <= t_on < t[-1]:
        return t, back_emf
    room = 1.5 * reach + 20 * float(t[1] - t[0])
    far = np.linspace(t_on - room, t_on + 2 * room, 4 * SAMPLES)
    return far, np.where((far < t[0]) | (far > t[-1]), 0.0, np.interp(far, t, back_emf))


def _widest(t: NDArray[np.float64], back_emf: NDArray[np.float64], t_on: float) -> float:
    peak = float(np.abs(back_emf).max())
    useful = t[(back_emf > SPENT_LOBE * peak) & (t > t_on)]
    last = float(useful[-1]) if useful.size else float(t[-1])
    return max(last - t_on, 0.02 * float(t[-1] - t[0]))


def _window(
    t: NDArray[np.float64], back_emf: NDArray[np.float64], t_on: float, reach: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the samples about the pulse, thinned: the waveform is far smoother than they are."""
    step = float(t[1] - t[0])
    first = max(int(np.searchsorted(t, t_on)) - 8, 0)
    last = min(int(np.searchsorted(t, t_on + 1.5 * reach + 4 * step)) + 8, len(t))
    thin = max((last - first) // SAMPLES, 1)
    while first + 4 * thin > last and thin > 1:
        thin -= 1
    if last - first < 6:
        first = max(last - 6, 0)
    index = np.arange(first, last, thin)
    return t[index], back_emf[index]


def _enter_place(
    ledger: Ledger, movement: MovementResult, result: PulseResult, stated: bool, sized_delay: bool
) -> None:
    ledger.value(
        "drive.pulse_width", result.width, "s", words="pulse width",
        basis=Basis.STATED if stated else Basis.SIZED,
        rule="least width that replaces the typical loss with spent cells",
    )  # fmt: skip
    ledger.value(
        "drive.pulse_delay", result.delay, "s", words="from the detected event to the pulse",
        basis=Basis.SIZED if sized_delay else Basis.STATED, rule="counted by the firmware",
    )  # fmt: skip
    ledger.value(
        "drive.pulse_from_centre", result.t_on, "s", words="pulse starts from the true centre",
        basis=Basis.COMPUTED, rule="event seen behind the filter + delay; before it is negative",
    )  # fmt: skip
    ledger.value(
        "drive.pulse_from_centre_travel", result.t_on * movement.speed, "m",
        words="where the magnet is then", basis=Basis.COMPUTED, rule="time x speed at the crossing",
    )  # fmt: skip


def _judge_arc(
    design: Design, catalogue: Catalogue, ledger: Ledger, movement: MovementResult,
    result: PulseResult, stated: bool,
) -> None:  # fmt: skip
    wanted = result.e_wanted
    loss = f"{show(wanted, 'J')}, the typical loss between pulses"
    best = result.best
    reach = max(best.e_best if best else 0.0, result.spent.e_mechanical)
    wider = stronger(design, catalogue, movement, reach / wanted)
    if stated and best is not None and best.reached:
        width = Change(section="drive", key="pulse_width", text=f"{best.width * 1.05e3:.4g} ms")
        wider.insert(0, (width,))
    remedy = (
        "Thinner gap, more cells, a stronger magnet or thicker wire; or be content with less arc."
    )
    if stated:
        value = result.spent.e_mechanical
        text = (
            f"With spent cells the pulse gives {show(value, 'J')} to the movement; it needs {loss}."
        )
        remedy = (f"A width of {show(best.width, 's')} would do. " if wider and best is not None
                  and best.reached else "") + remedy  # fmt: skip
    else:
        value = reach
        widest = result.width if best is None else max(best.width_best, result.width)
        text = (
            f"With spent cells the widest useful pulse, {show(widest, 's')}, gives "
            f"{show(value, 'J')}; the movement needs {loss}."
        )
    ledger.at_least("pulse.holds_arc", value, wanted, "J", text, remedy=remedy, changes=wider)
