"""Remedies are tried on the whole design, and say what they bring and what they break."""

from dataclasses import replace

from circuits.ledger import Change, Finding, Severity
from circuits.remedies import MOST_RERUNS, Changes, gather, spelled, try_remedies
from circuits.sheet import Sheet, compose
from tests.circuits.invented import OTHER_CELL, SMALLER, SMALLEST, invented_ledger

STARVED = Finding(
    id="drive.saturation", severity=Severity.FAILS, text="The base is starved.", margin=-0.45,
    remedy="Fit a smaller base resistor", changes=(SMALLER, SMALLEST),
)  # fmt: skip
PIN = Finding(id="drive.pin_current", severity=Severity.GOOD, text="The pin copes.", margin=0.8)


def cured(margin: float) -> dict[str, Finding]:
    return {
        STARVED.id: replace(STARVED, severity=Severity.GOOD, margin=margin, remedy=""),
        PIN.id: PIN,
    }


def broken(margin: float) -> dict[str, Finding]:
    return cured(margin) | {PIN.id: replace(PIN, severity=Severity.FAILS, margin=-0.2, remedy="x")}


def test_the_first_change_that_cures_is_printed_with_its_margin() -> None:
    findings, cures = try_remedies([STARVED, PIN], lambda _: cured(0.4))
    assert findings[0].remedy == (
        "Fit a smaller base resistor. With drive.base_resistor = 330 ohm: margin 0.4."
    )
    assert [(c.finding, c.changes, c.clean) for c in cures] == [(STARVED.id, SMALLER, True)]


def test_a_change_that_does_not_cure_is_passed_over() -> None:
    after = {SMALLER: {STARVED.id: replace(STARVED, margin=-0.1)}, SMALLEST: cured(1.2)}
    findings, cures = try_remedies([STARVED], lambda changes: after[changes])
    assert findings[0].remedy.endswith("With drive.base_resistor = 100 ohm: margin 1.2.")
    assert cures[0].changes == SMALLEST


def test_a_change_that_breaks_something_else_comes_second_and_says_so() -> None:
    after = {SMALLER: broken(0.4), SMALLEST: cured(1.2)}
    _, cures = try_remedies([STARVED, PIN], lambda changes: after[changes])
    assert cures[0].changes == SMALLEST
    findings, cures = try_remedies([STARVED, PIN], lambda _: broken(0.4))
    assert findings[0].remedy.endswith("margin 0.4, but drive.pin_current then fails.")
    assert not cures[0].clean


def test_a_key_that_is_left_out_reads_so() -> None:
    out = (Change(section="rate", key="kp", text=""), Change(section="rate", key="ki", text=""))
    assert spelled((*out, *SMALLER)) == (
        "rate.kp left out and rate.ki left out and drive.base_resistor = 330 ohm"
    )


def test_what_cannot_be_computed_is_no_cure() -> None:
    findings, cures = try_remedies([STARVED], lambda _: None)
    assert "Tried without success: drive.base_resistor = 330 ohm;" in findings[0].remedy
    assert cures == ()


def test_a_finding_that_no_longer_arises_is_cured() -> None:
    findings, _ = try_remedies([STARVED], lambda _: {})
    assert findings[0].remedy.endswith("this no longer arises.")


def test_the_number_of_reruns_is_limited() -> None:
    runs: list[Changes] = []

    def rerun(changes: Changes) -> None:
        runs.append(changes)

    many = [
        replace(
            STARVED,
            id=f"drive.number_{i}",
            changes=((Change(section="drive", key="forced_gain", text=str(i)),),),
        )
        for i in range(40)
    ]
    findings, _ = try_remedies(many, rerun)
    assert len(runs) == MOST_RERUNS
    assert findings[-1].remedy.endswith("Not tried out: cure the findings above first.")


def test_a_change_shared_by_two_findings_runs_once() -> None:
    runs: list[Changes] = []

    def rerun(changes: Changes) -> dict[str, Finding]:
        runs.append(changes)
        return {}

    try_remedies([STARVED, replace(STARVED, id="drive.power")], rerun)
    assert runs == [SMALLER]


def test_nothing_runs_again_where_nothing_fails() -> None:
    def rerun(_: Changes) -> None:
        raise AssertionError

    assert try_remedies([PIN], rerun) == ((PIN,), ())


def sheet_of(*findings: Finding) -> Sheet:
    after, cures = try_remedies(findings, lambda _: {})
    return compose("invented", invented_ledger(), after, cures)


def test_remedies_are_gathered_until_nothing_fails() -> None:
    """The second failure shows only once the first is cured."""
    flat = replace(STARVED, id="cells.life", changes=(OTHER_CELL,))
    rounds = {SMALLER: sheet_of(flat), SMALLER + OTHER_CELL: sheet_of(PIN)}
    changes, after = gather(sheet_of(STARVED), lambda changes: rounds[changes])
    assert changes == SMALLER + OTHER_CELL
    assert not after.fails


def test_the_earliest_stage_is_cured_first_and_may_cure_the_rest() -> None:
    """A later stage's own change is not made where the earlier one is enough."""
    flat = replace(STARVED, id="cells.life", changes=(OTHER_CELL,))
    done: list[Changes] = []

    def recompute(changes: Changes) -> Sheet:
        done.append(changes)
        return sheet_of(PIN)

    changes, after = gather(sheet_of(flat, STARVED), recompute)
    assert changes == SMALLER
    assert done == [SMALLER]
    assert not after.fails


def test_gathered_remedies_that_help_nothing_are_not_written() -> None:
    start = sheet_of(STARVED)
    changes, after = gather(start, lambda _: sheet_of(replace(STARVED, changes=())))
    assert changes == ()
    assert after is start
