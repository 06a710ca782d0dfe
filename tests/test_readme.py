"""The README prints what the program prints, and names nothing that is not there."""

import contextlib
import io
import re
import tomllib
from pathlib import Path

import pytest

from circuits import command
from circuits.catalogue import Catalogue

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
DOCUMENTS = ("README.md", "DEVELOPERS.md", "CHANGELOG.md")
SHEET = re.compile(
    r"<!-- printed: coilwright (?P<argv>[^\n;]*)(?:; up to: (?P<end>[^\n]*))? -->\n"
    r"```\n(?P<text>.*?)```\n",
    re.DOTALL,
)
"""What a command prints, whole or up to a line that begins so."""


def printed(argv: str, end: str | None) -> str:
    """Return what a command prints now, run from the project's root, up to that line."""
    out = io.StringIO()
    with contextlib.chdir(ROOT), contextlib.redirect_stdout(out):
        code = command.main(argv.split())
    assert code in (0, 1)
    lines = out.getvalue().splitlines(keepends=True)
    if end is None:
        return "".join(lines)
    last = next(number for number, line in enumerate(lines) if line.startswith(end))
    return "".join(lines[:last]).rstrip("\n") + "\n"


SHOWN = [shown.groupdict() for shown in SHEET.finditer(README.read_text(encoding="utf-8"))]


@pytest.mark.parametrize("shown", SHOWN, ids=lambda shown: shown["argv"])
def test_the_readme_shows_what_is_printed_now(shown: dict[str, str]) -> None:
    assert shown["text"] == printed(shown["argv"], shown["end"])


def test_the_readme_shows_each_kind_of_answer() -> None:
    assert {shown["argv"].split()[0] for shown in SHOWN} >= {"design", "cells", "steer", "read"}


def test_the_sheet_shown_is_the_one_that_make_demo_prints() -> None:
    shown = SHEET.search(README.read_text(encoding="utf-8"))
    assert shown is not None
    recipe = re.search(r"^demo:.*\n\t(.*)", (ROOT / "Makefile").read_text(), re.MULTILINE)
    assert recipe is not None
    assert f"coilwright {shown['argv']}" in recipe[1]


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_path_that_a_document_names_exists(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    links = [link for link in re.findall(r"\]\(([^)#]+)\)", text) if "://" not in link]
    spoken = re.findall(r"`((?:calc|circuits|netlists|tests|examples)/[\w/.]+\.(?:py|toml))`", text)
    for path in (*links, *spoken):
        if "KIND" not in path and "NAME" not in path:
            assert (ROOT / path).exists(), path


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_make_target_that_a_document_names_exists(name: str) -> None:
    targets = re.findall(r"^(\w+):", (ROOT / "Makefile").read_text(), re.MULTILINE)
    named = re.findall(r"^make (\w+)|`make (\w+)`", (ROOT / name).read_text(), re.MULTILINE)
    assert {first or second for first, second in named} <= set(targets)


def test_the_readme_lists_the_commands_that_there_are() -> None:
    rows = re.findall(r"^\| `coilwright (\w+)", README.read_text(encoding="utf-8"), re.MULTILINE)
    assert rows == list(command.COMMANDS)


def test_the_part_that_the_readme_describes_is_one() -> None:
    block = re.search(r"```toml\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    assert block is not None
    own = tomllib.loads(block[1])["part"]
    assert Catalogue(own).transistor("MYFET").name == "MYFET"


def test_the_changelog_has_a_place_for_changed_results() -> None:
    assert re.search(r"^#+ Changed results$", (ROOT / "CHANGELOG.md").read_text(), re.MULTILINE)


def write() -> None:
    """Write what the commands print now into the README."""
    text = README.read_text(encoding="utf-8")

    def fresh(shown: re.Match[str]) -> str:
        now = printed(shown["argv"], shown["end"])
        return shown[0].replace(f"```\n{shown['text']}```", f"```\n{now}```")

    README.write_text(SHEET.sub(fresh, text), encoding="utf-8")


if __name__ == "__main__":
    write()
