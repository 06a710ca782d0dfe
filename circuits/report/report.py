"""Puts sheet and pictures of one design together as the report."""

from circuits.design import Design
from circuits.report import story
from circuits.report.gallery import gallery
from circuits.report.keeper import keeper_card
from circuits.report.page import page
from circuits.report.templates import templates as true_size
from circuits.sheet import Sheet
from circuits.stage_pass import StagePass


def report(
    design: Design, sheet: Sheet, done: StagePass, *, templates: bool = False, keeper: bool = False
) -> str:
    """Return the report as HTML.

    Parameters
    ----------
    design : Design
        The design file.
    sheet : Sheet
        Its sheet.
    done : StagePass
        The stages' results, from which the pictures take their curves.
    templates : bool
        Whether to add templates in true size.
    keeper : bool
        Whether to add a card for somebody who only keeps it running.

    Returns
    -------
    html : str
        One page that needs nothing beside itself; the same for the same input.
    """
    drawn = gallery(sheet, done)
    parts = [
        ("answers", "Will it go?", story.answers(sheet)),
        ("findings", "What to look at first", story.findings(sheet)),
        ("beat", "The story of one beat", story.beat(sheet, drawn)),
        ("parts", "Parts", story.parts_list(sheet)),
        ("bench", "At the bench", story.bench(sheet)),
        ("cautions", "Cautions", story.cautions(sheet)),
        ("assumed", "Assumed, because the design file does not say", story.assumed(sheet)),
    ]
    if templates:
        parts.append(("templates", "Templates in true size", true_size(sheet, done)))
    if keeper:
        parts.append(("keeper", "For whoever keeps it running", keeper_card(sheet, done)))
    return page(sheet, design.design.note, parts)
