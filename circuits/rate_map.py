"""The rate of a design against width and delay of the pulse, with fresh and with spent cells."""

import json
import textwrap
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from calc.calculator import OutOfRangeError
from calc.follow import DrivenMovement
from calc.follow_beat import beats
from calc.follow_settle import settled_row
from calc.follow_width import width_that_holds
from calc.pendulum import circular_error
from circuits import VERSION
from circuits.design import Design
from circuits.driven import Driven
from circuits.errors import DesignFileError
from circuits.following import WIDTH, driven_of
from circuits.format_quantity import DAY, percent, show
from circuits.settling import TURNS_OVER
from circuits.supply_words import without_cells

WIDTHS, DELAYS, ARCS = 20, 20, 14
SHOWN = 7
"""Widths that the terminal shows."""
WORTH = 0.1
"""Share of the charge from which another delay is worth saying."""

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class MapRow:
    """One settled swing; `later` is how much later than now the pulse starts."""

    state: str
    v_supply: float
    later: float
    width: float
    arc: float
    rate: float
    circular: float
    impulse: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Push:
    """What holds the wanted arc at one delay: the width, and supply and motion of a beat."""

    later: float
    width: float
    e_supply: float
    e_mechanical: float

    @property
    def efficiency(self) -> float:
        """Share of the supplied energy that becomes motion."""
        return self.e_mechanical / self.e_supply


@dataclass(frozen=True, slots=True, kw_only=True)
class RateMap:
    """All settled swings looked at, and what the wanted arc costs at each delay."""

    title: str
    width: float
    arc_wanted: float
    rows: tuple[MapRow, ...]
    pushes: tuple[Push, ...]
    cells: bool = True

    @property
    def best(self) -> Push | None:
        """The delay with most motion per joule."""
        return max(self.pushes, key=lambda push: push.efficiency, default=None)

    @property
    def present(self) -> Push | None:
        """The delay that the design has."""
        return next((push for push in self.pushes if push.later == 0), None)


def _later(movement: DrivenMovement, later: float) -> DrivenMovement:
    trigger = movement.trigger
    return replace(movement, trigger=replace(trigger, delay=trigger.delay + later))


def _pushes(driven: Driven, shifts: list[float]) -> tuple[Push, ...]:
    system, arc = driven.system(spent=True), driven.movement.arc
    found: list[Push] = []
    for later in shifts:
        moved = _later(system, later)
        try:
            width = width_that_holds(movement=moved, arc=arc, near=driven.width)
        except OutOfRangeError:
            continue
        own = replace(moved, pulse_width=width)
        one = beats(own, np.array([arc]), np.array([width]), exact=False)
        found.append(
            Push(
                later=later, width=width, e_supply=float(one.e_supply[0, 0]),
                e_mechanical=float(one.e_mechanical[0, 0]),
            )
        )  # fmt: skip
    return tuple(found)


