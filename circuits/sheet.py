"""The sheet that every face shows: four lines, findings, figures, assumptions, parts."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, TypeVar

from circuits import VERSION
from circuits.ledger import (
    Assumed,
    Change,
    Finding,
    Ledger,
    Part,
    Severity,
    TestPoint,
    Value,
)

START = "Does it start?"
RUN = "Does it run?"
LAST = "Does it last?"
KEEP_TIME = "Does it keep time?"

QUESTIONS = {
    START: ("linkage", "emf", "pickup", "supply"),
    RUN: ("coil", "pickup_coil", "movement", "drive", "clamp", "pulse", "design"),
    LAST: ("cells", "energy"),
    KEEP_TIME: ("filter", "timing", "rate", "steering", "log_output"),
}
"""The stages whose findings answer each question."""

EXCEPTIONS = {
    "movement.reach": START,
    "filter.peak_kept": START,
    "filter.threshold": START,
    "filter.sample": START,
    "pulse.dead_centre": START,
    "pulse.wrong_way": START,
    "supply.brown_out_spent": RUN,
    "supply.false_signal": RUN,
    "timing.deaf": RUN,
    "timing.kick": RUN,
    "energy.balance": RUN,
    "supply.brown_out_ends": LAST,
    "rate.settles": RUN,
    "rate.braking": RUN,
    "rate.start": START,
}
"""Findings that answer another question than the rest of their stage."""

NOT_JUDGED = "rate.open"
"""The finding that says that nobody asked: its question stays open."""

NO_CELLS = "cells.none"
"""The finding that says that there is no cell: its question is none, unless something fails."""

KEY_FIGURES = {
    "coil": "n_turns d_wire outer_diameter wire_length spool_mass r_coil l_coil fill_factor",
    "pickup_coil": "n_turns d_wire r_coil l_coil",
    "linkage": "on_axis slope_peak x_peak lobes gap_share",
    "movement": "period arc speed quality_factor circular_error loss_per_swing",
    "emf": "emf_peak peak_spacing",
    "pickup": "arrangement r_upper r_lower v_bias r_source i_drain threshold",
    "filter": "r c f_c mains_gain delay delay_travel peak_kept",
    "drive": "transistor r_b r_b_min r_b_max r_g beta_forced i_pin p_stuck pulse_width pulse_delay"
    " pulse_from_centre pulse_from_centre_travel i_coil v_switch",
    "clamp": "kind diode zener resistor v_switch_peak t_decay t_zero e_clamp",
    "timing": "jitter deaf_until",
    "energy": "e_pulse e_base e_copper e_switch e_clamp e_mechanical q_pulse i_mean"
    " e_pulse_settled e_mechanical_settled i_mean_settled",
    "supply": "v_coil v_dip",
    "indicator": "r",
    "rate": "temperature nut_turns nut_direction arc_settled rate slope slope_prompt width_least"
    " width_turning",
    "steering": "kp ki time_constant authority needed width_min width_max set_rate nut_turns"
    " phase_margin",
    "log_output": "r c ripple settling bits scale",
    "cells": "battery_life ended_by v_change",
}
"""The figures that a first reading needs; the others are shown on request."""

WORST_FIRST = (Severity.FAILS, Severity.MEASURE, Severity.TIGHT, Severity.MIND, Severity.GOOD)

CAUTIONS = (
    "Strong magnets pinch, are dangerous when swallowed, disturb implants and wipe cards.",
    "Do not mix cells, do not charge primary cells, mind their polarity.",
    "A coil without its clamp kicks to hundreds of volts; a pulse that sticks on heats it.",
    "Solder and enamel fumes: air the room.",
    "A design aid, not a certified safety calculation: check the makers' data sheets and your "
    "local rules, and leave mains-powered or public installations to licensed people.",
)

T = TypeVar("T", Value, Finding, Assumed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cure:
    """A change of the design file after which a finding no longer fails."""

    finding: str
    changes: tuple[Change, ...]
    clean: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One of the four lines: the answer, what it hangs on, what is unknown or worth minding."""

    question: str
    severity: Severity
    weakest: Finding | None
    unknown: Finding | None = None
    mind: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Everything that is known of one design, in the order in which it is read."""

    title: str
    version: str
    answers: tuple[Answer, ...]
    measure_next: str
    findings: tuple[Finding, ...]
    values: Mapping[str, Value]
    assumed: tuple[Assumed, ...]
    parts: tuple[Part, ...]
    test_points: tuple[TestPoint, ...]
    cautions: tuple[str, ...] = CAUTIONS
    cures: Mapping[str, Cure] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def fails(self) -> bool:
        """Whether any finding fails."""
        return any(finding.severity is Severity.FAILS for finding in self.findings)


def is_key_figure(value_id: str) -> bool:
    """Whether a first reading needs this figure."""
    stage, _, symbol = value_id.partition(".")
    for state in ("_fresh", "_spent"):
        symbol = symbol.removesuffix(state)
    return symbol in KEY_FIGURES.get(stage, "").split()


def question_of(finding_id: str) -> str:
    """Return which of the four questions a finding answers."""
    if finding_id in EXCEPTIONS:
        return EXCEPTIONS[finding_id]
    stage = finding_id.partition(".")[0]
    return next((question for question, stages in QUESTIONS.items() if stage in stages), RUN)


def _margin(finding: Finding) -> float:
    return math.inf if finding.margin is None else finding.margin


def _weakness(finding: Finding) -> tuple[int, float]:
    """Order findings: the worst severity first, within it the least margin."""
    return WORST_FIRST.index(finding.severity), _margin(finding)


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings with the worst first; equals stay in the order of the stages."""
    return tuple(sorted(findings, key=_weakness))


