"""Tries the changes that stages propose for failing findings, on the whole design."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

from circuits.format_quantity import significant
from circuits.ledger import Change, Finding, Severity
from circuits.sheet import Cure, Sheet, worst_first

Changes = tuple[Change, ...]
Rerun = Callable[[Changes], dict[str, Finding] | None]
"""Compute the findings of the changed design; None where the change cannot be used."""
StillFails = Callable[[Changes, str], bool]
"""Tell whether a finding fails in the changed design too, without computing what comes after."""

MOST_RERUNS = 12
MOST_PER_FINDING = 6
MOST_ROUNDS = 8


@dataclass(slots=True, kw_only=True)
class _Trial:
    """Reruns that remember what was tried, so that a change shared by findings costs once."""

    rerun: Rerun
    still_fails: StillFails | None
    left: int
    begun: set[Changes] = field(default_factory=set)
    known: dict[Changes, dict[str, Finding] | None] = field(default_factory=dict)

    def affordable(self, changes: Changes) -> bool:
        return changes in self.begun or self.left > 0

    def cured(self, changes: Changes, id: str) -> dict[str, Finding] | None:
        """Return all findings with a change; None where one fails with it too."""
        if changes not in self.begun:
            self.left -= 1
            self.begun.add(changes)
        if changes not in self.known:
            # Most changes do not help: then the stages after the finding's own need not run.
            if self.still_fails is not None and self.still_fails(changes, id):
                return None
            self.known[changes] = self.rerun(changes)
        after = self.known[changes]
        return None if after is None or id in failing(after.values()) else after


def failing(findings: Iterable[Finding]) -> set[str]:
    """Return the ids of the findings that fail."""
    return {finding.id for finding in findings if finding.severity is Severity.FAILS}


def spelled(changes: Changes) -> str:
    """Return changes as they read on the sheet: "drive.base_resistor = 330 ohm"."""
    return " and ".join(
        f"{c.section}.{c.key} = {c.text}" if c.text else f"{c.section}.{c.key} left out"
        for c in changes
    )


def _outcome(id: str, after: dict[str, Finding]) -> str:
    finding = after.get(id)
    if finding is None:
        return "this no longer arises"
    if finding.margin is None:
        return "this no longer fails"
    return f"margin {significant(finding.margin, 2)}"


def _sentence(*parts: str) -> str:
    """Join sentences, each closed by one full stop."""
    return " ".join(f"{part.rstrip().rstrip('.')}." for part in parts if part)


def _try_one(finding: Finding, before: set[str], trial: _Trial) -> tuple[Finding, Cure | None]:
    """Complete one finding's remedy with the first change that cures it, a clean one first."""
    second_best: tuple[Changes, str, set[str]] | None = None
    tried: list[str] = []
    for changes in finding.changes[:MOST_PER_FINDING]:
        if not trial.affordable(changes):
            break
        after = trial.cured(changes, finding.id)
        tried.append(spelled(changes))
        if after is None:
            continue
        broken = failing(after.values()) - before
        if not broken:
            found = f"With {spelled(changes)}: {_outcome(finding.id, after)}"
            cure = Cure(finding=finding.id, changes=changes, clean=True)
            return replace(finding, remedy=_sentence(finding.remedy, found)), cure
        if second_best is None or len(broken) < len(second_best[2]):
            second_best = (changes, _outcome(finding.id, after), broken)
    if second_best is not None:
        changes, outcome, broken = second_best
        then = "then fails" if len(broken) == 1 else "then fail"
        found = f"With {spelled(changes)}: {outcome}, but {', '.join(sorted(broken))} {then}"
        cure = Cure(finding=finding.id, changes=changes, clean=False)
        return replace(finding, remedy=_sentence(finding.remedy, found)), cure
    if tried:
        found = f"Tried without success: {'; '.join(tried)}"
    else:
        found = "Not tried out: cure the findings above first"
    return replace(finding, remedy=_sentence(finding.remedy, found)), None


def try_remedies(
    findings: Iterable[Finding],
    rerun: Rerun,
    *,
    still_fails: StillFails | None = None,
    most_reruns: int = MOST_RERUNS,
) -> tuple[tuple[Finding, ...], tuple[Cure, ...]]:
    """Complete the remedies of failing findings with changes that were tried out.

    Parameters
    ----------
    findings : iterable of Finding
        All findings of the design as it stands.
    rerun : callable
        Computes the findings of the whole design with some changes.
    still_fails : callable, optional
        Tells of one finding whether it fails with some changes too, sooner than `rerun` can.
    most_reruns : int
        How often the design may be computed again in all.

    Returns
    -------
    findings : tuple of Finding
        In the same order, with remedies that say what the change brings, and what it breaks.
    cures : tuple of Cure
        The change found for each finding that has one.
    """
    entered = tuple(findings)
    before = failing(entered)
    trial = _Trial(rerun=rerun, still_fails=still_fails, left=most_reruns)
    completed: dict[str, Finding] = {}
    cures: list[Cure] = []
    for finding in worst_first(entered):
        if finding.severity is not Severity.FAILS or not finding.changes:
            continue
        completed[finding.id], cure = _try_one(finding, before, trial)
        if cure is not None:
            cures.append(cure)
    return tuple(completed.get(f.id, f) for f in entered), tuple(cures)


def gather(sheet: Sheet, recompute: Callable[[Changes], Sheet | None]) -> tuple[Changes, Sheet]:
    """Gather the remedies of a whole sheet until nothing fails that a change can cure.

    One cure at a time, the earliest stage's first: what fails further on often fails because of
    it, and is then cured too. The round with the fewest failures counts.

    Parameters
    ----------
    sheet : Sheet
        The sheet of the design as it stands.
    recompute : callable
        Computes the sheet with some changes; None where they cannot be used together.

    Returns
    -------
    changes : tuple of Change
        All changes to write, one a key.
    after : Sheet
        The sheet with them.
    """
    best: tuple[Changes, Sheet] = ((), sheet)
    merged: dict[tuple[str, str], Change] = {}
    latest = sheet
    for _ in range(MOST_ROUNDS):
        cure = _first_cure(latest, tuple(merged.values()))
        if cure is None:
            break
        merged |= {(change.section, change.key): change for change in cure.changes}
        changes = tuple(merged.values())
        after = recompute(changes)
        if after is None:
            break
        if len(failing(after.findings)) < len(failing(best[1].findings)):
            best = (changes, after)
        latest = after
    return best


def _first_cure(sheet: Sheet, made: Changes) -> Cure | None:
    """Return the clean cure of the earliest stage that is not made yet."""
    stages = list(dict.fromkeys(name.partition(".")[0] for name in sheet.values))

    def place(cure: Cure) -> int:
        stage = cure.finding.partition(".")[0]
        return stages.index(stage) if stage in stages else len(stages)

    open_cures = [c for c in sheet.cures.values() if c.clean and not set(c.changes) <= set(made)]
    return min(open_cures, key=place, default=None)
