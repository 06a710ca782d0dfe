"""The sheet: order of findings, the four answers, what to measure next."""

from dataclasses import replace

import numpy as np
import pytest

from circuits.ledger import Basis, Finding, Ledger, Severity
from circuits.sheet import KEEP_TIME, LAST, QUESTIONS, RUN, START, answer, compose, question_of
from tests.circuits.invented import invented_ledger


def finding(id: str, severity: Severity, margin: float | None = None) -> Finding:
    return Finding(id=id, severity=severity, text=f"{id} stands.", margin=margin)


def test_the_worst_finding_comes_first() -> None:
    ledger = invented_ledger()
    sheet = compose("invented", ledger, ledger.findings.values())
    assert [f.severity for f in sheet.findings] == [
        Severity.FAILS,
        Severity.MEASURE,
        Severity.TIGHT,
        Severity.MIND,
        Severity.GOOD,
    ]
    assert sheet.fails


def test_every_question_has_its_line_and_every_stage_its_question() -> None:
    ledger = invented_ledger()
    sheet = compose("invented", ledger, ledger.findings.values())
    assert [a.question for a in sheet.answers] == [START, RUN, LAST, KEEP_TIME]
    stages = [stage for names in QUESTIONS.values() for stage in names]
    assert len(stages) == len(set(stages))
    assert question_of("drive.power") == RUN
    assert question_of("supply.brown_out") == START
    assert question_of("supply.brown_out_spent") == RUN


def test_the_weakest_link_has_the_least_margin() -> None:
    found = answer(
        LAST,
        [
            finding("cells.life", Severity.GOOD, 0.8),
            finding("energy.drain", Severity.TIGHT, 0.05),
            finding("cells.dropout", Severity.TIGHT, 0.02),
            finding("drive.saturation", Severity.FAILS, -0.5),
        ],
    )
    assert found.severity is Severity.TIGHT
    assert found.weakest is not None
    assert found.weakest.id == "cells.dropout"


def test_a_judgement_without_margin_is_no_link_but_is_named() -> None:
    stuck = finding("drive.stuck", Severity.MIND)
    least = finding("drive.saturation", Severity.GOOD, 0.13)
    found = answer(RUN, [stuck, least, finding("coil.fits", Severity.GOOD, 0.15)])
    assert found.weakest is least
    assert found.mind == (stuck,)
    lost = finding("pulse.polarity", Severity.FAILS)
    assert answer(RUN, [stuck, least, lost]).weakest is lost


def test_what_must_be_measured_leaves_the_answer_open() -> None:
    good = finding("drive.saturation", Severity.GOOD, 0.5)
    unknown = finding("movement.quality_factor", Severity.MEASURE)
    found = answer(RUN, [good, unknown])
    assert found.severity is Severity.MEASURE
    assert found.unknown is unknown
    assert found.weakest is good
    assert answer(RUN, [unknown, finding("coil.fill", Severity.FAILS, -1)]).severity is (
        Severity.FAILS
    )


def test_the_next_measurement_is_what_no_figure_replaces() -> None:
    ledger = invented_ledger()
    assert compose("", ledger, ledger.findings.values()).measure_next.startswith("Let it swing")
    known = [f for f in ledger.findings.values() if f.severity is not Severity.MEASURE]
    assert compose("", ledger, known).measure_next.startswith("switch node, switch off")


def test_numbers_of_numpy_become_plain_ones() -> None:
    ledger = Ledger()
    ledger.value(
        "coil.n_turns", np.int64(12), "1", words="turns", basis=Basis.SIZED, rule="counted",
        low=np.float64(11.0), high=np.float64(13.0),
    )  # type: ignore[arg-type]  # fmt: skip
    value = compose("", ledger, ()).values["coil.n_turns"]
    assert type(value.value) is int
    assert type(value.low) is float


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), np.float64("nan")])
def test_a_figure_that_is_no_number_is_refused(bad: float) -> None:
    ledger = invented_ledger()
    ledger.value("emf.emf_peak", bad, "V", words="peak", basis=Basis.COMPUTED, rule="none")
    with pytest.raises(ValueError, match=r"emf\.emf_peak"):
        compose("", ledger, ())
    entry = replace(finding("coil.fill", Severity.GOOD), margin=bad)
    with pytest.raises(ValueError, match=r"coil\.fill has margin"):
        compose("", Ledger(), [entry])
