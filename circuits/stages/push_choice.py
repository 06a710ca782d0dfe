"""Push choice: which delay and polarity would hold the arc for the least charge."""

from dataclasses import dataclass

import numpy as np

from calc.push_place import PushTable, push_table
from circuits.design import Design
from circuits.format_quantity import percent, show
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.stages.back_emf import back_emf_of, source_seen
from circuits.stages.clamp import ClampResult
from circuits.stages.coil import CoilResult
from circuits.stages.drive import DriveResult
from circuits.stages.emf import EmfResult
from circuits.stages.rails import Rails

STARTS = 60
THIN = 6
"""Every so many samples of the pass are enough for sums over it."""
WORTH = 0.1
"""Share of the charge from which another delay is worth saying."""
FLAT = 0.02
"""Share of the charge that tells starts apart: within it the one that is nearer stands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Push:
    """One way to hold the wanted arc; `t_on` counts from the magnet on the coil's axis.

    `edge` where no better place was sought beyond this one.
    """

    polarity: str
    t_on: float
    width: float
    efficiency: float
    edge: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PushChoice:
    """The push as it is, the best that the trigger can start, and the best of all."""

    present: Push | None
    reachable: Push | None
    free: Push | None


def choose(
    design: Design, rails: Rails, coil: CoilResult, emf: EmfResult, drive: DriveResult,
    clamp: ClampResult, *, event: float, t_on: float, width: float, wanted: float,
) -> PushChoice:  # fmt: skip
    """Compare every start of a pulse within the pass, with spent cells.

    The movement is taken as it swings freely at the wanted arc: a push hardly changes the pass
    in which it falls.
    """
    rail, law = rails.spent, drive.spent.law
    r_fixed = coil.r_coil + source_seen(design, rail.r_source, width)
    i = min(0.6 * rail.v_coil / r_fixed, 0.5 * law.i_limit)
    rise = float(law.slope(i))
    held = drive.duty * (rail.v_coil - float(law.drop(i)) + rise * i)
    held -= (1 - drive.duty) * float(clamp.law.opposing(i, rail.v_coil))
    t = emf.t[::THIN]
    faded = np.abs(emf.flux_rate) > 0.05 * emf.emf_peak
    first, last = (float(emf.t[k]) for k in np.flatnonzero(faded)[[0, -1]])
    kinds = [drive.polarity]
    wave = {kind: back_emf_of(design, emf, kind)[::THIN] for kind in ("repel", "attract")}
    if design.magnet.axis != "motion":
        # With the poles along the motion the winding's sense is free: there is no other side.
        kinds.append("attract" if drive.polarity == "repel" else "repel")
    tables: dict[str, tuple[np.ndarray[tuple[int], np.dtype[np.float64]], PushTable]] = {}
    if not held > 0:
        return PushChoice(present=None, reachable=None, free=None)
    for kind in kinds:
        starts = np.unique(np.append(np.linspace(first, last, STARTS), [event, t_on]))
        starts = starts[(starts >= t[0]) & (starts <= t[-1])]
        tables[kind] = (
            starts,
            push_table(
                t=t, emf=wave[kind], starts=starts,
                v_supply=rail.v_coil, v_lost=max(rail.v_coil - held, 0.0), r_loop=r_fixed + rise,
                l_coil=coil.l_coil, e_wanted=wanted,
                v_clamp=max(float(clamp.law.opposing(0.5 * i, rail.v_coil)), 1e-3 * rail.v_coil),
            ),
        )  # fmt: skip

    def best(kind: str, since: float, until: float) -> Push | None:
        starts, table = tables[kind]
        inside = np.flatnonzero((starts >= since - 1e-12) & (starts <= until + 1e-12))
        efficiency = table.efficiency[inside]
        if not inside.size or not efficiency.max() > 0:
            return None
        top = int(np.argmax(efficiency))
        at = int(inside[top])
        share = 1.0 if drive.duty == 1 or clamp.law.from_supply else drive.duty
        return Push(
            polarity=kind, t_on=float(starts[at]), width=float(table.widths[at]),
            efficiency=float(table.efficiency[at]) / share,
            edge=top in (0, inside.size - 1),
        )  # fmt: skip

    own = drive.polarity
    since = first if drive.trigger == "previous_pass" else event
    every = [push for kind in kinds if (push := best(kind, first, last)) is not None]
    free = max(every, key=lambda push: push.efficiency, default=None)
    mine = best(own, first, last)
    if free is not None and mine is not None and mine.efficiency > (1 - FLAT) * free.efficiency:
        free = mine
    return PushChoice(present=best(own, t_on, t_on), reachable=best(own, since, last), free=free)


def enter(design: Design, ledger: Ledger, found: PushChoice, *, event: float) -> None:
    """Enter the best delay and polarity, and say what they would save."""
    present, reachable, free = found.present, found.reachable, found.free
    if reachable is None or free is None:
        return
    rule = "sums over the pass for each start, free swing at the wanted arc"
    for name, value, unit, words in (
        ("delay_best", reachable.t_on - event, "s",
         "delay from the detected event with most motion per joule"),
        ("efficiency_best", reachable.efficiency, "1", "share that then becomes motion"),
        ("polarity_best", free.polarity, None, "polarity with most motion per joule, freely timed"),
        ("start_best", free.t_on, "s", "where it would then start, from the true centre"),
        ("efficiency_free", free.efficiency, "1", "share that then becomes motion"),
    ):  # fmt: skip
        ledger.value(
            f"drive.{name}", value, unit, words=words, basis=Basis.COMPUTED, rule=rule,
            state="spent",
        )  # fmt: skip
    now = present.efficiency if present is not None else 0.0
    text = (
        f"With spent cells {percent(now)} of the pulse's energy becomes motion; "
        if present is not None
        else "Where the pulse starts now no width holds the arc with spent cells; "
    )
    delay = max(reachable.t_on - event, 0.0)
    text += (
        f"started {show(delay, 's')} after the event ({_place(reachable.t_on)}) and "
        f"{show(reachable.width, 's')} wide it would be {percent(reachable.efficiency)}"
    )
    if reachable.edge:
        text += ", at the edge of what was looked at: "
        text += "the event itself comes no earlier" if delay == 0 else "the pass ends there"
    saved = 1 - now / reachable.efficiency
    more = 1 - reachable.efficiency / free.efficiency
    if more >= WORTH:
        text += (
            f". A coil that {_VERBS[free.polarity]} from {_place(free.t_on)} on, timed from the "
            f"pass before, would turn {percent(free.efficiency)} into motion"
        )
    changes: list[tuple[Change, ...]] = []
    if saved >= WORTH:
        changes.append(_changes(design, delay, reachable.width))
    if more >= WORTH:
        changes.append(
            (
                Change(section="drive", key="trigger", text="previous_pass"),
                Change(section="drive", key="polarity", text=free.polarity),
                *_changes(design, free.t_on - event, free.width, key_delay=False),
            )
        )
    remedy = ""
    if saved >= WORTH:
        remedy = (
            f'Set pulse_delay = "{delay * 1e3:.3g} ms": the same arc for {percent(saved)} less '
            "charge."
        )
    ledger.say(
        "energy.delay_best", Severity.MIND if saved >= WORTH else Severity.GOOD, f"{text}.",
        remedy=remedy, changes=changes, value=reachable.efficiency, unit="1",
    )  # fmt: skip


_VERBS = {"repel": "repels", "attract": "attracts"}


def _place(t_on: float) -> str:
    return f"{show(abs(t_on), 's')} {'before' if t_on < 0 else 'after'} the middle"


def _changes(
    design: Design, delay: float, width: float, *, key_delay: bool = True
) -> tuple[Change, ...]:
    changes: tuple[Change, ...] = ()
    if key_delay:
        changes = (Change(section="drive", key="pulse_delay", text=f"{delay * 1e3:.3g} ms"),)
    if design.drive.pulse_width is not None:
        text = f"{1.05e3 * width:.3g} ms"
        changes += (Change(section="drive", key="pulse_width", text=text),)
    return changes
