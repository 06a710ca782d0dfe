"""The stages in their order, what goes wrong in one of them, and remedies tried out."""

import inspect
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from calc.calculator import OutOfRangeError
from circuits import pipeline
from circuits.design import Design
from circuits.design_file import parse_design
from circuits.design_write import with_changes
from circuits.errors import DesignFileError
from circuits.ledger import Change, Ledger, Severity
from circuits.pipeline import compute, compute_with

DESIGN = """
[design]
title = "Invented pendulum"
[movement]
kind = "pendulum"
period = "1.4 s"
mass = "0.6 kg"
arc = "2.8 deg"
quality_factor = 700
[magnet]
shape = "cylinder"
diameter = "14 mm"
height = "5 mm"
grade = "N42"
gap = "4 mm"
[supply]
cell = "LR14"
series = 2
[drive]
base_resistor = "2.2 kohm"
"""

ORDER = [
    *("rails", "coil", "pickup_coil", "linkage", "movement", "emf", "drive", "clamp"),
    *("pickup", "filter", "pulse", "timing", "passes", "energy", "supply", "rate", "settled"),
    *("running", "cells", "steering", "log_output"),
]

Fake = Callable[..., object]


@pytest.fixture
def design() -> Design:
    return parse_design(DESIGN, "invented.toml")


@pytest.fixture
def fake(monkeypatch: pytest.MonkeyPatch) -> Callable[[str, Fake], None]:
    """Put stand-ins in the place of all stages; return a function that sets one of them."""

    def put(name: str, size: Fake) -> None:
        stage: Any = getattr(
            pipeline, {"filter": "filter_stage", "pickup_coil": "coil"}.get(name, name)
        )
        monkeypatch.setattr(stage, "size_pickup" if name == "pickup_coil" else "size", size)

    for name in ORDER:
        put(name, lambda *_: SimpleNamespace())
    return put


def test_each_stage_gets_what_earlier_ones_made(
    design: Design, fake: Callable[[str, Fake], None]
) -> None:
    """The stand-ins hand on their own names; signatures are those of the stages themselves."""
    called: dict[str, tuple[object, ...]] = {}

    def named(name: str) -> Fake:
        def size(*arguments: object) -> str:
            called[name] = arguments[3:]
            return name

        return size

    for name in ORDER:
        fake(name, named(name))
    pipeline.run(design, pipeline.Catalogue())
    assert list(called) == ORDER
    for name, arguments in called.items():
        earlier = ORDER[: ORDER.index(name)]
        assert [a for a in arguments if a not in earlier] == [], name
    assert called["timing"] == ("rails", "movement", "emf", "pickup", "filter", "pulse")


@pytest.mark.parametrize("name", ORDER)
def test_a_stage_names_its_arguments_after_the_stages(name: str) -> None:
    module: Any = getattr(
        pipeline, {"filter": "filter_stage", "pickup_coil": "coil"}.get(name, name)
    )
    size = module.size_pickup if name == "pickup_coil" else module.size
    arguments = list(inspect.signature(size).parameters)
    assert arguments[:3] == ["design", "catalogue", "ledger"]
    assert set(arguments[3:]) <= set(ORDER[: ORDER.index(name)])


@pytest.mark.parametrize(
    ("name", "section"), [("coil", "coil"), ("linkage", "magnet"), ("cells", "supply")]
)
def test_a_calculators_refusal_names_the_place(
    design: Design, fake: Callable[[str, Fake], None], name: str, section: str
) -> None:
    def refuse(*_: object) -> None:
        raise OutOfRangeError("somewhere: r must be above zero; state a larger one")

    fake(name, refuse)
    with pytest.raises(DesignFileError) as caught:
        compute(design)
    assert caught.value.section == section
    assert str(caught.value).startswith(f"invented.toml: [{section}]: found ")
    assert "r must be above zero" in caught.value.found
    assert caught.value.wanted == "state a larger one"


def test_figures_beyond_floating_point_are_refused_too(
    design: Design, fake: Callable[[str, Fake], None]
) -> None:
    fake("emf", lambda *_: np.array([1e300]) * np.array([1e300]))
    with pytest.raises(DesignFileError, match=r"\[movement\]: found .*overflow"):
        compute(design)


@pytest.mark.usefixtures("fake")
def test_an_unusual_figure_is_questioned() -> None:
    doubtful = parse_design(DESIGN.replace('gap = "4 mm"', 'gap = "80 mm"'), "invented.toml")
    sheet = compute(doubtful)
    assert [finding.id for finding in sheet.findings] == ["design.magnet_gap"]
    assert sheet.findings[0].severity is Severity.MIND
    assert "80 mm" in sheet.findings[0].text


def saturation(design: Design, _: object, ledger: Ledger, *__: object) -> None:
    """Stand in for a drive stage that knows one rule: at most 500 ohm, and at least 200 ohm."""
    r_b = design.drive.base_resistor or 400.0
    candidates = ("1 kohm", "150 ohm", "390 ohm")
    ledger.at_most(
        "drive.saturation", r_b, 500.0, "ohm", "The base resistor is too large.",
        remedy="Fit a smaller one",
        changes=tuple((Change(section="drive", key="base_resistor", text=t),) for t in candidates),
    )  # fmt: skip
    ledger.at_least(
        "drive.pin_current", r_b, 200.0, "ohm", "The pin is loaded.", remedy="Fit a larger one"
    )


def test_remedies_are_tried_on_the_whole_design(
    design: Design, fake: Callable[[str, Fake], None]
) -> None:
    """1 kohm does not cure, 150 ohm overloads the pin, 390 ohm is the one."""
    fake("drive", saturation)
    sheet = compute(design)
    assert sheet.findings[0].remedy == (
        "Fit a smaller one. With drive.base_resistor = 390 ohm: margin 0.22."
    )
    after = compute_with(design, sheet.cures["drive.saturation"].changes)
    assert after is not None
    assert not after.fails


def test_a_rerun_takes_over_the_stages_that_a_change_leaves_alone(
    design: Design, fake: Callable[[str, Fake], None]
) -> None:
    """Only what reads [drive], and what follows it, runs again; the ledger comes out whole."""
    runs: list[str] = []

    def noted(name: str, section: str = "") -> Fake:
        def size(design: Design, _: object, ledger: Ledger, *__: object) -> str:
            runs.append(name)
            read = getattr(design, section) if section else None
            ledger.say(f"{name}.ran", Severity.GOOD, f"{read}")
            ledger.assume(f"{name}.figure", 1.0, "1", "invented")
            ledger.part(name, "part", "invented")
            return name

        return size

    for name in ORDER:
        fake(name, noted(name, "drive" if name in ("filter", "cells") else "coil"))
    first = pipeline.run(design, pipeline.Catalogue())
    assert runs == ORDER
    runs.clear()
    changed = with_changes(design, (Change(section="drive", key="base_resistor", text="1k"),))
    again = pipeline.run(changed, pipeline.Catalogue(), first)
    assert runs == ORDER[ORDER.index("filter") :]
    fresh = pipeline.run(changed, pipeline.Catalogue())
    assert again.ledger.findings == fresh.ledger.findings
    assert again.ledger.findings != first.ledger.findings
    assert list(again.ledger.assumed) == list(fresh.ledger.assumed)
    assert again.ledger.parts == fresh.ledger.parts


def test_a_change_that_the_door_refuses_is_no_sheet(design: Design) -> None:
    assert compute_with(design, (Change(section="drive", key="duty", text="7"),)) is None
