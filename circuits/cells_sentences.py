"""What the life of the cells means, in sentences with their figures."""

import numpy as np
from numpy.typing import NDArray

from circuits.catalogue import Catalogue
from circuits.cells_blame import Blame
from circuits.cells_changes import Longer
from circuits.cells_course import LifeCourse
from circuits.cells_mixed import reversed_voltage, stranger, with_odd_cell
from circuits.design import Design
from circuits.format_quantity import DAY, YEAR, percent, show, show_range
from circuits.ledger import Ledger, Severity
from circuits.stages.cell_life import CUT_OFF
from circuits.stages.cell_states import told

SHORT = 0.9
"""Share of the wanted arc below which it is worth saying when it is passed."""
KEPT = 0.05
"""s/day; less than this is the grain of the voltages that were followed."""
STEADY = 0.5
"""s/day; a change of rate with the cells that nobody minds."""


def say_life(design: Design, ledger: Ledger, course: LifeCourse) -> None:
    """Judge the life against the wanted one, and say when to change the cells."""
    wanted = design.supply.wanted_life
    low, typ, high = course.times
    first = course.life.typ.first
    at = f", at {show(first.v_rest, 'V')} at rest" if first.v_rest is not None else ""
    last = "would last" if course.life.typ.never_runs else "last"
    text = (
        f"{course.use.series} x {course.cell.name}"
        + (f", {course.use.parallel} side by side," if course.use.parallel > 1 else "")
        + f" {last} {show(typ, 's', 2)} ({show_range(low, high, 's', 2)}): {told(course.limits)}. "
        f"What ends it: {course.ended_by}{at}."
    )
    already = [end for end in course.ends if end.from_start]
    if already:
        ledger.say(
            "cells.from_start",
            Severity.FAILS if course.life.typ.never_runs else Severity.MIND,
            f"With fresh cells already: {', '.join(end.words for end in already)}. What follows "
            "holds for a circuit in which that is cured.",
            remedy="More cells in series, or what the sheet of 'design' offers.",
        )  # fmt: skip
    ledger.at_least(
        "cells.lasts", typ, YEAR if wanted is None else wanted, "s", text,
        remedy="Take the changes below, or allow for a change of cells in between."
        if typ < (YEAR if wanted is None else wanted) else "",
        soft=wanted is None,
    )  # fmt: skip
    if course.v_change is None:
        ledger.say(
            "cells.change", Severity.MIND,
            "The voltage at rest tells nothing of what is left in these cells.",
            remedy=f"Change them by date, after {show(0.9 * low, 's', 2)}.",
        )  # fmt: skip
        return
    band = course.life.typ.store.band
    ledger.say(
        "cells.change", Severity.GOOD,
        f"Change the set when it rests at {show(course.v_change, 'V')} (known to "
        f"{show(band, 'V')}; fresh {show(float(course.v_rest[0]), 'V')}), a tenth of its life "
        f"before the end; to be safe from poor cells, after {show(0.9 * low, 's', 2)}.",
    )  # fmt: skip


def say_drains(ledger: Ledger, course: LifeCourse) -> None:
    """Say who takes the charge, the largest share first."""
    told_of = [row for row in course.drains if row.share >= 5e-3]
    if not told_of:
        return
    parts = [
        f"{percent(float(f'{row.share:.2g}'))} of the charge goes to {row.words}"
        if k == 0 else f"{percent(float(f'{row.share:.2g}'))} to {row.words}"
        for k, row in enumerate(told_of)
    ]  # fmt: skip
    wasted = told_of[0].name not in ("pulse", "drive", "awake")
    ledger.say(
        "cells.drains", Severity.MIND if wasted else Severity.GOOD, f"{', '.join(parts)}.",
        remedy="Begin there: it moves nothing." if wasted else "",
    )  # fmt: skip


