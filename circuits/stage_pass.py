"""One pass through the stages, which takes over from an earlier pass what a change leaves alone."""

from collections.abc import Callable
from dataclasses import dataclass, fields
from itertools import islice
from typing import Any, TypeVar, cast

import numpy as np

from calc.calculator import OutOfRangeError
from circuits.design import Design
from circuits.errors import DesignFileError
from circuits.ledger import Ledger, Severity

R = TypeVar("R")

SECTION = {
    "rails": "supply",
    "linkage": "magnet",
    "emf": "movement",
    "pulse": "drive",
    "settled": "drive",
    "timing": "filter",
    "energy": "supply",
    "running": "supply",
    "cells": "supply",
    "steering": "rate",
}
"""The section to look at when a stage finds no answer, where it is not the stage's own name."""


class _Watched:
    """A design that remembers which of its sections were read."""

    def __init__(self, design: Design) -> None:
        self._design = design
        self.read: set[str] = set()

    def __getattr__(self, name: str) -> Any:
        self.read.add(name)
        return getattr(self._design, name)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Done:
    """One stage's result, what it entered, and the sections it read."""

    result: Any
    entered: Ledger
    read: frozenset[str]


def _sizes(ledger: Ledger) -> tuple[int, ...]:
    return (
        len(ledger.values), len(ledger.findings), len(ledger.assumed),
        len(ledger.parts), len(ledger.test_points),
    )  # fmt: skip


def _entered_since(sizes: tuple[int, ...], ledger: Ledger) -> Ledger:
    values, findings, assumed, parts, test_points = sizes
    entered = Ledger()
    entered.values = dict(islice(ledger.values.items(), values, None))
    entered.findings = dict(islice(ledger.findings.items(), findings, None))
    entered.assumed = dict(islice(ledger.assumed.items(), assumed, None))
    entered.parts = ledger.parts[parts:]
    entered.test_points = ledger.test_points[test_points:]
    return entered


def _enter_again(entered: Ledger, ledger: Ledger) -> None:
    ledger.values |= entered.values
    ledger.findings |= entered.findings
    ledger.assumed |= entered.assumed
    ledger.parts += entered.parts
    ledger.test_points += entered.test_points


def _changed(one: Design, other: Design) -> set[str]:
    return {
        entry.name
        for entry in fields(Design)
        if getattr(one, entry.name) is not getattr(other, entry.name)
        and getattr(one, entry.name) != getattr(other, entry.name)
    }


class StillFailsError(Exception):
    """A pass has come to the finding that it was to be followed to, and it fails."""

    def __init__(self, done: "StagePass") -> None:
        super().__init__("a finding still fails")
        self.done = done


class StagePass:
    """Runs stages one after another; each is a function of the design and of earlier results.

    Parameters
    ----------
    design : Design
        The design file.
    earlier : StagePass, optional
        A pass through a similar design: its stages stand up to the first that read a section
        which differs.
    until : str
        Id of a finding; the pass ends with the stage in which it fails.
    """

    def __init__(self, design: Design, earlier: "StagePass | None" = None, until: str = "") -> None:
        self.design = design
        self._until = until
        self.ledger = Ledger()
        self._done: dict[str, _Done] = {}
        self._earlier = earlier
        self._changed = _changed(earlier.design, design) if earlier else set()

    def step(self, name: str, work: Callable[[Design, Ledger], R]) -> R:
        """Return a stage's result, from the earlier pass where nothing that it read differs.

        Raises
        ------
        DesignFileError
            Where a calculator refuses the figures. Overflow and division by zero are refusals
            too: they come from figures that are possible one by one and absurd together.
        StillFailsError
            Where the finding fails to which the pass was to be followed.
        """
        done = self._earlier._done.get(name) if self._earlier else None
        if done is None or done.read & self._changed:
            self._earlier = None  # later stages may use this one's result
            watched, before = _Watched(self.design), _sizes(self.ledger)
            result = self._guarded(name, work, cast(Design, watched))
            done = _Done(
                result=result,
                entered=_entered_since(before, self.ledger),
                read=frozenset(watched.read),
            )
        else:
            _enter_again(done.entered, self.ledger)
        self._done[name] = done
        asked = done.entered.findings.get(self._until)
        if asked is not None and asked.severity is Severity.FAILS:
            raise StillFailsError(self)
        return cast(R, done.result)

    def result(self, name: str) -> Any:
        """Return the result of a stage that has run."""
        return self._done[name].result

    def up_to(self, name: str) -> "StagePass":
        """Return this run without a stage and those after it, to begin anew from there."""
        cut = StagePass(self.design)
        for done in self._done:
            if done == name:
                break
            cut._done[done] = self._done[done]
        return cut

    def _guarded(self, name: str, work: Callable[[Design, Ledger], R], design: Design) -> R:
        try:
            with np.errstate(over="raise", divide="raise", invalid="raise"):
                return work(design, self.ledger)
        except (OutOfRangeError, ArithmeticError) as error:
            reason, _, repair = str(error).partition(";")
            raise DesignFileError(
                file=self.design.file,
                section=SECTION.get(name, name),
                found=f"figures for which the stage {name} has no answer ({reason.strip()})",
                wanted=repair.strip() or "check these figures and their units",
            ) from error
