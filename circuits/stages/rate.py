"""Rate: what the arc, the nut and the temperature do to the time."""

from dataclasses import dataclass
from math import radians

from calc.disturbance import support_rate
from calc.pendulum import circular_error, circular_slope
from calc.rate import length_change, nut_turns, rate_against_target, temperature_rate
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.format_quantity import DAY, percent, show, significant
from circuits.ledger import Basis, Ledger, Severity
from circuits.stages import reference_clock
from circuits.stages.movement import MovementResult
from circuits.stages.rate_cautions import enter_cautions
from circuits.temperature_span import span_of

REGULATED = 0.5 / DAY
"""Half a second a day: as near as a rating nut is set without a timing machine."""

STEADY = 0.1
"""An arc may be expected to keep within a tenth of itself, and not within much less."""

ROD_KINDS = (
    "steel 11.5e-6, brass 19e-6, wood along the grain 3e-6 to 6e-6, Invar 0.8e-6 to 1.6e-6 per K"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RateResult:
    """Rates as ratios, positive gains.

    `temperature` is the change from the coldest to the warmest, `reference` the error of the
    crystal that the movement is judged by.
    """

    circular: float
    regulation: float | None
    temperature: float | None = None
    reference: float | None = None


def size(
    design: Design,
    catalogue: Catalogue,  # noqa: ARG001 - every stage is called alike
    ledger: Ledger,
    movement: MovementResult,
) -> RateResult:
    """Return the parts of the rate that no steering is needed for."""
    circular = 0.0
    if movement.kind == "pendulum":
        circular = _circular(design, ledger, movement)
    temperature = _temperature(design, ledger, movement)
    result = RateResult(
        circular=circular,
        regulation=_regulation(design, ledger, movement, circular, temperature),
        temperature=temperature,
        reference=reference_clock.judge(design, ledger),
    )
    if design.movement.support_stiffness is not None and movement.effective_length is not None:
        _support(design, ledger, movement, movement.effective_length)
    enter_cautions(design, ledger, movement)
    return result


def _moves(rate: float) -> str:
    return f"{'gains' if rate > 0 else 'loses'} {show(abs(DAY * rate), 's/day')}"


def _judge(
    design: Design,
    ledger: Ledger,
    id: str,
    rate: float,
    *,
    text: str,
    remedy: str,
    small: float = 1 / DAY,
) -> None:
    """Hold a rate to the allowed error; without one, say whether it is small."""
    allowed = design.rate.allowed_error
    if allowed is not None:
        ledger.at_most(id, abs(DAY * rate), allowed, "s/day", text, remedy=remedy, soft=True)
        return
    good = abs(rate) <= small
    ledger.say(
        id, Severity.GOOD if good else Severity.MIND, text,
        remedy="" if good else remedy, value=DAY * rate, unit="s/day",
    )  # fmt: skip


def _circular(design: Design, ledger: Ledger, movement: MovementResult) -> float:
    rate = circular_error(arc=movement.arc)
    slope = circular_slope(arc=movement.arc)
    ledger.value(
        "rate.circular", DAY * rate, "s/day",
        words="circular error at the wanted arc; negative loses",
        basis=Basis.COMPUTED, rule="agm(1, cos(arc/2)) - 1",
    )  # fmt: skip
    ledger.value(
        "rate.circular_slope", DAY * slope, "s/day/rad",
        words="change of the rate with the arc, gravity alone",
        basis=Basis.COMPUTED, rule="derivative of the circular error",
    )  # fmt: skip
    allowed = design.rate.allowed_error
    if allowed:
        slack = allowed / (DAY * abs(slope))
        good = slack >= STEADY * movement.arc
        ledger.say(
            "rate.arc",
            Severity.GOOD if good else Severity.MIND,
            f"One degree more arc loses {show(-DAY * slope * radians(1), 's/day')}, so to stay "
            f"within {show(allowed, 's/day')} the arc must hold within {show(slack, 'rad', 2)}, "
            f"{percent(slack / movement.arc)} of it.",
            remedy="" if good else "Choose a smaller arc, or let the steering see the rate.",
            value=slack,
            unit="rad",
        )
    return rate


def _regulation(
    design: Design,
    ledger: Ledger,
    movement: MovementResult,
    circular: float,
    temperature: float | None,
) -> float | None:
    target = design.movement.target_period
    if target is None:
        return None
    kept = movement.period_at_arc
    rate = rate_against_target(period=kept, target_period=target)
    own = rate_against_target(period=movement.period, target_period=target)
    ledger.value(
        "rate.regulation", DAY * rate, "s/day",
        words="rate against the target period at the wanted arc; negative loses",
        basis=Basis.COMPUTED, rule="target_period / period at the arc - 1",
    )  # fmt: skip
    text = f"At {show(movement.arc, 'rad')} it keeps {show(kept, 's', 6)} against "
    text += f"{show(target, 's', 6)} and {_moves(rate)}"
    if movement.effective_length is None:
        remedy = "Shorten or lengthen the spring, or move the timing masses."
        _judge(
            design, ledger, "rate.regulation", rate,
            text=f"{text}.", remedy=remedy, small=REGULATED,
        )  # fmt: skip
        return rate
    text += f": the length alone {_moves(own)}, the arc {_moves(circular)}"
    if temperature is not None:
        text += f", the temperature at most {show(abs(DAY * temperature), 's/day')}"
    change = length_change(effective_length=movement.effective_length, rate=rate)
    remedy = _nut(design, ledger, change)
    _judge(design, ledger, "rate.regulation", rate, text=f"{text}.", remedy=remedy, small=REGULATED)
    return rate


def _nut(design: Design, ledger: Ledger, change: float) -> str:
    """Enter what the nut must do and return it in words."""
    ledger.value(
        "rate.length_change", change, "m",
        words="change of length towards the target period; positive lowers the bob",
        basis=Basis.COMPUTED, rule="effective length ((1 + rate)^2 - 1)",
    )  # fmt: skip
    way = "Lower" if change > 0 else "Raise"
    pitch = design.movement.nut_pitch
    if pitch is None:
        return (
            f"{way} the bob by {show(abs(change), 'm')}; with nut_pitch in [movement] this is "
            "also given in turns of the nut."
        )
    turns = nut_turns(change=change, nut_pitch=pitch)
    ledger.value(
        "rate.nut_turns", turns, "1",
        words="turns of the rating nut; positive lowers the bob",
        basis=Basis.COMPUTED, rule="change of length / nut_pitch",
    )  # fmt: skip
    ledger.value(
        "rate.nut_direction", "lower the bob" if turns > 0 else "raise the bob", None,
        words="what the nut must do", basis=Basis.COMPUTED, rule="it gains: lower; it loses: raise",
    )  # fmt: skip
    return (
        f"{way} the bob by {show(abs(change), 'm')}, {significant(abs(turns))} turns of the nut; "
        "half of it first, then count again."
    )


def _temperature(design: Design, ledger: Ledger, movement: MovementResult) -> float | None:
    if movement.kind != "pendulum":
        return None
    expansion = design.movement.rod_expansion
    span = span_of(design)
    if expansion is None:
        if span is not None:
            ledger.say(
                "rate.temperature",
                Severity.MIND,
                "The temperature span is stated but not the rod's growth, so its part of the "
                "rate is not known.",
                remedy=f"State rod_expansion in [movement]: {ROD_KINDS}.",
            )
        return None
    ledger.value(
        "rate.temperature_slope",
        DAY * temperature_rate(expansion=expansion, temperature_change=1.0),
        "s/day/K",
        words="rate for each kelvin warmer; negative loses",
        basis=Basis.COMPUTED,
        rule="minus half the rod's expansion",
    )
    if span is None:
        return None
    warmer = span[1] - span[0]
    rate = temperature_rate(expansion=expansion, temperature_change=warmer)
    ledger.value(
        "rate.temperature", DAY * rate, "s/day",
        words="rate at the warmest against the coldest; negative loses",
        basis=Basis.COMPUTED, rule="minus half the rod's expansion times the span",
    )  # fmt: skip
    _judge(
        design, ledger, "rate.temperature", rate,
        text=f"Over {significant(warmer)} K the rod's growth changes the rate by "
        f"{show(abs(DAY * rate), 's/day')}.",
        remedy=f"Take a rod that grows less, or steer: {ROD_KINDS}.",
    )  # fmt: skip
    return rate


def _support(
    design: Design, ledger: Ledger, movement: MovementResult, effective_length: float
) -> None:
    stiffness = design.movement.support_stiffness
    assert stiffness is not None
    mass = movement.mass or movement.inertia / effective_length**2
    rate = support_rate(mass=mass, effective_length=effective_length, stiffness=stiffness)
    ledger.value(
        "rate.support", DAY * rate, "s/day",
        words="rate by the sway of the support; negative loses",
        basis=Basis.COMPUTED, rule="about -mass g / (2 stiffness length), derived here",
    )  # fmt: skip
    _judge(
        design, ledger, "rate.support", rate,
        text=f"The support sways with the swing and {_moves(rate)}; on another wall or shelf this "
        "part changes.",
        remedy="Stiffen the support or fix it to the wall, before the nut is set.",
    )  # fmt: skip
