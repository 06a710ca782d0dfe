"""Everything that the command `cells` tells of one design, entered as values and findings."""

from collections.abc import Callable
from dataclasses import dataclass
from math import isfinite

from circuits.cells_blame import Blame, blame
from circuits.cells_changes import Longer, longer
from circuits.cells_course import LifeCourse, life_course
from circuits.cells_mixed import HALF
from circuits.cells_sentences import (
    say_blame,
    say_drains,
    say_life,
    say_longer,
    say_odd,
    say_swing,
)
from circuits.cells_table import SetRow, sets
from circuits.design import Design
from circuits.format_quantity import DAY
from circuits.ledger import Basis, Ledger, Severity
from circuits.stages.cell_states import told

CAUTIONED = (
    "cells.chemistry", "cells.passivation", "cells.cold", "cells.cutoff", "cells.load",
    "clamp.rest_current",
)  # fmt: skip
"""What the sheet says of the kind of cell and of a steady loss, told again here."""

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class CellsReport:
    """The life of one design's cells and what would change it; no course without cells."""

    title: str
    course: LifeCourse | None
    longer: tuple[Longer, ...]
    sets: tuple[SetRow, ...]
    blame: Blame | None
    ledger: Ledger

    @property
    def fails(self) -> bool:
        """Whether a finding fails."""
        return any(f.severity is Severity.FAILS for f in self.ledger.findings.values())


def _silent(_: str) -> None:
    return


def report(
    design: Design, *, observed: float | None = None, weak: float | None = None,
    steered: bool | None = None, tables: bool = True, progress: Progress = _silent,
) -> CellsReport:  # fmt: skip
    """Return the life of a design's cells.

    Parameters
    ----------
    design : Design
        The design file.
    observed : float, optional
        How long a set of cells lasted [s].
    weak : float, optional
        Charge of the weakest cell over that of the others; half if left out.
    steered : bool, optional
        Whether a rate loop trims the pulse; as the file says if left out.
    tables : bool
        Whether to try changes and other sets of cells, which costs a run of the stages each.
    progress : callable
        Told what is being computed.

    Returns
    -------
    report : CellsReport
    """
    title = design.design.title or design.file
    ledger = Ledger()
    progress("the life of the cells")
    course = life_course(design, steered=steered)
    if course is None:
        ledger.say(
            "cells.none", Severity.GOOD,
            "Fed from a stated voltage, not from cells: there is no life to compute.",
            remedy='State cell = "LR20" and series in [supply] instead of voltage.',
        )  # fmt: skip
        return CellsReport(title=title, course=None, longer=(), sets=(), blame=None, ledger=ledger)
    better = longer(course, design, progress) if tables else ()
    table = sets(course, design, progress) if tables else ()
    found = blame(course, design, observed) if observed is not None else None
    _enter(design, ledger, course)
    say_life(design, ledger, course)
    say_drains(ledger, course)
    if course.swing_unknown is None:
        say_swing(design, ledger, course)
    else:
        ledger.say(
            "cells.swing_unknown", Severity.MIND,
            f"What the cells do to the swing is not known: {course.swing_unknown}. Life and drains "
            "are those of the sheet.",
            remedy="Run 'design' and cure what fails there first.",
        )  # fmt: skip
    if tables:
        say_longer(ledger, better)
    say_odd(design, ledger, course, HALF if weak is None else weak)
    if found is not None:
        say_blame(ledger, course, found)
    for assumed in course.done.ledger.assumed.values():
        if assumed.id.partition(".")[0] in ("cells", "supply", "controller"):
            ledger.assume(assumed.id, assumed.value, assumed.unit, assumed.source)
    for name, finding in course.done.ledger.findings.items():
        if name in CAUTIONED:
            ledger.findings[name] = finding
    return CellsReport(
        title=title, course=course, longer=better, sets=table, blame=found, ledger=ledger
    )


def _enter(design: Design, ledger: Ledger, course: LifeCourse) -> None:
    del design
    low, typ, high = course.times
    rule = f"swing followed at each voltage of the cells; {told(course.limits)}"
    ledger.value(
        "cells.battery_life", typ, "s", words="how long the cells last", basis=Basis.COMPUTED,
        rule=rule, low=low, high=high,
    )  # fmt: skip
    ledger.value(
        "cells.ended_by", course.ended_by, None, words="what ends their life",
        basis=Basis.COMPUTED, rule="the first of all ends",
    )  # fmt: skip
    if course.v_change is not None:
        ledger.value(
            "cells.v_change", course.v_change, "V", words="change the set when it rests at",
            basis=Basis.COMPUTED, rule="voltage at rest with a tenth of the life left",
        )  # fmt: skip
    for end in course.ends:
        if end.typ is not None:
            ledger.value(
                f"cells.end_{end.name}", end.typ, "s", words=f"until: {end.words}",
                basis=Basis.COMPUTED, rule="along the discharge", low=end.low, high=end.high,
            )  # fmt: skip
    for name, values, unit, words in (
        ("width", course.width, "s", "pulse width"), ("arc", course.arc, "rad", "arc that is held"),
        ("rate", DAY * course.rate, "s/day", "rate; negative loses"),
        ("i_mean", course.i_mean, "A", "mean current"),
    ):  # fmt: skip
        for state, k in (("fresh", 0), ("end", course.last)):
            if isfinite(values[k]):
                ledger.value(
                    f"cells.{name}_{state}", float(values[k]), unit, words=words,
                    basis=Basis.COMPUTED, rule=rule, state=state,
                )  # fmt: skip
