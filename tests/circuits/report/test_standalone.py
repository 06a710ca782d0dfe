"""The README's pictures, drawn from the examples by one command."""

from pathlib import Path
from xml.etree import ElementTree

from examples.pictures import HERE, SHOWN, draw
from tests.circuits.report.reports import SVG


def test_one_command_draws_every_picture_of_the_readme(tmp_path: Path) -> None:
    drawn = draw(tmp_path / "pictures")
    assert len(drawn) == sum(len(names) for names in SHOWN.values())
    for file in drawn:
        picture = ElementTree.fromstring(file.read_text(encoding="utf-8"))
        assert picture.tag == f"{SVG}svg"
        assert picture.find(f"{SVG}title") is not None
        assert not list(picture.iter(f"{SVG}script"))
    there = {file.name for file in (HERE / "pictures").glob("*.svg")}
    assert there == {file.name for file in drawn}
