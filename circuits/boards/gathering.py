"""Boards drawn and worst boards found, summed up into figures and checks."""

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from threading import Lock
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from circuits.boards.board_run import NEEDED, BoardRun, taken_from
from circuits.boards.board_samples import BoardSamples
from circuits.boards.circuit_model import CircuitModel
from circuits.boards.side_by_side import Boards
from circuits.boards.spread_result import (
    ARRAYS,
    CORNERS,
    MAP,
    SEARCH,
    Refused,
    Spread,
    SpreadCheck,
    SpreadFigure,
)
from circuits.boards.stage_map import CHECK, StageMap, in_boxes
from circuits.boards.strength import ranks_of, strongest
from circuits.boards.width_reserve import HOLDS_ARC, MOST, WidthReserve, reserve_of
from circuits.boards.worst_case import Worst, worst_boards
from circuits.ledger import Value

Array = NDArray[np.float64]
R = TypeVar("R")

LOW, TYPICAL, HIGH = 0.01, 0.5, 0.99
"""Shares of the boards below a figure's low, typical and high."""
RANKED = 5_000
"""Boards over which the strongest tolerances are ranked."""
STARTS = 1_000
"""Boards from whose best the search for the worst starts."""
WORKERS = 2
TOGETHER = 16
"""Columns that are computed in one product."""
NEAR = 0.1
"""The worst boards of checks with less margin than this are run whole by the stages."""
MOST_WHOLE = 16
COUNTS = 0.01
"""A tolerance that moves a check by less than this share of the one that moves it most does not
count among those that it rests on."""
SPANS = "spans the tolerances of the file itself: not a board's own figure"


