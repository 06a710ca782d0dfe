"""`coilwright new`: six answers become a design file that can be read, or nothing at all."""

import io
import json
import os
import sys
from pathlib import Path

import pytest

from circuits.command import main
from circuits.design_file import read_design
from circuits.new_questions import QUESTIONS
from circuits.new_text import MUST

PENDULUM = (
    "pendulum, 1.7 s; 650 g; 3.5 deg, 720 mm; 14 mm, 7 mm, N40, 5 mm; "
    "12 mm, 34 mm, 9 mm, 0.18 mm; 2 x LR14"
)
BALANCE = "balance, 0.6 s; 2e-6 kg*m^2; 130 deg, 16 mm; ; ; 2 x LR6"


def typed(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(text))


def test_six_answers_are_in_the_file(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    assert main(["new", str(path), "--answers", PENDULUM]) == 0
    design = read_design(path)
    assert design.movement.kind == "pendulum"
    assert design.movement.period == 1.7
    assert design.movement.mass == 0.65
    assert design.movement.magnet_radius == 0.72
    assert design.magnet.grade == "N40"
    assert (design.coil.inner_diameter, design.coil.wire) == (0.012, 0.00018)
    assert (design.supply.cell, design.supply.series) == ("LR14", 2)
    assert design.doubts == ()


@pytest.mark.parametrize(
    "answers",
    [
        ";;;;;",
        "balance, 0.5 s;;;;;",
        "pendulum, 600 mm;;90 mm;;;5 V",
        PENDULUM,
        BALANCE,
        ";;;;;LR20",
    ],
)
def test_every_kind_of_answer_gives_a_readable_file_without_doubts(
    tmp_path: Path, answers: str
) -> None:
    path = tmp_path / "new.toml"
    assert main(["new", str(path), "--answers", answers]) == 0
    assert read_design(path).doubts == ()
    assert path.read_text().count(MUST) >= 5


@pytest.mark.parametrize(
    "answers", [";;;;;", "balance, 0.5 s;;;;;", "pendulum, 600 mm;;90 mm;;;5 V"]
)
def test_a_starting_design_designs_cleanly(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], answers: str
) -> None:
    """Nothing fails, and what nobody can know yet is said to be measured."""
    path = tmp_path / "new.toml"
    assert main(["new", str(path), "--answers", answers]) == 0
    capsys.readouterr()
    assert main(["design", str(path), "--json"]) == 0
    findings = json.loads(capsys.readouterr().out)["findings"]
    assert [f["id"] for f in findings if f["severity"] == "measure"] == ["movement.quality_factor"]


def test_the_lines_to_measure_are_readable_once_uncommented(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    main(["new", str(path), "--answers", PENDULUM])
    text = path.read_text().replace('bearing = "spring"\n', "")
    for line in text.splitlines():
        if line.startswith("#   ") and "=" in line:
            text = text.replace(line, line.removeprefix("#   "))
    path.write_text(text)
    design = read_design(path)
    assert design.movement.ring_down is not None
    assert design.coil.measured_resistance is not None


def test_answers_typed_on_the_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    typed(monkeypatch, "\n".join(PENDULUM.split(";")) + "\n")
    asked, given = tmp_path / "asked.toml", tmp_path / "given.toml"
    assert main(["new", str(asked)]) == 0
    assert main(["new", str(given), "--answers", PENDULUM]) == 0
    assert asked.read_text() == given.read_text()


def test_a_terminal_is_asked_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(monkeypatch, "pendulum, 2\npendulum, 2 s\n\n\n\n\n\n")
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
    assert main(["new", str(tmp_path / "new.toml")]) == 0
    assert "bare number" in capsys.readouterr().err
    assert read_design(tmp_path / "new.toml").movement.period == 2.0


@pytest.mark.parametrize(
    ("answers", "question"),
    [
        ("pendulum;;;;;", "movement"),
        ("spring, 2 s;;;;;", "movement"),
        ("balance, 600 mm;;;;;", "movement"),
        ("pendulum, 1,7 s;;;;;", "movement"),
        (";5 mm;;;;", "body"),
        ("balance, 0.5 s;500 g;;;;", "body"),
        (";;3 V;;;", "swing"),
        ("balance, 0.5 s;;130 deg;;;", "swing"),
        (";;;15 mm, 8 mm, N42;;", "magnet"),
        (";;;15 mm, 8 mm, N99, 6 mm;;", "N99"),
        (";;;;1 mm, 2 mm;", "coil"),
        (";;;;36 mm, 14 mm, 10 mm, 0.2 mm;", "outer_diameter"),
        (";;;;;3 x LR99", "LR99"),
        (";;;;;40 x LR20", "supply"),
        (";;;;;5 kohm", "5 kohm"),
        (";;;", "4 answers"),
        ("", "1 answers"),
        (';;;15 mm, 8 mm, N42"\n[x], 6 mm;;', "magnet"),
    ],
)
def test_an_answer_that_will_not_do_writes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], answers: str, question: str
) -> None:
    assert main(["new", str(tmp_path / "new.toml"), "--answers", answers]) == 2
    message = capsys.readouterr().err
    assert question in message
    assert message.count("\n") == 1
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("lines", range(len(QUESTIONS)))
def test_input_that_ends_early_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, lines: int
) -> None:
    typed(monkeypatch, "\n" * lines)
    assert main(["new", str(tmp_path / "new.toml")]) == 2
    assert os.listdir(tmp_path) == []


def test_an_interruption_writes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Interrupted(io.StringIO):
        def readline(self, _: int | None = -1) -> str:
            raise KeyboardInterrupt

    monkeypatch.setattr(sys, "stdin", Interrupted())
    assert main(["new", str(tmp_path / "new.toml")]) == 130
    assert os.listdir(tmp_path) == []


def test_an_existing_file_stays_unless_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "new.toml"
    path.write_text("mine")
    assert main(["new", str(path)]) == 2, "no question is asked in vain"
    assert "--force" in capsys.readouterr().err
    assert path.read_text() == "mine"
    assert main(["new", str(path), "--force", "--answers", PENDULUM]) == 0
    assert read_design(path).movement.period == 1.7


def test_what_was_written_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "new.toml"
    assert main(["new", str(path), "--json", "--answers", BALANCE]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["file"] == str(path)
    assert said["stated"]["movement.arc"] == "130 deg"
    assert len(said["measure"]) >= 5


def test_a_free_swing_is_shown_from_the_arc_that_was_given(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    assert main(["new", str(path), "--answers", PENDULUM]) == 0
    assert 'ring_down = { from = "3.5 deg", to = "1.8 deg"' in path.read_text()
    travelling = "pendulum, 600 mm;;90 mm;;;5 V"
    assert main(["new", str(path), "--force", "--answers", travelling]) == 0
    assert 'ring_down = { from = "4.3 deg", to = "2.1 deg"' in path.read_text()


def test_answers_are_asked_for_without_quotes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = ["pendulum, 1.8 s", "", "", "15 mm, 8 mm, N42, 7", "", ""]
    assert main(["new", str(tmp_path / "new.toml"), "--answers", ";".join(answers)]) == 2
    assert "write it with its unit, such as 7 mm\n" in capsys.readouterr().err
    answers[3:5] = ["", "14 mm, 36 mm, 10 mm, 32 AWG"]
    assert main(["new", str(tmp_path / "new.toml"), "--answers", ";".join(answers)]) == 2
    assert "write its bare diameter, 0.202 mm\n" in capsys.readouterr().err
