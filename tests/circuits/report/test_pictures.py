"""The pictures of every arrangement, switch and clamp, against the sheet they belong to."""

from functools import cache
from typing import Any

import numpy as np
import pytest

from calc.calculator import OutOfRangeError
from circuits.cells_course import life_course
from circuits.format_quantity import show
from circuits.pipeline import compute_whole
from circuits.report.beat_curves import beat_curves
from circuits.report.circuit_picture import circuit
from circuits.report.figure import svg
from circuits.report.gallery import gallery
from circuits.report.gap_curves import gap_curves
from circuits.report.report import report
from circuits.report.section_picture import section
from circuits.sheet import Sheet
from circuits.stage_pass import StagePass
from tests.circuits.drive_designs import design_with
from tests.circuits.report.reports import EXAMPLES, SVG, parsed, text_of, whole

PICKUP_COIL: dict[str, Any] = {
    "turns": 3000, "wire": "0.08 mm", "inner_diameter": "10 mm", "outer_diameter": "27 mm",
    "height": "8 mm", "gap": "14 mm",
}  # fmt: skip
INVENTED: dict[str, dict[str, dict[str, Any]]] = {
    "at_switch, npn, diode": {},
    "at_switch, nmos, diode and zener": {
        "drive": {"switch": "nmos"}, "clamp": {"kind": "diode_zener"},
    },
    "at_switch, npn, resistor": {
        "clamp": {"kind": "resistor"}, "supply": {"reservoir": "220 uF"},
    },
    "through_capacitor, npn, zener across the switch": {
        "pickup": {"arrangement": "through_capacitor"}, "clamp": {"kind": "switch_zener"},
    },
    "mid_rail, two poles": {
        "coil": {"use": "drive"}, "pickup_coil": PICKUP_COIL,
        "pickup": {"arrangement": "mid_rail"}, "filter": {"poles": 2},
        "indicator": {"led_current": "1 mA"},
    },
    "through_capacitor with a pickup coil": {
        "coil": {"use": "drive"}, "pickup_coil": PICKUP_COIL,
        "pickup": {"arrangement": "through_capacitor"},
    },
    "attract from a threshold": {"drive": {"polarity": "attract", "trigger": "threshold"}},
    "attract from the pass before": {"drive": {"polarity": "attract", "trigger": "previous_pass"}},
    "magnet along the motion": {"magnet": {"axis": "motion", "flange": "1 mm"}},
    "chopped pulse": {"drive": {"duty": 0.7}},
}  # fmt: skip


@cache
def invented(name: str) -> tuple[Sheet, StagePass]:
    return compute_whole(design_with(**INVENTED[name]), remedies=False)


@pytest.mark.parametrize("name", INVENTED)
def test_every_picture_can_be_drawn_and_read(name: str) -> None:
    sheet, done = invented(name)
    drawn = gallery(sheet, done).every
    assert len({picture.name for picture in drawn}) == len(drawn) >= 10
    for picture in drawn:
        tree = parsed(svg(picture))
        assert "nan" not in picture.drawing
        assert "inf" not in picture.drawing.replace("font-family", "")
        assert text_of(tree.find(f"{SVG}desc")) == " ".join(picture.alternative.split())  # type: ignore[arg-type]


@pytest.mark.parametrize("name", INVENTED)
def test_the_circuit_shows_every_electrical_part_with_its_value(name: str) -> None:
    sheet, done = invented(name)
    shown = [text_of(t) for t in parsed(svg(circuit(sheet, done))).iter(f"{SVG}text")]
    electrical = {p.reference for p in sheet.parts} - {"M1"}
    if done.result("clamp").kind == "switch_zener":
        electrical.discard("D1")
    assert electrical <= set(shown)
    for mark in ("TP1", "TP2", "TP3", "TP4", "TP5", "TP6"):
        assert shown.count(mark) == 1
    for part in sheet.parts:
        if part.reference[0] in "RC":
            assert any(part.part.split()[0] in label for label in shown), part


