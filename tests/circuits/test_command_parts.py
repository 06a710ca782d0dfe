"""`coilwright parts`: lists, filters and names the source; bad questions get one answer."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from circuits import command, face_terminal
from circuits.catalogue import KINDS, Catalogue
from circuits.face_parts import COLUMNS, KIND_WORDS, coloured_table, kind_table, part_table
from circuits.part_search import figures_of, read_limits, search
from tests.sources import Kind, source


def printed(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    assert command.main(["parts", *argv]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out


def refused(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    assert command.main(["parts", *argv]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert err.startswith("coilwright: ")
    return err


def listed(text: str) -> list[str]:
    """First column of a plain table, without its heading."""
    body = text.split("\n\n")[1].splitlines()[1:]
    return [line.split("  ")[0] for line in body]


def last_column(text: str) -> str:
    """Last column of one part's table, its lines joined again."""
    heading, *rows = text.split("\n\n")[1].splitlines()
    place = heading.rindex("  ") + 2
    return " ".join(row[place:] for row in rows)


def test_without_a_kind_the_kinds_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert listed(printed(capsys)) == list(KINDS)


def test_every_kind_has_words_and_columns() -> None:
    assert set(KIND_WORDS) == set(KINDS) == set(COLUMNS)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_lists_all_its_parts_with_their_source(
    kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    text = printed(capsys, kind)
    assert listed(text) == list(Catalogue().names(kind))
    text = " ".join(text.split())
    for part in Catalogue().parts(kind):
        assert any(mark.source in text for mark in part.marks.values()), part.name


@pytest.mark.parametrize("kind", KINDS)
def test_columns_are_aligned_whatever_reads_them(
    kind: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    wide = printed(capsys, kind)
    monkeypatch.setenv("COLUMNS", "20")
    assert printed(capsys, kind) == wide
    lines = wide.split("\n\n")[1].splitlines()
    for heading in list(re.finditer(r"\S+(?: \S+)*", lines[0]))[1:]:
        assert {line[heading.start() - 2 : heading.start()] for line in lines} == {"  "}


@source(Kind.IDENTITY, "counted by hand in the data files")
def test_limits_filter_the_list(capsys: pytest.CaptureFixture[str]) -> None:
    text = printed(capsys, "npn", "--at-least", "v_ceo=80 V", "--at-least", "i_c_max=1 A")
    assert listed(text) == ["BD139", "BD139-10", "BD139-16"]
    text = printed(capsys, "zener", "--at-least", "v_z_min=11 V", "--at-most", "v_z_max=13 V")
    assert listed(text) == ["BZX55C12", "BZX85C12"]


@source(Kind.PUBLISHED, "Infineon, Alpha & Omega, International Rectifier, Vishay sheets, 2.5 V")
def test_limits_on_test_points_must_be_met_by_one_point(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """DMG2302U has 90 mohm, but at 4.5 V only; at 2.5 V it is 120 mohm."""
    text = printed(capsys, "nmos", "--at-most", "v_gs=3.3 V", "--at-most", "r_ds_on_max=0.1 ohm")
    assert listed(text) == ["BSS806NE", "AO3400A", "IRLML6344", "Si2302CDS"]


def test_a_part_whose_figure_is_unknown_is_named_not_passed(
    capsys: pytest.CaptureFixture[str],
) -> None:
    text = printed(capsys, "npn", "--at-most", "r_th_ja=150 K/W")
    assert listed(text) == ["BD139", "BD139-10", "BD139-16"]
    assert "Left out because a figure asked for is unknown: 2N2222A" in text


def test_no_part_within_the_limits_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert "No part keeps" in printed(capsys, "diode", "--at-least", "v_rrm=5 kV")


@pytest.mark.parametrize(
    ("kind", "name"), [("npn", "2n3904"), ("cell", "LR20"), ("pin", "ATmega328P")]
)
def test_one_part_shows_every_figure_with_its_source(
    kind: str, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    text, part = printed(capsys, kind, name), Catalogue().part(kind, name)
    for field, mark in part.marks.items():
        assert f"\n{field} " in text
        assert str(mark) in last_column(text)
    assert part.note in " ".join(text.split())


def test_lists_and_parts_keep_to_80_columns(capsys: pytest.CaptureFixture[str]) -> None:
    pages = [printed(capsys), *(printed(capsys, kind) for kind in KINDS)]
    pages += [printed(capsys, "cell", "LR20"), printed(capsys, "npn", "BC337-40")]
    assert max(len(line) for page in pages for line in page.splitlines()) <= 80


def test_a_name_that_no_part_has_is_answered_as_the_command_line(
    capsys: pytest.CaptureFixture[str],
) -> None:
    told = refused(capsys, "npn", "BC337")
    assert 'command line: parts npn: found "BC337"' in told
    assert "BC337-40" in told
    assert "[drive]" not in told


@pytest.mark.parametrize("kind", KINDS)
def test_json_carries_si_values_with_source(kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    content = json.loads(printed(capsys, kind, "--json"))
    parts: tuple[Any, ...] = Catalogue().parts(kind)
    assert [entry["name"] for entry in content["parts"]] == [part.name for part in parts]
    for entry, part in zip(content["parts"], parts, strict=True):
        for field in part.marks:
            assert entry[field]["source"]
            assert entry[field]["confidence"]
            if "value" in entry[field]:
                assert entry[field]["value"] == getattr(part, field)
        assert None not in entry.values()


def test_json_of_the_kinds_and_of_one_part(capsys: pytest.CaptureFixture[str]) -> None:
    assert list(json.loads(printed(capsys, "--json"))["kinds"]) == list(KINDS)
    content = json.loads(printed(capsys, "nmos", "2N7000", "--json"))
    point = content["parts"][0]["on"]["points"][0]
    assert point["r_ds_on_max"] == {"value": 5.3, "unit": "ohm"}


def test_own_parts_come_first(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(
        '[part.MYDIODE]\nkind = "diode"\nv_rrm = "60 V"\ni_f_av = "1 A"\n'
        'forward = [{ i_f = "0.1 A", v_f_max = "0.5 V" }]\n'
    )
    text = printed(capsys, "diode", "--design", str(file))
    assert listed(text)[:2] == ["MYDIODE", "1N4148"]
    assert "MYDIODE: the design file's own [part] table" in text


def test_own_parts_that_are_no_tables_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "mine.toml"
    file.write_text("part = 5\n")
    assert "[part.NAME]" in refused(capsys, "diode", "--design", str(file))
    file.write_text("[part]\nMYDIODE = 5\n")
    assert "MYDIODE" in refused(capsys, "diode", "--design", str(file))


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (["transistr"], "nearest: npn"),
        (["zenner"], "nearest: zener"),
        (["2n3904"], "coilwright parts npn 2n3904"),
        (["gearbox"], "kinds are npn, nmos"),
        (["npn", "2N3905"], "2N3904"),
        (["npn", "--at-least", "vceo=40 V"], "nearest: v_ceo"),
        (["npn", "--at-least", "v_ceo"], "figure=quantity"),
        (["npn", "--at-least", "v_ceo=40"], "unit"),
        (["npn", "--at-most", "v_ceo=40 mA"], "a current"),
        (["npn", "--at-most", "v_ceo=nan V"], "finite"),
        (["npn", "2N3904", "--at-most", "v_ceo=40 V"], "limits filter the list"),
        (["--at-most", "v_ceo=40 V"], "limits filter the list"),
        (["npn", "--design", "no_such_file.toml"], "no_such_file.toml"),
    ],
)
def test_a_bad_question_gets_one_answer(
    argv: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert words in refused(capsys, *argv)


@pytest.mark.parametrize("kind", KINDS)
def test_a_limit_on_each_figure_keeps_the_parts_that_have_it(kind: str) -> None:
    """A limit at the least value of all keeps everything whose figure is known."""
    parts = Catalogue().parts(kind)
    for name, (unit, within) in figures_of(KINDS[kind]).items():
        values = [
            getattr(record, name)
            for part in parts
            for record in (getattr(part, within) if within else (part,))
            if getattr(record, name) is not None
        ]
        if not values or unit in ("K", "1/K"):
            continue
        written = repr(min(values)) if unit == "1" else f"{min(values)!r} {unit}"
        limits = read_limits(KINDS[kind], [f"{name}={written}"], least=True)
        found = search(parts, limits)
        assert len(found.parts) + len(found.unknown) >= len(found.parts) > 0, name
        if not within:
            assert len(found.parts) + len(found.unknown) == len(parts), name


@pytest.mark.parametrize("width", [40, 80, 200])
def test_on_a_terminal_the_table_keeps_to_its_width(
    width: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    monkeypatch.setenv("TERM", "dumb")
    part = Catalogue().part("cell", "LR20")
    for table in (part_table("cell", part), kind_table("npn", Catalogue().parts("npn"), ())):
        lines = coloured_table(table).splitlines()
        assert max(len(line) for line in lines) <= width


def test_a_terminal_gets_the_coloured_table(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(face_terminal, "on_terminal", lambda: True)
    monkeypatch.setenv("COLUMNS", "100")
    text = printed(capsys, "nmos")
    assert "─" in text
    assert "2N7000" in text
