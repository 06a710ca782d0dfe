"""What one run of the stages gives for one board: figures, checks and words."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from circuits.boards.stage_map import CHECK
from circuits.ledger import Finding, Severity
from circuits.stage_pass import StagePass

FACTS = ("agreement", "fill_factor", "inductance")
"""Endings of the checks that compare stated facts."""
NEEDED = "needed pulse_width"
"""The least width that holds the arc of one board with spent cells; not on the sheet, where a
width is either sized or stated."""


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


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardRun:
    """One board's figures, checks and words, as the stages gave them.

    `said` are the sentences of the findings that fail, or lie beyond their limit.
    """

    numbers: dict[str, float]
    checks: dict[str, Finding]
    words: dict[str, str]
    severities: dict[str, str]
    said: dict[str, str]

    def has(self, name: str) -> bool:
        """Return whether this board's sheet has a figure, or a check."""
        if name.startswith(CHECK):
            return name.removeprefix(CHECK) in self.checks
        return name in self.numbers


def needed_width(done: StagePass) -> dict[str, float]:
    """Return the width that this board needs; nothing where no width holds its arc."""
    best = done.result("pulse").best
    return {NEEDED: float(best.width)} if best is not None and best.reached else {}


def taken_from(done: StagePass) -> BoardRun:
    """Return what is followed from board to board of a run."""
    checks = {
        name: replace(one, text="", unit=None, changes=()) for name, one in checks_of(done).items()
    }
    return BoardRun(
        numbers=numbers_of(done) | needed_width(done), checks=checks, words=words_of(done),
        severities={f.id: f.severity.value for f in done.ledger.findings.values()},
        said={
            f.id: f.text
            for f in done.ledger.findings.values()
            if f.severity is Severity.FAILS or (f.margin or 0.0) < 0
        },
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """How a figure or a check's margin is followed from board to board; see `Column`."""

    sign: float
    side: float
    follow: Callable[[BoardRun], float]


def ways_to_follow(name: str, runs: list[BoardRun]) -> tuple[Way, ...]:
    """Return the ways to follow a column: by itself, and by its logarithm where it has one."""
    if name.startswith(CHECK):
        check = name.removeprefix(CHECK)
        plain = Way(
            sign=0.0, side=0.0, follow=lambda run: float(run.checks[check].margin or 0.0)
        )  # fmt: skip
        found = [run.checks[check] for run in runs]
        if not all((f.value or 0.0) > 0 and (f.limit or 0.0) > 0 for f in found):
            return (plain,)
        first = found[0]
        over = (first.value or 0.0) - (first.limit or 0.0)
        side = 1.0 if over * (first.margin or 0.0) >= 0 else -1.0
        ratio = Way(sign=1.0, side=side, follow=lambda run: _log_ratio(run.checks[check]))
        return ratio, plain
    plain = Way(sign=0.0, side=0.0, follow=lambda run: run.numbers[name])
    numbers = np.array([run.numbers[name] for run in runs])
    if not ((numbers > 0).all() or (numbers < 0).all()):
        return (plain,)
    logarithm = Way(
        sign=float(np.sign(numbers[0])), side=0.0,
        follow=lambda run: float(np.log(abs(run.numbers[name]))),
    )  # fmt: skip
    return logarithm, plain


def _log_ratio(finding: Finding) -> float:
    return float(np.log((finding.value or 1.0) / (finding.limit or 1.0)))