def say_swing(design: Design, ledger: Ledger, course: LifeCourse) -> None:
    """Say what becomes of width, arc and rate, and what a change of cells does."""
    arcs, wanted = course.arc, course.arc_wanted
    known = np.isfinite(arcs)
    if not known.any():
        ledger.say(
            "cells.swing", Severity.MIND, "What arc the cells hold is not known: none settles.",
            remedy="First cure what fails on the sheet of 'design'.",
        )  # fmt: skip
        return
    first, last = float(arcs[known][0]), float(arcs[known][-1])
    # Where they empty all at once, the arc before that is worth knowing too.
    if not course.steered and known.sum() > 1 and last < SHORT * float(arcs[known][-2]):
        last = float(arcs[known][-2])
    short = np.flatnonzero(known & (arcs < SHORT * wanted))
    text = f"The arc goes from {show(first, 'rad')} to {show(last, 'rad')}"
    if not known[0] and not course.life.typ.first.from_start:
        text = (
            "With fresh cells it swings wider than was followed; later the arc goes from "
            f"{show(first, 'rad')} to {show(last, 'rad')}"
        )
    if course.steered:
        text += (
            f" while the loop widens the pulse from {show(float(course.width[0]), 's')} to "
            f"{show(float(course.width[course.last]), 's')}"
        )
    at_end = float(arcs[known][-1])
    if not course.steered and at_end < SHORT * last:
        text += f", and to {show(at_end, 'rad')} as they empty"
    if short.size:
        text += (
            f"; it falls below {percent(SHORT)} of the wanted {show(wanted, 'rad')} after "
            f"{show(float(course.t[int(short[0])]), 's', 2)}"
        )
    ledger.say(
        "cells.swing", Severity.MIND if short.size else Severity.GOOD, f"{text}.",
        remedy="A wider pulse, or a rate loop that widens it." if short.size else "",
    )  # fmt: skip
    _say_rate(design, ledger, course, known)


def _until(course: LifeCourse) -> str:
    """Return up to where the rate is followed."""
    end = course.life.typ.first
    if end.name == CUT_OFF or course.steered:
        return "Until they empty"
    at = f", at {show(end.v_rest, 'V')} at rest," if end.v_rest is not None else ""
    return f"Until what ends their life, {end.words}{at or ','}"


def _say_rate(
    design: Design, ledger: Ledger, course: LifeCourse, known: NDArray[np.bool_]
) -> None:  # fmt: skip
    rates = DAY * course.rate[known]
    if rates.size < 3:
        return
    jump = float(rates[0] - rates[-1])
    when = f" within some {show(3 * course.settling, 's', 2)}" if course.settling else ""
    gains = "gains" if jump > 0 else "loses"
    moved = float(np.ptp(rates))
    text = "The loop keeps the rate over the life of a set."
    if moved >= KEPT:
        text = (
            f"{_until(course)} the rate moves by {show(moved, 's/day')}; a change of cells "
            f"makes it go back{when}: it then {gains} {show(abs(jump), 's/day')} more."
        )
    shift = course.shift_to_spent
    if not course.steered and moved >= KEPT and shift and course.life.typ.first.name != CUT_OFF:
        text += f" From fresh to spent cells it would be {show(abs(DAY * shift), 's/day')}."
    if course.steered and course.rate_before_loop is not None:
        off = DAY * course.rate_before_loop - float(rates[0])
        text += (
            " After a change of cells, until the loop has narrowed the pulse again, it is off by "
            f"{show(abs(off), 's/day')}."
        )
    allowed = design.rate.allowed_error
    much = abs(jump) > (STEADY if allowed is None else allowed)
    ledger.say(
        "cells.rate", Severity.MIND if much else Severity.GOOD, text, value=jump, unit="s/day",
        remedy="Let a rate loop trim the pulse, or feed the coil from a regulated rail; set the "
        "rate some days after a change, not before." if much else "",
    )  # fmt: skip


def say_longer(ledger: Ledger, better: tuple[Longer, ...]) -> None:
    """Say what lengthens the life most."""
    if not better:
        ledger.say(
            "cells.longer", Severity.GOOD, "No single change looked at makes them last longer."
        )
        return
    parts = [f"{one.words}: {show(one.life, 's', 2)}, {one.gain:.2g} times" for one in better]
    ledger.say("cells.longer", Severity.GOOD, f"What lengthens the life most: {'; '.join(parts)}.")


