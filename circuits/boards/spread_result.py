"""What the boards of one design differ by: figures, checks and what stands behind them."""

from collections.abc import Mapping
from dataclasses import dataclass

from circuits.boards.board_samples import BoardSamples
from circuits.boards.strength import Strength
from circuits.boards.tolerances import BoardTolerance
from circuits.boards.width_reserve import WidthReserve

CORNERS, SEARCH = "corners", "search"
ARRAYS, MAP = "arrays", "map"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadFigure:
    """One figure over the boards.

    `sheet` is the sheet's, `centre` that of the board whose every part has the sheet's value: they
    differ where the sheet gives the worst of the tolerances, or sizes anew what a board has fixed.
    `least` and `most` are the worst boards', found by the way `worst_by` names; `made_by` is
    `arrays` for a figure that the calculators gave for every board, `map` for one between boards
    that were run whole, by which it may be off by `error`. `absent` is the share of the boards
    that lie about a run without the figure; low, typical and high are those of the others.
    """

    id: str
    words: str
    unit: str
    state: str
    sheet: float
    centre: float
    low: float
    typical: float
    high: float
    least: float
    most: float
    worst_by: str
    made_by: str
    error: float
    strongest: tuple[Strength, ...]
    absent: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadCheck:
    """One check over the boards; `missed` is the share of them beyond its limit.

    `unconfirmed` is that share where the map alone says so, while no board that was run whole
    missed it, the map's own worst among them: the map is off there.
    `said` and `remedy` are what the stages say of the worst board, where they ran it whole.
    The others are margins: on the sheet, at the sheet's values, over the boards, at the worst.
    Where `run_whole` the worst board's margin is the stages' own, else the map's. `severity` is
    how a miss counts: `fails`, `mind`, or empty where no run missed it.
    """

    id: str
    severity: str
    missed: float
    sheet: float
    centre: float
    low: float
    typical: float
    least: float
    worst_by: str
    run_whole: bool
    error: float
    rests_on: tuple[str, ...]
    strongest: tuple[Strength, ...]
    absent: float = 0.0
    unconfirmed: float = 0.0
    said: str = ""
    remedy: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """Boards for which no sheet can be computed, with the reason."""

    share: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """What boards of one design differ by; `failing` is the share on which a check fails.

    `judged` are the findings without a limit in numbers that fail on boards run whole, with the
    share of the boards about those: nearer to them than to the next that is good; `judged_said`
    is what the stages say of one of them. `reserve` is
    there where too many boards do not hold their arc at today's pulse width.
    """

    title: str
    boards: int
    seed: int
    distribution: str
    tolerances: tuple[BoardTolerance, ...]
    figures: tuple[SpreadFigure, ...]
    checks: tuple[SpreadCheck, ...]
    not_spread: Mapping[str, str]
    judged: Mapping[str, float]
    judged_said: Mapping[str, str]
    refused: tuple[Refused, ...]
    failing: float
    runs: int
    samples: BoardSamples
    reserve: WidthReserve | None = None

    @property
    def fails(self) -> bool:
        """Whether anything fails on any board."""
        return self.failing > 0
