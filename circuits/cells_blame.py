"""What could have emptied the cells in the time that was observed, and what cannot have."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from math import inf, log

import numpy as np

from circuits.catalogue import Catalogue
from circuits.cells_course import LifeCourse
from circuits.design import Design
from circuits.format_quantity import show, significant
from circuits.stages.cell_life import Life, life_of, stores_of
from circuits.stages.cell_states import SupplyState
from circuits.stages.energy import ACTIVE

BACK_POWERED = 300e-6
"""A; an unpowered part fed through its own pins (public threads on idle drain)."""
LEAKY = 0.01
"""Leakage of an electrolytic capacitor over its charge, two minutes after, from memory [1/s]."""
FORGOTTEN = (1e-3, 10e-3)
"""A; a light-emitting diode or a module's own regulator that nobody counted."""
USED = 0.15
"""Share of the charge that a cell from the drawer may still hold."""
SOME = 3.0
"""A drain that must be so many times itself to explain what was seen is not blamed."""
ALONE = {
    "pulse": "a pulse that comes {times} times as often or is as much longer",
    "divider": "divider resistors {times} times smaller than in the file",
    "drive": "a base resistor {times} times smaller than in the file",
    "awake": "a controller awake {times} times as long",
    "asleep": "a controller that takes {times} times as much asleep",
    "regulator": "a regulator that takes {times} times as much by itself",
    "indicator": "an indicator {times} times as bright",
    "leakage": "a switch that leaks {times} times its limit",
    "clamp": "a clamp resistor {times} times smaller than in the file",
    "zener": "a zener that lets {times} times as much through",
}
SLIPS = {"divider": "divider resistors", "drive": "a base resistor"}
"""Drains that a resistor of the wrong decade makes ten times as large."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """One explanation: the life it would give, and whether the observed one lies within."""

    name: str
    words: str
    low: float
    typ: float
    high: float
    explains: bool
    advice: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """A drain of the design that is not blamed: how many times itself it would have to be."""

    name: str
    words: str
    current: float
    times: float
    would_take: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Blame:
    """An observed life, the mean current it needs, who could have drawn it and who cannot."""

    observed: float
    expected: bool
    i_low: float
    i_high: float
    i_design: float
    suspects: tuple[Suspect, ...]
    refusals: tuple[Refusal, ...]

    @property
    def explaining(self) -> tuple[Suspect, ...]:
        """The suspects that explain it, the nearest first."""
        return tuple(suspect for suspect in self.suspects if suspect.explains)


def _more(states: tuple[SupplyState, ...], extra: Mapping[float, float]) -> tuple[SupplyState, ...]:
    return tuple(
        replace(state, drains={**state.drains, "more": extra[state.v]}) for state in states
    )


def _with(course: LifeCourse, states: tuple[SupplyState, ...], share: float = 1.0) -> Life:
    stores = stores_of(course.cell, course.use)
    low, typ, high = (replace(store, charge=share * store.charge) for store in stores)
    with np.errstate(all="ignore"):
        return life_of((low, typ, high), states, course.limits, course.result.spread)


def _times(low: Life, high: Life) -> tuple[float, float, float]:
    typ = (low.typ.life * high.typ.life) ** 0.5
    return min(low.low.life, low.typ.life), typ, max(high.high.life, high.typ.life)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fault:
    name: str
    words: str
    least: Mapping[float, float]
    most: Mapping[float, float]
    advice: str
    share: float = 1.0


def _faults(course: LifeCourse, design: Design) -> Iterator[_Fault]:
    states, limits = course.states, course.limits
    coil = course.done.result("coil")
    drive = course.done.result("drive")

    def each(current: float) -> dict[float, float]:
        return {state.v: current for state in states}

    def stuck(r_coil: float) -> dict[float, float]:
        return {s.v: limits.coil(s.v) / r_coil + drive.fresh.i_pin for s in states}

    yield _Fault(
        name="stuck", words="the switch on without pause: pin stuck high or switch shorted",
        least=stuck(coil.r_coil_high), most=stuck(coil.r_coil_low),
        advice="The coil is then warm; measure the switch node: near 0 V all the time.",
    )  # fmt: skip
    pulses = {s.v: s.drains.get("pulse", 0.0) + s.drains.get("drive", 0.0) for s in states}
    yield _Fault(
        name="double", words="pulses on noise as well: twice to ten times as many",
        least=pulses, most={v: 9 * i for v, i in pulses.items()},
        advice="Count the pulses at the base or gate over a minute.",
    )  # fmt: skip
    active = design.controller.active_current or ACTIVE
    yield _Fault(
        name="awake", words=f"a controller that never sleeps, {show(active, 'A')}",
        least=each(0.8 * active), most=each(1.2 * active),
        advice="Measure the supply current between two pulses.",
    )  # fmt: skip
    yield _Fault(
        name="forgotten",
        words="a light-emitting diode or a module's regulator that is not in the file, "
        "1 to 10 mA", least=each(FORGOTTEN[0]), most=each(FORGOTTEN[1]),
        advice="Measure the supply current between two pulses, then pull one part after the other.",
    )  # fmt: skip
    yield _Fault(
        name="back_powered",
        words="an unpowered part fed through its pins, such as a USB bridge, 0.1 to 1 mA",
        least=each(BACK_POWERED / 3), most=each(BACK_POWERED * 3),
        advice="Disconnect it and measure again.",
    )  # fmt: skip
    if design.supply.reservoir:
        charge = {s.v: LEAKY * design.supply.reservoir * s.v for s in states}
        yield _Fault(
            name="reservoir", words="a leaking reservoir capacitor",
            least={v: 0.1 * i for v, i in charge.items()},
            most={v: 3 * i for v, i in charge.items()},
            advice="Take it out and measure the supply current.",
        )  # fmt: skip
    for name, words in SLIPS.items():
        own = {s.v: s.drains.get(name, 0.0) for s in states}
        if any(own.values()):
            yield _Fault(
                name=f"{name}_slip", words=f"{words} a tenth of what the file says",
                least={v: 4 * i for v, i in own.items()},
                most={v: 14 * i for v, i in own.items()},
                advice="Read the colour code or measure them, out of the circuit.",
            )  # fmt: skip
    none = each(0.0)
    yield _Fault(
        name="used", words="used cells, with a twentieth to half of their charge left",
        least=none, most=none, advice="Measure each cell at rest before it goes in.", share=USED,
    )  # fmt: skip


def _suspect(course: LifeCourse, fault: _Fault, observed: float) -> Suspect:
    many = _with(course, _more(course.states, fault.most))
    few = _with(course, _more(course.states, fault.least))
    low, typ, high = _times(many, few)
    if fault.share < 1:
        low = _with(course, course.states, 0.05).low.life
        typ = _with(course, course.states, fault.share).typ.life
        high = _with(course, course.states, 0.5).high.life
    return Suspect(
        name=fault.name, words=fault.words, low=low, typ=typ, high=high,
        explains=low <= observed <= high, advice=fault.advice,
    )  # fmt: skip


def _zinc(course: LifeCourse, catalogue: Catalogue, observed: float) -> Suspect | None:
    poorer = [
        c for c in catalogue.cells()
        if c.size == course.cell.size and c.q_cell < 0.6 * course.cell.q_cell
        and 0.9 < c.v_nominal / course.cell.v_nominal < 1.1
    ]  # fmt: skip
    if not poorer:
        return None
    cell = min(poorer, key=lambda c: c.q_cell)
    with np.errstate(all="ignore"):
        life = life_of(
            stores_of(cell, course.use), course.states, course.limits, course.result.spread
        )
    low, high = sorted((life.low.life, life.high.life))
    return Suspect(
        name="chemistry", words=f"{cell.name} in place of {course.cell.name}", low=low,
        typ=life.typ.life, high=high, explains=low <= observed <= high,
        advice="Read the designation on the cells.",
    )  # fmt: skip


def blame(course: LifeCourse, design: Design, observed: float) -> Blame:
    """Rank what could have emptied the cells in the observed time.

    Parameters
    ----------
    course : LifeCourse
        The design as it should run.
    design : Design
        The design file.
    observed : float
        How long the cells lasted [s].

    Returns
    -------
    blame : Blame
        Suspects with the life each would give, and the drains that are not blamed.
    """
    catalogue = Catalogue(design.part, design.file)
    low, typ, high = course.times
    expected = low <= observed <= high
    found = [_suspect(course, fault, observed) for fault in _faults(course, design)]
    zinc = _zinc(course, catalogue, observed)
    if zinc is not None:
        found.append(zinc)

    def far(suspect: Suspect) -> float:
        return abs(log(max(suspect.typ, 1e-3) / observed))

    found.sort(key=lambda suspect: (not suspect.explains, far(suspect)))
    poor, good = course.life.low, course.life.high
    i_low = poor.charge_given / observed
    i_high = good.charge_given / observed
    taken = course.life.typ.charges()
    taken.pop("self_discharge", None)
    i_design = sum(taken.values()) / max(typ, 1e-9)
    missing = max(course.life.typ.charge_given / observed - i_design, 0.0)
    refusals: list[Refusal] = []
    for row in course.drains:
        mean = row.charge / max(typ, 1e-9)
        if row.name not in ALONE or mean <= 0:
            continue
        times = 1 + missing / mean if mean else inf
        if times > SOME and not expected:
            refusals.append(
                Refusal(
                    name=row.name, words=row.words, current=mean, times=times,
                    would_take=ALONE[row.name].format(times=significant(times, 2)),
                )
            )  # fmt: skip
    return Blame(
        observed=observed, expected=expected, i_low=i_low, i_high=i_high, i_design=i_design,
        suspects=tuple(found), refusals=tuple(refusals),
    )  # fmt: skip
