"""The loop in numbers: what it is to be on time at, its interval, its gains, its margins."""

from dataclasses import dataclass

import numpy as np

from calc.rate import rate_against_target
from calc.steering_curve import WidthPoint
from calc.steering_gains import pi_gains
from calc.steering_margins import LoopMargins, loop_margins
from circuits.design import Design
from circuits.driven import Driven
from circuits.ledger import Ledger
from circuits.stages.movement import MovementResult
from circuits.stages.rate import RateResult
from circuits.stages.steering_reach import Branch, Curves, Disturbance, disturbances_of
from circuits.stages.timing import TICK

DAMPING = 0.7
QUICK = 4.0
"""The loop's time constant over the arc's, where none is wanted; three is the least that works."""
LEAST_WANTED = 600.0
"""s; weather and cells are slower than ten minutes, and each correction costs the firmware time."""
CORRECTIONS = 24
"""Corrections in a time constant of the loop: more cost energy, fewer cost phase."""
COMFORT = 0.7
"""rad; a phase margin of 40 degrees, for which a time constant that is left out is lengthened."""
MOST_TICKS = 2.0**31
"""An interval must fit a count of 32 bits, with room for a beat more."""
MOST_CORRECTIONS = 8 * CORRECTIONS
SPARE_GAIN = 3.0
LONGER, ROUNDS = 1.4, 12


@dataclass(frozen=True, slots=True, kw_only=True)
class SteeringResult:
    """The loop as it is planned; rates are ratios against the smallest free swing.

    `kp` and `ki` are the width for each second of lag and of summed lag, with the slope's sign;
    `fresh` and `spent` are the settled swings at `rate_target`, the rate at which the movement
    is to be on time. `reach_low` and `reach_high` are the rates that both states of the cells
    reach; the low one lies above the high one where they have none in common.
    """

    kp: float
    ki: float
    damping: float
    time_constant: float
    interval: float
    beat: float
    beats_per_correction: int
    tick: float
    width_min: float
    width_max: float
    width_now: float
    direction: int
    curves: Curves
    branch_fresh: Branch
    branch_spent: Branch
    fresh: WidthPoint
    spent: WidthPoint
    rate_target: float
    rate_now: float
    reach_low: float
    reach_high: float
    needed: float
    disturbances: tuple[Disturbance, ...]
    margins: LoopMargins
    margins_at: str
    jitter: float
    shift: float | None = None
    """Change of the rate from fresh to spent cells, unsteered, at the design's own width."""

    @property
    def authority(self) -> float:
        """Span of the rates that fresh and spent cells both reach; negative where there is none."""
        return self.reach_high - self.reach_low

    def rate_at(self, width: float) -> float:
        """Return the settled rate of a width with fresh cells, of the curve's end beyond it."""
        ends = self.curves.fresh.widths
        return self.curves.fresh.at(float(np.clip(width, ends[0], ends[-1]))).rate

    @property
    def set_rate(self) -> float:
        """What it is to gain unsteered with fresh cells at the design's own width."""
        return self.rate_now - self.rate_target