@pytest.mark.parametrize("name", [*INVENTED])
def test_letters_of_the_circuit_do_not_lie_on_each_other(name: str) -> None:
    sheet, done = invented(name)
    boxes = []
    for label in parsed(svg(circuit(sheet, done))).iter(f"{SVG}text"):
        # Wider than the middling glyph would be, so that no font makes them touch.
        width = 0.5 * 12.5 * len(text_of(label))
        x, y = float(label.get("x", 0)), float(label.get("y", 0))
        left = (
            x - {"start": 0.0, "middle": width / 2, "end": width}[label.get("text-anchor", "start")]
        )
        boxes.append((left, y - 9, left + width, y, text_of(label)))
    for k, one in enumerate(boxes):
        for other in boxes[k + 1 :]:
            apart = (
                one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
            )
            assert apart, (one, other)


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_curves_of_a_beat_agree_with_the_sheet(name: str) -> None:
    _, sheet, done = whole(name)
    curves = beat_curves(done)
    value = {v.id: v.value for v in sheet.values.values()}
    # The window holds the lobes: samples of the pass miss its peak by less than a thousandth.
    assert float(np.abs(curves.back_emf).max()) == pytest.approx(value["emf.emf_peak"], rel=1e-3)
    assert float(curves.fresh.i.max()) == pytest.approx(value["drive.i_coil"], rel=2e-3)
    assert float(curves.fresh.node.max()) == pytest.approx(value["clamp.v_switch_peak"], rel=0.01)
    assert curves.t_on == pytest.approx(value["drive.pulse_from_centre"])
    assert curves.deaf_until - curves.t_on == pytest.approx(value["timing.deaf_until"])


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_pin_is_quiet_again_when_the_deaf_time_ends(name: str) -> None:
    # The sheet's deaf time comes from steps alone, the picture from the whole pass: what is left
    # beside the passing magnet's own signal is within the hysteresis, with a tenth for the kick's
    # shape, which the sheet takes as flat.
    _, _, done = whole(name)
    curves, filtered = beat_curves(done), done.result("filter")
    after = curves.t >= curves.deaf_until
    if not after.any():
        pytest.skip("the picture ends before the deaf time does")
    free = np.interp(curves.t[after], done.result("emf").t, filtered.signal)
    left = np.abs(curves.fresh.pin[after] - free)
    assert float(left[0]) <= 1.1 * done.result("pickup").hysteresis


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_three_gaps_agree_with_the_sheet(name: str) -> None:
    _, sheet, done = whole(name)
    curves = gap_curves(done)
    peaks = [float(np.abs(wave).max()) for wave in curves.emf]
    near, far = (
        float(sheet.values[f"linkage.slope_peak_{side}"].value) for side in ("near", "far")
    )
    here = float(sheet.values["linkage.slope_peak"].value)
    # The sheet takes its ratio from a straight path; bend and speed differ by half a per cent.
    assert peaks[0] / peaks[1] == pytest.approx(near / here, rel=5e-3)
    assert peaks[2] / peaks[1] == pytest.approx(far / here, rel=5e-3)


def test_the_section_is_to_scale() -> None:
    _, done = invented("at_switch, npn, diode")
    tree = parsed(svg(section(done)))
    boxes = [
        (float(r.get("width", 0)), float(r.get("height", 0)))
        for r in tree.iter(f"{SVG}rect")
        if r.get("stroke")
    ]
    copper, magnet = boxes[0], boxes[-1]
    # A winding from 5 mm to 13.5 mm, 8 mm high; a magnet of 12 mm by 6 mm.
    scale = copper[1] / 8
    assert copper == pytest.approx((8.5 * scale, 8 * scale), abs=0.02)
    assert magnet == pytest.approx((12 * scale, 6 * scale), abs=0.02)


def test_a_design_that_asks_for_a_loop_shows_its_step_and_what_moves_the_rate() -> None:
    sheet, done = compute_whole(
        design_with(rate={"time_constant": "2 h", "allowed_error": "20 s/day"}), remedies=False
    )
    drawn = {p.name: p for p in gallery(sheet, done).every}
    assert {"loop-step", "budget"} <= drawn.keys()
    assert show(done.result("steering").time_constant, "s") in drawn["loop-step"].caption.replace(
        "\u00a0", " "
    )


@pytest.mark.parametrize("name", ["foyer_sculpture", "balance"])
def test_the_life_in_the_picture_is_the_life_on_the_sheet(name: str) -> None:
    _, sheet, done = whole(name)
    course = life_course(done.design, done=done)
    assert course is not None
    # The course follows the swing at each voltage, the sheet reads the settled ones: a few per
    # cent apart.
    life = float(sheet.values["cells.battery_life"].value)
    assert course.times[1] == pytest.approx(life, rel=0.1)
    pictures = {p.name for p in gallery(sheet, done).every}
    assert "life" in pictures


def test_one_cell_and_a_zener_that_conducts_at_its_voltage_have_their_life_drawn() -> None:
    sheet, done = compute_whole(
        design_with(
            supply={"cell": "LR20", "series": 1}, clamp={"kind": "switch_zener"},
            controller={"brown_out": "0.9 V"},
        ),
        remedies=False,
    )  # fmt: skip
    drawn = gallery(sheet, done)
    assert not drawn.missing
    assert "life" in {picture.name for picture in drawn.every}


def test_a_design_that_cannot_be_followed_has_every_other_picture(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """No known design ends so; a refusal put in the course's place stands for one."""

    def refuses(*_: object, **__: object) -> None:
        raise OutOfRangeError("course: the cells must feed it; they do not")

    _, sheet, done = whole("foyer_sculpture")
    monkeypatch.setattr("circuits.report.gallery.life_course", refuses)
    drawn = gallery(sheet, done)
    assert drawn.missing == ("The life cannot be drawn: course: the cells must feed it.",)
    assert len(drawn.every) >= 9
    assert drawn.missing[0] in report(done.design, sheet, done)
