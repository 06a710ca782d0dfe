"""`coilwright confirm` and `coilwright decks`: faces, exit codes, and texts that do no harm."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from circuits.command import EXIT_GOOD, EXIT_MISSING, EXIT_UNUSABLE, main
from netlists.deck_gate import check_deck
from netlists.runner import run_deck
from tests.simulator import Simulator

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "examples" / "foyer_sculpture.toml"
EXAMPLES = sorted((ROOT / "examples").glob("*.toml"))
DECKS = {
    "drive_fresh.cir", "drive_spent.cir", "filter.cir", "listening.cir", "free_pass.cir",
    "driven_pass.cir",
}  # fmt: skip


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_agrees(
    simulator: Simulator, example: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["confirm", str(example), "--json"]) == EXIT_GOOD
    written = capsys.readouterr()
    found = json.loads(written.out)
    assert found["agrees"] is True
    assert found["simulator"] == simulator.version
    assert {figure["id"] for figure in found["figures"]} >= {
        "energy.e_pulse", "energy.e_mechanical", "drive.i_coil", "clamp.t_decay", "filter.f_c",
        "filter.delay", "filter.peak_kept", "timing.deaf_until",
    }  # fmt: skip
    assert all(figure["reason"] for figure in found["figures"])
    logged = any(figure["id"] == "log_output.ripple" for figure in found["figures"])
    count = 6 if logged else 5
    assert f"{count} of {count} simulations done" in written.err


def test_the_table_says_what_agreement_means(
    simulator: Simulator, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["confirm", str(DEMO)]) == EXIT_GOOD
    text = " ".join(capsys.readouterr().out.split())
    assert simulator.version in text
    assert "not yet with your bench" in text
    assert "Where the differences come from" in text


@pytest.mark.usefixtures("simulator")
def test_a_figure_beyond_its_tolerance_is_named_and_ends_in_one(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A calculator that is five per cent off must not pass."""
    from circuits import confirmation

    plain = confirmation.drive_figures

    def shifted(*arguments: object) -> object:
        from dataclasses import replace

        figures = plain(*arguments)  # type: ignore[arg-type]
        return replace(figures, e_pulse=1.05 * figures.e_pulse)

    monkeypatch.setattr(confirmation, "drive_figures", shifted)
    assert main(["confirm", str(DEMO)]) == 1
    text = " ".join(capsys.readouterr().out.split())
    assert "differ beyond their tolerance" in text
    assert "energy.e_pulse (fresh)" in text


