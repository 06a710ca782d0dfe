"""Quality factor: measured, stated, or a range that must be measured."""

from dataclasses import dataclass
from math import log, pi, sqrt

from calc.pendulum import period_at_arc
from calc.ringdown import periods_to_fall, q_from_ring_down
from circuits.bearings import BEARINGS, UNKNOWN, QualityRange
from circuits.design import Design, RingDown
from circuits.errors import DesignFileError
from circuits.format_quantity import show, show_range, significant
from circuits.ledger import Basis, Ledger, Severity

FORM = 'ring_down = { from = "4 deg", to = "2 deg", time = "6 min", coil = "open" }'
RECIPE = (
    "Count whole periods (to and fro, two beats) until the arc has halved; the quality factor is "
    "4.53 times that count."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Quality:
    """Low, typical and high quality factor."""

    low: float
    typ: float
    high: float
    known: bool


def find(design: Design, ledger: Ledger, kind: str, period: float, arc: float) -> Quality:
    """Return the quality factor and enter it, with what must be measured if it is a guess."""
    stated = design.movement.quality_factor
    ring_down = design.movement.ring_down
    spread = design.stated_tolerance.get(
        "movement.quality_factor", design.tolerance.quality_factor or 0.0
    )
    if ring_down is not None:
        typ = _from_ring_down(design, ledger, ring_down, kind, period)
        basis, rule = Basis.MEASURED, "ring_down: pi time / (period ln(from/to))"
    elif stated is not None:
        typ, basis, rule = stated, Basis.STATED, "quality_factor of the design file"
    else:
        return _assumed(design, ledger, kind, period, arc)
    quality = Quality(low=typ * (1 - spread), typ=typ, high=typ * (1 + spread), known=True)
    _enter(ledger, quality, basis, rule, spread > 0)
    _check_usual(ledger, kind, typ)
    return quality


def _from_ring_down(
    design: Design, ledger: Ledger, ring_down: RingDown, kind: str, period: float
) -> float:
    start, end, time = ring_down.from_, ring_down.to, ring_down.time
    if start is None or end is None or time is None:
        raise _refused(design, "no full set of from, to and time", f"write {FORM}")
    if kind == "pendulum" and start < pi:
        period = period_at_arc(period=period, arc=sqrt(start * end))
    typ = q_from_ring_down(arc_from=start, arc_to=end, time=time, period=period)
    if typ <= 0.5:
        raise _refused(
            design,
            f"a fall that gives a quality factor of {significant(typ)}",
            "check the time: no swing falls so far within half a period",
        )
    if ring_down.coil is None:
        ledger.assume("movement.ring_down_coil", "open", None, "coil disconnected unless stated")
    elif ring_down.coil == "connected":
        ledger.say(
            "movement.ring_down",
            Severity.MIND,
            "The ring-down was taken with the coil connected, so its loss includes the braking "
            "by divider and clamp at those arcs; do not count that braking again.",
            remedy='Repeat it with the coil disconnected and write coil = "open".',
        )
    return typ


def _refused(design: Design, found: str, wanted: str) -> DesignFileError:
    return DesignFileError(
        file=design.file, section="movement", key="ring_down", found=found, wanted=wanted
    )


def _check_usual(ledger: Ledger, kind: str, typ: float) -> None:
    """Question a factor that no bearing gives: beats taken for periods are the usual cause."""
    usual = UNKNOWN[kind]
    inside = usual.low <= typ <= usual.high
    ledger.say(
        "movement.quality_usual",
        Severity.GOOD if inside else Severity.MIND,
        f"A quality factor of {significant(typ)} is {'usual' if inside else 'unusual'} for a "
        f"{kind}, of which {_span(usual)} are known.",
        remedy="" if inside else f"{RECIPE} Scatter of the periods does not give it.",
    )


def _assumed(design: Design, ledger: Ledger, kind: str, period: float, arc: float) -> Quality:
    bearing = design.movement.bearing
    usual = BEARINGS[bearing] if bearing else UNKNOWN[kind]
    quality = Quality(low=usual.low, typ=usual.typ, high=usual.high, known=False)
    _enter(ledger, quality, Basis.ASSUMED, f"range of {usual.words}", spread=True)
    ledger.assume(
        "movement.quality_factor",
        usual.typ,
        "1",
        f"middle of {_span(usual)}, {usual.words}: {usual.source}",
    )
    few = periods_to_fall(q_factor=usual.low, arc_ratio=0.5)
    many = periods_to_fall(q_factor=usual.high, arc_ratio=0.5)
    ledger.say(
        "movement.quality_factor",
        Severity.MEASURE,
        f"The quality factor is not known: {usual.words} gives {_span(usual)}, and the impulse "
        "that holds the arc goes with it.",
        remedy="Disconnect the coil, let it swing from "
        f"{show(arc, 'rad')} and count whole periods (to and fro, two beats) until the arc has "
        f"halved: {show_range(few, many, '1', 2)} of them, "
        f"{show(few * period, 's', 2)} to {show(many * period, 's', 2)}. Write it as "
        f'ring_down = {{ from = "{show(arc, "rad")}", to = "{show(arc / 2, "rad")}", '
        'time = "...", coil = "open" }.',
        value=usual.typ,
        unit="1",
    )
    return quality


def _enter(ledger: Ledger, quality: Quality, basis: Basis, rule: str, spread: bool) -> None:
    ledger.value(
        "movement.quality_factor",
        quality.typ,
        "1",
        words="quality factor: the arc falls as exp(-pi n / Q) in n whole periods",
        basis=basis,
        rule=rule,
        low=quality.low if spread else None,
        high=quality.high if spread else None,
    )
    halving = quality.typ * log(2) / pi
    ledger.value(
        "movement.periods_to_half",
        halving,
        "1",
        words="whole periods until a free swing has halved",
        basis=Basis.COMPUTED,
        rule="Q ln 2 / pi",
        low=quality.low * log(2) / pi if spread else None,
        high=quality.high * log(2) / pi if spread else None,
    )


def _span(usual: QualityRange) -> str:
    return f"{significant(usual.low)} to {significant(usual.high)}"