def answer(question: str, findings: Iterable[Finding]) -> Answer:
    """Answer one question from the findings that belong to it.

    The weakest link is what fails or is tight, so that it bears out the answer's word; otherwise
    the least margin. What must be measured leaves the answer open unless something fails anyway.
    """
    own = worst_first(f for f in findings if question_of(f.id) == question)
    is_open = {f.id: f.severity is Severity.MEASURE or f.id == NOT_JUDGED for f in own}
    known = [f for f in own if not is_open[f.id]]
    unknown = next((f for f in own if is_open[f.id]), None)
    no_cells = next((f for f in known if f.id == NO_CELLS), None)
    pressing = [f for f in known if f.severity in (Severity.FAILS, Severity.TIGHT)]
    weakest = pressing[0] if pressing else no_cells or min(known, key=_margin, default=None)
    if weakest is not None and weakest.severity is Severity.FAILS:
        severity = Severity.FAILS
    elif unknown is not None or not known:
        severity = Severity.MEASURE
    else:
        severity = known[0].severity
    mind = tuple(f for f in known if f.severity is Severity.MIND and f is not weakest)
    return Answer(question=question, severity=severity, weakest=weakest, unknown=unknown, mind=mind)


def _next_measurement(findings: Iterable[Finding], test_points: Iterable[TestPoint]) -> str:
    """Return what to measure next: what no figure can replace, else the first bench check."""
    for finding in findings:
        if finding.severity is Severity.MEASURE:
            return finding.remedy or finding.text
    for point in test_points:
        return f"{point.point}, {point.condition}, with {point.instrument}: {point.expected}"
    return "nothing is left to measure before building."


def _plain(entry: T) -> T:
    """Return an entry whose numbers are plain and finite; a stage that enters others is wrong."""
    changed: dict[str, Any] = {}
    for name in ("value", "limit", "margin", "low", "high"):
        number = getattr(entry, name, None)
        if number is None or isinstance(number, str):
            continue
        plain = number.item() if hasattr(number, "item") else number
        if not math.isfinite(plain):
            raise ValueError(f"sheet: {entry.id} has {name} = {plain}")
        if plain is not number:
            changed[name] = plain
    return replace(entry, **changed) if changed else entry


def compose(
    title: str, ledger: Ledger, findings: Iterable[Finding], cures: Iterable[Cure] = ()
) -> Sheet:
    """Put the sheet together from what the stages entered and the remedies that were tried.

    Parameters
    ----------
    title : str
        The design's title.
    ledger : Ledger
        What the stages entered.
    findings : iterable of Finding
        Its findings, their remedies completed.
    cures : iterable of Cure
        The changes that cure a failing finding.

    Returns
    -------
    sheet : Sheet
    """
    ordered = worst_first(_plain(finding) for finding in findings)
    return Sheet(
        title=title,
        version=VERSION,
        answers=tuple(answer(question, ordered) for question in QUESTIONS),
        measure_next=_next_measurement(ordered, ledger.test_points),
        findings=ordered,
        values=MappingProxyType({value.id: _plain(value) for value in ledger.values.values()}),
        assumed=tuple(_plain(entry) for entry in ledger.assumed.values()),
        parts=tuple(ledger.parts),
        test_points=tuple(ledger.test_points),
        cures=MappingProxyType({cure.finding: cure for cure in cures}),
    )
