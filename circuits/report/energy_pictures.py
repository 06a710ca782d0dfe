"""Where the energy of a pulse goes, and what empties the cells."""

from dataclasses import dataclass
from textwrap import wrap

from circuits.format_quantity import percent, show
from circuits.report.beat_pictures import hatch
from circuits.report.chart import SMALL, WIDTH
from circuits.report.figure import Picture
from circuits.report.ink import LIGHT, Stroke, box, segment, words, words_width
from circuits.report.markup import Markup, tag
from circuits.report.states import States, states_of
from circuits.report.typography import printed
from circuits.stage_pass import StagePass
from circuits.stages.pulse import PulseResult
from circuits.stages.pulse_sheet import AT_WANTED
from circuits.stages.running import RunningResult

TOP, ROW = 36.0, 38.0
NAMES = 232.0
EDGE = Stroke(colour="soft", width=1.0)
SMALLEST = 2e-4
"""Share of the largest bar below which a row says nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One row: its name and what it takes with fresh and with spent cells."""

    name: str
    fresh: float
    spent: float


def _bars(bars: list[Bar], unit: str, name: str, states: States) -> Markup:
    """Return rows of one bar or two, the first solid and the second hatched."""
    largest = max(max(bar.fresh, bar.spent) for bar in bars) or 1.0
    room = WIDTH - NAMES - 150
    pieces: list[Markup] = [tag("defs", hatch(f"{name}-spent", LIGHT["two"]))]
    for number, bar in enumerate(bars):
        y = TOP + number * ROW
        lines = _broken(bar.name)
        for row, line in enumerate(lines):
            height = y + 20 + 15 * (row - (len(lines) - 1) / 2)
            pieces.append(words(NAMES - 10, height, line, anchor="end"))
        first = 4.0 if states.lowest else 10.0
        for offset, value, spent in ((first, bar.fresh, False), (19.0, bar.spent, True)):
            if spent and not states.lowest:
                continue
            length = max(value, 0.0) / largest * room
            if spent:
                pieces.append(
                    box(NAMES, y + offset, length, 12, "two", pattern=f"{name}-spent", edge="two")
                )
            else:
                pieces.append(box(NAMES, y + offset, length, 12, "one"))
            pieces.append(
                words(NAMES + length + 7, y + offset + 10.5, printed(show(value, unit)),
                      size=SMALL, colour="ink" if not spent else "soft")
            )  # fmt: skip
    end = TOP + len(bars) * ROW
    pieces.append(segment(NAMES, TOP - 2, NAMES, end, EDGE))
    return Markup("".join(pieces))


def _broken(name: str) -> list[str]:
    """Return a name in as many lines as its column needs."""
    return wrap(name, int((NAMES - 14) / words_width("x")), break_long_words=True)


def _key(name: str, states: States) -> Markup:
    fresh, spent = states.first, states.lowest
    if not spent:
        return Markup("")
    second = NAMES + 22 + words_width(fresh, SMALL) + 20
    return Markup(
        box(NAMES, 10, 16, 11, "one") + words(NAMES + 22, 20, fresh, size=SMALL)
        + box(second, 10, 16, 11, "two", pattern=f"{name}-spent", edge="two")
        + words(second + 22, 20, spent, size=SMALL)
    )  # fmt: skip


def pulse_energy(done: StagePass) -> Picture:
    """Return where the energy of one pulse goes."""
    pulse: PulseResult = done.result("pulse")
    states = states_of(done)
    fresh, spent = pulse.fresh, pulse.spent
    every = (
        ("the movement", "e_mechanical"), ("the coil's copper", "e_copper"),
        ("the supply's own resistance", "e_source"), ("the switch", "e_switch"),
        ("the clamp", "e_clamp"), ("base or gate, from the pin", "e_base"),
    )  # fmt: skip
    bars = [
        Bar(name=name, fresh=float(getattr(fresh, key)), spent=float(getattr(spent, key)))
        for name, key in every
    ]
    largest = max(max(bar.fresh, bar.spent) for bar in bars)
    bars = [bar for bar in bars if max(bar.fresh, bar.spent) > SMALLEST * largest]
    listed = ", ".join(f"{bar.name} {show(bar.fresh, 'J')}" for bar in bars)
    shares = (one.e_mechanical / one.e_supply for one in (fresh, spent))
    first, last = (percent(share) for share in shares)
    second = f"; of {show(spent.e_supply, 'J')} {states.at_last}, {last}" if states.lowest else ""
    return Picture(
        name="pulse-energy", title="Where the energy of a pulse goes", width=WIDTH,
        height=46 + len(bars) * ROW,
        drawing=Markup(_bars(bars, "J", "pulse-energy", states) + _key("pulse-energy", states)),
        alternative=f"Bars of energies. {states.at_first.capitalize()}: {listed}.",
        caption=printed(
            f"Of {show(fresh.e_supply, 'J')} that the coil's branch takes in each pulse "
            f"{AT_WANTED} {states.at_first}, {first} moves the movement"
            + f"{second}. The rest becomes heat."
        ),
    )  # fmt: skip


def drains(done: StagePass) -> Picture:
    """Return what empties the cells, the largest first."""
    running: RunningResult = done.result("running")
    states = states_of(done)
    bars = [Bar(name=d.words, fresh=d.i_fresh, spent=d.i_spent) for d in running.drains]
    largest = max(max(bar.fresh, bar.spent) for bar in bars)
    bars = [bar for bar in bars if max(bar.fresh, bar.spent) > SMALLEST * largest]
    listed = ", ".join(f"{bar.name} {show(bar.fresh, 'A')}" for bar in bars)
    share = bars[0].fresh / running.i_mean
    return Picture(
        name="drains", title="What the current is used for", width=WIDTH,
        height=46 + len(bars) * ROW,
        drawing=Markup(_bars(bars, "A", "drains", states) + _key("drains", states)),
        alternative=f"Bars of mean currents. {states.at_first.capitalize()}: {listed}.",
        caption=printed(
            f"Averaged over time {show(running.i_mean, 'A')} flow {states.at_first} "
            f"{running.at_fresh}"
            + (f" and {show(running.i_mean_spent, 'A')} {states.at_last} {running.at_spent}"
               if states.lowest else "")
            + f"; {percent(share)}{' of the first' if states.lowest else ''} is {bars[0].name}."
        ),
    )  # fmt: skip
