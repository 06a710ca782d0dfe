"""The firmware's whole numbers for a planned loop and the laws that people use instead."""

from calc.regulator import RegulatorConstants
from calc.regulator_sizing import regulator_constants
from circuits.stages.steering_loop import SteeringResult

MOST_ERROR = 60.0
"""s; a time error beyond it is a stop, not a rate."""
JITTERS = 2.0


def dead_band_of(loop: SteeringResult) -> float:
    """Return the time error that is left alone: none, unless the jitter alone moves the width."""
    moved = abs(loop.kp) * loop.jitter
    return JITTERS * loop.jitter if moved > loop.tick / 2 else 0.0


def regulator_of(loop: SteeringResult, law: str = "pi") -> RegulatorConstants:
    """Return the constants of one law for a planned loop.

    Parameters
    ----------
    loop : SteeringResult
        The loop as it is planned.
    law : str
        pi; integral, which trims the width by the time error alone, with the gain kp; tick, one
        step of the width up or down.

    Returns
    -------
    constants : RegulatorConstants

    Raises
    ------
    OutOfRangeError
        If no whole numbers do.
    """
    step = max(loop.tick, JITTERS * loop.jitter) if law == "tick" else dead_band_of(loop)
    return regulator_constants(
        law=law,
        tick=loop.tick,
        beat=loop.beat,
        beats_per_correction=loop.beats_per_correction,
        width_min=loop.width_min,
        width_centre=loop.fresh.width,
        width_max=loop.width_max,
        width_step=loop.tick,
        direction=loop.direction,
        kp=max(loop.kp * loop.direction, 0.0) if law == "pi" else 0.0,
        ki=max((loop.ki if law == "pi" else loop.kp) * loop.direction, 0.0) if law != "tick"
        else 0.0,
        dead_band=step,
        error_limit=MOST_ERROR,
    )  # fmt: skip
