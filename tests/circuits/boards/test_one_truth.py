"""Boards against the sheet: the same stages, the same calculators, the same figures."""

import numpy as np
import pytest

from calc.bipolar import pin_current
from calc.calculator import on_samples
from circuits.boards.board_run import numbers_of
from circuits.boards.circuit_model import CircuitModel
from tests.circuits.boards.some_designs import EXAMPLES, OTHERS, REFERENCES, maker_of, random_shares
from tests.sources import Kind, source

ROUNDING = 1e-9
"""The same equations in another order of operations."""

AT_THE_WORST = {"drive.r_b_min", "drive.r_b_max", "drive.i_pin", "rate.reference"}
"""What the sheet gives for the worst of the tolerances, and a board for its own values."""

OVER_THE_SPAN = {"rate.temperature"}
"""What exists only between two temperatures: no board has it."""


@source(Kind.IDENTITY, "a board whose every part has the sheet's value is the sheet")
@pytest.mark.parametrize("name", [*EXAMPLES, *OTHERS, *REFERENCES])
def test_the_middle_board_is_the_sheet(name: str) -> None:
    maker = maker_of(name)
    sheet, board = numbers_of(maker.done), numbers_of(maker.centre)
    assert set(sheet) - OVER_THE_SPAN <= set(board)
    differ = {
        one for one, value in sheet.items()
        if one not in OVER_THE_SPAN and board[one] != pytest.approx(value, rel=ROUNDING, abs=1e-30)
    }  # fmt: skip
    assert differ <= AT_THE_WORST


@source(Kind.IDENTITY, "calculators on arrays against the stages, board by board")
@pytest.mark.parametrize("name", [*EXAMPLES, *OTHERS, *REFERENCES])
def test_closed_forms_are_the_stages_board_by_board(name: str) -> None:
    """At the middle, and at boards anywhere within the tolerances."""
    maker = maker_of(name)
    shares = random_shares(maker, 3, seed=20)
    for places in shares.values():
        places[0] = 0.0
    model = CircuitModel(maker, shares)
    figures = model.run()
    assert not model.refused
    assert len(figures) >= 24
    for board in range(3):
        stages = numbers_of(maker.run({one: float(v[board]) for one, v in shares.items()}))
        for figure, values in figures.items():
            assert values[board] == pytest.approx(stages[figure], rel=ROUNDING), figure


def test_a_board_that_the_pin_cannot_open_has_no_sheet() -> None:
    """Out of range on some boards: they are marked with the reason, the others go on."""
    maker = maker_of("foyer_sculpture")
    model = CircuitModel(maker, {"supply.life": np.array([0.0, 0.5, 1.0])})
    given = np.array([3.0, 0.5, 2.0])

    found = model._kept(on_samples, pin_current, v_pin=given, r_pin=50.0, r_b=1e3, v_be=0.8)
    assert [list(mask) for _, mask in model.refused] == [[False, True, False]]
    assert "v_pin" in model.refused[0][0]
    alone = on_samples(pin_current, v_pin=given[[0, 2]], r_pin=50.0, r_b=1e3, v_be=0.8)
    assert list(found[[0, 2]]) == list(alone)
