"""What the stages enter into the sheet: values, checks, assumptions, parts and test points."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

TIGHT = 0.1
"""A margin below this is `tight`."""


class Basis(Enum):
    """Where a value came from."""

    STATED = "stated"
    SIZED = "sized"
    COMPUTED = "computed"
    CATALOGUE = "catalogue"
    ASSUMED = "assumed"
    MEASURED = "measured"


class Severity(Enum):
    """How a finding stands, the best first."""

    GOOD = "good"
    MIND = "mind"
    TIGHT = "tight"
    MEASURE = "measure"
    FAILS = "fails"


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """One figure of the sheet, in SI units."""

    id: str
    words: str
    value: float | int | str
    unit: str | None
    basis: Basis
    rule: str
    low: float | None = None
    high: float | None = None
    state: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A key of the design file set to a new text."""

    section: str
    key: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One judgement; `changes` are tried one after another until the finding no longer fails."""

    id: str
    severity: Severity
    text: str
    value: float | None = None
    limit: float | None = None
    unit: str | None = None
    margin: float | None = None
    remedy: str = ""
    changes: tuple[tuple[Change, ...], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumed:
    """A figure that the design file left open and no equation gives."""

    id: str
    value: float | int | str
    unit: str | None
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One row of the parts list."""

    reference: str
    role: str
    part: str
    rating: str = ""
    quantity: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class TestPoint:
    """What an instrument must show at one point, and what to do if it does not."""

    point: str
    condition: str
    instrument: str
    expected: str
    otherwise: str


class Ledger:
    """Collects what the stages enter, in order; one entry an id."""

    def __init__(self) -> None:
        self.values: dict[str, Value] = {}
        self.findings: dict[str, Finding] = {}
        self.assumed: dict[str, Assumed] = {}
        self.parts: list[Part] = []
        self.test_points: list[TestPoint] = []

    def value(
        self,
        id: str,
        value: float | int | str,
        unit: str | None,
        *,
        words: str,
        basis: Basis,
        rule: str,
        low: float | None = None,
        high: float | None = None,
        state: str = "",
    ) -> None:
        """Enter one figure; `rule` is the relation or source that made it."""
        if id in self.values:
            raise ValueError(f"sheet: {id} entered twice")
        self.values[id] = Value(
            id=id, words=words, value=value, unit=unit, basis=basis, rule=rule,
            low=low, high=high, state=state,
        )  # fmt: skip

    def assume(self, id: str, value: float | int | str, unit: str | None, source: str) -> None:
        """Enter a figure that was assumed, with who says so."""
        self.assumed.setdefault(id, Assumed(id=id, value=value, unit=unit, source=source))

    def part(
        self, reference: str, role: str, part: str, rating: str = "", quantity: int = 1
    ) -> None:
        """Enter a row of the parts list."""
        self.parts.append(
            Part(reference=reference, role=role, part=part, rating=rating, quantity=quantity)
        )

    def test_point(
        self, point: str, condition: str, instrument: str, expected: str, otherwise: str
    ) -> None:
        """Enter what an instrument must show."""
        self.test_points.append(
            TestPoint(
                point=point, condition=condition, instrument=instrument,
                expected=expected, otherwise=otherwise,
            )
        )  # fmt: skip

    def at_least(self, id: str, value: float, limit: float, unit: str | None, text: str, *,
                 remedy: str = "", changes: Iterable[tuple[Change, ...]] = (),
                 soft: bool = False) -> Severity:  # fmt: skip
        """Check that a value reaches its limit; a `soft` miss is worth minding, not a failure."""
        return self._check(id, value - limit, value, limit, unit, text, remedy, changes, soft)

    def at_most(self, id: str, value: float, limit: float, unit: str | None, text: str, *,
                remedy: str = "", changes: Iterable[tuple[Change, ...]] = (),
                soft: bool = False) -> Severity:  # fmt: skip
        """Check that a value stays below its limit; a `soft` miss is worth minding."""
        return self._check(id, limit - value, value, limit, unit, text, remedy, changes, soft)

    def say(self, id: str, severity: Severity, text: str, *, remedy: str = "",
            changes: Iterable[tuple[Change, ...]] = (), value: float | None = None,
            unit: str | None = None) -> None:  # fmt: skip
        """Enter a judgement that has no limit in numbers."""
        self._enter(
            Finding(
                id=id, severity=severity, text=text, remedy=remedy, changes=tuple(changes),
                value=value, unit=unit,
            )
        )  # fmt: skip

    def _check(
        self, id: str, distance: float, value: float, limit: float, unit: str | None, text: str,
        remedy: str, changes: Iterable[tuple[Change, ...]], soft: bool,
    ) -> Severity:  # fmt: skip
        margin = distance / abs(limit) if limit else distance
        if margin >= TIGHT:
            severity = Severity.GOOD
        elif margin >= 0:
            severity = Severity.TIGHT
        else:
            severity = Severity.MIND if soft else Severity.FAILS
        self._enter(
            Finding(
                id=id, severity=severity, text=text, value=value, limit=limit, unit=unit,
                margin=margin, remedy=remedy, changes=tuple(changes),
            )
        )  # fmt: skip
        return severity

    def _enter(self, finding: Finding) -> None:
        if finding.id in self.findings:
            raise ValueError(f"sheet: finding {finding.id} entered twice")
        if finding.severity is Severity.FAILS and not finding.remedy:
            raise ValueError(f"sheet: {finding.id} fails without a remedy")
        self.findings[finding.id] = finding
