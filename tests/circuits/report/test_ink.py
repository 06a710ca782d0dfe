"""Strokes, scales and units of the pictures."""

from itertools import combinations

import pytest

from circuits.report.ink import FOURTH, FRESH, LIMIT, SPENT, THIRD
from circuits.report.scales import Scale, even, handy, step_of, tick_text


@pytest.mark.parametrize(("one", "other"), [*combinations((FRESH, SPENT, THIRD, FOURTH, LIMIT), 2)])
def test_no_stroke_differs_from_another_by_colour_alone(one: object, other: object) -> None:
    for name in ("dashes", "marks", "width"):
        if getattr(one, name) != getattr(other, name):
            return
    pytest.fail(f"{one} and {other} look alike in black and white")


@pytest.mark.parametrize(
    ("low", "high", "most", "step"),
    [(0.0, 10.0, 5, 2.0), (-0.3, 0.4, 6, 0.2), (0.0, 1e-6, 4, 5e-7), (3.0, 3.1, 5, 0.02)],
)
def test_ticks_are_round_and_no_more_than_wanted(
    low: float, high: float, most: int, step: float
) -> None:
    assert step_of(low, high, most) == pytest.approx(step)
    ticks = even(low, high, most)
    assert 2 <= len(ticks) <= most + 1
    assert all(low - 1e-12 <= tick <= high + 1e-12 for tick in ticks)


def test_a_logarithmic_scale_spaces_decades_evenly() -> None:
    scale = Scale(low=1.0, high=1000.0, start=0.0, end=300.0, log=True)
    assert [scale.at(v) for v in (1.0, 10.0, 100.0, 1000.0)] == pytest.approx([0, 100, 200, 300])
    assert scale.ticks() == [1.0, 10.0, 100.0, 1000.0]


@pytest.mark.parametrize(
    ("largest", "name"), [(4.7, "V"), (0.047, "mV"), (3e-6, "\u00b5V"), (0.0, "pV"), (2e4, "kV")]
)
def test_an_axis_takes_the_unit_that_reads_best(largest: float, name: str) -> None:
    assert handy(largest, "V").name == name


def test_ticks_are_written_with_a_true_minus() -> None:
    assert [tick_text(v) for v in (-2.5, 0.0, 1e-7)] == ["\u22122.5", "0", "1e\u22127"]