def say_odd(design: Design, ledger: Ledger, course: LifeCourse, weak: float) -> None:
    """Say what one weak, reversed or foreign cell does to its neighbours."""
    series = course.use.series
    if series < 2:
        return
    odd = with_odd_cell(course, weak)
    text = (
        f"One cell with {percent(weak)} of the charge of its neighbours is empty after "
        f"{show(odd.empty_at, 's', 2)}; the set then rests at {show(odd.v_after, 'V')} and goes on "
        f"for {show(odd.backwards, 's', 2)}, driving that cell backwards until it leaks."
    )
    ledger.say(
        "cells.weak", Severity.MIND, text,
        remedy="Measure each cell, not the set; change all together, of one make and age.",
    )  # fmt: skip
    v = reversed_voltage(course)
    left = f"only {show(v, 'V')}" if v > 0.05 else "no voltage at all"
    ledger.say(
        "cells.reversed", Severity.MIND,
        f"With one cell the wrong way round a fresh set gives {left} instead of "
        f"{show(float(course.v_rest[0]), 'V')}, and its neighbours charge that cell: it may vent.",
        remedy="Mind the polarity; measure the set before it is connected.",
    )  # fmt: skip
    other = stranger(course, Catalogue(design.part, design.file))
    if other is None:
        return
    mixed = with_odd_cell(course, other.q_cell / course.cell.q_cell, other)
    if other.q_cell < course.cell.q_cell:
        text = (
            f"One {other.name} among {course.cell.name} cells is empty after "
            f"{show(mixed.empty_at, 's', 2)} and is then driven backwards for "
            f"{show(mixed.backwards, 's', 2)}."
        )
    else:
        text = (
            f"One {other.name} among {course.cell.name} cells holds more than they do: they are "
            "emptied and driven backwards by it."
        )
    ledger.say("cells.mixed", Severity.MIND, text, remedy="Never mix chemistries, makes or ages.")


def say_blame(ledger: Ledger, course: LifeCourse, found: Blame) -> None:
    """Say what could have emptied the cells in the observed time, and what cannot have."""
    low, typ, high = course.times
    seen = show(found.observed, "s", 2)
    needs = show_range(found.i_low, found.i_high, "A", 2)
    if found.expected:
        ledger.say(
            "cells.observed", Severity.GOOD,
            f"{seen} lies within what this design gives ({show_range(low, high, 's', 2)}): no "
            "fault is needed to explain it.",
        )  # fmt: skip
        return
    if found.observed > high:
        ledger.say(
            "cells.observed", Severity.MIND,
            f"{seen} is longer than even good cells give here ({show(high, 's', 2)}): a drain of "
            "the file is smaller than stated, or the pulses are fewer.",
            remedy="Measure the mean current and correct the file.",
        )  # fmt: skip
        return
    text = (
        f"To be empty after {seen} the set must give {needs} on average; the design takes "
        f"{show(found.i_design, 'A', 2)} and would last {show(typ, 's', 2)}."
    )
    if found.explaining:
        named = "; ".join(
            f"{s.words} ({show_range(s.low, s.high, 's', 2)})" for s in found.explaining[:4]
        )
        text += f" What could: {named}."
        cure = found.explaining[0].advice
    else:
        text += " Nothing looked at takes that much by itself."
        cure = (
            f"Look for a path that carries {needs}: a short, a reversed part, wrong wiring; or "
            "cells that were not full. Measure the current before anything else."
        )
    ledger.say("cells.observed", Severity.MIND, text, remedy=cure)
    if found.refusals:
        kept = "; ".join(
            f"{r.words} ({show(r.current, 'A', 2)}: it would take {r.would_take})"
            for r in found.refusals[:4]
        )
        ledger.say("cells.not_to_blame", Severity.GOOD, f"Not to blame: {kept}.")