def planned(
    design: Design, ledger: Ledger, driven: Driven, rate: RateResult, curves: Curves,
    branches: tuple[Branch, Branch], limits: tuple[float, float], jitter: float,
) -> SteeringResult:  # fmt: skip
    """Return the loop whose target lies in the middle of what both states of the cells reach."""
    movement = driven.movement
    disturbances = disturbances_of(design, ledger, movement, rate)
    reach_low = max(min(b.rate_low, b.rate_high) for b in branches)
    reach_high = min(max(b.rate_low, b.rate_high) for b in branches)
    up, down = sum(d.high for d in disturbances), sum(d.low for d in disturbances)
    # What a cause adds the loop must take off: the target leaves room for the larger side.
    target = (reach_low + reach_high) / 2 + (up + down) / 2
    target = float(np.clip(target, min(reach_low, reach_high), max(reach_low, reach_high)))
    fresh, spent = (b.point(target) for b in branches)
    at_target = movement.period / 2 / (1 + target)
    wished = design.movement.target_period
    beat = wished / 2 if wished is not None else at_target
    here = curves.fresh.at(float(np.clip(driven.width, curves.fresh.widths[0],
                                         curves.fresh.widths[-1])))  # fmt: skip
    points = {"fresh cells": fresh, "spent cells": spent}
    for branch, state in zip(branches, ("fresh", "spent"), strict=True):
        points[f"{state} cells at width_min"] = curves_point(branch, branch.low)
        points[f"{state} cells at width_max"] = curves_point(branch, branch.high)
    tau = max(fresh.time_constant, spent.time_constant)
    wanted = design.rate.time_constant or max(QUICK * tau, LEAST_WANTED)
    kp, ki = design.rate.kp, design.rate.ki
    # Where the sign changes over the range, no time helps.
    one_sign = all(point.slope * fresh.slope > 0 for point in points.values())
    corrections = CORRECTIONS
    for _ in range(ROUNDS):
        beats = _beats(wanted / corrections, beat, (design.controller.tick or TICK) * MOST_TICKS)
        interval = beats * beat
        sized = pi_gains(
            slope=_middle(fresh.slope, spent.slope),
            slope_prompt=(fresh.slope_prompt + spent.slope_prompt) / 2, time_constant=tau,
            interval=interval, wanted=wanted, damping=DAMPING,
        )  # fmt: skip
        own_kp, own_ki = sized.kp if kp is None else kp, sized.ki if ki is None else ki
        margins, where = _worst(points, interval, own_kp, own_ki, beat)
        stated = design.rate.time_constant is not None or kp is not None or ki is not None
        signed = own_kp * fresh.slope >= 0 and own_ki * fresh.slope >= 0
        good = signed and margins.phase_margin >= COMFORT and margins.gain_margin >= SPARE_GAIN
        if stated or not one_sign or good:
            break
        # A strong effect at once asks for corrections that follow each other sooner.
        if margins.gain_margin < SPARE_GAIN and beats > 2 and corrections < MOST_CORRECTIONS:
            corrections *= 2
        else:
            wanted *= LONGER
    return SteeringResult(
        kp=own_kp, ki=own_ki, damping=DAMPING, time_constant=wanted, interval=interval, beat=beat,
        beats_per_correction=beats, tick=design.controller.tick or TICK, width_min=limits[0],
        width_max=limits[1], width_now=driven.width, direction=1 if fresh.slope > 0 else -1,
        curves=curves, branch_fresh=branches[0], branch_spent=branches[1], fresh=fresh,
        spent=spent, rate_target=target, rate_now=here.rate, reach_low=reach_low,
        reach_high=reach_high, needed=up - down, disturbances=disturbances, margins=margins,
        margins_at=where, jitter=jitter,
    )  # fmt: skip


def curves_point(branch: Branch, width: float) -> WidthPoint:
    """Return the settled swing at an end of a branch, a little inside it: its slope may vanish."""
    inside = 0.05 * (branch.high - branch.low)
    return branch.curve.at(float(np.clip(width, branch.low + inside, branch.high - inside)))


def _middle(one: float, other: float) -> float:
    """Return the geometric mean of two slopes of one sign, the first where the signs differ."""
    return float(np.sign(one) * np.sqrt(one * other)) if one * other > 0 else one


def _beats(interval: float, beat: float, most: float) -> int:
    """Return an even number of beats: to and fro differ, and their difference must not count."""
    return max(2, 2 * round(min(interval, most) / (2 * beat)))


def _worst(
    points: dict[str, WidthPoint], interval: float, kp: float, ki: float, delay: float
) -> tuple[LoopMargins, str]:
    """Return the least margins over the settled swings that the loop may meet."""
    found = {
        name: loop_margins(
            slope=point.slope, slope_prompt=point.slope_prompt,
            time_constant=point.time_constant, interval=interval, kp=kp, ki=ki, delay=delay,
        )
        for name, point in points.items()
    }  # fmt: skip
    where = min(found, key=lambda name: found[name].phase_margin)
    least = min(margin.gain_margin for margin in found.values())
    worst = found[where]
    return (
        LoopMargins(
            phase_margin=worst.phase_margin, gain_margin=least,
            gain_margin_down=max(margin.gain_margin_down for margin in found.values()),
            crossover=worst.crossover,
        ),
        where,
    )  # fmt: skip


def gain_to_set(design: Design, movement: MovementResult, result: SteeringResult) -> float:
    """Return what the nut must make it gain, from where the file says that it stands."""
    target = design.movement.target_period
    if target is None:
        return result.set_rate
    own = rate_against_target(period=movement.period, target_period=target)
    return -(own + result.rate_target)
