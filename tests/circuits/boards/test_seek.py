"""A search over keys of a design: what it tries, what it keeps, and that it can be stopped."""

import contextlib
import json
import math
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from circuits import pipeline
from circuits.boards.knob import among, between
from circuits.boards.row_store import RowStore
from circuits.boards.seeking import cost, pareto, seek
from circuits.boards.trial import AIMS, Row, Subject, try_out
from circuits.catalogue import Catalogue
from circuits.command import main
from circuits.design_file import parse_design, read_design
from circuits.errors import DesignFileError
from circuits.ledger import Change
from tests.sources import Kind, source

FOYER = "examples/foyer_sculpture.toml"
CATALOGUE = Catalogue()


@pytest.fixture(scope="module")
def subject():
    with open(FOYER, encoding="utf-8") as file:
        return Subject(text=file.read(), file=FOYER)


def _silent(*_):
    pass


def _seek(subject, knobs, aim="energy", points=12, **options):
    store = options.pop("store", None) or RowStore(subject)
    return seek(
        subject, knobs, aim, points=points, seed=options.pop("seed", 1), store=store, jobs=1,
        tell=_silent, **options,
    )  # fmt: skip


def _wires():
    return between("coil.wire=0.16 mm..0.2 mm", CATALOGUE)


# -- knobs ------------------------------------------------------------------------------------


def test_a_wire_is_turned_from_one_catalogue_size_to_the_next():
    assert _wires().texts == ("0.16 mm", "0.18 mm", "0.2 mm")


def test_a_span_is_tried_in_the_unit_in_which_it_is_written():
    knob = between("magnet.gap=3..9 mm", CATALOGUE)
    assert [knob.change(place).text for place in (0.0, 0.5, 1.0)] == ["3 mm", "6 mm", "9 mm"]
    ratio = between("drive.duty=0.2..1", CATALOGUE)
    assert ratio.change(0.5).text == "0.6"
    whole = between("supply.series=2..4", CATALOGUE)
    assert whole.texts == ("2", "3", "4")


def test_an_asterisk_lists_every_part_that_fits():
    knob = among("drive.transistor=*", CATALOGUE)
    assert knob.texts == CATALOGUE.names("npn")
    assert among("drive.transistor=*", CATALOGUE, "nmos").texts == CATALOGUE.names("nmos")
    assert among("clamp.diode=*", CATALOGUE).texts == CATALOGUE.names("diode")


@pytest.mark.parametrize(
    ("make", "text", "said"),
    [
        (between, "coil.wire", "SECTION.KEY"),
        (between, "wire=1..2", "SECTION.KEY"),
        (between, "coil.wired=1 mm..2 mm", "name a key"),
        (between, "oven.heat=1..2", "name a key"),
        (between, "coil.wire=0.1 mm", "two ends"),
        (between, "coil.wire=0.1 mm..0.2 in", "same unit"),
        (between, "coil.wire=0.2 mm..0.1 mm", "smaller end first"),
        (between, "coil.wire=1 ohm..2 ohm", "length"),
        (between, "coil.wire=0.1..0.2", "unit"),
        (between, "coil.wire=0.1001 mm..0.1002 mm", "size of the catalogue"),
        (between, "magnet.gap=1 m..900 m", "can hold"),
        (between, "drive.switch=npn..nmos", "--among"),
        (between, "drive.duty=0.1 V..0.5 V", "bare numbers"),
        (between, "supply.series=1..9e9", "whole numbers"),
        (between, "movement.ring_down=1 s..2 s", "one value"),
        (between, "coil.wire=nan mm..1 mm", "number"),
        (among, "drive.transistor=BC337-40", "list 2 to 64"),
        (among, "drive.transistor=,,", "list 2 to 64"),
    ],
)
def test_a_knob_that_cannot_be_turned_is_refused_in_words(make, text, said):
    with pytest.raises(DesignFileError, match=said):
        make(text, CATALOGUE)


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=40))
def test_no_text_makes_anything_but_a_knob_or_a_refusal(text):
    for make in (between, among):
        for full in (text, f"coil.wire={text}", f"drive.transistor={text}"):
            with contextlib.suppress(DesignFileError):
                make(full, CATALOGUE)


# -- trials -----------------------------------------------------------------------------------


@source(Kind.IDENTITY, "the sheet of the changed design file, computed by itself")
def test_a_trial_is_the_sheet_of_the_changed_design(subject):
    """Measured: the row's figures against the ledger of a design file edited by hand; exact."""
    row = try_out(subject, (Change(section="coil", key="wire", text="0.18 mm"),))
    text = subject.text.replace('wire = "0.2 mm"', 'wire = "0.18 mm"')
    ledger = pipeline.run(parse_design(text, FOYER), CATALOGUE).ledger
    value = ledger.values
    assert row.figures["energy"] == value["energy.e_pulse"].value + value["energy.e_base"].value
    assert row.figures["life"] == value["cells.battery_life"].value
    assert row.figures["coil"] == value["coil.mass"].value


