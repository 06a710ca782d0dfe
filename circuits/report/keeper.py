"""The card for somebody who only wants it to run: push to here, which cells, what signs mean."""

from circuits.format_quantity import YEAR, show
from circuits.ledger import Severity
from circuits.report.markup import Markup, tag
from circuits.report.starting import push_of
from circuits.report.typography import printed
from circuits.sheet import Sheet
from circuits.stage_pass import StagePass
from circuits.stages.movement import MovementResult

POOR, EARLY = 0.75, 0.9
"""Shares of the computed life, and of that of poor cells, after which they are better changed."""
LESS = 0.9
"""Share of the arc that spent cells keep, below which the cells are at their end."""


def _figure(sheet: Sheet, name: str) -> float | None:
    entry = sheet.values.get(name)
    return None if entry is None else float(entry.value)


def _start(sheet: Sheet, movement: MovementResult) -> Markup:
    push = push_of(sheet)
    far = show(push.arc * movement.radius, "m", 2)
    settling = _figure(sheet, "rate.settling")
    wait = f" It takes about {show(3 * settling, 's', 2)} to settle at its arc." if settling \
        else ""  # fmt: skip
    least = (
        f"Less than {show(push.least, 'rad', 2)} is not enough: it dies away."
        if push.least
        else "A smaller push does too; it only takes longer."
    )
    return tag(
        "div",
        tag("h3", "To start it"),
        tag("p", printed(f"Push to here: {show(push.arc, 'rad', 2)} to one side, {far} at the "
                         "magnet."), class_="push"),
        tag("p", printed(f"Then let go, without a shove. {least}{wait}")),
    )  # fmt: skip


def _cells(sheet: Sheet) -> Markup:
    cells = next((part for part in sheet.parts if part.reference == "B1"), None)
    if cells is None:
        return tag("div", tag("h3", "Its supply"), tag(
            "p", "It runs from a supply, not from cells: keep that on, and leave its plug to "
            "somebody who knows it."))  # fmt: skip
    life = _figure(sheet, "cells.battery_life")
    entry = sheet.values.get("cells.battery_life")
    when = "when it swings visibly less, or once a year"
    if life is not None and entry is not None:
        low = POOR * life if entry.low is None else EARLY * entry.low
        unit = show(min(low, 10 * YEAR), "s", 2)
        when = f"every {unit}, or sooner when it swings visibly less"
    return tag(
        "div",
        tag("h3", "Cells"),
        tag("p", printed(f"{cells.quantity} \u00d7 {cells.part}. Change them {when}.")),
        tag("p", "All at once, all new, all of one make; mind the signs + and \u2212. Do not "
            "charge them unless they say so, and take them out if it stands still for long."),
    )  # fmt: skip


def _signs(sheet: Sheet) -> Markup:
    cells = any(part.reference == "B1" for part in sheet.parts)
    arc, spent = _figure(sheet, "movement.arc"), _figure(sheet, "rate.arc_settled_spent")
    fresh = _figure(sheet, "rate.arc_settled")
    end = LESS * (spent or arc or 0.0)
    wide = ""
    if cells and fresh is not None and arc is not None and fresh > 1.1 * arc:
        wide = f" With new cells {show(fresh, 'rad', 2)} is as it should be."
    rows = [
        ("It swings less and less", f"Below {show(end, 'rad', 2)} the cells are at their end: "
         "change them." if cells else f"Below {show(end, 'rad', 2)} its supply is too low, or "
         "something rubs."),
        ("It stops after a while", "It was pushed too little, something touches it, or the cells "
         "are flat. Push it again, farther; then change the cells." if cells else "It was pushed "
         "too little, something touches it, or its supply is off. Push it again, farther."),
        ("It swings wider than before", f"Somebody may have moved it nearer to its coil.{wide}"),
        ("The coil is warm, or it never rests", "A fault: take the cells out, or its plug, at "
         "once, and ask who built it."),
        ("\u26a0 on its case", "A strong magnet: keep pacemakers, cards and small children away, "
         "and mind your fingers."),
    ]  # fmt: skip
    if any(part.reference == "D3" for part in sheet.parts):
        rows.insert(
            2,
            (
                "Its lamp is dark",
                "No current: the cells are flat or have no contact."
                if cells
                else "No current: look at the supply and its plug.",
            ),
        )
    return tag(
        "div",
        tag("h3", "What the signs mean"),
        tag("ul", *(
            tag("li", tag("strong", f"{sign}: "), printed(meaning)) for sign, meaning in rows
        )),
    )  # fmt: skip


def keeper_card(sheet: Sheet, done: StagePass) -> Markup:
    """Return the card for somebody who only keeps it running."""
    failing = sum(finding.severity is Severity.FAILS for finding in sheet.findings)
    unfit = None
    if failing:
        unfit = tag("p", "This design still fails: do not hand out this card yet.", class_="push")
    return tag(
        "div", unfit, _start(sheet, done.result("movement")), _cells(sheet), _signs(sheet),
        class_="keeper",
    )  # fmt: skip
