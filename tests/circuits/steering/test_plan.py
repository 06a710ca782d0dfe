"""The planned loop in time: steps, start, a day, a year, each cause alone, and how steady it is."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from calc.follow_map import run_swings
from calc.steering_plant import held_width
from circuits.design_file import read_design
from circuits.design_write import with_changes
from circuits.format_quantity import show
from circuits.ledger import Change, Ledger
from circuits.stages.steering_loop import SteeringResult
from circuits.steering.course import course_of, quiet
from circuits.steering.loop_constants import regulator_of
from circuits.steering.plan import SteeringPlan, driven_from, plan
from circuits.steering.plan_sheet import gained_by_day
from circuits.steering.simulation import LoopRun, run_loop
from circuits.steering.stability import stability_of
from circuits.steering.steer_text import steer_text
from tests.sources import Kind, source

EXAMPLES = Path(__file__).parents[3] / "examples"
DAY = 86400.0


@cache
def planned(name: str, *, year: bool = False) -> SteeringPlan:
    return plan(read_design(EXAMPLES / f"{name}.toml"), year=year)


def loop_of(found: SteeringPlan) -> SteeringResult:
    assert found.loop is not None
    return found.loop


def fine(loop: SteeringResult) -> SteeringResult:
    """The same loop with a timer so fine that its steps do not count."""
    return replace(loop, tick=loop.interval / 2**31, jitter=0.0)


@pytest.mark.parametrize("name", ["foyer_sculpture", "school_pendulum"])
@source(Kind.IDENTITY, "the linear loop, followed in fractions with the settled slope at its width")
def test_a_small_step_is_held_as_the_linear_loop_holds_it(name: str) -> None:
    """2 %: over so small a step the curve of rate against width is almost straight."""
    own = fine(loop_of(planned(name)))
    constants = regulator_of(own)
    days, drift = 10 * own.time_constant / DAY, 1.0 / DAY
    found = run_loop(own, constants, quiet(own, days), name="step", words="", offset=drift)
    tau = (own.fresh.time_constant + own.spent.time_constant) / 2
    prompt = (own.fresh.slope_prompt + own.spent.slope_prompt) / 2
    held = held_width(
        slope=own.fresh.slope, slope_prompt=prompt, time_constant=tau, interval=own.interval
    )
    arc = error = total = width = 0.0
    linear = []
    for _ in found.time:
        arc, error = (
            held.fade * arc + (1 - held.fade) * width,
            error + held.by_width * width + held.by_arc * arc + drift * own.interval,
        )
        total -= error
        width = -own.kp * error + own.ki * total
        linear.append(error)
    assert np.abs(found.seen - linear).max() < 0.02 * max(linear)


@pytest.mark.parametrize("name", ["foyer_sculpture", "school_pendulum"])
@source(
    Kind.IDENTITY,
    "the movement itself, swing by swing, with and without a wider pulse; held to an independent "
    "run elsewhere",
)
def test_the_plant_is_what_the_movement_does(name: str) -> None:
    """4 %: a pulse wider by a twentieth already bends rate and time constant by some per cent."""
    found = planned(name)
    loop, stepped = loop_of(found), found.width_step
    assert stepped is not None
    driven = driven_from(found.design, found.done)
    swings = 2 * int(2 * loop.fresh.time_constant / loop.beat)
    steady, wider = (
        run_swings(
            movement=driven.system(width=width), arc=loop.fresh.arc, arc_high=3 * loop.fresh.arc,
            swings=swings,
        )
        for width in (loop.fresh.width, loop.fresh.width + stepped.width)
    )  # fmt: skip
    gained = steady.times - wider.times
    rises = (stepped.rate[1:] + stepped.rate[:-1]) / 2 * np.diff(stepped.time)
    expected = np.interp(steady.times, stepped.time, np.concatenate([[0.0], np.cumsum(rises)]))
    for k in (swings // 10, swings // 4, swings // 2, swings):
        assert gained[k] == pytest.approx(expected[k], rel=0.04)


@source(Kind.IDENTITY, "the loop followed in fractions, half a tick beside a width, without noise")
def test_the_limit_cycle_is_that_of_the_firmwares_integers() -> None:
    """Where in a tick the needed width lies is chance, and the integers' to and fro hangs on it.

    Over ten places within a tick the least is that of fractions; none is twice as large, since
    the integers cut the lag to whole ticks towards zero.
    """
    found = planned("foyer_sculpture")
    loop, cycle = loop_of(found), found.cycle
    assert cycle is not None
    days = 200 * loop.time_constant / DAY
    ways = []
    for aside in np.arange(10) / 10 * loop.tick:
        still = run_loop(
            loop, regulator_of(loop), quiet(loop, days), name="steps", words="", jitter=False,
            offset=-loop.fresh.slope * aside,
        )  # fmt: skip
        assert np.ptp(still.width[len(still.width) // 2 :]) <= 2.1 * loop.tick
        ways.append(np.ptp(still.seen[len(still.seen) // 2 :]))
    assert min(ways) == pytest.approx(cycle.phase_error, rel=0.1)
    assert max(ways) < 2 * cycle.phase_error


def test_a_start_by_hand_ends_on_time() -> None:
    found = planned("school_pendulum")
    assert found.start is not None
    assert abs(found.start.seen[-1]) < 2e-3 < found.start.largest
    assert found.start.arc[0] < found.start.arc[-1]


def test_a_year_stays_within_its_widths_and_errors() -> None:
    found = planned("foyer_sculpture", year=True)
    loop, year = loop_of(found), found.year
    assert year is not None
    assert year.time[-1] == pytest.approx(365 * DAY, rel=1e-2)
    assert loop.width_min < year.width.min()
    assert year.width.max() < loop.width_max
    assert year.largest < 0.2
    assert year.skipped == 0
    # A quarter of the cells' life: the pulse has become wider, at about the same arc.
    assert year.width[-1] > year.width[0] + 5 * loop.tick
    assert year.arc[-1] == pytest.approx(loop.fresh.arc, rel=0.05)


@source(Kind.COMMON_PRACTICE, "no source: thirty parts in a million are 2.59 s a day")
def test_what_the_crystal_is_off_no_loop_sees() -> None:
    """The design's crystal_tolerance, and the temperature's half a part in a million beside it."""
    rows = {row.cause: row for row in planned("foyer_sculpture").budget}
    assert DAY * rows["crystal"].lost == pytest.approx(-2.59, abs=0.3)
    assert DAY * rows["cells"].free == pytest.approx(107, abs=5)
    assert rows["cells"].error < 0.1
    for cause, row in rows.items():
        if cause != "crystal":
            assert row.lost == 0.0, cause


def test_without_a_loop_the_cells_would_cost_minutes_a_day() -> None:
    """The budget's free rate is the sheet's own, and that of the curves the loop works on."""
    found = planned("foyer_sculpture")
    loop, settled = loop_of(found), found.done.result("settled")
    rows = {row.cause: row for row in found.budget}
    assert rows["cells"].free == settled.rate_spent - settled.held.rate
    width = loop.width_now
    sag = loop.curves.spent.at(width).rate - loop.curves.fresh.at(width).rate
    assert rows["cells"].free == pytest.approx(sag, rel=2e-3)


@pytest.mark.parametrize("name", ["foyer_sculpture", "school_pendulum"])
@source(Kind.IDENTITY, "what the timer's steps leave, by the budget's run and by the limit cycle")
def test_the_budget_counts_no_start_as_a_cause(name: str) -> None:
    """Half the to and fro to either side, and the whole ticks to which the lag is cut."""
    found = planned(name)
    loop, cycle = loop_of(found), found.cycle
    assert cycle is not None
    rows = {row.cause: row for row in found.budget}
    assert rows["steps"].error < cycle.phase_error + 2 * loop.tick
    assert rows["steps"].error < rows["place" if "place" in rows else "bob"].error


def test_a_day_costs_one_figure() -> None:
    """The finding, and the sentence on the day that was tried."""
    found = planned("school_pendulum")
    assert found.day is not None
    (gained,) = gained_by_day(found.day)
    holds = next(f for f in found.sheet.findings if f.id == "steering.holds")
    assert holds.value == abs(gained)
    text = " ".join(steer_text(found).split())
    assert f"costs {show(abs(gained), 's')} against true time" in text
    assert f"ends {show(abs(gained), 's')} {'before' if gained > 0 else 'behind'} true time" in text


@source(
    Kind.PUBLISHED,
    "febo.com time-nuts list, August 2010: a pendulum steered by its own time error locked with a "
    "phase offset of 200 ms: the offset is set by the correction that is needed",
)
def test_a_law_by_the_error_alone_keeps_a_standing_offset() -> None:
    """Half a tick of width over the gain is the resolution of the standing offset."""
    found = planned("foyer_sculpture")
    loop = loop_of(found)
    laws = {law.law: law for law in found.laws}
    assert found.step_figures is not None
    standing = found.step_figures.rate / abs(loop.fresh.slope * loop.kp)
    assert laws["integral"].standing == pytest.approx(
        standing, abs=0.6 * loop.tick / abs(loop.kp) + 0.1 * standing
    )
    assert abs(laws["pi"].standing) < 0.1 * standing


def test_a_push_beyond_its_reach_is_forgotten_afterwards() -> None:
    """A day of more than the widths can do must not leave a sum that takes days to unwind."""
    loop = loop_of(planned("school_pendulum"))
    still = quiet(loop, 4.0)
    hours = np.arange(len(still.weather))
    beyond = 0.7 * (loop.reach_high - loop.reach_low)
    pushed = replace(still, weather=beyond * ((hours >= 24) & (hours < 27)))
    run = run_loop(loop, regulator_of(loop), pushed, name="push", words="")
    at_limit = run.width <= loop.width_min + 1.5 * loop.tick
    assert at_limit.any() or (run.width >= loop.width_max - 1.5 * loop.tick).any()
    assert np.abs(run.seen[run.time > 3 * DAY]).max() < 0.1 * run.largest


@source(
    Kind.FROM_MEMORY,
    "W. J. Riley, Handbook of Frequency Stability Analysis, NIST SP 1065, set of nine numbers",
    printed="overlapping Allan deviation 91.22945 at one, 85.95287 at two",
)
def test_allan_deviation_of_a_known_set() -> None:
    rates = [892.0, 809.0, 823.0, 798.0, 671.0, 644.0, 883.0, 903.0, 677.0]
    phase = np.concatenate([[0.0], np.cumsum(rates)])
    zero = np.zeros(len(phase))
    run = LoopRun(
        name="", words="", time=np.arange(1.0, len(phase) + 1), error=phase, seen=phase,
        width=zero, arc=zero, rate=zero, skipped=0,
    )  # fmt: skip
    found = stability_of(run)
    assert found is not None
    by_span = dict(zip(found.span, found.deviation, strict=True))
    assert by_span[1.0] == pytest.approx(91.22945, abs=5e-6)
    assert by_span[2.0] == pytest.approx(85.95287, abs=5e-6)


@source(Kind.IDENTITY, "white phase noise: deviation sqrt(3) sigma / span")
def test_jitter_alone_falls_as_white_phase_noise() -> None:
    """3 %: a finite sample of twenty thousand."""
    sigma, count = 4e-4, 20_000
    noise = np.random.default_rng(3).normal(0, sigma, count)
    zero = np.zeros(count)
    run = LoopRun(
        name="", words="", time=np.arange(1, count + 1) * 50.0, error=noise, seen=noise,
        width=zero, arc=zero, rate=zero, skipped=0,
    )  # fmt: skip
    found = stability_of(run)
    assert found is not None
    assert found.deviation[0] == pytest.approx(np.sqrt(3) * sigma / 50.0, rel=0.03)


def test_the_weather_keeps_within_the_stated_span() -> None:
    design = read_design(EXAMPLES / "foyer_sculpture.toml")
    course = course_of(design, Ledger(), days=365.0, life=4 * 365 * DAY)
    assert course.temperature.min() == pytest.approx(288.15, abs=0.2)
    assert course.temperature.max() == pytest.approx(301.15, abs=0.2)
    assert course.fresh[-1] == pytest.approx(0.75, abs=1e-3)
    assert (np.diff(course.crystal[::24])[:30] != 0).all()


def test_a_design_without_a_swing_says_so() -> None:
    design = with_changes(
        read_design(EXAMPLES / "foyer_sculpture.toml"),
        [Change(section="drive", key="polarity", text="attract")],
    )
    found = plan(design)
    assert found.loop is None
    assert not found.holds
    assert found.sheet.findings[0].id == "steering.plan"