def test_a_point_that_cannot_be_used_is_a_row_with_its_reason(subject):
    row = try_out(subject, (Change(section="coil", key="inner_diameter", text="40 mm"),))
    assert not row.good
    assert "[coil]" in row.reason
    assert cost(row, "energy") > 100


def test_the_cost_sorts_usable_before_passing_before_best():
    good = Row(changes=(), figures={"energy": 2e-3})
    better = Row(changes=(), figures={"energy": 1e-3})
    failing = Row(changes=(), figures={"energy": 1e-6}, fails=("a.b",), short=0.1)
    worse = replace(failing, fails=("a.b", "c.d"), short=0.7)
    refused = Row(changes=(), reason="found nothing")
    costs = [cost(row, "energy") for row in (better, good, failing, worse, refused)]
    assert costs == sorted(costs)
    assert len(set(costs)) == len(costs)


@source(Kind.IDENTITY, "definition of the Pareto front, by comparing every pair")
def test_the_front_holds_what_no_other_row_beats():
    """Measured: 200 random rows, against a comparison pair by pair."""
    random = np.random.default_rng(7)
    rows = [
        Row(
            changes=(Change(section="coil", key="turns", text=str(n)),),
            figures=dict(zip(AIMS, random.uniform(1, 2, 3).tolist(), strict=True)),
            fails=("a.b",) if n % 9 == 0 else (),
        )
        for n in range(200)
    ]

    def beats(one, other):
        signed = [(-1 if aim.more else 1) for aim in AIMS.values()]
        gaps = [s * (one.figures[n] - other.figures[n]) for s, n in zip(signed, AIMS, strict=True)]
        return max(gaps) <= 0 and min(gaps) < 0

    good = [row for row in rows if row.good]
    expected = {row.changes for row in good if not any(beats(other, row) for other in good)}
    assert {row.changes for row in pareto(rows)} == expected


# -- the search -------------------------------------------------------------------------------


def test_few_combinations_are_all_tried(subject):
    found = _seek(subject, [_wires(), among("clamp.diode=1N4148,1N4001", CATALOGUE)])
    assert len(found.rows) == 6
    assert found.finished


def test_the_search_finds_the_best_that_a_full_scan_finds(subject):
    """Measured: least energy over the outer diameter, against a scan in 0.5 mm; 2 % of it."""
    knob = between("coil.outer_diameter=30 mm..40 mm", CATALOGUE)
    scan = [try_out(subject, (knob.change(p),)) for p in np.linspace(0, 1, 21)]
    least = min(row.figures["energy"] for row in scan if row.good)
    found = _seek(subject, [knob], points=24)
    assert found.best is not None
    assert found.best.figures["energy"] <= 1.02 * least


def test_the_same_seed_tries_the_same_points(subject):
    knob = between("magnet.gap=6 mm..8 mm", CATALOGUE)
    one, other = (_seek(subject, [knob], points=8, seed=5) for _ in range(2))
    assert one.rows == other.rows


def test_a_stopped_search_goes_on_where_it_was(subject, tmp_path):
    """Stopped after three trials; the second run tries only the rest and ends the same."""
    knob = between("magnet.gap=6 mm..8 mm", CATALOGUE)
    path = tmp_path / "rows.jsonl"
    seen = []

    def stop(*told):
        seen.append(told)
        if len(seen) == 3:
            raise KeyboardInterrupt

    store = RowStore(subject, path)
    part = seek(subject, [knob], "energy", points=8, seed=5, store=store, jobs=1, tell=stop)
    store.close()
    assert not part.finished
    with path.open("a") as file:
        file.write('{"changes": [["magn')  # what a stop in the middle of a line leaves
    again = RowStore(subject, path)
    assert len(again.rows) == 3
    tried = []
    whole = seek(
        subject, [knob], "energy", points=8, seed=5, store=again, jobs=1,
        tell=lambda *told: tried.append(told),
    )  # fmt: skip
    again.close()
    fresh = _seek(subject, [knob], points=8, seed=5)
    assert whole.rows == fresh.rows
    assert len(tried) == len(fresh.rows) + 1 - 3
    assert len(path.read_text().splitlines()) == 1 + len(fresh.rows) + 1


@pytest.mark.parametrize(
    "content", [b"", b"hello\n", b'{"rows of": "coilwright seek"}\n', b"\xff\xfe\x00"]
)
def test_a_file_of_other_rows_is_left_alone(subject, tmp_path, content):
    path = tmp_path / "rows.jsonl"
    path.write_bytes(content)
    with pytest.raises(DesignFileError, match="no rows of this design"):
        RowStore(subject, path)
    assert path.read_bytes() == content


