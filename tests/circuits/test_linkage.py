"""Linkage and EMF on the sheet: magnet, gap, path and windings as the design file states them."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from calc.linkage import arc_linkage
from calc.linkage_parts import MagnetShape, WindingShape
from circuits.catalogue import Catalogue
from circuits.design import (
    Coil,
    Design,
    Drive,
    General,
    Magnet,
    Movement,
    PickupCoil,
    TemperatureSpan,
    Tolerance,
)
from circuits.errors import DesignFileError
from circuits.ledger import Ledger, Severity
from circuits.stages import coil, emf, linkage, movement
from circuits.stages.emf import EmfResult
from circuits.stages.linkage import LinkageResult
from tests.sources import Kind, source

CATALOGUE = Catalogue()
PENDULUM = Design(
    design=General(temperature=293.15),
    movement=Movement(
        kind="pendulum", period=1.7, mass=0.4, magnet_radius=0.65, arc=0.06, quality_factor=800.0
    ),
    magnet=Magnet(
        shape="cylinder", diameter=12e-3, height=4e-3, axis="coil", grade="N42", gap=3.5e-3
    ),
    coil=Coil(
        wire=0.2e-3, inner_diameter=8e-3, outer_diameter=24e-3, height=9e-3, turns=900
    ),
)  # fmt: skip
"""Invented."""

PICKUP = PickupCoil(wire=0.1e-3, inner_diameter=8e-3, outer_diameter=24e-3, height=3e-3, turns=1500)


class Built:
    """The stages up to the EMF, with the ledger that they filled."""

    def __init__(self, design: Design) -> None:
        self.ledger = Ledger()
        common = (design, CATALOGUE, self.ledger)
        the_coil = coil.size(*common)
        the_pickup = coil.size_pickup(*common)
        self.linkage: LinkageResult = linkage.size(*common, the_coil, the_pickup)
        self.movement = movement.size(*common, self.linkage)
        self.emf: EmfResult = emf.size(*common, self.linkage, self.movement)

    def value(self, id: str) -> Any:
        return self.ledger.values[id].value


def with_magnet(design: Design = PENDULUM, **keys: object) -> Design:
    return replace(design, magnet=replace(design.magnet, **keys))  # type: ignore[arg-type]


def with_movement(design: Design = PENDULUM, **keys: object) -> Design:
    return replace(design, movement=replace(design.movement, **keys))  # type: ignore[arg-type]


def with_coil(design: Design = PENDULUM, **keys: object) -> Design:
    return replace(design, coil=replace(design.coil, **keys))  # type: ignore[arg-type]


def test_the_sheet_shows_the_linkage_of_the_arc() -> None:
    built = Built(PENDULUM)
    curve = arc_linkage(
        magnet=MagnetShape(
            round=True, lying=False, b_r=1.3, along=12e-3, across=12e-3, depth=4e-3
        ),
        winding=WindingShape(n_turns=900, r_inner=4e-3, r_outer=12e-3, height=9e-3),
        gap=3.5e-3, radius=0.65, offset=0.0,
    )  # fmt: skip
    assert built.value("linkage.b_r") == pytest.approx(1.3)
    assert built.value("linkage.on_axis") == pytest.approx(curve.on_axis)
    assert built.value("linkage.slope_peak") == pytest.approx(curve.slope_peak)
    assert built.value("linkage.x_peak") == pytest.approx(curve.path_peak)
    assert built.value("linkage.lobes") == 2
    assert built.ledger.values["linkage.slope_peak"].unit == "Wb/m"


@source(Kind.PUBLISHED, "magnet makers' grade tables: N42 1.28 to 1.32 T, -0.12 %/K")
def test_remanence_spreads_the_figures() -> None:
    """The linkage is proportional to the remanence: its band is the grade's, 1.28 to 1.32 T."""
    peak = Built(PENDULUM).ledger.values["linkage.slope_peak"]
    assert peak.low == pytest.approx(float(peak.value) * 1.28 / 1.30)
    assert peak.high == pytest.approx(float(peak.value) * 1.32 / 1.30)
    cold = replace(
        PENDULUM, tolerance=Tolerance(temperature=TemperatureSpan(from_=273.15, to=313.15))
    )
    span = Built(cold).ledger.values["linkage.b_r"]
    assert span.low == pytest.approx(1.28 * (1 - 0.0012 * 20))
    assert span.high == pytest.approx(1.32 * (1 + 0.0012 * 20))


