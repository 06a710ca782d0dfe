"""What the widths can do to the rate, with fresh and with spent cells, and what they must do."""

from dataclasses import dataclass, replace
from math import radians

import numpy as np

from calc.follow_settle import arcs_from_least
from calc.gravity import gravity_at_height, gravity_at_latitude, rate_from_gravity
from calc.rate import length_change
from calc.steering_curve import WidthCurve, WidthPoint, width_curve
from circuits.design import Design
from circuits.driven import Driven
from circuits.format_quantity import DAY, show
from circuits.ledger import Ledger
from circuits.stages.movement import MovementResult
from circuits.stages.rate import REGULATED, RateResult
from circuits.stages.rate_cautions import FLOOR, LATITUDE
from circuits.stages.reference_clock import bent_over
from circuits.stages.settled import SettledResult

WIDTHS, ARCS = 12, 14
NUT_SHARE = 0.05
"""Part of a turn to which a rating nut is set by hand."""
KEEP_OFF = 1.05
"""How far a width that is chosen keeps above the least that holds an arc."""
WIDEST = 1.3
"""Widest pulse of a loop that the file leaves open, over the width that holds spent cells."""
BEFORE_TURN = 0.9
STRAIGHT = 25
"""Points of a curve of which only the slope was measured."""
LIKENESS = 100.0
"""Measured and computed slope further apart than this have nothing to do with each other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Disturbance:
    """One cause that moves the free rate between two ends, as ratios; positive gains."""

    name: str
    words: str
    low: float
    high: float
    rule: str

    @property
    def span(self) -> float:
        """From its least to its greatest."""
        return self.high - self.low


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """The widths of one state over which the rate goes one way only."""

    curve: WidthCurve
    low: float
    high: float
    rate_low: float
    rate_high: float
    turned: float | None

    @property
    def falls(self) -> bool:
        """Whether a wider pulse makes it lose."""
        return self.rate_high < self.rate_low

    def width_of(self, rate: float) -> float:
        """Return the width that settles at a rate, the nearer end where none does."""
        row, rates = self.curve.fine(self.low, self.high)
        if rates[0] > rates[-1]:
            row, rates = row[::-1], rates[::-1]
        return float(np.interp(rate, rates, row))

    def point(self, rate: float) -> WidthPoint:
        """Return the settled swing at a rate."""
        return self.curve.at(self.width_of(rate))


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """What the widths do with fresh and with spent cells; alike where nothing sags."""

    fresh: WidthCurve
    spent: WidthCurve
    measured: bool
    known: bool


def curves_of(
    design: Design, driven: Driven, settled: SettledResult | None, slope_prompt: float
) -> Curves | None:
    """Return both curves, None where neither a settled swing nor a measured slope is known."""
    movement, width = driven.movement, driven.width
    measured = design.rate.measured_slope
    found = _computed(design, driven, settled)
    if found is None:
        if measured is None:
            return None
        flat = _straight(design, movement, width, measured / DAY)
        return Curves(fresh=flat, spent=flat, measured=True, known=False)
    fresh, spent = found
    if measured is not None:
        fresh, spent = _as_measured(fresh, spent, width, measured / DAY, slope_prompt)
    return Curves(fresh=fresh, spent=spent, measured=measured is not None, known=True)


def _computed(
    design: Design, driven: Driven, settled: SettledResult | None
) -> tuple[WidthCurve, WidthCurve] | None:
    if settled is None:
        return None
    movement, width = driven.movement, driven.width
    least = settled.fresh.width_least or width / 3
    room = max(0.23 * movement.period - max(driven.t_on, 0.0), 1.05 * width)
    low = 0.9 * least
    if settled.fresh.width_least is None:
        low = min(low, 0.95 * (design.rate.width_min or width))
    high = min(max(1.7 * width, 1.1 * (design.rate.width_max or width)), room)
    widths = np.unique(np.append(np.geomspace(low, high, WIDTHS), width))
    arc_high = 2.6 * movement.arc
    if movement.kind == "pendulum":
        arc_high = min(arc_high, 1.4)
    if settled.held is not None:
        arc_high = max(arc_high, 1.3 * settled.held.arc)
    system, weak = driven.system(), driven.system(spent=True)
    arcs = arcs_from_least(system, movement.arc / 6, arc_high, ARCS)
    fresh = width_curve(system, arcs, widths)
    if fresh is None:
        return None
    spent = fresh if weak == system else width_curve(weak, arcs, widths)
    return None if spent is None else (fresh, spent)


def _straight(design: Design, movement: MovementResult, width: float, slope: float) -> WidthCurve:
    """Return the curve of which nothing is known but a slope, and the arc's own time constant."""
    low = min(design.rate.width_min or 0.5 * width, 0.5 * width)
    high = max(design.rate.width_max or 1.5 * width, 1.5 * width)
    widths = np.linspace(low, high, STRAIGHT)
    like = np.ones(STRAIGHT)
    return WidthCurve(
        widths=widths, arcs=movement.arc * like, rates=slope * (widths - width),
        slopes_prompt=0 * like, time_constants=2 * movement.q_typ / movement.omega * like,
    )  # fmt: skip


def _as_measured(
    fresh: WidthCurve, spent: WidthCurve, width: float, slope: float, prompt: float
) -> tuple[WidthCurve, WidthCurve]:
    """Return both curves stretched to a measured slope: sag and width act through the same arc.

    What comes at once does not come through the arc and stays as it was computed.
    """
    here = fresh.at(float(np.clip(width, fresh.widths[0], fresh.widths[-1])))
    own = here.slope - prompt
    factor = (slope - prompt) / own if own else np.inf
    if not 1 / LIKENESS < abs(factor) < LIKENESS:
        factor = 0.0

    def stretched(curve: WidthCurve) -> WidthCurve:
        step = curve.widths - here.width
        if factor:
            by_arc = factor * (curve.rates - here.rate - prompt * step)
        else:
            by_arc = (slope - prompt) * step
        return replace(curve, rates=here.rate + by_arc + prompt * step)

    first = stretched(fresh)
    return first, first if spent is fresh else stretched(spent)


