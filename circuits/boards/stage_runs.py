"""Runs the sheet's own stages at chosen boards and lays the map through them."""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations

import numpy as np

from circuits.boards.board_run import BoardRun, Way, taken_from, ways_to_follow
from circuits.boards.side_by_side import Boards
from circuits.boards.stage_map import (
    CHECK,
    LIFE,
    Array,
    Box,
    Column,
    Refusal,
    StageMap,
    corners,
    through,
)
from circuits.boards.tolerances import BoardTolerance

STRONGEST = 5
"""Tolerances that are run in pairs too."""
CHECKED = 16
"""Boards at random that are run whole, to say how far off the map is."""
FRESH = 4
"""Every so many of them stand at fresh cells, where the cells' life is told."""


def map_stages(boards: Boards, *, seed: int) -> StageMap:
    """Run the stages at chosen boards and return the map through them.

    Parameters
    ----------
    boards : Boards
        Runs the boards.
    seed : int
        Of the boards at random that the map is held against.

    Returns
    -------
    found : StageMap
    """
    return _Mapping(boards).finish(seed)


_Corner = tuple[float, float, BoardRun]
"""Two shares and the run with both."""
Pairs = dict[tuple[int, int], list[_Corner]]
_Tried = list[tuple[Array, BoardRun]]


