"""From seconds and gains to the regulator's whole numbers, and the proof that none overflows."""

from dataclasses import dataclass, replace
from math import ceil, floor, isfinite

from calc.calculator import require, routine
from calc.regulator import LAWS, ONE_TICK, RegulatorConstants
from calc.units import Count, Ratio, Second

INT32 = (1 << 31) - 1
INT64 = (1 << 63) - 1
UINT32 = (1 << 32) - 1
MOST_SHIFT = 30
LEAST_RATE = 64
"""An interval that is off by less than a 64th of itself is always believed: magnets near the swing
can move the rate by a hundredth."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RegulatorMagnitudes:
    """The largest magnitudes that a step can meet, whatever the intervals are.

    `difference`, `error`, `total`, `number` (the scaled correction with its rounding) and `trim`
    stand in 64 bits of the C, `width` in 32. `difference` is before the limit on intervals.
    """

    difference: Count
    error: Count
    total: Count
    number: Count
    trim: Count
    width: Count


def magnitudes(constants: RegulatorConstants) -> RegulatorMagnitudes:
    """Return the largest magnitudes over all states and all intervals of 32 bits."""
    c = constants
    difference = max(UINT32 * ONE_TICK - c.nominal, c.nominal)
    error = (c.error_limit + c.interval_limit) * ONE_TICK
    total = c.total_limit + c.error_limit
    divisor = c.width_step << c.shift
    number = c.kp * c.error_limit + c.ki * max(c.total_limit, c.error_limit) + divisor // 2
    trim = number // divisor * c.width_step + max(abs(c.width_min), c.width_max)
    return RegulatorMagnitudes(
        difference=difference, error=error, total=total, number=number, trim=trim,
        width=c.width_max + c.width_step,
    )  # fmt: skip


def check_constants(constants: RegulatorConstants) -> RegulatorMagnitudes:
    """Refuse constants with which a step could overflow, or that contradict each other.

    Raises
    ------
    OutOfRangeError
        Naming the constant and what would do.
    """
    c = constants
    require(c.law in LAWS, "regulator: law must be pi, integral or tick")
    require(c.direction in (1, -1), "regulator: direction must be +1 or -1")
    require(1 <= c.beats_per_correction <= INT32, "regulator: at least one beat a correction")
    require(
        1 <= c.width_min <= c.width_centre <= c.width_max,
        "regulator: the width's limits must lie in order and above zero; a finer tick, or other "
        "width_min and width_max",
    )
    require(c.width_max + c.width_step <= INT32, "regulator: width_max must fit 31 bits of ticks")
    require(c.width_step >= 1, "regulator: width_step must be at least one tick")
    require(0 <= c.shift <= MOST_SHIFT, f"regulator: shift must lie from 0 to {MOST_SHIFT}")
    require(0 <= c.kp <= INT32, "regulator: kp must fit 31 bits; a smaller gain or shift")
    require(0 <= c.ki <= INT32, "regulator: ki must fit 31 bits; a smaller gain or shift")
    require(1 <= c.error_limit <= INT32, "regulator: error_limit must fit 31 bits of ticks")
    require(0 <= c.dead_band <= c.error_limit, "regulator: dead_band must not pass error_limit")
    require(
        1 <= c.nominal <= UINT32 * ONE_TICK,
        "regulator: the interval must fit 32 bits of ticks; fewer beats a correction",
    )
    require(
        1 <= c.interval_limit <= INT32 and c.nominal // ONE_TICK + c.interval_limit <= UINT32,
        "regulator: the interval and its limit must fit 32 bits of ticks; fewer beats a correction",
    )
    require(0 <= c.total_limit <= INT64 // 4, "regulator: total_limit must fit 62 bits")
    most = magnitudes(c)
    for name in ("difference", "error", "total", "number", "trim"):
        require(
            getattr(most, name) <= INT64,
            f"regulator: {name} must fit 63 bits; a smaller gain, shift or error_limit",
        )
    require(most.width <= INT32, "regulator: the width must fit 31 bits")
    return most


@routine
def regulator_constants(
    *,
    law: str,
    tick: Second,
    beat: Second,
    beats_per_correction: Count,
    width_min: Second,
    width_centre: Second,
    width_max: Second,
    width_step: Second,
    direction: Count,
    kp: Ratio,
    ki: Ratio,
    dead_band: Second,
    error_limit: Second,
) -> RegulatorConstants:
    """Return the whole numbers with which the firmware regulates.

    Parameters
    ----------
    law : str
        pi, integral or tick.
    tick : float
        One tick of the timer that counts intervals and pulse widths [s].
    beat : float
        Nominal time of one swing, one way [s].
    beats_per_correction : int
        Beats from one correction to the next [1].
    width_min : float
        Narrowest pulse, a tick at least [s].
    width_centre : float
        Width without a correction [s].
    width_max : float
        Widest pulse [s].
    width_step : float
        Least change of the width; a tick at least [s].
    direction : int
        +1 where a wider pulse makes the movement gain, -1 where it makes it lose [1].
    kp : float
        Width for each time error, not negative [1].
    ki : float
        Width for each sum of time errors, one error a correction, not negative [1].
    dead_band : float
        Time error that is left alone [s].
    error_limit : float
        Largest time error that is remembered [s].

    Returns
    -------
    constants : RegulatorConstants
        With the largest shift at which no step can overflow.

    Raises
    ------
    OutOfRangeError
        If no whole numbers do, or the arguments contradict each other.

    Notes
    -----
    By integers; held by test_constants_keep_gains_and_interval.

    References
    ----------
    Scaled integers; common practice, no source.

    Examples
    --------
    >>> found = regulator_constants(
    ...     law="pi", tick=30e-6, beat=0.8123, beats_per_correction=64, width_min=3e-3,
    ...     width_centre=7.5e-3, width_max=15e-3, width_step=30e-6, direction=-1, kp=0.0213,
    ...     ki=3.7e-4, dead_band=61e-6, error_limit=30.0)
    >>> round(found.nominal / 65536, 4), round(found.kp / 2**found.shift, 6), found.shift
    (1732906.6667, 0.0213, 30)
    """
    require(law in LAWS, "regulator: law must be pi, integral or tick")
    require(tick > 0, "regulator: tick must be above zero")
    require(beat > tick, "regulator: beat must last longer than a tick")
    require(beats_per_correction >= 1, "regulator: at least one beat a correction")
    require(
        (0 <= width_min <= width_centre <= width_max) & (width_max > 0),
        "regulator: width_min, width_centre and width_max must lie in this order from zero on",
    )
    require(width_step > 0, "regulator: width_step must be above zero")
    for name, gain in (("kp", kp), ("ki", ki)):
        require(
            0 <= gain < INT32, f"regulator: {name} must not be negative; direction has the sign"
        )
    require(0 <= dead_band <= error_limit, "regulator: dead_band must not pass error_limit")
    counted = beat * beats_per_correction / tick
    require(counted <= UINT32, "regulator: the interval must fit 32 bits; fewer beats a correction")
    for seconds in (width_max, width_step, error_limit):
        require(isfinite(seconds), "regulator: widths and error_limit must be finite")
    grain = max(round(width_step / tick), 1)
    # A limit that is a whole number of ticks stays one.
    low, high = ceil(width_min / tick * (1 - 1e-12)), floor(width_max / tick * (1 + 1e-12))
    base = RegulatorConstants(
        law=law,
        beats_per_correction=beats_per_correction,
        nominal=round(counted * ONE_TICK),
        # A missed or doubled event must not be believed where it can be told from a rate.
        interval_limit=max(round(beat / tick / 2), round(counted / LEAST_RATE), 1),
        width_min=max(low, 1),
        width_centre=min(max(round(width_centre / tick), low, 1), max(high, 1)),
        width_max=max(high, 1),
        width_step=grain,
        direction=direction,
        kp=0, ki=0, shift=0,
        dead_band=round(dead_band / tick),
        error_limit=min(max(round(error_limit / tick), 1), INT32),
        total_limit=0,
    )  # fmt: skip
    check_constants(base)
    return _with_gains(base, kp, ki)


def _with_gains(base: RegulatorConstants, kp: float, ki: float) -> RegulatorConstants:
    span = base.width_max - base.width_min + 2 * base.width_step
    for shift in range(MOST_SHIFT, -1, -1):
        whole_kp, whole_ki = round(kp * (1 << shift)), round(ki * (1 << shift))
        if max(whole_kp, whole_ki) > INT32:
            continue
        # The sum alone can carry the width from one limit to the other, and no further.
        total = -(-(span << shift) // whole_ki) if whole_ki and base.law == "pi" else 0
        found = replace(base, kp=whole_kp, ki=whole_ki, shift=shift, total_limit=total)
        most = magnitudes(found)
        if total <= INT64 // 4 and max(most.number, most.trim, most.total) <= INT64:
            check_constants(found)
            return found
    require(False, "regulator: kp and ki must fit 31 bits; smaller gains or error_limit")
    raise AssertionError