def limits_of(
    design: Design, curves: Curves, settled: SettledResult | None, width: float, arc: float
) -> tuple[float, float]:
    """Return width_min and width_max: stated, else about the wanted arc and off what is harmful."""
    fresh, spent = curves.fresh, curves.spent
    for_fresh = fresh.width_of_arc(arc) if curves.known else width
    low = design.rate.width_min
    high = design.rate.width_max
    if low is None:
        least = (KEEP_OFF if curves.known else 1.0) * fresh.widths[0]
        low = max(least, 0.75 * min(for_fresh, width))
        if high is not None:
            low = min(low, 0.8 * high)
    if high is None:
        high = min(WIDEST * width, float(fresh.widths[-1]), float(spent.widths[-1]))
        turning = settled.fresh.width_turning if settled else None
        if turning is not None:
            high = min(high, BEFORE_TURN * turning)
        high = max(high, 1.05 * low)
    return float(low), float(high)


def branch_of(curve: WidthCurve, low: float, high: float, about: float) -> Branch | None:
    """Return the widths within two limits about one of them over which the rate never turns."""
    inside = (curve.widths[0] < high) and (curve.widths[-1] > low)
    if not inside:
        return None
    row, rates = curve.fine(low, high)
    falls = np.diff(rates) < 0
    k = int(np.clip(np.searchsorted(row, about), 0, len(falls) - 1))
    first, last = k, k
    while first > 0 and falls[first - 1] == falls[k]:
        first -= 1
    while last < len(falls) - 1 and falls[last + 1] == falls[k]:
        last += 1
    # A turn among the last hundredths of the range is the table's, not the movement's.
    edge = len(falls) // 40
    turned = None
    if first > edge:
        turned = float(row[first])
    elif last < len(falls) - 1 - edge:
        turned = float(row[last + 1])
    return Branch(
        curve=curve, low=float(row[first]), high=float(row[last + 1]),
        rate_low=float(rates[first]), rate_high=float(rates[last + 1]), turned=turned,
    )  # fmt: skip


def side_of(curve: WidthCurve, low: float, high: float, falls: bool) -> Branch | None:
    """Return the longest stretch within two limits over which the rate goes the wanted way."""
    found = [branch_of(curve, low, high, about) for about in np.geomspace(low, high, 15)]
    alike = [branch for branch in found if branch is not None and branch.falls == falls]
    return max(alike, key=lambda branch: branch.high - branch.low, default=None)


def disturbances_of(
    design: Design, ledger: Ledger, movement: MovementResult, rate: RateResult
) -> tuple[Disturbance, ...]:
    """Return what moves the free rate while the loop runs; the sag is in the curves themselves."""
    found: list[Disturbance] = []
    if rate.temperature:
        half = abs(rate.temperature) / 2
        found.append(
            Disturbance(
                name="rod", words="the rod over the temperature span", low=-half, high=half,
                rule="half the rod's growth to each side, set at the middle temperature",
            )
        )  # fmt: skip
    bent = bent_over(design)
    tolerance = design.controller.crystal_tolerance or 0.0
    if bent or tolerance:
        # A crystal that runs slow sees the movement gain.
        found.append(
            Disturbance(
                name="crystal", words="the crystal's tolerance and temperature",
                low=-tolerance, high=tolerance + bent,
                rule="crystal_tolerance to each side and the parabola to one",
            )
        )  # fmt: skip
    off = REGULATED
    rule = "half a second a day, as near as it is set without a timing machine"
    if movement.effective_length is not None and design.movement.nut_pitch is not None:
        step = NUT_SHARE * design.movement.nut_pitch
        off = max(step / movement.effective_length / 2, 0.0)
        rule = "a twentieth of a turn of the nut"
    ledger.assume("steering.bob", DAY * off, "s/day", f"{rule}; common practice, no source")
    found.append(
        Disturbance(name="bob", words="how near the rate is set by hand", low=-off, high=off,
                    rule=rule)
    )  # fmt: skip
    if movement.kind == "pendulum":
        g = gravity_at_latitude(latitude=LATITUDE)
        north = rate_from_gravity(
            g_from=g, g_to=gravity_at_latitude(latitude=LATITUDE + radians(1))
        )
        up = rate_from_gravity(g_from=g, g_to=gravity_at_height(g=g, height=FLOOR))
        ledger.assume(
            "steering.place", DAY * north, "s/day",
            "a move by one degree of latitude at 45 degrees, to either side, or by one floor",
        )  # fmt: skip
        found.append(
            Disturbance(name="place", words="a move by one degree of latitude or one floor",
                        low=-north + up, high=north, rule="gravity at latitude and height")
        )  # fmt: skip
    return tuple(found)


def nut_words(design: Design, movement: MovementResult, gain: float) -> tuple[float, str] | None:
    """Return the change of length that makes it gain so much, and how a maker does it."""
    if movement.effective_length is None:
        return None
    change = length_change(effective_length=movement.effective_length, rate=-gain)
    way = "lower" if change > 0 else "raise"
    text = f"{way} the bob by {show(abs(change), 'm')}"
    pitch = design.movement.nut_pitch
    if pitch is not None:
        turns = f"{abs(change) / pitch:.2g}"
        text += f", {turns} turn{'' if turns == '1' else 's'} of the nut"
    return change, text
