"""The pulse width that holds the arc on nearly all boards, and what it costs."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuits.boards.board_row import BoardRow
from circuits.boards.board_run import NEEDED, BoardRun
from circuits.boards.one_board import TRIED_WIDTH
from circuits.boards.side_by_side import Boards
from circuits.format_quantity import significant

Array = NDArray[np.float64]

HOLDS_ARC = "pulse.holds_arc"
LIFE = "cells.battery_life"
MOST = 0.99
"""Share of the boards that the width must serve: the last hundredth would cost all the others."""
AT_THE_EDGE = 6
"""Boards with the greatest need of those that it must serve, which are run whole at it."""
TRIALS = 3
DIGITS = 3
"""Nobody programs a width to more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WidthReserve:
    """A width that holds the arc on `MOST` of the boards; None where no width does.

    `without` is the share of boards that no width serves. `held` of `tried` boards at the edge,
    run whole at that width, hold their arc; `worst` is the margin of the worst board at it.
    `life` and `life_now` are the cells' at the sheet's values, with that width and with today's.
    `breaks` are other findings that fail at it on a board run whole, and not at today's width at
    the sheet's values.
    """

    now: float
    sized: bool
    width: float | None
    without: float
    tried: int = 0
    held: int = 0
    worst: float | None = None
    life: float | None = None
    life_now: float | None = None
    breaks: tuple[str, ...] = ()


def rounded_up(width: float) -> float:
    """Return a width as it can be programmed, not less than it was."""
    step = 10.0 ** (np.floor(np.log10(width)) - DIGITS + 1)
    return float(significant(float(np.ceil(width / step - 1e-9)) * step, DIGITS))


def _failing(rows: list[BoardRow]) -> set[str]:
    return {
        name
        for row in rows if row.run is not None
        for name, severity in row.run.severities.items() if severity == "fails"
    }  # fmt: skip


def _holds(row: BoardRow) -> bool:
    check = None if row.run is None else row.run.checks.get(HOLDS_ARC)
    return check is not None and (check.margin or 0.0) >= 0


def reserve_of(
    boards: Boards, centre: BoardRun, needed: Array, shares: Array, worst: Array
) -> WidthReserve:
    """Return the width that the boards need, held against boards run whole at it.

    Parameters
    ----------
    boards : Boards
        Runs boards whole.
    centre : BoardRun
        The board at the sheet's values.
    needed : numpy.ndarray
        What each drawn board needs; infinite where no width serves it.
    shares : numpy.ndarray
        Those boards, in rows.
    worst : numpy.ndarray
        The board with the least margin of all.

    Returns
    -------
    reserve : WidthReserve
    """
    names = list(boards.maker.tolerances)
    now = float(boards.maker.built.drive.pulse_width or 0.0)
    sized = boards.maker.done.design.drive.pulse_width is None
    without = float(np.isinf(needed).mean())
    order = np.argsort(needed)
    last = int(np.ceil(MOST * needed.size)) - 1
    if not np.isfinite(needed[order[last]]):
        return WidthReserve(now=now, sized=sized, width=None, without=without)
    edge = [dict(zip(names, shares[k].tolist(), strict=True)) for k in
            order[max(last - AT_THE_EDGE + 1, 0) : last + 1]]  # fmt: skip
    others = [dict(zip(names, worst.tolist(), strict=True)), {}]
    width = rounded_up(float(needed[order[last]]))
    rows: list[BoardRow] = []
    for _ in range(TRIALS):
        rows = boards.run({**one, TRIED_WIDTH: width} for one in edge)
        short = [row.run.numbers.get(NEEDED, np.inf) for row in rows
                 if row.run is not None and not _holds(row)]  # fmt: skip
        if not short or not np.isfinite(max(short)) or max(short) <= width:
            break
        # The map was off there: the boards say themselves what they need.
        width = rounded_up(max(short))
    at_worst, at_centre = boards.run({**one, TRIED_WIDTH: width} for one in others)
    check = None if at_worst.run is None else at_worst.run.checks.get(HOLDS_ARC)
    failing_now = {name for name, severity in centre.severities.items() if severity == "fails"}
    return WidthReserve(
        now=now, sized=sized, width=width, without=without, tried=len(rows),
        held=sum(map(_holds, rows)), worst=None if check is None else check.margin,
        life=None if at_centre.run is None else at_centre.run.numbers.get(LIFE),
        life_now=centre.numbers.get(LIFE),
        breaks=tuple(sorted(_failing([*rows, at_centre]) - failing_now - {HOLDS_ARC})),
    )  # fmt: skip
