"""The firmware's regulator in integers: its law, its limits, and that it cannot overflow."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc.calculator import OutOfRangeError
from calc.regulator import (
    LAWS,
    ONE_TICK,
    RegulatorConstants,
    quick_stepper,
    regulator_step,
    rounded_quotient,
    start_state,
    step_many,
)
from calc.regulator_sizing import (
    INT32,
    INT64,
    UINT32,
    check_constants,
    magnitudes,
    regulator_constants,
)
from tests.sources import Kind, source

WIDE = RegulatorConstants(
    law="pi", beats_per_correction=64, nominal=1_700_000 * ONE_TICK + 21_845, interval_limit=6_600,
    width_min=98, width_centre=245, width_max=490, width_step=1, direction=-1, kp=22_870_000,
    ki=397_000, shift=30, dead_band=2, error_limit=983_040, total_limit=1_100_000,
)  # fmt: skip


@st.composite
def any_constants(draw: st.DrawFn) -> RegulatorConstants:
    """Constants that the sizing accepts, over all laws and magnitudes."""
    tick = draw(st.sampled_from([1 / 32768, 1e-6, 62.5e-9, 1e-3, 3.3e-5]))
    beat = draw(st.floats(0.1, 3.0))
    beats = draw(st.integers(1, max(1, min(400, int(0.9 * UINT32 * tick / beat)))))
    low = draw(st.floats(1.5 * tick, 0.02))
    high = low + draw(st.floats(2 * tick, 0.1))
    centre = low + draw(st.floats(0, 1)) * (high - low)
    return regulator_constants(
        law=draw(st.sampled_from(LAWS)), tick=tick, beat=beat, beats_per_correction=beats,
        width_min=low, width_centre=centre, width_max=high,
        width_step=tick * draw(st.integers(1, 7)), direction=draw(st.sampled_from([1, -1])),
        kp=draw(st.floats(0, 50)), ki=draw(st.floats(0, 5)),
        dead_band=tick * draw(st.integers(0, 9)),
        error_limit=tick * draw(st.integers(10, INT32)),
    )  # fmt: skip


def in_fractions(
    c: RegulatorConstants, error: Fraction, total: int, width: int, elapsed: int
) -> tuple[Fraction, int, int]:
    """One correction in exact fractions, written from the words of the law alone."""
    difference = Fraction(elapsed) - Fraction(c.nominal, ONE_TICK)
    if abs(difference) > c.interval_limit:
        return error, total, width
    seen = min(max(error + difference, Fraction(-c.error_limit)), Fraction(c.error_limit))
    late = int(seen)  # towards zero
    beyond = late - c.dead_band if late > 0 else late + c.dead_band
    if abs(late) <= c.dead_band:
        beyond = 0
    if c.law == "tick":
        sign = (beyond > 0) - (beyond < 0)
        wanted = width + c.direction * c.width_step * sign
        return (seen - late if sign else seen), total, min(max(wanted, c.width_min), c.width_max)
    gain_p, gain_i = Fraction(c.kp, 2**c.shift), Fraction(c.ki, 2**c.shift)
    summed = min(max(total + beyond, -c.total_limit), c.total_limit)
    pull = gain_p * beyond + gain_i * summed if c.law == "pi" else gain_i * beyond
    steps = pull / c.width_step
    whole = int(abs(steps) + Fraction(1, 2)) * (1 if steps > 0 else -1)
    wanted = c.width_centre + c.direction * c.width_step * whole
    pushes = c.direction * (beyond if c.law == "pi" else difference)
    deeper = (wanted > c.width_max and pushes > 0) or (wanted < c.width_min and pushes < 0)
    width = min(max(wanted, c.width_min), c.width_max)
    if c.law == "pi":
        return seen, (total if deeper else summed), width
    return (error if deeper else seen), total, width


@source(Kind.IDENTITY, "the same law in exact fractions, written from its words")
@given(
    any_constants(),
    st.lists(st.tuples(st.floats(-1.2, 1.2), st.integers(-40, 40)), min_size=1, max_size=40),
)
@settings(max_examples=150, deadline=None)
def test_step_follows_its_law_in_fractions(
    constants: RegulatorConstants, course: list[tuple[float, int]]
) -> None:
    state = start_state(constants)
    error, total, width = Fraction(0), 0, constants.width_centre
    for share, small in course:
        off = int(share * constants.interval_limit) if abs(share) > 0.6 else small
        elapsed = min(max(constants.nominal // ONE_TICK + off, 0), UINT32)
        state = regulator_step(constants=constants, state=state, elapsed=elapsed)
        error, total, width = in_fractions(constants, error, total, width, elapsed)
        assert (Fraction(state.error, ONE_TICK), state.total, state.width) == (error, total, width)


@given(any_constants(), st.lists(st.integers(0, UINT32), min_size=1, max_size=60))
@settings(max_examples=150, deadline=None)
def test_no_interval_makes_a_step_overflow(
    constants: RegulatorConstants, course: list[int]
) -> None:
    """Whatever the timer says, every number stays within the magnitudes that were checked."""
    most = magnitudes(constants)
    assert max(most.difference, most.error, most.number, most.trim, most.total) <= INT64
    step = quick_stepper(constants, start_state(constants))
    near = constants.nominal // ONE_TICK
    for elapsed in course:
        for count in (elapsed, min(near + elapsed % constants.interval_limit, UINT32)):
            error, total, width, _ = step(count)
            assert abs(error) <= constants.error_limit * ONE_TICK
            assert abs(total) <= constants.total_limit
            assert constants.width_min <= width <= constants.width_max


@given(any_constants(), st.integers(0, 2**32 - 1))
@settings(max_examples=60, deadline=None)
def test_many_regulators_step_as_one(constants: RegulatorConstants, seed: int) -> None:
    generator = np.random.default_rng(seed)
    near = constants.nominal // ONE_TICK
    count, steps = 5, 25
    off = generator.integers(-constants.interval_limit, constants.interval_limit + 1,
                             size=(steps, count))  # fmt: skip
    elapsed = np.clip(near + off, 0, UINT32)
    singles = [quick_stepper(constants, start_state(constants)) for _ in range(count)]
    error = np.zeros(count, dtype=np.int64)
    total = np.zeros(count, dtype=np.int64)
    width = np.full(count, constants.width_centre, dtype=np.int64)
    for row in elapsed:
        error, total, width = step_many(constants, error, total, width, row)
        alone = [single(int(ticks)) for single, ticks in zip(singles, row, strict=True)]
        assert [a[:3] for a in alone] == list(
            zip(error.tolist(), total.tolist(), width.tolist(), strict=True)
        )


@given(st.integers(-(2**62), 2**62), st.integers(1, 2**40))
def test_quotients_are_rounded_to_the_nearest(number: int, divisor: int) -> None:
    exact = Fraction(number, divisor)
    found = rounded_quotient(number, divisor)
    assert abs(exact - found) <= Fraction(1, 2)
    assert rounded_quotient(-number, divisor) == -found


@source(Kind.IDENTITY, "a scaled integer is off by half a unit at most")
@given(any_constants())
@settings(max_examples=100, deadline=None)
def test_constants_keep_gains_and_interval(constants: RegulatorConstants) -> None:
    """What the shift leaves of the gains, and that a larger shift would not have fitted."""
    check_constants(constants)
    if constants.shift < 30:
        with pytest.raises(OutOfRangeError):
            check_constants(
                replace(
                    constants, shift=constants.shift + 1, kp=2 * constants.kp + 2,
                    ki=2 * constants.ki + 2, total_limit=2 * constants.total_limit + 2,
                )
            )  # fmt: skip


def test_the_interval_keeps_its_fraction() -> None:
    """A year of a clock on a watch crystal's timer loses nothing by the rounded interval.

    A whole number of ticks for each beat of 0.8123 s would lose part of a tick in 26 617 (1.45
    s/day); with 1/65536 tick in 64 beats it is less than a microsecond a day.
    """
    found = regulator_constants(
        law="pi", tick=1 / 32768, beat=0.8123, beats_per_correction=64, width_min=3e-3,
        width_centre=7.5e-3, width_max=15e-3, width_step=1 / 32768, direction=-1, kp=0.02,
        ki=4e-4, dead_band=0.0, error_limit=30.0,
    )  # fmt: skip
    kept = Fraction(found.nominal, ONE_TICK) / 32768
    assert abs(kept / (64 * Fraction(8123, 10000)) - 1) * 86400 < 1e-6
    assert abs(round(0.8123 * 32768) / (0.8123 * 32768) - 1) * 86400 == pytest.approx(
        1.449, abs=5e-4
    )


def test_a_late_movement_is_pushed_the_side_that_makes_it_gain() -> None:
    late = WIDE.nominal // ONE_TICK + 6000
    for direction in (1, -1):
        constants = replace(WIDE, direction=direction)
        after = regulator_step(constants=constants, state=start_state(constants), elapsed=late)
        assert (after.width - constants.width_centre) * direction > 0


def test_an_error_at_the_limit_is_not_summed() -> None:
    """Half a day against the stop leaves no more than the way back from the stop itself."""
    step = quick_stepper(WIDE, start_state(WIDE))
    near = WIDE.nominal // ONE_TICK
    for _ in range(1000):
        _, total, width, _ = step(near + 3000)
    assert width == WIDE.width_min
    assert abs(total) < WIDE.total_limit / 20
    steps = 0
    while width == WIDE.width_min and steps < 400:
        _, _, width, _ = step(near - 3000)
        steps += 1
    assert steps < 340


def test_a_missed_beat_is_not_believed() -> None:
    state = start_state(WIDE)
    beat = WIDE.nominal // ONE_TICK // WIDE.beats_per_correction
    missed = regulator_step(constants=WIDE, state=state, elapsed=WIDE.nominal // ONE_TICK + beat)
    assert missed == replace(state, skipped=1)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"kp": INT32 + 1}, "kp must fit"),
        ({"error_limit": INT32, "kp": INT32, "total_limit": INT64 // 4, "ki": 3}, "number must"),
        ({"direction": 0}, "direction must be"),
        ({"nominal": (UINT32 + 1) * ONE_TICK}, "fewer beats"),
        ({"width_max": INT32}, "width_max must fit"),
        ({"width_centre": 97}, "order"),
        ({"shift": 31}, "shift must"),
        ({"law": "bang"}, "law must"),
    ],
)
def test_constants_that_could_overflow_are_refused(change: dict[str, int], says: str) -> None:
    check_constants(WIDE)
    with pytest.raises(OutOfRangeError, match=says):
        check_constants(replace(WIDE, **change))


def test_an_interval_that_no_timer_gives_is_refused() -> None:
    for elapsed in (-1, UINT32 + 1):
        with pytest.raises(OutOfRangeError, match="32 bits"):
            regulator_step(constants=WIDE, state=start_state(WIDE), elapsed=elapsed)