class _Mapping:
    """Collects the runs."""

    def __init__(self, boards: Boards) -> None:
        self.boards = boards
        self.tolerances = tuple(boards.maker.tolerances.values())
        strongest = min(STRONGEST, len(self.tolerances))
        boards.total = sum(len(one.levels) for one in self.tolerances) + CHECKED
        boards.total += 2 * strongest * (strongest - 1)
        self.refusals: list[Refusal] = []
        self.centre = taken_from(boards.maker.centre)

    def finish(self, seed: int) -> StageMap:
        # All that needs no other run first goes in one list, so that no process waits.
        places = self._at_random(seed)
        alone = [(one.name, level) for one in self.tolerances for level in one.levels]
        self.boards.run([*({name: level} for name, level in alone), *map(self._shares, places)])
        self.singles = [self._along(one) for one in self.tolerances]
        pairs = self._pairs()
        rows = self.boards.run(map(self._shares, places))
        tried = [(p, row.run) for p, row in zip(places, rows, strict=True) if row.run is not None]
        runs = [self.centre, *(r for levels in self.singles for r in levels.values())]
        runs += [run for found in pairs.values() for _, _, run in found]
        runs += [run for _, run in tried]
        found = StageMap(
            tolerances=self.tolerances,
            nodes=tuple(tuple(levels) for levels in self.singles), pairs=tuple(pairs),
            columns={}, refusals=tuple(self.refusals), lost=_changing_words(runs),
            judged=self._judged(runs, pairs), severity=_severity(runs),
            runs=len(self.boards.used) + 1,
        )  # fmt: skip
        features = found.features(np.array([place for place, _ in tried])) if tried else None
        columns = {
            name: self._column(name, found, runs, pairs, tried, features)
            for name in (*self.centre.numbers, *(CHECK + name for name in self.centre.checks))
        }
        return replace(found, columns=columns)

    def _shares(self, place: Array) -> dict[str, float]:
        names = (one.name for one in self.tolerances)
        return dict(zip(names, place.tolist(), strict=True))

    def _at_random(self, seed: int) -> Array:
        rng = np.random.default_rng(seed)
        low = np.array([one.least for one in self.tolerances])
        high = np.array([one.most for one in self.tolerances])
        places: Array = low + (high - low) * rng.random((CHECKED, len(low)))
        for index in self._life("cells."):
            places[::FRESH, index] = 0.0
        return places

    def _along(self, one: BoardTolerance) -> dict[float, BoardRun]:
        """Return the runs of one tolerance alone; beyond a refusal its boards have no sheet."""
        found: dict[float, BoardRun] = {}
        for side in (-1.0, 1.0):
            good = 0.0
            for level in sorted((v for v in one.levels if v * side > 0), key=abs):
                row = self.boards.run([{one.name: level}])[0]
                if row.run is None:
                    self.refusals.append(
                        Refusal(tolerance=one.name, beyond=(good + level) / 2, reason=row.reason)
                    )
                    break
                found[level] = row.run
                good = level
        return found

    def _pairs(self) -> Pairs:
        strength = []
        for runs in self.singles:
            moved = [
                abs(run.numbers.get(name, value) - value) / abs(value)
                for run in runs.values()
                for name, value in self.centre.numbers.items()
                if value
            ]
            # One figure that swings wildly about zero must not outweigh all others.
            strength.append(float(np.mean(np.minimum(moved, 1.0))) if moved else 0.0)
        order = sorted(range(len(strength)), key=lambda index: -strength[index])[:STRONGEST]
        wanted = {
            (one, other): [
                (first, second)
                for first in corners(tuple(self.singles[one]))
                for second in corners(tuple(self.singles[other]))
            ]
            for one, other in combinations(sorted(order), 2)
        }
        rows = iter(
            self.boards.run(
                {self.tolerances[pair[0]].name: first, self.tolerances[pair[1]].name: second}
                for pair, ends in wanted.items()
                for first, second in ends
            )
        )
        found: Pairs = {}
        for pair, ends in wanted.items():
            corner = [(*end, next(rows).run) for end in ends]
            known = [(first, second, run) for first, second, run in corner if run is not None]
            # Only with all four can it be said what both do together.
            if len(known) == len(ends):
                found[pair] = known
        return found

    def _boxes(self, pairs: Pairs, bad: Callable[[BoardRun], bool]) -> tuple[Box, ...]:
        """Return the boxes about the runs that are bad, halfway from the last good one."""
        boxes: list[Box] = []
        for index, levels in enumerate(self.singles):
            for side in (-1.0, 1.0):
                along = sorted((u for u in levels if u * side > 0), key=abs)
                first = next((u for u in along if bad(levels[u])), None)
                if first is not None:
                    good = [0.0, *(u for u in along if abs(u) < abs(first))][-1]
                    boxes.append(((index, (good + first) / 2),))
        for (one, other), corner in pairs.items():
            boxes += [
                ((one, first / 2), (other, second / 2))
                for first, second, run in corner
                if bad(run)
                and not bad(self.singles[one][first])
                and not bad(self.singles[other][second])
            ]
        return tuple(boxes)

    def _judged(self, runs: list[BoardRun], pairs: Pairs) -> dict[str, tuple[Box, ...]]:
        """Return the findings without a limit that fail on some of the runs."""
        names = {
            name
            for run in runs
            for name, severity in run.severities.items()
            if severity == "fails" and name not in run.checks
        }

        def failing(name: str) -> Callable[[BoardRun], bool]:
            return lambda run: run.severities.get(name) == "fails" and name not in run.checks

        return {name: self._boxes(pairs, failing(name)) for name in sorted(names)}

    def _column(
        self, name: str, found: StageMap, runs: list[BoardRun], pairs: Pairs, tried: _Tried,
        features: Array | None,
    ) -> Column:  # fmt: skip
        """Return a figure followed by its logarithm or by itself, whichever is less far off."""
        ways = ways_to_follow(name, [run for run in runs if run.has(name)])
        columns = [self._followed(name, way, found, pairs, tried, features) for way in ways]
        return min(columns, key=lambda column: column.error)

    def _followed(
        self, name: str, way: Way, found: StageMap, pairs: Pairs, tried: _Tried,
        features: Array | None,
    ) -> Column:  # fmt: skip
        follow = way.follow
        centre = follow(self.centre)
        weights: list[float] = []
        for tolerance, levels in zip(self.tolerances, self.singles, strict=True):
            known = {u: follow(run) - centre for u, run in levels.items() if run.has(name)}
            # Without the run of a node the polynomial through the others stands for it.
            weights += [
                known[u] if u in known else through(u, known, kinked=tolerance.kinked)
                for u in levels
            ]
        for (one, other), corner in pairs.items():
            for first, second, run in corner:
                ends = self.singles[one][first], self.singles[other][second]
                if all(each.has(name) for each in (run, *ends)):
                    weights.append(follow(run) - follow(ends[0]) - follow(ends[1]) + centre)
                else:
                    weights.append(0.0)
        column = Column(
            name=name, sign=way.sign, side=way.side, centre=centre,
            weights=self._without_life(name, found, np.array(weights)), error=0.0,
            absent=self._without_life_boxes(
                name, self._boxes(pairs, lambda run: not run.has(name))
            ),
        )  # fmt: skip
        life = list(self._life(name))
        kept = [
            (index, follow(run)) for index, (place, run) in enumerate(tried)
            if run.has(name) and not place[life].any()
        ]  # fmt: skip
        if not kept or features is None:
            return column
        mapped = centre + features[[index for index, _ in kept]] @ column.weights
        off = column.figure(mapped) - column.figure(np.array([true for _, true in kept]))
        return replace(column, error=float(np.abs(off).max()))

    def _life(self, name: str) -> set[int]:
        """Return the tolerance that a figure must not follow: its boards all begin fresh."""
        if not name.removeprefix(CHECK).startswith("cells."):
            return set()
        return {k for k, one in enumerate(self.tolerances) if one.name == LIFE}

    def _without_life(self, name: str, found: StageMap, weights: Array) -> Array:
        life = self._life(name)
        return np.where([bool(owner & life) for owner in found.owners()], 0.0, weights)

    def _without_life_boxes(self, name: str, boxes: tuple[Box, ...]) -> tuple[Box, ...]:
        life = self._life(name)
        return tuple(box for box in boxes if not {index for index, _ in box} & life)


def _changing_words(runs: list[BoardRun]) -> dict[str, str]:
    """Return the words that are not the same on all boards, with how often each was found."""
    found = {}
    for name in runs[0].words:
        counted = Counter(run.words[name] for run in runs if name in run.words)
        if len(counted) > 1:
            listed = ", ".join(f"'{word}' on {count}" for word, count in counted.most_common())
            found[name] = f"a word, not a number: {listed} of {len(runs)} boards run whole"
    return found


def _severity(runs: list[BoardRun]) -> dict[str, str]:
    """Return how the checks stand whose limit some board misses."""
    found: dict[str, str] = {}
    for run in runs:
        for name, check in run.checks.items():
            if check.margin is not None and check.margin < 0:
                found[name] = run.severities[name]
    return found
