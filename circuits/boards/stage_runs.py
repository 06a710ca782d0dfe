"""Runs the sheet's own stages at chosen boards and lays the map through them."""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from circuits.boards.one_board import BoardMaker
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
from circuits.errors import DesignFileError
from circuits.ledger import Finding
from circuits.stage_pass import StagePass

Progress = Callable[[int, int], None]

STRONGEST = 5
"""Tolerances that are run in pairs too."""
FACTS = ("agreement", "fill_factor", "inductance")
"""Endings of the checks that compare stated facts."""
CHECKED = 16
"""Boards at random that are run whole, to say how far off the map is."""


def numbers_of(done: StagePass) -> dict[str, float]:
    """Return every figure of a run that is a number."""
    return {
        value.id: float(value.value)
        for value in done.ledger.values.values()
        if value.unit is not None and not isinstance(value.value, str)
    }


def words_of(done: StagePass) -> dict[str, str]:
    """Return every figure of a run that is a word, such as a part's name."""
    return {
        value.id: value.value
        for value in done.ledger.values.values()
        if isinstance(value.value, str)
    }


def checks_of(done: StagePass) -> dict[str, Finding]:
    """Return every finding of a run that holds a figure against a limit.

    What holds two facts of the design file against each other says nothing of a board.
    """
    return {
        finding.id: finding
        for finding in done.ledger.findings.values()
        if finding.margin is not None
        and finding.value is not None
        and finding.limit is not None
        and not finding.id.endswith(FACTS)
    }


def map_stages(maker: BoardMaker, *, seed: int, progress: Progress) -> StageMap:
    """Run the stages at chosen boards and return the map through them.

    Parameters
    ----------
    maker : BoardMaker
        Makes the boards.
    seed : int
        Of the boards at random that the map is held against.
    progress : callable
        Told how many runs are done and how many there are.

    Returns
    -------
    found : StageMap
    """
    return _Mapping(maker, progress).finish(seed)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """One board's figures and checks."""

    numbers: dict[str, float]
    checks: dict[str, Finding]
    words: dict[str, str]
    severities: dict[str, str]

    def has(self, name: str) -> bool:
        """Return whether this board's sheet has a figure, or a check."""
        if name.startswith(CHECK):
            return name.removeprefix(CHECK) in self.checks
        return name in self.numbers


_Corner = tuple[float, float, _Run]
"""Two shares and the run with both."""
Pairs = dict[tuple[int, int], list[_Corner]]