class Gathering:
    """Evaluates the boards and sums them up."""

    def __init__(self, boards: Boards, found: StageMap, shares: Array) -> None:
        self.boards, self.found, self.shares = boards, found, shares
        self.maker = maker = boards.maker
        self.sheet = maker.done.ledger
        self.names = [one.name for one in found.tolerances]
        self.samples = BoardSamples(maker=maker, found=found, shares=shares)
        self.ranks = ranks_of(shares[:RANKED].T)
        self.kept = ~self.samples.refused_any
        self.whole = bool(self.kept.all())
        self.lock = Lock()
        self.beyond = np.zeros(len(shares), dtype=bool)

    def spread(self, title: str, seed: int, distribution: str) -> Spread:
        """Return the sum of it all."""
        found = self.found
        not_spread = dict(found.lost)
        numbers = [name for name in found.columns if not name.startswith(CHECK)]
        figures = [name for name in numbers if name in self.sheet.values]
        checks = [
            name for name in found.columns
            if name.startswith(CHECK) and name.removeprefix(CHECK) in self.sheet.findings
        ]  # fmt: skip
        for value in self.sheet.values.values():
            if value.unit is not None and value.id not in found.columns:
                not_spread.setdefault(value.id, SPANS)
        moving = [name for name in (*figures, *checks) if self._moves(name)]
        worst = {
            one.name: one for one in worst_boards(found, moving, self.shares[:STARTS])
        } if moving else {}  # fmt: skip
        extremes = self._extremes(worst)
        whole = self._run_whole(checks, worst, extremes)

        def figure(name: str, values: Array) -> SpreadFigure:
            return self._figure(name, values, worst, extremes)

        def check(name: str, values: Array) -> SpreadCheck:
            return self._check(name, values, worst, extremes, whole)

        all_figures, all_checks = self._each(figures, figure), self._each(checks, check)
        reserve = self._reserve(worst, all_checks)
        judged_in_words = {
            name: float(in_boxes(boxes, self.shares).mean()) for name, boxes in found.judged.items()
        }
        refused = tuple(
            Refused(share=float(mask.mean()), reason=reason)
            for reason, mask in self.samples.refused
            if mask.any()
        )
        return Spread(
            title=title, boards=len(self.shares), seed=seed, distribution=distribution,
            tolerances=found.tolerances, figures=tuple(all_figures),
            checks=tuple(all_checks),
            not_spread=not_spread, judged=judged_in_words,
            judged_said=self._judged_said(judged_in_words), refused=refused,
            failing=float((self.beyond | ~self.kept).mean()),
            runs=len(self.boards.used) + 1, samples=self.samples, reserve=reserve,
        )  # fmt: skip

    def _reserve(self, worst: dict[str, Worst], checks: list[SpreadCheck]) -> WidthReserve | None:
        """Return the width that nearly all boards need, where today's does not do."""
        check = next((one for one in checks if one.id == HOLDS_ARC), None)
        if check is None or check.missed <= 1 - MOST or CHECK + HOLDS_ARC not in worst:
            return None
        if NEEDED not in self.found.columns:
            return None
        needed = self.samples.column(NEEDED)
        absent, had = self._absent(NEEDED)
        if absent and had is not None:
            needed = np.where(had, needed, np.inf)
        return reserve_of(
            self.boards, taken_from(self.maker.centre), needed[self.kept], self.shares[self.kept],
            worst[CHECK + HOLDS_ARC].least,
        )  # fmt: skip

    def _moves(self, name: str) -> bool:
        weights = self.found.columns[name].weights
        return bool(weights.size and np.abs(weights).max() > 1e-12)

    def _absent(self, name: str) -> tuple[float, NDArray[np.bool_] | None]:
        """Return the share of boards without a column, and the others where that is not all."""
        boxes = self.found.columns[name].absent
        if not boxes:
            return 0.0, None if self.whole else self.kept
        absent = in_boxes(boxes, self.shares)
        return float(absent.mean()), self.kept & ~absent

    def _centre(self, name: str) -> float:
        column = self.found.columns[name]
        return float(column.figure(np.array([column.centre]))[0])

    def _rests_on(self, name: str) -> tuple[str, ...]:
        weights = np.abs(self.found.columns[name].weights)
        most = weights.max(initial=0.0)
        rests = {
            owner
            for owners, weight in zip(self.found.owners(), weights, strict=True)
            if most > 0 and weight >= COUNTS * most and len(owners) == 1
            for owner in owners
        }
        return tuple(self.names[k] for k in sorted(rests))

    def _extremes(self, worst: dict[str, Worst]) -> dict[str, tuple[float, float]]:
        """Return the figures of the worst boards; those of closed form from the calculators."""
        names = list(worst)
        found: dict[str, tuple[float, float]] = {}
        for name in names:
            both = np.array([worst[name].least, worst[name].greatest])
            low, high = self.found.values(name, self.found.features(both))
            found[name] = (float(low), float(high))
        exact = [name for name in names if name in self.samples.arrays]
        if exact:
            rows = np.array([b for n in exact for b in (worst[n].least, worst[n].greatest)])
            model = CircuitModel(self.maker, dict(zip(self.names, rows.T, strict=True)))
            columns = model.run()
            for k, name in enumerate(exact):
                if name in columns:
                    low, high = columns[name][2 * k], columns[name][2 * k + 1]
                    found[name] = (float(low), float(high))
        return found

    def _each(self, names: list[str], work: Callable[[str, Array], R]) -> list[R]:
        """Sum up columns, a few at a time so that they need not all be held."""
        found: list[R] = []
        with ThreadPoolExecutor(max_workers=WORKERS) as pool:
            for start in range(0, len(names), TOGETHER):
                part = names[start : start + TOGETHER]
                found += pool.map(work, part, self.samples.columns(part))
        return found

    def _run_whole(
        self, checks: list[str], worst: dict[str, Worst], extremes: dict[str, tuple[float, float]]
    ) -> dict[str, BoardRun]:
        """Return the runs of the worst boards that miss a limit, or nearly."""
        near = [n for n in checks if n in worst and extremes[n][0] < NEAR]
        near = sorted(near, key=lambda n: extremes[n][0])[:MOST_WHOLE]
        rows = self.boards.run(
            dict(zip(self.names, worst[name].least.tolist(), strict=True)) for name in near
        )
        return {
            name: row.run
            for name, row in zip(near, rows, strict=True)
            if row.run is not None and row.run.has(name)
        }

    def _judged_said(self, names: Iterable[str]) -> dict[str, str]:
        """Return what the stages say where each of these findings fails, of the simplest board."""
        places = sorted(self.boards.used, key=lambda place: (len(place), place))
        runs = [run for place in places if (run := self.boards.rows[place].run) is not None]
        return {
            name: next(
                (
                    run.said.get(name, "")
                    for run in runs
                    if run.severities.get(name) == "fails" and name not in run.checks
                ),
                "",
            )
            for name in names
        }

    def _figure(
        self, name: str, values: Array, worst: dict[str, Worst],
        extremes: dict[str, tuple[float, float]],
    ) -> SpreadFigure:  # fmt: skip
        value: Value = self.sheet.values[name]
        absent, had = self._absent(name)
        low, typical, high = _quantiles(values if had is None else values[had])
        least, most = extremes.get(name, (low, high))
        made_by = ARRAYS if name in self.samples.arrays else MAP
        return SpreadFigure(
            id=name, words=value.words, unit=value.unit or "1", state=value.state,
            sheet=float(value.value), centre=self._centre(name), low=low, typical=typical,
            high=high, least=min(least, low), most=max(most, high),
            worst_by=CORNERS if name not in worst or worst[name].in_corner else SEARCH,
            made_by=made_by, error=0.0 if made_by == ARRAYS else self.found.columns[name].error,
            strongest=strongest(self.names, self.ranks, values[:RANKED]) if name in worst else (),
            absent=absent,
        )  # fmt: skip

    def _check(
        self, name: str, values: Array, worst: dict[str, Worst],
        extremes: dict[str, tuple[float, float]], whole: dict[str, BoardRun],
    ) -> SpreadCheck:  # fmt: skip
        absent, had = self._absent(name)
        low, typical, _ = _quantiles(values if had is None else values[had])
        check = name.removeprefix(CHECK)
        severity, ran = self.found.severity.get(check, ""), whole.get(name)
        at_worst = None if ran is None else ran.checks[check]
        least = min(extremes.get(name, (low, low))[0], low)
        if at_worst is not None:
            least = at_worst.margin or 0.0
            if least < 0:
                severity = severity or at_worst.severity.value
        missed = values < 0
        if had is not None:
            missed &= had
        share = float(missed.mean())
        # What the map alone says, against every board that was run whole, is its own error.
        alone = not severity and at_worst is not None
        if share and not alone and severity != "mind":
            with self.lock:
                self.beyond |= missed
        return SpreadCheck(
            id=check, severity=severity, said="" if ran is None else ran.said.get(check, ""),
            remedy="" if at_worst is None else at_worst.remedy,
            missed=0.0 if alone else share,
            unconfirmed=share if alone else 0.0,
            sheet=float(self.sheet.findings[check].margin or 0.0), centre=self._centre(name),
            low=low, typical=typical,
            least=least, run_whole=at_worst is not None,
            worst_by=CORNERS if name not in worst or worst[name].in_corner else SEARCH,
            error=self.found.columns[name].error,
            rests_on=self._rests_on(name),
            strongest=strongest(self.names, self.ranks, values[:RANKED]) if name in worst else (),
            absent=absent,
        )  # fmt: skip


def _quantiles(values: Array) -> tuple[float, float, float]:
    """Return low, typical and high; each is one board's value."""
    at = [round(share * (values.size - 1)) for share in (LOW, TYPICAL, HIGH)]
    found = np.partition(values, at)[at]
    return float(found[0]), float(found[1]), float(found[2])