def test_a_stated_remanence_has_no_band_of_its_own() -> None:
    stated = with_magnet(grade=None, remanence=1.25)
    value = Built(stated).ledger.values["linkage.slope_peak"]
    assert value.low is None
    loose = Built(replace(stated, tolerance=Tolerance(remanence=0.04)))
    band = loose.ledger.values["linkage.slope_peak"]
    assert band.low == pytest.approx(0.96 * float(band.value))


@source(
    Kind.COMMON_PRACTICE, "one millimetre of gap is 16 to 22 % in coils of this size, no source"
)
def test_a_millimetre_of_gap() -> None:
    built = Built(PENDULUM)
    share = built.value("linkage.gap_share")
    assert 0.16 < share < 0.22
    wider = Built(with_magnet(gap=4.5e-3)).value("linkage.slope_peak")
    # 2e-3: the ratio is that of a straight path; the tilt raises the slope of a narrow gap less.
    assert built.value("linkage.slope_peak_far") == pytest.approx(wider, rel=2e-3)
    nearer = Built(with_magnet(gap=2.5e-3)).value("linkage.slope_peak")
    assert built.value("linkage.slope_peak_near") == pytest.approx(nearer, rel=2e-3)


@pytest.mark.parametrize("slack", [0.4e-3, 1.6e-3])
def test_gap_tolerance_gives_the_slope_at_both_ends(slack: float) -> None:
    """2e-3: the straight path's ratio, between three gaps by a parabola of its logarithm."""
    loose = replace(PENDULUM, tolerance=Tolerance(gap=slack))
    peak = Built(loose).ledger.values["linkage.slope_peak"]
    assert peak.low is not None
    assert peak.high is not None
    weak, strong = (
        Built(with_magnet(gap=3.5e-3 + wider, grade=None, remanence=b_r))
        for wider, b_r in ((slack, 1.28), (-slack, 1.32))
    )
    assert peak.low == pytest.approx(weak.value("linkage.slope_peak"), rel=2e-3)
    assert peak.high == pytest.approx(strong.value("linkage.slope_peak"), rel=2e-3)


def test_the_flange_adds_to_the_gap() -> None:
    measured_to_cheek = with_magnet(gap=2.3e-3, flange=1.2e-3)
    assert Built(measured_to_cheek).value("linkage.slope_peak") == pytest.approx(
        Built(PENDULUM).value("linkage.slope_peak")
    )


def test_a_stack_is_a_taller_magnet() -> None:
    stack = Built(with_magnet(count=3))
    tall = Built(with_magnet(height=12e-3))
    assert stack.value("linkage.slope_peak") == pytest.approx(tall.value("linkage.slope_peak"))
    assert stack.ledger.parts[-1].quantity == 3


def test_two_coils_on_both_sides_see_the_magnet_twice() -> None:
    one = Built(with_movement(plane="face"))
    both = Built(with_coil(count=2))
    assert both.ledger.assumed["movement.plane"].value == "face"
    twice = both.value("linkage.slope_peak") / one.value("linkage.slope_peak")
    assert twice == pytest.approx(2.0)
    parallel = Built(with_coil(count=2, connection="parallel"))
    assert parallel.value("linkage.slope_peak") == pytest.approx(one.value("linkage.slope_peak"))


def test_a_coil_above_the_swing_is_refused_in_words() -> None:
    design = with_movement(with_coil(count=2, sides="both"), plane="arc")
    with pytest.raises(DesignFileError, match="in its way") as caught:
        Built(design)
    assert caught.value.key == "sides"


def test_a_second_coil_under_the_first_adds_less() -> None:
    one = Built(PENDULUM).value("linkage.slope_peak")
    two = Built(with_coil(count=2, sides="one")).value("linkage.slope_peak")
    assert one < two < 1.4 * one