class _Mapping:
    """Collects the runs."""

    def __init__(self, maker: BoardMaker, progress: Progress) -> None:
        self.maker, self.progress = maker, progress
        self.tolerances = tuple(maker.tolerances.values())
        self.total = sum(len(one.levels) for one in self.tolerances) + CHECKED
        strongest = min(STRONGEST, len(self.tolerances))
        self.total += 2 * strongest * (strongest - 1)
        self.done = 0
        self.refusals: list[Refusal] = []
        self.centre = self._taken(maker.centre)
        self.singles = [self._along(one) for one in self.tolerances]

    @staticmethod
    def _taken(done: StagePass) -> _Run:
        return _Run(
            numbers=numbers_of(done), checks=checks_of(done), words=words_of(done),
            severities={f.id: f.severity.value for f in done.ledger.findings.values()},
        )  # fmt: skip

    def _run(self, shares: Mapping[str, float]) -> _Run:
        self.progress(self.done, self.total)
        self.done += 1
        return self._taken(self.maker.run(shares))

    def _along(self, one: BoardTolerance) -> dict[float, _Run]:
        """Return the runs of one tolerance alone; beyond a refusal its boards have no sheet."""
        found: dict[float, _Run] = {}
        for side in (-1.0, 1.0):
            good = 0.0
            for level in sorted((v for v in one.levels if v * side > 0), key=abs):
                try:
                    found[level] = self._run({one.name: level})
                    good = level
                except DesignFileError as error:
                    self.refusals.append(
                        Refusal(tolerance=one.name, beyond=(good + level) / 2, reason=str(error))
                    )
                    break
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
        found: Pairs = {}
        for one, other in combinations(sorted(order), 2):
            names = self.tolerances[one].name, self.tolerances[other].name
            try:
                found[one, other] = [
                    (first, second, self._run({names[0]: first, names[1]: second}))
                    for first in corners(tuple(self.singles[one]))
                    for second in corners(tuple(self.singles[other]))
                ]
            except DesignFileError:
                continue
        return found

    def finish(self, seed: int) -> StageMap:
        pairs = self._pairs()
        rng = np.random.default_rng(seed)
        low = np.array([one.least for one in self.tolerances])
        high = np.array([one.most for one in self.tolerances])
        places = low + (high - low) * rng.random((CHECKED, len(low)))
        tried: list[tuple[Array, _Run]] = []
        for place in places:
            names = (one.name for one in self.tolerances)
            try:
                run = self._run(dict(zip(names, place.tolist(), strict=True)))
            except DesignFileError:
                continue
            tried.append((place, run))
        runs = [self.centre, *(r for levels in self.singles for r in levels.values())]
        runs += [run for found in pairs.values() for _, _, run in found]
        runs += [run for _, run in tried]
        found = StageMap(
            tolerances=self.tolerances,
            nodes=tuple(tuple(levels) for levels in self.singles), pairs=tuple(pairs),
            columns={}, refusals=tuple(self.refusals), lost=_changing_words(runs),
            judged=self._judged(runs, pairs), severity=_severity(runs),
            runs=self.done + 1,
        )  # fmt: skip
        self.progress(self.total, self.total)
        columns = {
            name: self._column(name, found, runs, pairs, tried)
            for name in (*self.centre.numbers, *(CHECK + name for name in self.centre.checks))
        }
        return replace(found, columns=columns)

    def _boxes(self, pairs: Pairs, bad: Callable[[_Run], bool]) -> tuple[Box, ...]:
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

    def _judged(self, runs: list[_Run], pairs: Pairs) -> dict[str, tuple[Box, ...]]:
        """Return the findings without a limit that fail on some of the runs."""
        names = {
            name
            for run in runs
            for name, severity in run.severities.items()
            if severity == "fails" and name not in run.checks
        }

        def failing(name: str) -> Callable[[_Run], bool]:
            return lambda run: run.severities.get(name) == "fails" and name not in run.checks

        return {name: self._boxes(pairs, failing(name)) for name in sorted(names)}

    def _column(
        self, name: str, found: StageMap, runs: list[_Run], pairs: Pairs,
        tried: list[tuple[Array, _Run]],
    ) -> Column:  # fmt: skip
        sign, side, follow = _followed(name, [run for run in runs if run.has(name)])
        centre = follow(self.centre)
        weights: list[float] = []
        for levels in self.singles:
            known = {u: follow(run) - centre for u, run in levels.items() if run.has(name)}
            # Without the run of a node the polynomial through the others stands for it.
            weights += [
                known[u] if u in known else through(u, known) for u in levels
            ]  # fmt: skip
        for (one, other), corner in pairs.items():
            for first, second, run in corner:
                ends = self.singles[one][first], self.singles[other][second]
                if all(each.has(name) for each in (run, *ends)):
                    weights.append(follow(run) - follow(ends[0]) - follow(ends[1]) + centre)
                else:
                    weights.append(0.0)
        column = Column(
            name=name, sign=sign, side=side, centre=centre,
            weights=self._without_life(name, found, np.array(weights)), error=0.0,
            absent=self._without_life_boxes(
                name, self._boxes(pairs, lambda run: not run.has(name))
            ),
        )  # fmt: skip
        kept = [(place, follow(run)) for place, run in tried if run.has(name)]
        if not kept or name.removeprefix(CHECK).startswith("cells."):
            return column
        mapped = centre + found.features(np.array([place for place, _ in kept])) @ column.weights
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


def _changing_words(runs: list[_Run]) -> dict[str, str]:
    """Return the words that are not the same on all boards, with how often each was found."""
    found = {}
    for name in runs[0].words:
        counted = Counter(run.words[name] for run in runs if name in run.words)
        if len(counted) > 1:
            listed = ", ".join(f"'{word}' on {count}" for word, count in counted.most_common())
            found[name] = f"a word, not a number: {listed} of {len(runs)} boards run whole"
    return found


def _severity(runs: list[_Run]) -> dict[str, str]:
    """Return how the checks stand whose limit some board misses."""
    found: dict[str, str] = {}
    for run in runs:
        for name, check in run.checks.items():
            if check.margin is not None and check.margin < 0:
                found[name] = run.severities[name]
    return found


def _followed(name: str, runs: list[_Run]) -> tuple[float, float, Callable[[_Run], float]]:
    """Return sign, side and what is followed of a figure or of a check."""
    if name.startswith(CHECK):
        check = name.removeprefix(CHECK)
        found = [run.checks[check] for run in runs]
        if all((f.value or 0.0) > 0 and (f.limit or 0.0) > 0 for f in found):
            first = found[0]
            side = 1.0 if ((first.value or 0.0) - (first.limit or 0.0)) * (
                first.margin or 0.0
            ) >= 0 else -1.0  # fmt: skip
            return 1.0, side, lambda run: _log_ratio(run.checks[check])
        return 0.0, 0.0, lambda run: float(run.checks[check].margin or 0.0)
    numbers = np.array([run.numbers[name] for run in runs])
    if (numbers > 0).all() or (numbers < 0).all():
        sign = float(np.sign(numbers[0]))
        return sign, 0.0, lambda run: float(np.log(abs(run.numbers[name])))
    return 0.0, 0.0, lambda run: run.numbers[name]


def _log_ratio(finding: Finding) -> float:
    return float(np.log((finding.value or 1.0) / (finding.limit or 1.0)))
