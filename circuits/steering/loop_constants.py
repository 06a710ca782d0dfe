"""The firmware's whole numbers for a planned loop and the laws that people use instead."""

from calc.calculator import require
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
        If no whole numbers do, or kp and ki have different signs.
    """
    kp, ki = {"pi": (loop.kp, loop.ki), "integral": (0.0, loop.kp), "tick": (0.0, 0.0)}[law]
    require(
        kp * ki >= 0,
        f"steering: kp = {kp:.3g} and ki = {ki:.3g} must have one sign, the regulator knows one "
        "direction; see steering.sign: turn a stated one round, or allow the loop more time",
    )
    # What is stated against the slope is kept as stated: it runs away here as at the bench.
    own = next((gain for gain in (kp, ki) if gain), loop.direction)
    direction = 1 if own > 0 else -1
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
        direction=direction,
        kp=abs(kp),
        ki=abs(ki),
        dead_band=step,
        error_limit=MOST_ERROR,
    )  # fmt: skip
