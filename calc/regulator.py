"""The firmware's regulator in integers: the exact model of its C, step by step.

The movement's count of timer ticks over a fixed number of beats is compared with what the crystal
should have counted. Positive errors are late: the movement is slow. All quotients are rounded to
the nearest whole number, halves away from zero, as the C does it without a shift of a negative
number. `calc.regulator_sizing` makes the constants and refuses what could overflow.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import require, routine
from calc.units import Count

ONE_TICK = 1 << 16
"""Parts of a tick in which interval and time error are kept."""
LAWS = ("pi", "integral", "tick")

Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class RegulatorConstants:
    """What the firmware holds: whole numbers that fit the types of the C.

    `nominal` [1/65536 tick] is one correction's interval with its fraction (int64);
    `interval_limit` [ticks] is how far an interval may be off before it is not believed;
    `width_min`, `width_centre`, `width_max` and `width_step` are in ticks; `direction` is +1 where
    a wider pulse makes the movement gain, -1 where it makes it lose; `kp` and `ki` are in
    2**-shift ticks of width for each tick of time error (`ki` once a correction); `dead_band` and
    `error_limit` are in ticks; `total_limit` bounds the sum of the time errors in ticks (int64).
    """

    law: str
    beats_per_correction: Count
    nominal: Count
    interval_limit: Count
    width_min: Count
    width_centre: Count
    width_max: Count
    width_step: Count
    direction: Count
    kp: Count
    ki: Count
    shift: Count
    dead_band: Count
    error_limit: Count
    total_limit: Count


@dataclass(frozen=True, slots=True, kw_only=True)
class RegulatorState:
    """What the firmware remembers: time error [1/65536 tick], its sum [ticks], width [ticks].

    `skipped` counts the intervals that were not believed, up to 65535.
    """

    error: Count
    total: Count
    width: Count
    skipped: Count


def start_state(constants: RegulatorConstants) -> RegulatorState:
    """Return the state before the first correction."""
    return RegulatorState(error=0, total=0, width=constants.width_centre, skipped=0)


def rounded_quotient(number: int, divisor: int) -> int:
    """Return the nearest whole number to a quotient, halves away from zero."""
    half = divisor // 2
    return (number + half) // divisor if number >= 0 else -((half - number) // divisor)


@routine
def regulator_step(
    *, constants: RegulatorConstants, state: RegulatorState, elapsed: Count
) -> RegulatorState:
    """Return the regulator's state after one correction, bit by bit as the C computes it.

    Parameters
    ----------
    constants : RegulatorConstants
        The firmware's constants.
    state : RegulatorState
        Its state before.
    elapsed : int
        Timer ticks since the correction before, as an unsigned number of 32 bits [1].

    Returns
    -------
    state : RegulatorState
        With the width of the pulses up to the next correction.

    Raises
    ------
    OutOfRangeError
        If elapsed is no unsigned number of 32 bits.

    Notes
    -----
    By integers; held by test_step_follows_its_law_in_fractions.

    pi: width = centre + direction (kp error + ki total) / 2**shift, where the error is the time
    error beyond the dead band and the total is its sum; while the width stands at a limit, an
    error that would push it further is not summed. integral: width = centre + direction ki error /
    2**shift, and a time error that the width cannot follow is forgotten. tick: one width step
    towards the wanted side each time the intervals have gathered more than the dead band.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> constants = RegulatorConstants(
    ...     law="pi", beats_per_correction=60, nominal=1_600_000 << 16, interval_limit=8000,
    ...     width_min=100, width_centre=240, width_max=400, width_step=1, direction=-1, kp=1200,
    ...     ki=20, shift=16, dead_band=1, error_limit=1_000_000, total_limit=4_000_000)
    >>> state = RegulatorState(error=0, total=0, width=240, skipped=0)
    >>> regulator_step(constants=constants, state=state, elapsed=1_600_601).width
    229
    """
    require(0 <= elapsed < 1 << 32, "regulator: elapsed must be an unsigned number of 32 bits")
    step = quick_stepper(constants, state)
    step(elapsed)
    error, total, width, skipped = step(-1)
    return RegulatorState(error=error, total=total, width=width, skipped=skipped)


def quick_stepper(
    constants: RegulatorConstants, state: RegulatorState
) -> Callable[[int], tuple[int, int, int, int]]:
    """Return a function that takes one correction's ticks and returns the state after it.

    The state comes as (error, total, width, skipped). A negative count of ticks leaves the state
    as it is. Some ten times quicker than the step with records.
    """
    pi, tick = constants.law == "pi", constants.law == "tick"
    nominal, off = constants.nominal, constants.interval_limit * ONE_TICK
    width_min, width_max, centre = constants.width_min, constants.width_max, constants.width_centre
    kp, ki = constants.kp, constants.ki
    grain, direction = constants.width_step, constants.direction
    divisor = grain << constants.shift
    half, band = divisor // 2, constants.dead_band
    most, most_total = constants.error_limit * ONE_TICK, constants.total_limit
    error, total, width, skipped = state.error, state.total, state.width, state.skipped

    def step(elapsed: int) -> tuple[int, int, int, int]:
        nonlocal error, total, width, skipped
        difference = elapsed * ONE_TICK - nominal
        if elapsed < 0:
            return error, total, width, skipped
        if difference > off or difference < -off:
            skipped = min(skipped + 1, 65535)
            return error, total, width, skipped
        seen = error + difference
        seen = most if seen > most else -most if seen < -most else seen
        late = seen // ONE_TICK if seen >= 0 else -(-seen // ONE_TICK)
        beyond = late - band if late > band else late + band if late < -band else 0
        if tick:
            if beyond:
                width += direction * grain if beyond > 0 else -direction * grain
                seen -= late * ONE_TICK
            width = width_max if width > width_max else max(width, width_min)
            error = seen
            return error, total, width, skipped
        if pi:
            summed = total + beyond
            if summed > most_total:
                summed = most_total
            elif summed < -most_total:
                summed = -most_total
            number = kp * beyond + ki * summed
        else:
            summed = total
            number = ki * beyond
        trim = (number + half) // divisor if number >= 0 else -((half - number) // divisor)
        wanted = centre + direction * trim * grain
        push = direction * (beyond if pi else difference)
        held = (wanted > width_max and push > 0) or (wanted < width_min and push < 0)
        width = width_max if wanted > width_max else max(wanted, width_min)
        if pi:
            error = seen
            total = total if held else summed
        else:
            error = error if held else seen
        return error, total, width, skipped

    return step


def step_many(
    constants: RegulatorConstants, error: Whole, total: Whole, width: Whole, elapsed: Whole
) -> tuple[Whole, Whole, Whole]:
    """Return error, total and width of many regulators with equal constants after one correction.

    For runs of many movements at once. What is not believed is skipped, but not counted.
    """
    c = constants
    difference = elapsed * ONE_TICK - c.nominal
    believed = np.abs(difference) <= c.interval_limit * ONE_TICK
    seen = np.clip(error + difference, -c.error_limit * ONE_TICK, c.error_limit * ONE_TICK)
    late = np.sign(seen) * (np.abs(seen) // ONE_TICK)
    beyond = np.sign(late) * np.maximum(np.abs(late) - c.dead_band, 0)
    summed, kept = total, seen
    if c.law == "tick":
        wanted = width + c.direction * c.width_step * np.sign(beyond)
        kept = np.where(beyond != 0, seen - late * ONE_TICK, seen)
    else:
        if c.law == "pi":
            summed = np.clip(total + beyond, -c.total_limit, c.total_limit)
            number = c.kp * beyond + c.ki * summed
        else:
            number = c.ki * beyond
        divisor = c.width_step << c.shift
        trim = np.sign(number) * ((np.abs(number) + divisor // 2) // divisor)
        wanted = c.width_centre + c.direction * c.width_step * trim
        push = c.direction * (beyond if c.law == "pi" else difference)
        held = ((wanted > c.width_max) & (push > 0)) | ((wanted < c.width_min) & (push < 0))
        if c.law == "pi":
            summed = np.where(held, total, summed)
        else:
            kept = np.where(held, error, seen)
    wanted = np.clip(wanted, c.width_min, c.width_max)
    return (
        np.where(believed, kept, error),
        np.where(believed, summed, total),
        np.where(believed, wanted, width),
    )