def rate_map(design: Design, *, progress: Progress) -> RateMap:
    """Return the settled rate over widths, delays and both states of the cells.

    Parameters
    ----------
    design : Design
        The design file.
    progress : callable
        Told how many of the delays are done, and of how many.

    Returns
    -------
    found : RateMap

    Raises
    ------
    DesignFileError
        If no swing could be followed.
    """
    driven = driven_of(design)
    wanted, width = driven.movement.arc, driven.width
    high = 3 * wanted
    if driven.movement.kind == "pendulum":
        high = min(high, TURNS_OVER)
    arcs = np.geomspace(wanted / 6, high, ARCS)
    now = driven.trigger().delay
    earlier = np.linspace(max(-now, -width), 0, DELAYS // 2 + 1)[:-1].tolist() if now > 0 else []
    latest = width
    if driven.choice is not None and driven.choice.reachable is not None:
        # Beyond the delay with most motion per joule, so that it does not lie at the edge.
        latest = max(width, 1.25 * (driven.choice.reachable.t_on - driven.t_on))
    shifts: list[float] = [*earlier, *np.linspace(0, latest, DELAYS - len(earlier)).tolist()]
    room = 0.22 * driven.movement.period - max(driven.t_on, 0.0) - width
    widest = max(min(3 * width, room), 1.5 * width)
    widths = np.geomspace(0.5 * width, widest, WIDTHS)
    rows: list[MapRow] = []
    refused = ""
    for number, (state, later) in enumerate((s, d) for s in ("fresh", "spent") for d in shifts):
        system = _later(driven.system(spent=state == "spent"), later)
        try:
            row = settled_row(system, arcs, widths)
        except OutOfRangeError as error:
            refused = str(error)
            row = []
        for at, arc, rate in row:
            circular = circular_error(arc=arc) if system.kind == "pendulum" else 0.0
            rows.append(
                MapRow(
                    state=state, v_supply=system.v_supply, later=later, width=at, arc=arc,
                    rate=rate, circular=circular, impulse=rate - circular,
                )
            )  # fmt: skip
        progress(number + 1, 2 * len(shifts))
    if not rows:
        raise DesignFileError(
            file=design.file, section="drive",
            found=f"no pulse looked at that holds an arc ({refused.partition(';')[0]})",
            wanted="run 'design' first and cure what fails",
        )  # fmt: skip
    return RateMap(
        title=design.design.title or design.file, width=width, arc_wanted=wanted,
        rows=tuple(rows), pushes=_pushes(driven, shifts), cells=design.supply.cell is not None,
    )  # fmt: skip


_FIELDS = ("state", "v_supply", "later", "width", "arc", "rate", "circular", "impulse")


def map_csv(found: RateMap) -> str:
    """Return every row, in SI units; rates as ratios."""
    lines = ["state,v_supply_V,later_s,width_s,arc_rad,rate,circular,impulse"]
    for row in found.rows:
        numbers = [f"{getattr(row, name):.9g}" for name in _FIELDS[1:]]
        lines.append(",".join([row.state, *numbers]))
    return "\n".join(lines) + "\n"


def map_json(found: RateMap) -> str:
    """Return every row in SI units, and what the wanted arc costs at each delay."""
    content: dict[str, object] = {
        "title": found.title,
        "version": VERSION,
        "pulse_width": found.width,
        "arc_wanted": found.arc_wanted,
        "rows": [{name: getattr(row, name) for name in _FIELDS} for row in found.rows],
        "pushes": [
            {
                "later": push.later, "width": push.width, "e_supply": push.e_supply,
                "e_mechanical": push.e_mechanical, "efficiency": push.efficiency,
            }
            for push in found.pushes
        ],
    }  # fmt: skip
    if found.best is not None:
        content["delay_best"] = found.best.later
        content["efficiency_best"] = found.best.efficiency
    return json.dumps(content, indent=1, allow_nan=False) + "\n"


def _side(rows: list[MapRow]) -> str:
    """Return which way a wider pulse moves the rate, and where that turns."""
    rates = np.array([row.rate for row in rows])
    falls = np.diff(rates) < 0
    if falls.all():
        return "a wider pulse makes it lose over all these widths"
    if not falls.any():
        return "a wider pulse makes it gain over all these widths"
    least = rows[int(np.argmin(rates))].width
    if falls[0]:
        return f"a wider pulse makes it lose up to about {show(least, 's')} and gain beyond"
    return "a wider pulse makes it now gain, now lose: look at the rows"


def map_text(found: RateMap) -> str:
    """Return a small table for the delay there is, and in words what other delays would do."""
    day = partial(show, unit="s/day", digits=3)
    lines = [f"{found.title}, rate against the pulse (coilwright {VERSION})"]
    for state in ("fresh", "spent"):
        rows = [row for row in found.rows if row.state == state and row.later == 0]
        if len(rows) < 2:
            lines += ["", f"With {state} cells hardly any of these widths holds an arc."]
            continue
        picked = [rows[k] for k in np.unique(np.linspace(0, len(rows) - 1, SHOWN).astype(int))]
        lines += ["", f"With {state} cells, {show(rows[0].v_supply, 'V')}: {_side(rows)}.", ""]
        lines.append(f"{'width':>10}{'arc':>12}{'rate':>14}{'by the arc':>15}{'by impulse':>15}")
        lines += [
            f"{show(row.width, 's'):>10}{show(row.arc, 'rad'):>12}{day(DAY * row.rate):>14}"
            f"{day(DAY * row.circular):>15}{day(DAY * row.impulse):>15}"
            for row in picked
        ]
    lines += ["", *_delays(found)]
    if not found.cells:
        lines = [without_cells(line) for line in lines]
    return "\n".join(lines) + "\n"


def _delays(found: RateMap) -> list[str]:
    best, present = found.best, found.present
    if best is None or present is None:
        return ["Spent cells do not hold the wanted arc with the delay there is."]
    saved = 1 - best.e_supply / present.e_supply
    if saved < WORTH:
        return [
            f"Starting the pulse earlier or later saves less than {percent(WORTH)} of the charge: "
            f"{percent(present.efficiency)} of the energy becomes motion."
        ]
    when = "later" if best.later > 0 else "earlier"
    edge = best in (found.pushes[0], found.pushes[-1])
    text = (
        f"With spent cells, starting the pulse {show(abs(best.later), 's')} {when}, "
        f"{show(best.width, 's')} wide, would hold the same arc for {percent(saved)} less charge"
        + (": the last of the delays looked at, a better one may lie beyond." if edge else ".")
    )
    return textwrap.wrap(text, WIDTH, subsequent_indent="  ")
