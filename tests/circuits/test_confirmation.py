"""Whole designs beside the simulator: supplies, switches, clamps, arrangements, poles."""

import itertools
from typing import Any

import pytest

from circuits.catalogue import Catalogue
from circuits.confirmation import Confirmation, Figure, confirm, jobs_of
from circuits.design import Design
from circuits.pipeline import run
from circuits.spice_circuits import Stages, stages_of
from tests.circuits.drive_designs import design_with
from tests.simulator import Simulator
from tests.sources import Kind, source

PICKUP_COIL = {
    "wire": "0.1 mm", "inner_diameter": "10 mm", "outer_diameter": "27 mm", "height": "8 mm",
    "turns": 2500, "gap": "14 mm",
}  # fmt: skip
ZENERS = {1.5: "BZX55C5V1", 3: "BZX55C6V8", 6: "BZX55C13", 12: "BZX55C27"}
CASES = list(
    itertools.product(
        (1.5, 3, 6, 12),
        ("npn", "nmos"),
        ("diode", "diode_zener", "switch_zener", "resistor"),
        ("at_switch", "mid_rail", "through_capacitor"),
    )
)
"""Poles alternate along the list, so that each meets one and two."""


def design_of(case: tuple[float, str, str, str], poles: int) -> Design:
    """An invented design; the pin is strong enough for the switch at every supply."""
    volts, switch, clamp, arrangement = case
    parts: dict[str, Any] = {"kind": clamp}
    if "zener" in clamp:
        parts["zener"] = ZENERS[volts]
    if clamp == "resistor":
        parts["resistor"] = "220 ohm"
    apart = arrangement == "mid_rail"
    return design_with(
        supply={"cell": None, "series": None, "voltage": f"{volts} V", "resistance": "0.5 ohm",
                "reservoir": "220 uF"},
        controller={"brown_out": None, "pin_current_limit": "60 mA",
                    "pin_high": "5 V" if volts > 5 else "rail"},
        drive={"switch": switch, "pulse_width": "9 ms"},
        clamp=parts,
        coil={"use": "drive" if apart else "shared"},
        pickup_coil=PICKUP_COIL if apart else None,
        pickup={"arrangement": arrangement},
        filter={"poles": poles},
    )  # fmt: skip


def stages(design: Design) -> Stages:
    catalogue = Catalogue(design.part, design.file)
    return stages_of(run(design, catalogue), catalogue)