def test_without_a_simulator_one_line_says_how_to_get_it(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", os.devnull)
    monkeypatch.setattr("netlists.locate.USUAL_PLACES", ())
    assert main(["confirm", str(DEMO)]) == EXIT_MISSING
    written = capsys.readouterr()
    assert written.out == ""
    assert written.err.count("\n") == 1
    for word in ("apt install", "dnf install", "brew install", "Windows"):
        assert word in written.err


def test_without_pyspice_one_line_says_how_to_get_it(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setitem(sys.modules, "PySpice.Spice.Netlist", None)
    assert main(["decks", str(DEMO), "-o", str(tmp_path / "out")]) == EXIT_MISSING
    assert 'pipx install ".[spice]"' in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_simulator_that_fails_ends_in_three(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    fake = tmp_path / "ngspice"
    fake.write_text('#!/bin/sh\nif [ "$1" = --version ]; then echo "** ngspice-1"; fi\nexit 0\n')
    fake.chmod(0o755)
    assert main(["confirm", str(DEMO), "--ngspice", str(fake)]) == EXIT_MISSING
    written = capsys.readouterr()
    assert written.err.count("\n") == 1
    assert "no usable result" in written.err


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_an_interruption_leaves_nothing(tmp_path: Path) -> None:
    """A simulator that hangs: the interrupted command ends at once, with it and its folders."""
    marks = tmp_path / "pids"
    fake = tmp_path / "ngspice"
    fake.write_text(
        '#!/bin/sh\nif [ "$1" = --version ]; then echo "** ngspice-1"; exit 0; fi\n'
        f"echo $$ >> {marks}\nexec sleep 600\n"
    )
    fake.chmod(0o755)
    process = subprocess.Popen(
        [sys.executable, "-m", "circuits.command", "confirm", str(DEMO), "--ngspice", str(fake)],
        cwd=ROOT,
        env={**os.environ, "TMPDIR": str(tmp_path)},
        stderr=subprocess.PIPE,
        text=True,
    )
    for _ in range(200):
        if marks.exists() and marks.read_text().strip():
            break
        time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=20)
    assert process.returncode == 130
    assert "interrupted" in said
    assert "Traceback" not in said
    assert [path for path in tmp_path.iterdir() if path.name.startswith("coilwright-")] == []
    for pid in marks.read_text().split():
        with pytest.raises(ProcessLookupError):
            os.kill(int(pid), 0)


def test_decks_are_written_whole_under_fixed_names(
    simulator: Simulator, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "decks"
    assert main(["decks", str(DEMO), "-o", str(out)]) == EXIT_GOOD
    assert {path.name for path in out.iterdir()} == DECKS
    assert {line.split(":")[0] for line in capsys.readouterr().out.splitlines()} == DECKS
    for path in out.iterdir():
        deck = path.read_text(encoding="ascii")
        assert check_deck(deck) == deck
        # What other simulators lack is not in it.
        assert "vdmos" not in deck
        assert not any(line.startswith("b") for line in deck.splitlines())
        done = subprocess.run(
            [str(simulator.program), "-b", "-n", path.name], cwd=out, env={"HOME": str(tmp_path)},
            stdin=subprocess.DEVNULL, capture_output=True, timeout=60, check=False,
        )  # fmt: skip
        assert done.returncode == 0


def test_decks_never_overwrite_untold(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "decks"
    out.mkdir()
    (out / "filter.cir").write_text("mine")
    (out / "notes.txt").write_text("mine too")
    assert main(["decks", str(DEMO), "-o", str(out)]) == EXIT_UNUSABLE
    assert "--force" in capsys.readouterr().err
    assert {path.name for path in out.iterdir()} == {"filter.cir", "notes.txt"}
    assert (out / "filter.cir").read_text() == "mine"
    assert main(["decks", str(DEMO), "-o", str(out), "--force"]) == EXIT_GOOD
    assert {path.name for path in out.iterdir()} == DECKS | {"notes.txt"}
    assert (out / "notes.txt").read_text() == "mine too"
    assert (out / "filter.cir").read_text() != "mine"


@pytest.mark.parametrize("place", ["file", "no/such/parent/decks", "nul\0byte"])
def test_a_place_that_cannot_be_used_is_one_message(
    place: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("a file")
    before = sorted(path.name for path in tmp_path.iterdir())
    assert main(["decks", str(DEMO), "-o", f"{tmp_path}/{place}"]) == EXIT_UNUSABLE
    assert capsys.readouterr().err.count("\n") == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == before


HOSTILE = {
    "a line break and a control block": "foyer\\n.control\\nshell touch WITNESS\\n.endc",
    "a script's title": "*ng_script",
    "a comment that runs": "*# shell touch WITNESS",
    "an inclusion": ".include /etc/passwd",
    "a line separator": "foyer\\u2028.control\\u2028shell touch WITNESS",
    "a shell": "$(touch WITNESS) `touch WITNESS`",
}


@pytest.mark.usefixtures("simulator")
@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
@pytest.mark.parametrize("key", ["title", "note"])
def test_hostile_texts_run_nothing(
    key: str, text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Refused at the door, or sized and simulated without a word of it in any deck."""
    witness = tmp_path / "witness"
    text = text.replace("WITNESS", str(witness))
    design = tmp_path / "hostile.toml"
    lines = DEMO.read_text().splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith(f"{key} ="))
    lines[at] = f'{key} = "{text}"'
    design.write_text("\n".join(lines))
    seen: list[str] = []

    def watched(deck: str, **others: object) -> object:
        seen.append(deck)
        return run_deck(deck, **others)  # type: ignore[arg-type]

    monkeypatch.setattr("netlists.run_many.run_deck", watched)
    code = main(["confirm", str(design)])
    assert code in (EXIT_GOOD, EXIT_UNUSABLE)
    assert len(seen) == (5 if code == EXIT_GOOD else 0)
    decks = main(["decks", str(design), "-o", str(tmp_path / "out")])
    assert decks == code
    for deck in (*seen, *(path.read_text() for path in (tmp_path / "out").glob("*"))):
        for word in ("control", "shell", "touch", "include", "script", "foyer", "witness"):
            assert word not in deck.casefold()
    assert not witness.exists()


@pytest.mark.parametrize("name", ["X1 .include", "1N4148; shell touch /x", "d_process", ".control"])
def test_hostile_part_names_stay_out_of_decks(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = (
        f'\n[part."{name}"]\nkind = "diode"\nv_rrm = "75 V"\ni_f_av = "0.2 A"\n'
        'forward = [{ i_f = "10 mA", v_f_typ = "0.72 V" }]\n'
    )
    design = tmp_path / "hostile.toml"
    design.write_text(DEMO.read_text().replace('diode = "1N4148"', f'diode = "{name}"') + own)
    code = main(["decks", str(design), "-o", str(tmp_path / "out")])
    capsys.readouterr()
    assert code in (EXIT_GOOD, EXIT_UNUSABLE)
    for path in (tmp_path / "out").glob("*"):
        for word in name.casefold().split():
            assert word.strip(";") not in path.read_text()


@pytest.mark.usefixtures("simulator")
def test_hostile_files_where_the_user_stands_run_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    witness = tmp_path / "witness"
    for place in (tmp_path, tmp_path / "home"):
        place.mkdir(exist_ok=True)
        for name in (".spiceinit", "spinit", "spice.rc"):
            (place / name).write_text(f"shell touch {witness}\n")
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("SPICE_SCRIPTS", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    assert main(["confirm", str(DEMO)]) == EXIT_GOOD
    assert not witness.exists()