@source(Kind.IDENTITY, "force on the driven lobe is forward: i dLambda/dx v must be positive")
@pytest.mark.parametrize("polarity", ["repel", "attract"])
def test_a_lying_magnet_is_wound_so_that_its_main_lobe_drives(polarity: str) -> None:
    lying = with_magnet(replace(PENDULUM, drive=Drive(polarity=polarity)), axis="motion")
    built = Built(lying)
    assert built.value("linkage.lobes") == 3
    assert built.value("linkage.x_peak") == 0.0
    assert built.value("linkage.on_axis") == 0.0
    assert 0.2 < built.value("linkage.side_lobe") < 0.6
    main = built.emf.flux_rate[np.argmin(np.abs(built.emf.t))]
    opposing = -main if polarity == "repel" else main
    assert opposing == pytest.approx(built.emf.emf_peak)
    assert "one pass of two" in built.ledger.findings["linkage.dead_centre"].text


def test_a_block_lying_along_the_motion_takes_its_sizes_from_its_keys() -> None:
    """height along the motion, length towards the coil, width across."""
    block = with_magnet(
        shape="block", diameter=None, length=5e-3, width=12e-3, height=9e-3, axis="motion"
    )
    other = with_magnet(
        shape="block", diameter=None, length=9e-3, width=12e-3, height=5e-3, axis="motion"
    )
    assert Built(block).value("linkage.slope_peak") != pytest.approx(
        Built(other).value("linkage.slope_peak"), rel=0.05
    )


def test_a_pickup_coil_stands_at_its_own_place() -> None:
    design = replace(PENDULUM, pickup_coil=replace(PICKUP, position=20e-3, sense="reversed"))
    built = Built(design)
    assert built.linkage.pickup is not None
    assert built.linkage.pickup.centre == pytest.approx(20e-3)
    assert built.linkage.pickup.on_axis < 0
    # Beside the drive coil its flux returns through the pickup; reversed, it counts as forward.
    assert built.linkage.mutual > 0
    assert built.emf.flux_rate_pickup is not None
    # The tilted, rising magnet shifts the zero of its EMF a little towards the middle.
    near = np.abs(built.emf.path - 20e-3) < 5e-3
    zero = built.emf.path[near][np.argmin(np.abs(built.emf.flux_rate_pickup[near]))]
    assert 18.5e-3 < zero < 20e-3


@source(Kind.COMMON_PRACTICE, "two windings on one bobbin: coupling of about 0.9, no source")
def test_windings_on_one_bobbin_are_tightly_coupled() -> None:
    inner = with_coil(inner_diameter=16e-3, outer_diameter=21e-3, turns=300)
    outer = replace(
        PICKUP, wire=0.1e-3, inner_diameter=21e-3, outer_diameter=24e-3, height=9e-3, turns=900
    )
    built = Built(replace(inner, pickup_coil=outer))
    assert 0.8 < built.value("linkage.coupling") < 0.95
    assert built.value("linkage.mutual") > 0


def test_a_magnet_that_dips_into_the_winding_is_refused() -> None:
    long = with_movement(
        with_magnet(shape="block", diameter=None, length=60e-3, width=10e-3, gap=0.5e-3),
        magnet_radius=0.2,
    )
    with pytest.raises(DesignFileError, match="dips") as caught:
        Built(long)
    assert caught.value.key == "gap"


def test_little_room_is_worth_minding() -> None:
    finding = Built(with_magnet(gap=0.4e-3)).ledger.findings["linkage.clearance"]
    assert finding.severity is Severity.MIND
    assert finding.changes[0][0].key == "gap"


@pytest.mark.parametrize(
    ("keys", "key"),
    [
        ({"gap": None}, "gap"),
        ({"grade": None}, "grade"),
        ({"shape": None}, "shape"),
        ({"height": None}, "height"),
        ({"diameter": None}, "diameter"),
    ],
)
def test_what_is_missing_is_asked_for(keys: dict[str, None], key: str) -> None:
    with pytest.raises(DesignFileError) as caught:
        Built(with_magnet(PENDULUM, **keys))
    assert caught.value.key == key


def test_an_alnico_magnet_is_questioned() -> None:
    built = Built(with_magnet(grade="Alnico 5"))
    assert built.ledger.findings["linkage.self_demagnetised"].severity is Severity.MIND


def test_a_magnet_too_warm_is_worth_minding() -> None:
    hot = replace(PENDULUM, design=General(temperature=363.15))
    finding = Built(hot).ledger.findings["linkage.magnet_temperature"]
    assert finding.severity is Severity.MIND