def confirmed(case: tuple[float, str, str, str], simulator: Simulator) -> Confirmation:
    number = CASES.index(case)
    sized = stages(design_of(case, 1 + (number + number // 3) % 2))
    return confirm(
        sized, title="invented", program=simulator.program, version=simulator.version,
        progress=lambda _done, _count: None,
    )  # fmt: skip


LIMITS = {
    "energy.e_pulse": 0.01,
    "drive.i_coil": 0.01,
    "filter.f_c": 0.01,
    "filter.delay": 0.02,
    "clamp.t_decay": 0.03,
}
"""What the calculators are held to; the other figures have the tolerance that they state."""


@source(Kind.SIMULATOR, "ngspice on our own decks of the same design")
@pytest.mark.parametrize("switch", ["npn", "nmos"])
@pytest.mark.parametrize("volts", ZENERS)
def test_calculators_agree_with_the_simulator(
    volts: float, switch: str, simulator: Simulator
) -> None:
    differing: list[tuple[Any, Figure]] = []
    for case in (one for one in CASES if one[:2] == (volts, switch)):
        found = confirmed(case, simulator)
        seen = {figure.id for figure in found.figures}
        assert seen >= LIMITS.keys(), case
        for figure in found.figures:
            assert figure.tolerance <= LIMITS.get(figure.id, 0.2), figure
            if not figure.agrees:
                differing.append((case, figure))
    assert not differing


def test_the_grid_is_wide() -> None:
    assert len(CASES) >= 60
    assert {case[:2] for case in CASES} == set(itertools.product(ZENERS, ("npn", "nmos")))


@source(Kind.SIMULATOR, "ngspice on our own deck of the same design")
def test_a_chopped_pulse_agrees(simulator: Simulator) -> None:
    sized = stages(design_with(drive={"switch": "nmos", "duty": 0.6, "pulse_width": "9 ms"},
                               controller={"pin_high": "5 V"}))  # fmt: skip
    found = confirm(
        sized, title="invented", program=simulator.program, version=simulator.version,
        progress=lambda _done, _count: None,
    )  # fmt: skip
    assert any("chopped" in note for note in found.notes)
    figures = {(figure.id, figure.state): figure for figure in found.figures}
    for name in ("energy.e_pulse", "energy.e_mechanical"):
        assert abs(figures[name, "fresh"].difference) < 0.02
    # The ripple's crest stands above the mean that the calculators give.
    assert 0 <= figures["drive.i_coil", "fresh"].difference < 0.05


def test_decks_have_fixed_names_and_no_text_of_the_user() -> None:
    sized = stages(design_of((3, "npn", "diode", "at_switch"), 1))
    for portable in (False, True):
        for named in jobs_of(sized, portable=portable):
            deck = named.job.deck
            assert deck.startswith("coilwright deck\n")
            assert "invented" not in deck
            assert "pendulum" not in deck


VARIED: dict[str, dict[str, dict[str, Any]]] = {
    "attract from a threshold": {"drive": {"polarity": "attract", "trigger": "threshold"}},
    "attract from the pass before": {"drive": {"polarity": "attract", "trigger": "previous_pass"}},
    "magnet along the motion": {"magnet": {"axis": "motion"}},
    "regulated coil": {"supply": {"regulator_output": "3 V", "coil_rail": "regulated"}},
    "coil off the middle": {"magnet": {"offset": "3 mm"}},
    "two coils in parallel": {
        "coil": {"count": 2, "connection": "parallel", "sides": "both", "turns": 500}
    },
    "pull-down at the base": {"drive": {"pull_down": "47 kohm"}},
    "listening coil behind a capacitor": {
        "coil": {"use": "drive"},
        "pickup_coil": PICKUP_COIL,
        "pickup": {"arrangement": "through_capacitor"},
    },
    "two windings on one bobbin": {
        "coil": {"use": "drive"},
        "pickup_coil": {**PICKUP_COIL, "gap": "5 mm"},
        "pickup": {"arrangement": "mid_rail"},
    },
    "two windings, the other sense": {
        "coil": {"use": "drive"},
        "pickup_coil": {**PICKUP_COIL, "gap": "5 mm", "sense": "reversed"},
        "pickup": {"arrangement": "mid_rail"},
    },
    "a listening coil out of reach": {
        "coil": {"use": "drive"},
        "pickup_coil": {**PICKUP_COIL, "position": "60 mm"},
        "pickup": {"arrangement": "mid_rail"},
    },
}


@source(Kind.SIMULATOR, "ngspice on our own decks of the same design")
@pytest.mark.parametrize("sections", VARIED.values(), ids=VARIED)
def test_varied_designs_agree(simulator: Simulator, sections: dict[str, dict[str, Any]]) -> None:
    found = confirm(
        stages(design_with(**sections)), title="invented", program=simulator.program,
        version=simulator.version, progress=lambda _done, _count: None,
    )  # fmt: skip
    assert [figure for figure in found.figures if not figure.agrees] == []


@source(Kind.SIMULATOR, "ngspice on our own decks of the same design")
def test_a_starved_switch_is_named_where_the_figures_part(simulator: Simulator) -> None:
    starved = stages(design_with(drive={"switch": "npn", "base_resistor": "20 kohm"}))
    found = confirm(
        starved, title="invented", program=simulator.program, version=simulator.version,
        progress=lambda _done, _count: None,
    )  # fmt: skip
    differing = {figure.id: figure for figure in found.figures if not figure.agrees}
    assert "starved" in differing["energy.e_pulse"].reason
    assert abs(differing["energy.e_pulse"].difference) < 0.15
