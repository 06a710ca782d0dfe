"""Changes to a design, in memory and in a file: the same door, and nothing lost."""

import os
import stat
import time
from pathlib import Path

import pytest

from circuits.design import NumberKey, QuantityKey
from circuits.design_file import parse_design, read_design, sections
from circuits.design_keys import keys_of
from circuits.design_write import apply_changes, changed_text, with_changes, write_whole
from circuits.errors import DesignFileError
from circuits.ledger import Change

TEXT = """\
# my pendulum
[movement]
period = "2 s"      # to and fro
arc = "3 deg"

[magnet]            # second-hand
shape = "cylinder"
diameter = "10 mm"
height = "5 mm"
gap = "4 mm"        # measured twice

[coil]
wire = "0.16 mm 3%"
turns = 900

# the switch
[drive]
base_resistor = "4k7 5%"
"""


def change(section: str, key: str, text: str) -> Change:
    return Change(section=section, key=key, text=text)


MORE_GAP = change("magnet", "gap", "5 mm")
NEW_KEYS = (
    MORE_GAP,
    change("coil", "turns", "1200"),
    change("drive", "base_resistor", "330 ohm"),
    change("filter", "cutoff", "12 Hz"),
    change("pickup_coil", "turns", "500"),
    change("tolerance", "resistor", "5 %"),
    change("controller", "pin_high", "rail"),
)


@pytest.fixture
def design_path(tmp_path: Path) -> Path:
    path = tmp_path / "pendulum.toml"
    path.write_text(TEXT)
    return path


def test_a_change_in_memory_and_one_in_the_file_give_the_same_design() -> None:
    design = parse_design(TEXT, "one")
    assert with_changes(design, NEW_KEYS) == parse_design(
        changed_text(TEXT, NEW_KEYS, "one"), "one"
    )


@pytest.mark.parametrize(
    ("section", "key"),
    [
        (section, key)
        for section, record in sections().items()
        for key, (_, declared) in keys_of(record).items()
        if section not in ("magnet", "movement")
        and isinstance(declared, QuantityKey | NumberKey)
        and key not in ("voltage", "series", "parallel", "cutoff_per_cell")
    ],
)
def test_every_figure_can_be_changed_either_way(section: str, key: str) -> None:
    text = TEXT + ('[supply]\ncell = "LR20"\n' if section == "supply" else "")
    declared = keys_of(sections()[section])[key][1]
    assert isinstance(declared, QuantityKey | NumberKey)
    low, high = declared.plausible or declared.possible
    if isinstance(declared, QuantityKey):
        new = change(section, key, f"{(low + high) / 2!r} {declared.unit}")
    else:
        new = change(section, key, f"{int(high) if declared.whole else high}")
    design = with_changes(parse_design(text, "one"), [new])
    assert design == parse_design(changed_text(text, [new], "one"), "one")
    assert design != parse_design(text, "one")


def test_comments_and_order_are_kept(design_path: Path, tmp_path: Path) -> None:
    out = tmp_path / "better.toml"
    apply_changes(design_path, (MORE_GAP, change("coil", "turns", "1200")), out)
    assert out.read_text() == TEXT.replace('"4 mm"', '"5 mm"').replace("900", "1200")
    assert design_path.read_text() == TEXT


def test_a_section_that_is_missing_is_added_at_the_end() -> None:
    new = changed_text(TEXT, [change("filter", "cutoff", "12 Hz")], "one")
    assert new.startswith(TEXT)
    assert new[len(TEXT) :].split() == ["[filter]", "cutoff", "=", '"12', 'Hz"']


def test_a_key_that_tells_the_same_fact_gives_way() -> None:
    thinner = [change("coil", "awg", "36")]
    design = with_changes(parse_design(TEXT, "one"), thinner)
    assert (design.coil.wire, design.coil.awg) == (None, 36)
    assert "coil.wire" not in design.stated_tolerance
    assert parse_design(changed_text(TEXT, thinner, "one"), "one") == design


