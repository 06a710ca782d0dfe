"""What the two states of the supply are called in the pictures, and whether there are two."""

from dataclasses import dataclass

from circuits.report.ink import FRESH, SPENT, Stroke
from circuits.stage_pass import StagePass
from circuits.stages.rails import Rails


@dataclass(frozen=True, slots=True, kw_only=True)
class States:
    """Names of the two states; `lowest` is empty where the supply knows one state only.

    `at_first` and `at_last` are the same within a sentence.
    """

    first: str
    lowest: str
    at_first: str
    at_last: str

    @property
    def names(self) -> list[tuple[Stroke, str]]:
        """Entries of a legend; none where there is nothing to tell apart."""
        return [(FRESH, self.first), (SPENT, self.lowest)] if self.lowest else []


CELLS = States(
    first="fresh cells", lowest="spent cells", at_first="with fresh cells",
    at_last="with spent ones",
)  # fmt: skip
VOLTAGES = States(
    first="stated voltage", lowest="lowest voltage", at_first="at the stated voltage",
    at_last="at the lowest voltage",
)  # fmt: skip
ONE = States(first="this supply", lowest="", at_first="from this supply", at_last="")


def states_of(done: StagePass) -> States:
    """Return what a design's states of supply are called."""
    if done.design.supply.cell:
        return CELLS
    rails: Rails = done.result("rails")
    same = rails.fresh.v_coil == rails.spent.v_coil and rails.fresh.v_logic == rails.spent.v_logic
    return ONE if same else VOLTAGES
