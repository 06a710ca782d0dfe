"""The rate loop's answer to a step, and what each cause asks of it."""

from dataclasses import dataclass

from circuits.format_quantity import DAY
from circuits.stage_pass import StagePass
from circuits.stages.steering_loop import SteeringResult
from circuits.steering.course import quiet
from circuits.steering.loop_constants import regulator_of
from circuits.steering.plan import LONG, STEP_SHARE
from circuits.steering.simulation import LoopRun, run_loop


@dataclass(frozen=True, slots=True, kw_only=True)
class LoopCurves:
    """The loop as it is planned, and its run with a step of the rate (a ratio)."""

    loop: SteeringResult
    step: LoopRun
    offset: float


def loop_curves(done: StagePass) -> LoopCurves | None:
    """Return the loop's step; None where no loop can be planned."""
    design = done.design
    loop: SteeringResult | None = done.result("steering")
    if loop is None:
        return None
    offset = STEP_SHARE * max(loop.needed, 0.1 * abs(loop.authority))
    step = run_loop(
        loop, regulator_of(loop), quiet(loop, LONG * loop.time_constant / DAY), name="step",
        words="a step of the rate", offset=offset, jitter=False,
        kind=design.movement.kind or "pendulum",
    )  # fmt: skip
    return LoopCurves(loop=loop, step=step, offset=offset)
