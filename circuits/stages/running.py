"""Running: what the movement draws where it settles, which is not always the wanted arc."""

from dataclasses import dataclass, replace

from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.format_quantity import percent, show
from circuits.ledger import Basis, Ledger, Severity
from circuits.stages.drive import DriveResult
from circuits.stages.energy import EnergyResult
from circuits.stages.pulse_sheet import AT_WANTED
from circuits.stages.rails import Rails
from circuits.stages.settled_record import Drawn, SettledResult

RULE = "pulses of the swing that repeats itself"


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningResult(EnergyResult):
    """The mean demand on the cells at the arcs that fresh and spent cells hold.

    An arc is None where none is known to be held; the demand is then that of the wanted arc.
    """

    arc_fresh: float | None
    arc_spent: float | None

    @property
    def at_fresh(self) -> str:
        """Which arc the figures of fresh cells belong to, in words."""
        return _at(self.arc_fresh)

    @property
    def at_spent(self) -> str:
        """Which arc the figures of spent cells belong to, in words."""
        return _at(self.arc_spent)


def _at(arc: float | None) -> str:
    return AT_WANTED if arc is None else f"at its arc of {show(arc, 'rad')}"


def size(
    design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails, drive: DriveResult,
    energy: EnergyResult, settled: SettledResult | None,
) -> RunningResult:  # fmt: skip
    """Return every drain on the cells where the movement settles, the largest first."""
    del design, catalogue
    fresh = settled.drawn if settled is not None else None
    spent = settled.drawn_spent if settled is not None else None
    i_fresh, i_spent = (
        None if drawn is None else max(drawn.e_supply / v / drawn.time, 0.0)
        for drawn, v in ((fresh, rails.fresh.v_coil), (spent, rails.spent.v_coil))
    )
    drains = tuple(
        sorted(
            (
                replace(
                    drain, i_fresh=drain.i_fresh if i_fresh is None else i_fresh,
                    i_spent=drain.i_spent if i_spent is None else i_spent,
                )
                if drain.name == "pulse" else drain
                for drain in energy.drains
            ),
            key=lambda drain: -drain.i_fresh,
        )
    )  # fmt: skip
    result = RunningResult(
        drains=drains, i_mean=sum(drain.i_fresh for drain in drains),
        i_mean_spent=sum(drain.i_spent for drain in drains),
        arc_fresh=settled.held.arc if settled is not None and settled.held and fresh else None,
        arc_spent=settled.arc_spent if settled is not None and spent else None,
    )  # fmt: skip
    for drawn, i_mean, state in (
        (fresh, result.i_mean, "fresh"), (spent, result.i_mean_spent, "spent"),
    ):  # fmt: skip
        if drawn is not None:
            _enter(ledger, drawn, drive.swings_per_pulse, i_mean, state)
    _rank(ledger, result)
    return result


def _enter(ledger: Ledger, drawn: Drawn, swings: int, i_mean: float, state: str) -> None:
    for name, value, unit, words, rule in (
        ("e_pulse", swings * drawn.e_supply, "J",
         "energy a pulse from the supply into the coil's branch, at the arc that is held", RULE),
        ("e_mechanical", swings * drawn.e_mechanical, "J",
         "energy a pulse given to the movement, at the arc that is held", RULE),
        ("i_mean", i_mean, "A", "mean current from the cells, at the arc that is held",
         "sum of all drains there"),
    ):  # fmt: skip
        ledger.value(
            f"energy.{name}_settled" + ("_spent" if state == "spent" else ""), value, unit,
            words=words, basis=Basis.COMPUTED, rule=rule, state=state,
        )  # fmt: skip


def _rank(ledger: Ledger, result: RunningResult) -> None:
    drains, total = result.drains, result.i_mean
    listed = ", ".join(
        f"{drain.words} {show(drain.i_fresh, 'A')}" for drain in drains if drain.i_fresh > 0
    )
    first = drains[0]
    wasted = first.name not in ("pulse", "drive", "awake")
    sagging = any(drain.i_fresh != drain.i_spent for drain in drains)
    when = " from fresh cells" if sagging else ""
    ledger.say(
        "energy.drains", Severity.MIND if wasted else Severity.GOOD,
        f"{show(total, 'A')} on average{when} {result.at_fresh}, largest first: {listed}.",
        remedy=f"Most of it, {percent(first.i_fresh / total)}, goes to what does not move "
        f"anything: {first.words}. Begin there." if wasted else "",
    )  # fmt: skip
    divider = next(drain for drain in drains if drain.name == "divider")
    if total > 0 and divider.i_fresh > 0.25 * total:
        ledger.say(
            "energy.divider", Severity.MIND,
            f"The divider takes {show(divider.i_fresh, 'A')}, "
            f"{percent(divider.i_fresh / total)} of all.",
            remedy="Larger divider resistors; beyond the source limit of the input the filter's "
            "capacitor must feed the sample, and the input's leakage moves the rest level more.",
        )  # fmt: skip
