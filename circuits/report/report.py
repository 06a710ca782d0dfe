"""Puts sheet and pictures of one design together as the report."""

from circuits.cells_course import life_course
from circuits.design import Design
from circuits.report import story
from circuits.report.arc_curves import arc_curves
from circuits.report.arc_pictures import arc_map, rate_map
from circuits.report.beat_curves import beat_curves
from circuits.report.beat_pictures import one_beat, three_gaps
from circuits.report.bench_marks import traces
from circuits.report.circuit_picture import circuit
from circuits.report.energy_pictures import drains, pulse_energy
from circuits.report.figure import Picture
from circuits.report.gap_curves import gap_curves
from circuits.report.keeper import keeper_card
from circuits.report.life_pictures import life
from circuits.report.loop_curves import loop_curves
from circuits.report.loop_pictures import budget, loop_step
from circuits.report.page import page
from circuits.report.section_picture import section
from circuits.report.signal_pictures import filter_response, oscilloscope
from circuits.report.templates import templates as true_size
from circuits.report.winding_card import winding_card
from circuits.sheet import Sheet
from circuits.stage_pass import StagePass


def pictures_of(sheet: Sheet, done: StagePass) -> dict[str, list[Picture]]:
    """Return the pictures under the headings of the beat that they belong to."""
    curves, arcs = beat_curves(done), arc_curves(done)
    over_months = [] if arcs is None else [arc_map(arcs), rate_map(arcs)]
    loop = loop_curves(done)
    if loop is not None:
        over_months += [loop_step(loop), budget(loop)]
    course = life_course(done.design, done=done)
    if course is not None:
        over_months.append(life(course))
    points = traces(done.result("drive").kind, sheet.test_points)
    cards = [winding_card(sheet, done, stage) for stage in ("coil", "pickup_coil")]
    return {
        "What feeds it": [circuit(sheet, done)],
        "The coil": [card for card in cards[:1] if card is not None],
        "The pickup coil": [card for card in cards[1:] if card is not None],
        "The magnet over the coil": [section(done)],
        "The magnet passes the coil": [three_gaps(gap_curves(done))],
        "The circuit listens": [filter_response(done)],
        "The switch pushes": [one_beat(curves)],
        "The kick dies away": [oscilloscope(curves, points)],
        "What the beat has cost": [pulse_energy(done), drains(done)],
        "Over the months": [picture for picture in over_months if picture is not None],
    }


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
    pictures = pictures_of(sheet, done)
    parts = [
        ("answers", "Will it go?", story.answers(sheet)),
        ("findings", "What to look at first", story.findings(sheet)),
        ("beat", "The story of one beat", story.beat(sheet, pictures)),
        ("parts", "Parts", story.parts_list(sheet)),
        ("bench", "At the bench", story.bench(sheet)),
        ("assumed", "Assumed, because the design file does not say", story.assumed(sheet)),
        ("cautions", "Cautions", story.cautions(sheet)),
    ]
    if templates:
        parts.append(("templates", "Templates in true size", true_size(sheet, done)))
    if keeper:
        parts.append(("keeper", "For whoever keeps it running", keeper_card(sheet, done)))
    return page(sheet, design.design.note, parts)