@source(Kind.IDENTITY, "the linkage gained on the way in is the integral of the EMF")
def test_the_pass_is_whole_and_stands_about_the_crossing() -> None:
    """3e-3 of the linkage on the axis: what the faded ends of the burst leave out."""
    built = Built(with_magnet(offset=5e-3))
    result = built.emf
    assert 1500 < result.t.size < 3000
    centre = int(np.argmin(np.abs(result.t)))
    assert result.t[centre] == 0.0
    assert result.path[centre] == pytest.approx(0.0, abs=1e-12)
    assert result.speed[centre] == pytest.approx(built.movement.speed)
    step = result.t[1] - result.t[0]
    gained = float(np.sum(result.flux_rate[:centre]) * step)
    first = float(built.linkage.drive.linkage(result.path[0]))
    assert gained == pytest.approx(built.linkage.drive.on_axis - first, rel=3e-3)


@source(Kind.IDENTITY, "fast and far: speed times slope; lobes two peaks' ways apart")
def test_a_wide_swing_passes_at_constant_speed() -> None:
    """2e-3: over the coil a swing of 0.4 rad is slower by half of (9 mm / 260 mm) squared."""
    built = Built(with_movement(arc=0.4))
    peak = built.movement.speed * built.linkage.drive.slope_peak
    assert built.value("emf.emf_peak") == pytest.approx(peak, rel=2e-3)
    ways = 2 * built.linkage.drive.path_peak / built.movement.speed
    assert built.value("emf.peak_spacing") == pytest.approx(ways, rel=3e-3)
    assert built.ledger.findings["emf.speed"].severity is Severity.GOOD


def test_a_small_swing_is_told_from_a_wide_one() -> None:
    """The magnet turns soon after the slope's peak, or before it."""
    small = Built(with_movement(arc=0.018))
    assert small.ledger.findings["emf.speed"].severity is Severity.MIND
    product = small.movement.speed * small.linkage.drive.slope_peak
    assert small.value("emf.emf_peak") < 0.95 * product
    inside = Built(with_movement(arc=0.009))
    assert "emf.speed" not in inside.ledger.findings
    assert inside.value("emf.peak_spacing") < inside.movement.period / 2
    assert np.abs(inside.emf.path).max() <= 0.009 * 0.65 * (1 + 1e-9)


def test_a_balance_passes_over_the_face() -> None:
    design = Design(
        movement=Movement(
            kind="balance", period=0.7, inertia=3e-6, magnet_radius=15e-3, arc=4.0,
            quality_factor=150.0,
        ),
        magnet=Magnet(shape="cylinder", diameter=4e-3, height=2e-3, remanence=1.2, gap=1.2e-3),
        coil=Coil(
            wire=0.05e-3, inner_diameter=3e-3, outer_diameter=9e-3, height=4e-3, turns=1500
        ),
    )  # fmt: skip
    built = Built(design)
    assert built.ledger.assumed["movement.plane"].value == "face"
    assert built.value("linkage.lobes") == 2
    assert built.value("linkage.x_peak") < 5e-3
    assert built.value("emf.emf_peak") > 0.05


def test_the_bench_check_says_what_the_oscilloscope_shows() -> None:
    points = [p for p in Built(PENDULUM).ledger.test_points if "oscilloscope" in p.instrument]
    assert len(points) == 1
    assert "two lobes of opposite sign" in points[0].expected
    assert "mV" in points[0].expected
    assert "unplugged" in points[0].point


def test_a_winding_much_wider_than_its_magnet_is_questioned() -> None:
    """Inside a wide bore the linkage grows towards the wire: more crossings than one."""
    wide = with_coil(
        with_magnet(diameter=4e-3, height=2e-3, gap=1e-3), inner_diameter=30e-3,
        outer_diameter=40e-3,
    )  # fmt: skip
    built = Built(wide)
    assert built.value("linkage.lobes") > 2
    assert built.ledger.findings["linkage.lobes"].severity is Severity.MIND
    assert "linkage.lobes" not in Built(PENDULUM).ledger.findings


def test_a_pickup_coil_that_the_magnet_would_hit_is_refused() -> None:
    near = replace(PENDULUM, pickup_coil=replace(PICKUP, gap=0.08e-3))
    with pytest.raises(DesignFileError, match="touch") as caught:
        Built(near)
    assert (caught.value.section, caught.value.key) == ("pickup_coil", "gap")
    away = replace(PENDULUM, pickup_coil=replace(PICKUP, position=0.7))
    with pytest.raises(DesignFileError, match="middle of the swing"):
        Built(away)