def test_trials_run_side_by_side(subject):
    found = seek(
        subject, [_wires()], "coil", points=3, seed=1, store=RowStore(subject), jobs=2,
        tell=_silent,
    )  # fmt: skip
    assert found.rows == _seek(subject, [_wires()], "coil", points=3).rows


def test_trials_run_on_a_cluster(subject):
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None
        ) as cluster,
    ):
        found = _seek(subject, [_wires()], "coil", points=3, cluster=cluster.scheduler_address)
    assert found.rows == _seek(subject, [_wires()], "coil", points=3).rows


def test_an_address_without_a_scheduler_is_refused(subject):
    pytest.importorskip("distributed")
    with pytest.raises(DesignFileError, match="--cluster"):
        _seek(subject, [_wires()], cluster="nonsense://nowhere")


# -- the command ------------------------------------------------------------------------------


def test_the_command_lists_the_front_and_writes_the_design(tmp_path, capsys):
    out = tmp_path / "better.toml"
    wanted = ["seek", FOYER, "--between", "coil.wire=0.16 mm..0.2 mm", "--jobs", "1"]
    assert main([*wanted, "--apply", str(out)]) == 0
    printed = capsys.readouterr()
    assert "3 trials" in printed.out
    assert "0.16 mm" in printed.out
    design = read_design(out)
    assert design.coil.wire == pytest.approx(0.16e-3, rel=1e-12)
    assert "# turns are left out: the window decides" in out.read_text()
    assert main([*wanted, "--apply", str(out)]) == 2
    assert "exists already" in capsys.readouterr().err


def test_the_json_has_the_best_row_and_all_others(capsys):
    assert main(["seek", FOYER, "--among", "magnet.grade=N35,N42", "--jobs", "1", "--json"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert {"title", "version", "values", "findings", "assumed"} <= set(content)
    energies = [row["figures"]["energy"] for row in content["rows"] if row["good"]]
    assert content["best"]["figures"]["energy"] == min(energies)
    assert content["values"]["seek.energy"]["value"] == min(energies)
    assert main(["seek", FOYER, "--among", "magnet.grade=N35,N42", "--jobs", "1", "--csv"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("magnet.grade,energy [J],life [s],coil [kg]")
    assert len(lines) == 3


def test_nothing_that_passes_is_exit_one(capsys):
    assert main(["seek", FOYER, "--among", "coil.inner_diameter=40 mm,41 mm", "--jobs", "1"]) == 1
    assert "None can be chosen" in capsys.readouterr().out


@pytest.mark.parametrize(
    "options",
    [
        [],
        ["--between", "magnet.gap=3 mm..9 mm", "--points", "0"],
        ["--between", "magnet.gap=3 mm..9 mm", "--points", "many"],
        ["--between", "magnet.gap=3 mm..9 mm", "--between", "magnet.gap=3 mm..9 mm"],
        ["--among", "magnet.grade=N35,N42", "--jobs", "-1"],
    ],
)
def test_options_that_mean_nothing_are_refused(capsys, options):
    assert main(["seek", FOYER, *options]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_the_best_is_told_when_it_lies_at_an_end(capsys):
    assert main(["seek", FOYER, "--between", "coil.wire=0.16 mm..0.2 mm", "--jobs", "1"]) == 0
    assert "look beyond" in " ".join(capsys.readouterr().out.split())


def test_figures_are_finite(subject):
    for row in _seek(subject, [_wires()]).rows:
        assert all(math.isfinite(value) for value in row.figures.values())


def test_the_picture_marks_every_trial(tmp_path):
    """Measured: the marks in the SVG against the rows: good ones, front, file and best."""
    path = tmp_path / "trials.svg"
    wanted = ["seek", FOYER, "--between", "coil.wire=0.16 mm..0.2 mm", "--jobs", "1", "--json"]
    assert main([*wanted, "--picture", str(path), "-o", str(tmp_path / "rows.json")]) == 0
    rows = json.loads((tmp_path / "rows.json").read_text())
    root = ElementTree.fromstring(path.read_text())
    place = "{http://www.w3.org/2000/svg}"
    hollow = [c for c in root.iter(f"{place}circle") if c.get("fill") == "#ffffff"]
    good = sum(row["good"] for row in rows["rows"])
    assert len(hollow) == good + 1  # and the sample in the legend
    assert root.find(f"{place}title").text
    assert str(len(rows["rows"])) in root.find(f"{place}desc").text
    assert main([*wanted, "--picture", str(path)]) == 2  # the file is kept
