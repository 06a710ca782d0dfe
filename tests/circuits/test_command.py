"""The command line: exit codes, one message for every error, never a traceback."""

import json
import os
import subprocess
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest

from circuits import VERSION
from circuits.command import COMMANDS, EXTRAS, main
from circuits.errors import DesignFileError

ROOT = Path(__file__).parents[2]

Plant = Callable[[Callable[[object], int]], list[str]]


@pytest.fixture
def plant(monkeypatch: pytest.MonkeyPatch) -> Plant:
    """Return a function that adds a command which does what a test wants."""

    def add(run: Callable[[object], int]) -> list[str]:
        planted = SimpleNamespace(add_parser=lambda sub: sub.add_parser("planted"), run=run)
        monkeypatch.setitem(sys.modules, "circuits.command_planted", planted)
        monkeypatch.setitem(COMMANDS, "planted", ("circuits.command_planted", "for this test"))
        return ["planted"]

    return add


def raising(error: BaseException) -> Callable[[object], int]:
    def run(_: object) -> int:
        raise error

    return run


def in_a_process(*arguments: str, **kwargs: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "circuits.command", *arguments],
        cwd=ROOT, capture_output=True, text=True, timeout=60, check=False, **kwargs,
    )  # type: ignore[call-overload, no-any-return]  # fmt: skip


def test_bare_call_prints_the_three_next_steps(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    out = capsys.readouterr().out
    assert [f"{n}. coilwright" in out for n in (1, 2, 3, 4)] == [True, True, True, False]


def test_version_is_the_one_of_the_distribution(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"coilwright {VERSION}\n"
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["version"] == VERSION


def test_version_and_help_load_no_heavy_library() -> None:
    code = (
        "import sys; from circuits.command import main; main(['--version']); main(['-h']);"
        "main([]); main(['design', '-h']); main(['expect', '-h']);"
        "sys.exit(len({'numpy', 'scipy', 'pint', 'rich', 'tomlkit'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False).returncode == 0


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_each_command_shows_a_worked_example(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([name, "-h"]) == 0
    out = capsys.readouterr().out
    assert out.startswith(f"usage: coilwright {name} ")
    assert f"coilwright {name} " in out.partition("example")[2]


@pytest.mark.parametrize(
    ("argv", "found", "wanted"),
    [
        (["desing"], "found the command 'desing'", "'design' is near"),
        (["zzz"], "found the command 'zzz'", "commands are new, design"),
        (["--nonsense"], "--nonsense", "coilwright -h"),
        (["design"], "found no FILE", "coilwright design -h"),
        (["design", "a.toml", "b.toml"], "found 'b.toml'", "coilwright design -h"),
        (["design", "a.toml", "--js"], "found '--js'", "coilwright design -h"),
        (["design", "a.toml", "--json", "--csv"], "--csv", "coilwright design -h"),
        (["design", "no/such/file.toml"], "no/such/file.toml: found", "; "),
        (["design", "\x1b[31mred.toml"], "31mred.toml", "; "),
    ],
)
def test_a_wrong_call_gets_one_message_with_a_remedy(
    argv: list[str], found: str, wanted: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(argv) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("coilwright: ")
    assert err.count("\n") == 1
    assert found in err
    assert wanted in err
    assert "\x1b" not in err


def test_exit_codes_of_what_can_go_wrong(plant: Plant, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(plant(lambda _: 1)) == 1
    refusal = DesignFileError(file="a.toml", section="coil", key="wire", found="x", wanted="y")
    assert main(plant(raising(refusal))) == 2
    assert capsys.readouterr().err == "coilwright: a.toml: [coil] wire: found x; y\n"
    lacking = ModuleNotFoundError("No module named 'somewhere'", name="somewhere")
    assert main(plant(raising(lacking))) == 3
    assert "'pip install somewhere'" in capsys.readouterr().err
    lacking = ModuleNotFoundError("No module named 'distributed'", name="distributed")
    assert main(plant(raising(lacking))) == 3
    assert "'pip install coilwright[cluster]'" in capsys.readouterr().err
    assert main(plant(raising(KeyboardInterrupt()))) == 130
    assert capsys.readouterr().err == "coilwright: interrupted\n"


def test_an_unforeseen_error_asks_to_be_reported(
    plant: Plant, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    argv = plant(raising(ZeroDivisionError("somewhere\nbelow")))
    assert main(argv) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert "internal error: found ZeroDivisionError (somewhere below); please report" in err
    monkeypatch.setenv("COILWRIGHT_DEBUG", "1")
    assert main(argv) == 2
    assert "Traceback" in capsys.readouterr().err


def test_a_reader_that_leaves_early_is_no_failure() -> None:
    """The pipe's reading end is closed before anything is written."""
    reading, writing = os.pipe()
    os.close(reading)
    process = subprocess.run(
        [sys.executable, "-m", "circuits.command"],
        cwd=ROOT, stdout=writing, stderr=subprocess.PIPE, timeout=60, check=False,
    )  # fmt: skip
    os.close(writing)
    assert process.returncode == 0
    assert process.stderr == b""


def test_a_starved_base_fails_and_apply_writes_the_cure(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (ROOT / "examples" / "foyer_sculpture.toml").read_text(encoding="utf-8")
    starved, cured = tmp_path / "starved.toml", tmp_path / "cured.toml"
    starved.write_text(text.replace("[drive]", '[drive]\nbase_resistor = "10 kohm"'), "utf-8")
    assert main(["design", str(starved), "--json", "--apply", str(cured)]) == 1
    out, err = capsys.readouterr()
    failing = {f["id"]: f for f in json.loads(out)["findings"] if f["severity"] == "fails"}
    assert "With drive.base_resistor = " in failing["drive.saturation"]["remedy"]
    assert "written with drive.base_resistor = " in err
    assert err.endswith("nothing fails\n")
    assert main(["design", str(cured)]) == 0
    assert cured.read_text(encoding="utf-8").startswith("# A kinetic sculpture")
    capsys.readouterr()
    assert main(["design", str(starved), "--apply", str(cured)]) == 2
    assert "exists already" in capsys.readouterr().err


def test_each_optional_part_is_one_that_the_project_offers() -> None:
    offered = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    extras = offered["project"]["optional-dependencies"]
    for module, extra in EXTRAS.items():
        # Dask's extra is spelled dask[distributed] and brings both.
        assert any(module in wanted for wanted in extras[extra]), module