def test_an_empty_text_leaves_the_key_out() -> None:
    left_out = [change("drive", "base_resistor", "")]
    design = with_changes(parse_design(TEXT, "one"), left_out)
    assert design.drive.base_resistor is None
    assert "drive.base_resistor" not in design.stated_tolerance
    assert "base_resistor" not in changed_text(TEXT, left_out, "one")


def test_a_doubt_goes_with_the_value_it_was_about() -> None:
    design = parse_design(TEXT.replace('"4 mm"', '"0.1 mm"'), "one")
    assert [doubt.key for doubt in design.doubts] == ["gap"]
    assert with_changes(design, [MORE_GAP]).doubts == ()


@pytest.mark.parametrize(
    "wrong",
    [
        change("magnet", "gap", "5"),
        change("magnet", "gap", "5 kohm"),
        change("magnet", "gap", "5 km"),
        change("magnet", "gaps", "5 mm"),
        change("magnets", "gap", "5 mm"),
        change("movement", "ring_down", "5 mm"),
        change("magnet", "inner_diameter", "2 mm"),
        change("magnet", "gap", ""),
        change("coil", "turns", "many"),
        change("design", "title", "a\nb"),
    ],
)
def test_a_change_goes_through_the_same_door(
    wrong: Change, design_path: Path, tmp_path: Path
) -> None:
    with pytest.raises(DesignFileError):
        with_changes(read_design(design_path), [wrong])
    out = tmp_path / "better.toml"
    with pytest.raises(DesignFileError):
        apply_changes(design_path, [wrong], out)
    assert os.listdir(tmp_path) == [design_path.name]


def test_a_recomputation_does_not_wait_for_the_door() -> None:
    """One change takes a tenth of a millisecond or so; the bound leaves room for a busy machine."""
    design = parse_design(TEXT, "one")
    with_changes(design, NEW_KEYS)
    begin = time.process_time()
    for _ in range(100):
        with_changes(design, NEW_KEYS)
    assert (time.process_time() - begin) / 100 < 5e-3


def test_an_existing_file_is_not_overwritten_untold(design_path: Path, tmp_path: Path) -> None:
    out = tmp_path / "better.toml"
    out.write_text("mine")
    with pytest.raises(DesignFileError, match="--force"):
        apply_changes(design_path, [MORE_GAP], out)
    with pytest.raises(DesignFileError, match="--force"):
        apply_changes(design_path, [MORE_GAP], design_path)
    assert out.read_text() == "mine"
    assert design_path.read_text() == TEXT
    apply_changes(design_path, [MORE_GAP], out, force=True)
    assert read_design(out).magnet.gap == 0.005


def test_a_link_is_written_through_and_not_replaced(design_path: Path, tmp_path: Path) -> None:
    link = tmp_path / "link.toml"
    link.symlink_to(design_path)
    apply_changes(link, [MORE_GAP], link, force=True)
    assert link.is_symlink()
    assert read_design(design_path).magnet.gap == 0.005


def test_an_overwritten_file_keeps_its_permissions(design_path: Path) -> None:
    design_path.chmod(0o640)
    apply_changes(design_path, [MORE_GAP], design_path, force=True)
    assert stat.S_IMODE(design_path.stat().st_mode) == 0o640


def test_places_that_cannot_be_written(design_path: Path, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    before = sorted(os.listdir(tmp_path))
    for place in (
        tmp_path,
        tmp_path / "pipe",
        tmp_path / "none" / "out.toml",
        design_path / "out.toml",
        tmp_path / "a\0b",
        tmp_path / ("x" * 300),
        Path("/dev/null"),
    ):
        for force in (False, True):
            with pytest.raises(DesignFileError) as caught:
                apply_changes(design_path, [MORE_GAP], place, force=force)
            assert str(caught.value).isprintable()
    assert sorted(os.listdir(tmp_path)) == before
    assert stat.S_ISCHR(os.stat("/dev/null").st_mode)


def test_a_write_that_breaks_off_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "old.toml"
    path.write_text("old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(DesignFileError, match="no space left"):
        write_whole(path, "new", force=True)
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["old.toml"]
