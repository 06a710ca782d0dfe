"""What must be known of a kind of cell before its figures are trusted."""

from circuits.catalogue import Catalogue, Cell
from circuits.design import Design
from circuits.format_quantity import show, show_temperature
from circuits.ledger import Change, Ledger, Severity
from circuits.temperature_span import span_of

FREEZING = 273.15
LOOKALIKES = {"R20": "LR20", "R14": "LR14", "R6": "LR6", "R03": "LR03"}
PASSIVATED = ("thionyl", "socl2")
RECHARGEABLE = ("nickel", "nimh", "ni-mh", "rechargeable", "lithium ion", "li-ion", "lead")


def enter_cautions(
    design: Design,
    catalogue: Catalogue,
    ledger: Ledger,
    cell: Cell,
    *,
    i_mean: float,
    v_cutoff: float,
) -> None:
    """Say what the cell's chemistry, the cold and the load do to its charge."""
    _chemistry(ledger, cell)
    _cold(design, catalogue, ledger, cell)
    _cutoff(ledger, cell, v_cutoff)
    if cell.i_load_max is not None:
        ledger.at_most(
            "cells.load",
            i_mean,
            cell.i_load_max,
            "A",
            f"A cell gives {show(i_mean, 'A')} on average; {show(cell.i_load_max, 'A')} is its "
            "limit without pause.",
            remedy="Put more cells side by side, or take a type for heavier loads.",
            changes=tuple(
                (Change(section="supply", key="parallel", text=str(n)),) for n in (2, 3, 4)
            ),
        )


def _chemistry(ledger: Ledger, cell: Cell) -> None:
    alkaline = LOOKALIKES.get(cell.name)
    chemistry = cell.chemistry.casefold()
    if alkaline is not None:
        ledger.say(
            "cells.chemistry",
            Severity.MIND,
            f"{cell.name} is zinc-carbon, with about a third of the charge of the alkaline "
            f"{alkaline} of the same size and a far shorter shelf life.",
            remedy=f'If alkaline cells are meant, write cell = "{alkaline}".',
            changes=((Change(section="supply", key="cell", text=alkaline),),),
        )
    elif any(word in chemistry for word in RECHARGEABLE):
        ledger.say(
            "cells.chemistry",
            Severity.MIND,
            f"{cell.name} is rechargeable: it loses charge faster on the shelf than a primary "
            "cell, and its voltage hardly falls before it is empty.",
            remedy="Trust the cut-off only with a protection against deep discharge.",
        )
    if any(word in chemistry for word in PASSIVATED):
        ledger.say(
            "cells.passivation",
            Severity.MIND,
            f"Under a small load {cell.name} hides behind a film of its own: after weeks the first "
            "pulses sag, and the dip at the pulse that stands here leaves that out.",
            remedy="A reservoir that gives the whole pulse; look at the rail after a month.",
        )


def _cutoff(ledger: Ledger, cell: Cell, v_cutoff: float) -> None:
    if len(cell.v_open) > 1 or v_cutoff <= cell.cutoff_typ:
        return
    ledger.say(
        "cells.cutoff",
        Severity.MIND,
        f"The circuit stops at {show(v_cutoff, 'V')} a cell, above the {show(cell.cutoff_typ, 'V')}"
        f" to which the charge of {cell.name} was tested; what is left then is only guessed, by a "
        "straight line.",
        remedy="State v_open of the cell against its depth of discharge, or measure one set.",
    )


def _cold(design: Design, catalogue: Catalogue, ledger: Ledger, cell: Cell) -> None:
    span = span_of(design)
    coldest = span[0] if span else design.design.temperature
    if coldest is None:
        return
    if cell.t_min is not None and coldest < cell.t_min:
        ledger.say(
            "cells.cold",
            Severity.FAILS,
            f"{cell.name} is made for {show_temperature(cell.t_min)} and warmer; the file says "
            f"{show_temperature(coldest)}.",
            remedy="Take lithium cells, or keep the cells indoors.",
            changes=tuple(
                (Change(section="supply", key="cell", text=other.name),)
                for other in catalogue.cells()
                if other.v_nominal == cell.v_nominal
                and other.t_min is not None
                and other.t_min <= coldest
            )[:4],
        )
    elif coldest < FREEZING:
        ledger.say(
            "cells.cold",
            Severity.MIND,
            f"At {show_temperature(coldest)} the cells give less than the charge used here, which "
            "holds at 20 degC; an alkaline cell has 65 to 80 % of it at 0 degC.",
            remedy="Take lithium cells, or keep the cells indoors.",
        )
