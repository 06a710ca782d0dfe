"""The pictures of one design, under the headings of the beat that they belong to."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from circuits.cells_course import life_course
from circuits.report.arc_curves import arc_curves
from circuits.report.arc_pictures import arc_map, rate_map
from circuits.report.beat_curves import beat_curves
from circuits.report.beat_pictures import one_beat, three_gaps
from circuits.report.bench_marks import traces
from circuits.report.circuit_picture import circuit
from circuits.report.energy_pictures import drains, pulse_energy
from circuits.report.figure import Picture
from circuits.report.gap_curves import gap_curves
from circuits.report.life_pictures import life
from circuits.report.loop_curves import loop_curves
from circuits.report.loop_pictures import budget, loop_step
from circuits.report.section_picture import section
from circuits.report.signal_pictures import filter_response, oscilloscope
from circuits.report.winding_card import winding_card
from circuits.sheet import Sheet
from circuits.stage_pass import StagePass

CIRCUIT, MONTHS = "The circuit", "Over the months"


@dataclass(frozen=True, slots=True, kw_only=True)
class Gallery:
    """Pictures by heading, and in words which of them could not be drawn, and why."""

    pictures: dict[str, list[Picture]]
    missing: tuple[str, ...] = ()

    @property
    def every(self) -> list[Picture]:
        """All pictures in their order."""
        return [picture for group in self.pictures.values() for picture in group]


def gallery(sheet: Sheet, done: StagePass) -> Gallery:
    """Return the pictures of a design."""
    curves = beat_curves(done)
    points = traces(done.result("drive").kind)
    cards = [winding_card(sheet, done, stage) for stage in ("coil", "pickup_coil")]
    months: list[Picture] = []
    missing: list[str] = []
    for what, draw in (("Arcs and rates", _arcs), ("The rate loop", _loop), ("The life", _life)):
        _followed(done, what, draw, months, missing)
    return Gallery(
        pictures={
            CIRCUIT: [circuit(sheet, done)],
            "The coil": _there(cards[:1]),
            "The pickup coil": _there(cards[1:]),
            "The magnet over the coil": [section(done)],
            "The magnet passes the coil": [three_gaps(gap_curves(done))],
            "The circuit listens": [filter_response(done)],
            "The switch pushes": [one_beat(curves)],
            "The kick dies away": [oscilloscope(curves, points)],
            "What the beat has cost": [pulse_energy(done), drains(done)],
            MONTHS: months,
        },
        missing=tuple(missing),
    )


def _there(pictures: Iterable[Picture | None]) -> list[Picture]:
    return [picture for picture in pictures if picture is not None]


def _followed(
    done: StagePass, what: str, draw: Callable[[StagePass], list[Picture | None]],
    months: list[Picture], missing: list[str],
) -> None:  # fmt: skip
    """Draw what follows the movement in time; a design that cannot be followed has the rest."""
    try:
        months += _there(draw(done))
    except (ValueError, ArithmeticError) as error:
        reason = str(error).partition(";")[0].strip().rstrip(".")
        missing.append(f"{what} cannot be drawn: {reason}.")


def _arcs(done: StagePass) -> list[Picture | None]:
    arcs = arc_curves(done)
    return [] if arcs is None else [arc_map(arcs), rate_map(arcs)]


def _loop(done: StagePass) -> list[Picture | None]:
    loop = loop_curves(done)
    return [] if loop is None else [loop_step(loop), budget(loop)]


def _life(done: StagePass) -> list[Picture | None]:
    course = life_course(done.design, done=done)
    return [] if course is None else [life(course)]
