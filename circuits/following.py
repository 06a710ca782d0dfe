"""A design followed in time: from a push by hand to where it settles or stops."""

import json
import textwrap
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace

import numpy as np

from calc.calculator import OutOfRangeError
from calc.follow import DrivenMovement
from calc.follow_map import Run, run_swings
from calc.follow_settle import Settled
from circuits import VERSION
from circuits.beats import beat_difference, beat_words
from circuits.catalogue import Catalogue
from circuits.deafness import Hearing, hear, hearing_words
from circuits.design import Design
from circuits.driven import Driven
from circuits.errors import DesignFileError
from circuits.format_quantity import DAY, percent, show
from circuits.pipeline import run as run_stages
from circuits.settling import settle_wide, widest_useful
from circuits.stage_pass import StagePass
from circuits.supply_words import without_cells

CHUNK = 20_000
"""Swings, an even number, after which progress is told."""
ROWS = 12
POINTS = 600
WIDTH = 80

Progress = Callable[[int, float], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Following:
    """One design followed from an arc on; `settled` is where it would come to rest."""

    title: str
    state: str
    arc_from: float
    arc_wanted: float
    width: float
    swings_per_pulse: int
    arc_seen: float
    run: Run
    settled: Settled
    system: DrivenMovement
    hearings: tuple[Hearing, ...] = ()
    cells: bool = True

    @property
    def keeps_going(self) -> bool:
        """Whether the arc was neither lost nor doomed at the end of the run."""
        last = float(self.run.arcs[-1])
        return not self.run.stopped and (
            self.run.wide or (self.settled.held is not None and last > self.arc_dying)
        )

    @property
    def arc_dying(self) -> float:
        """The arc below which it dies away, for want of energy or of a signal."""
        start = self.settled.least_start
        return max(start.arc if start is not None else 0.0, self.arc_seen)


def driven_of(design: Design) -> Driven:
    """Return the design's moving system, sized by the stages."""
    return _driven(run_stages(design, Catalogue(design.part, design.file)))


def _driven(done: StagePass) -> Driven:
    names = ("rails", "coil", "linkage", "movement", "emf", "drive", "clamp", "filter", "passes")
    pulse = done.result("pulse")
    return Driven(
        design=done.design, width=pulse.width, t_on=pulse.t_on, choice=pulse.choice,
        **{name: done.result(name) for name in names},
    )  # fmt: skip


def follow(
    design: Design, *, arc_from: float | None, swings: int, spent: bool, progress: Progress,
    deaf: float | None = None,
) -> Following:  # fmt: skip
    """Follow a design for so many swings, one way each.

    Parameters
    ----------
    design : Design
        The design file.
    arc_from : float, optional
        Arc of the first push [rad]; half the wanted arc if left out.
    swings : int
        How many swings.
    spent : bool
        Spent cells instead of fresh ones.
    progress : callable
        Told now and then how many swings are done, and the arc.
    deaf : float, optional
        The firmware's own deaf time from the start of the pulse [s], to hear what it hears.

    Returns
    -------
    following : Following

    Raises
    ------
    DesignFileError
        If the system cannot be followed with these figures.
    """
    done_stages = run_stages(design, Catalogue(design.part, design.file))
    driven = _driven(done_stages)
    wanted = driven.movement.arc
    start = 0.5 * wanted if arc_from is None else arc_from
    try:
        system = driven.system(spent=spent)
        best = done_stages.result("pulse").best
        found = settle_wide(
            system, wanted=wanted, arc_low=min(wanted, start) / 8, start=start, exact=True,
            width_high=widest_useful(
                pulse_width=system.pulse_width, best=best.width if best else 0.0,
                period=system.period, t_on=driven.t_on,
            ),
            arcs_least=24, widths=18,
        )  # fmt: skip
        settled, high = found.settled, found.arc_high
        parts = [run_swings(movement=system, arc=start, arc_high=high, swings=min(swings, CHUNK))]
        done = len(parts[0].arcs) - 1
        while done < swings and not (parts[-1].stopped or parts[-1].wide):
            arc = float(parts[-1].arcs[-1])
            progress(done, arc)
            more = min(swings - done, CHUNK)
            parts.append(run_swings(movement=system, arc=arc, arc_high=high, swings=more))
            done += len(parts[-1].arcs) - 1
    except OutOfRangeError as error:
        reason, _, repair = str(error).partition(";")
        raise DesignFileError(
            file=design.file,
            section="drive",
            found=f"figures that cannot be followed in time ({reason.strip()})",
            wanted=repair.strip() or "run 'design' first and cure what fails",
        ) from error
    hearings: tuple[Hearing, ...] = ()
    if deaf is not None:
        held = settled.held.arc if settled.held is not None else wanted
        arcs = dict.fromkeys((max(start, 1.02 * _seen(driven)), held))
        hearings = tuple(hear(done_stages, deaf=deaf, arc=arc) for arc in arcs)
    return Following(
        hearings=hearings, title=design.design.title or design.file,
        cells=design.supply.cell is not None,
        state="spent" if spent else "fresh",
        arc_from=start, arc_wanted=wanted, width=driven.width,
        swings_per_pulse=driven.drive.swings_per_pulse,
        arc_seen=_seen(driven),
        run=_joined(parts), settled=settled, system=system,
    )  # fmt: skip


def _seen(driven: Driven) -> float:
    return driven.passes.arc_seen if driven.passes is not None else 0.0


def _joined(parts: list[Run]) -> Run:
    offsets = np.cumsum([0.0] + [float(part.times[-1]) for part in parts[:-1]])
    times = [part.times[1:] + offset for part, offset in zip(parts, offsets, strict=True)]
    arcs = [part.arcs[1:] for part in parts]
    first = parts[0]
    return replace(
        parts[-1],
        times=np.concatenate([first.times[:1], *times]),
        arcs=np.concatenate([first.arcs[:1], *arcs]),
    )


def _picked(run: Run, rows: int) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    """Return rows dense at the start, where the arc moves, and all if there are few."""
    last = len(run.arcs) - 1
    if last < rows:
        return np.arange(last + 1)
    spread = np.concatenate(([0], np.geomspace(1, last, rows)))
    return np.unique(np.rint(spread).astype(np.intp))


def follow_json(found: Following) -> str:
    """Return the result in SI units; what does not apply is absent."""
    rows = _picked(found.run, POINTS)
    content: dict[str, object] = {
        "title": found.title,
        "version": VERSION,
        "state": found.state,
        "arc_from": found.arc_from,
        "arc_wanted": found.arc_wanted,
        "pulse_width": found.width,
        "arc_seen": found.arc_seen,
        "swings": len(found.run.arcs) - 1,
        "keeps_going": found.keeps_going,
        "settled_swings": [
            {name: value for name, value in asdict(swing).items() if np.isfinite(value)}
            for swing in found.settled.swings
        ],
        "time": found.run.times[rows].tolist(),
        "arc": found.run.arcs[rows].tolist(),
    }
    held = found.settled.held
    beats = beat_difference(found.system, held) if held is not None else None
    if beats is not None:
        content["beats"] = {"far": beats.far, "near": beats.near, "swings": beats.swings}
    if found.hearings:
        content["heard"] = [asdict(hearing) for hearing in found.hearings]
    for name in ("width_least", "width_turning"):
        value = getattr(found.settled, name)
        if value is not None:
            content[name] = value
    return json.dumps(content, indent=1, allow_nan=False) + "\n"


def follow_csv(found: Following) -> str:
    """Return arc against time, in seconds and radians."""
    rows = _picked(found.run, POINTS)
    pairs = zip(found.run.times[rows], found.run.arcs[rows], strict=True)
    return "time_s,arc_rad\n" + "".join(f"{time:.6f},{arc:.9g}\n" for time, arc in pairs)


def _moves(rate: float) -> str:
    return f"{'gains' if rate > 0 else 'loses'} {show(abs(DAY * rate), 's/day')}"


def follow_text(found: Following) -> str:
    """Return the result in sentences, and the arc against time."""
    run, settled = found.run, found.settled
    lines = [
        f"{found.title}, followed with {found.state} cells (coilwright {VERSION})", "",
        f"Pushed to {show(found.arc_from, 'rad')}, pulse {show(found.width, 's')}: "
        + _fate(found), "",
        "        time         arc",
    ]  # fmt: skip
    lines += [
        f"{show(float(run.times[k]), 's'):>12}  {show(float(run.arcs[k]), 'rad', 4):>10}"
        for k in _picked(run, ROWS)
    ]
    lines.append("")
    held = settled.held
    if held is not None:
        pulses = 1 if found.swings_per_pulse == 1 else 2
        lines += [
            f"{_where(found)} settles at {show(held.arc, 'rad', 4)}, in "
            f"{show(held.time_constant, 's')} to 1/e (wanted {show(found.arc_wanted, 'rad')}).",
            f"Each pulse takes {show(pulses * held.e_supply, 'J')} and gives "
            f"{show(pulses * held.e_mechanical, 'J')} to the movement, "
            f"{percent(held.e_mechanical / held.e_supply)} of it.",
            f"There it {_moves(held.rate)} against its smallest free swing: "
            f"{_moves(held.circular)} by the arc, {_moves(held.impulse)} by the impulse.",
            f"With a pulse 1 ms wider it {_moves(1e-3 * held.slope)} more once settled, "
            f"{_moves(1e-3 * held.slope_prompt)} more at once.",
        ]
        beats = beat_difference(found.system, held)
        if beats is not None:
            lines.append(beat_words(found.system, beats))
    if found.arc_seen:
        lines.append(
            f"Below {show(found.arc_seen, 'rad')} the firmware does not see the pass and gives no "
            "pulse."
        )
    if found.arc_dying > found.arc_seen:
        lines.append(f"Below {show(found.arc_dying, 'rad')} it dies away.")
    if settled.width_least is not None:
        lines.append(f"Below a width of {show(settled.width_least, 's')} no arc is held.")
    if settled.width_turning is not None:
        lines.append(
            f"Beyond a width of {show(settled.width_turning, 's')} a wider pulse makes it gain."
        )
    told = {hearing.kind: hearing for hearing in found.hearings}
    lines += [hearing_words(hearing) for hearing in told.values()]
    if not found.cells:
        lines = [without_cells(line) for line in lines]
    wrapped = (textwrap.wrap(line, WIDTH, subsequent_indent="  ") or [""] for line in lines)
    return "\n".join(part for parts in wrapped for part in parts) + "\n"


def _where(found: Following) -> str:
    return "Pushed far enough it" if found.run.stopped or not found.keeps_going else "It"


def _fate(found: Following) -> str:
    after = show(float(found.run.times[-1]), "s")
    if found.run.stopped:
        return f"it dies away within {after}."
    if found.run.wide:
        return f"after {after} it swings wider than {show(float(found.run.arcs[-1]), 'rad')}."
    last = show(float(found.run.arcs[-1]), "rad", 4)
    if found.keeps_going:
        return f"it keeps going; after {after} it stands at {last}."
    return f"it is dying away; after {after} it stands at {last}."
