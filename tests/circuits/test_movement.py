"""Movement stage: what swings, how far, and what it loses."""

import numpy as np
import pytest

from circuits.bearings import BEARINGS, UNKNOWN
from circuits.errors import DesignFileError
from circuits.ledger import Basis, Severity
from tests.circuits.stands_in import MAGNET, moved
from tests.sources import Kind, source

BOB = 'mass = "420 g"\narc = "4 deg"\n'
PLAIN = f'[movement]\nperiod = "1.7 s"\n{BOB}quality_factor = 900\n'
BALANCE = """[movement]
kind = "balance"
period = "0.62 s"
inertia = "8e-7 kg*m^2"
magnet_radius = "19 mm"
arc = "140 deg"
"""


@source(Kind.REFERENCE_LIBRARY, "independent reference (NumPy, SciPy), case energy_balance")
def test_figures_of_a_pendulum_whose_swing_loses_five_microjoule() -> None:
    """1 s, 0.2 kg, Q 1000 at 4.631970823493124 degrees; the reference's own 1e-12."""
    text = """[movement]
    period = "1 s"
    mass = "0.2 kg"
    arc = "4.631970823493124 deg"
    quality_factor = 1000
    """
    result, ledger = moved(text)
    assert result.loss_typ == pytest.approx(5e-6, rel=1e-11)
    assert result.energy == pytest.approx(0.0015912244204304626, rel=1e-11)
    value = ledger.values["movement.loss_per_swing"]
    assert (value.low, value.high) == (None, None)
    assert ledger.values["movement.period"].basis is Basis.STATED


@source(
    Kind.REFERENCE_LIBRARY,
    "independent reference (NumPy, SciPy), case T0_2s at 5 degrees",
    printed="-41.12172175679554",
)
def test_circular_error_is_on_the_sheet_in_seconds_a_day() -> None:
    _, ledger = moved('[movement]\nperiod = "2 s"\nmass = "1 kg"\narc = "5 deg"\n')
    value = ledger.values["movement.circular_error"]
    assert value.unit == "s/day"
    assert value.value == pytest.approx(-41.12172175679554, rel=1e-11)
    length = ledger.values["movement.effective_length"]
    assert length.value == pytest.approx(0.9936213855661318, rel=1e-12)


def test_period_and_length_say_the_same_thing() -> None:
    """Either of the two gives the other, at standard gravity."""
    by_period, _ = moved(PLAIN)
    by_length, ledger = moved(
        f'[movement]\neffective_length = "717.8911 mm"\n{BOB}quality_factor = 900\n'
    )
    assert by_length.period == pytest.approx(by_period.period, rel=1e-6)
    assert by_length.energy == pytest.approx(by_period.energy, rel=1e-6)
    assert ledger.values["movement.period"].basis is Basis.COMPUTED
    assert ledger.assumed["movement.g"].value == 9.80665


@pytest.mark.parametrize(
    ("length", "severity"),
    [("718 mm", Severity.GOOD), ("738 mm", Severity.TIGHT), ("760 mm", Severity.MIND)],
)
def test_period_beside_length_is_reconciled_and_said(length: str, severity: Severity) -> None:
    result, ledger = moved(PLAIN + f'effective_length = "{length}"\n')
    finding = ledger.findings["movement.length"]
    assert finding.severity is severity
    assert "the period is used" in finding.text
    assert result.period == 1.7
    assert result.effective_length == pytest.approx(0.717891, rel=1e-6)


def test_mass_gives_the_inertia_unless_it_is_stated() -> None:
    from_mass, _ = moved(PLAIN)
    assert from_mass.inertia == pytest.approx(0.42 * 0.717891**2, rel=2e-6)
    stated, ledger = moved(PLAIN + 'inertia = "0.2 kg*m^2"\n')
    assert stated.inertia == 0.2
    assert ledger.findings["movement.inertia"].severity is Severity.GOOD
    _, ledger = moved(PLAIN + 'inertia = "0.3 kg*m^2"\n')
    assert ledger.findings["movement.inertia"].severity is Severity.MIND
    assert "cannot lie below" in ledger.findings["movement.inertia"].text


def test_travel_is_the_whole_swing_of_the_magnet() -> None:
    by_arc, _ = moved(PLAIN + 'magnet_radius = "0.8 m"\n')
    way = 2 * 0.8 * by_arc.arc
    by_travel, ledger = moved(
        PLAIN.replace('arc = "4 deg"', f'travel = "{way} m"') + 'magnet_radius = "0.8 m"\n'
    )
    assert by_travel.arc == pytest.approx(by_arc.arc, rel=1e-12)
    assert ledger.values["movement.arc"].basis is Basis.COMPUTED
    agreed, _ = moved(PLAIN + f'magnet_radius = "0.8 m"\ntravel = "{1.03 * way} m"\n')
    assert agreed.arc == by_arc.arc


def test_speed_is_that_over_the_coils_axis() -> None:
    centred, _ = moved(PLAIN)
    assert centred.speed == pytest.approx(4 * np.pi / 1.7 * 0.717891 * np.sin(np.radians(2)))
    half = centred.radius * centred.arc
    shifted, _ = moved(PLAIN + f'{MAGNET}offset = "{0.6 * half} m"\n')
    assert shifted.speed == pytest.approx(0.8 * centred.speed, rel=1e-3)


def test_balance_swings_by_its_spring() -> None:
    result, ledger = moved(BALANCE + 'bearing = "pivot"\n')
    omega = 2 * np.pi / 0.62
    assert result.speed == pytest.approx(omega * 0.019 * np.radians(140), rel=1e-12)
    assert result.energy == pytest.approx(0.5 * 8e-7 * (omega * np.radians(140)) ** 2, rel=1e-12)
    assert result.loss_typ == pytest.approx(np.pi * result.energy / result.q_typ, rel=1e-12)
    assert "movement.circular_error" not in ledger.values
    assert "movement.effective_length" not in ledger.values


def test_work_of_a_mechanism_adds_to_the_loss() -> None:
    plain, _ = moved(PLAIN)
    working, _ = moved(PLAIN + 'work_per_swing = "12 uJ"\n')
    assert working.loss_typ - plain.loss_typ == pytest.approx(12e-6, rel=1e-9)
    assert working.loss_low - plain.loss_low == pytest.approx(12e-6, rel=1e-9)


@pytest.mark.parametrize(("width", "severity"), [(0.02, Severity.GOOD), (0.2, Severity.MIND)])
def test_steepest_place_outside_the_swing_is_said(width: float, severity: Severity) -> None:
    _, ledger = moved(PLAIN, width)
    finding = ledger.findings["movement.reach"]
    assert finding.severity is severity
    assert ("outside the swing" in finding.text) == (severity is Severity.MIND)


def test_bench_check_counts_a_hundred_periods() -> None:
    result, ledger = moved(PLAIN)
    point = ledger.test_points[0]
    assert "100 periods (to and fro, 200 beats)" in point.instrument
    assert f"{100 * result.period_at_arc:.1f}" in point.expected
    assert "into [movement]" in point.otherwise


@pytest.mark.parametrize(
    ("text", "key", "words"),
    [
        ('[movement]\nperiod = "1 s"\narc = "2 deg"\n', "mass", "weigh"),
        ('[movement]\nperiod = "1 s"\nmass = "1 kg"\n', "arc", "travel"),
        ('[movement]\nperiod = "1 s"\nmass = "1 kg"\ntravel = "1.7 m"\n', "travel", "180 deg"),
        (BALANCE.replace('magnet_radius = "19 mm"\n', ""), "magnet_radius", "staff"),
        (BALANCE.replace('inertia = "8e-7 kg*m^2"\n', 'mass = "4 g"\n'), "inertia", "inertia"),
        (PLAIN + 'travel = "150 mm"\n', "travel", "leave one of the two out"),
        (f'{PLAIN}{MAGNET}offset = "90 mm"\n', "offset", "never reaches"),
        (
            PLAIN + 'ring_down = { from = "3 deg", to = "0.01 deg", time = "1 s" }\n',
            "ring_down",
            "half a period",
        ),
    ],
)  # fmt: skip
def test_what_is_missing_or_cannot_be_is_said_with_a_remedy(
    text: str, key: str, words: str
) -> None:
    with pytest.raises(DesignFileError) as caught:
        moved(text.replace("quality_factor = 900\n", "") if "ring_down" in text else text)
    assert key in caught.value.key
    assert words in str(caught.value)


@source(Kind.IDENTITY, "A = A0 exp(-pi n/Q): half the arc after n periods is Q = 4.5324 n")
def test_ring_down_gives_the_quality_factor() -> None:
    """Timed at an arc of 2.8 degrees, where the period is 1.5e-4 longer."""
    ring_down = 'ring_down = { from = "4 deg", to = "2 deg", time = "340 s", coil = "open" }\n'
    result, ledger = moved(f'[movement]\nperiod = "1.7 s"\n{BOB}{ring_down}')
    assert result.q_typ == pytest.approx(4.5324 * 200, rel=3e-4)
    assert result.q_known
    assert ledger.values["movement.quality_factor"].basis is Basis.MEASURED
    assert "movement.quality_factor" not in ledger.findings
    assert "movement.ring_down" not in ledger.findings


def test_ring_down_with_the_coil_connected_holds_braking_too() -> None:
    ring_down = 'ring_down = { from = "4 deg", to = "2 deg", time = "340 s", coil = "connected" }\n'
    _, ledger = moved(f'[movement]\nperiod = "1.7 s"\n{BOB}{ring_down}')
    assert ledger.findings["movement.ring_down"].severity is Severity.MIND
    assert "braking" in ledger.findings["movement.ring_down"].text


def test_stated_quality_factor_takes_its_tolerance() -> None:
    result, ledger = moved(PLAIN + "[tolerance]\nquality_factor = 0.2\n")
    assert (result.q_low, result.q_high) == pytest.approx((720, 1080))
    assert result.loss_low == pytest.approx(result.loss_typ / 1.2, rel=1e-12)
    assert result.loss_high == pytest.approx(result.loss_typ / 0.8, rel=1e-12)
    value = ledger.values["movement.loss_per_swing"]
    assert (value.low, value.high) == (result.loss_low, result.loss_high)


@pytest.mark.parametrize("bearing", [*BEARINGS, None], ids=str)
def test_quality_factor_is_never_invented_in_silence(bearing: str | None) -> None:
    line = f'bearing = "{bearing}"\n' if bearing else ""
    result, ledger = moved(f'[movement]\nperiod = "1.7 s"\n{BOB}{line}')
    usual = BEARINGS[bearing] if bearing else UNKNOWN["pendulum"]
    assert (result.q_low, result.q_high) == (usual.low, usual.high)
    assert not result.q_known
    finding = ledger.findings["movement.quality_factor"]
    assert finding.severity is Severity.MEASURE
    assert "whole periods" in finding.remedy
    assert "movement.quality_factor" in ledger.assumed
    assert ledger.values["movement.quality_factor"].basis is Basis.ASSUMED
    assert ledger.values["movement.loss_per_swing"].low == result.loss_low < result.loss_high


@source(
    Kind.MEASURED,
    "model-engineer.co.uk and orologeria.com, as collected",
    printed="wristwatch 100-300, chronometer about 400, home-built 15-31 k, knife edge 18 500",
)
def test_bearing_ranges_hold_what_was_measured() -> None:
    found = {"pivot": (100, 400), "knife": (18_500,), "spring": (10_000, 15_000)}
    for bearing, factors in found.items():
        usual = BEARINGS[bearing]
        assert all(usual.low <= factor <= usual.high for factor in factors)
    assert UNKNOWN["pendulum"].high >= 31_000
    assert all(usual.source for usual in [*BEARINGS.values(), *UNKNOWN.values()])


@source(
    Kind.IDENTITY,
    "model-engineer.co.uk, thread on pendulum Q: beats counted as periods double the factor",
)
@pytest.mark.parametrize(
    ("q_factor", "severity"), [(900, Severity.GOOD), (40_000, Severity.MIND), (8, Severity.MIND)]
)
def test_a_quality_factor_that_no_bearing_gives_is_questioned(
    q_factor: int, severity: Severity
) -> None:
    _, ledger = moved(PLAIN.replace("900", str(q_factor)))
    finding = ledger.findings["movement.quality_usual"]
    assert finding.severity is severity
    if severity is Severity.MIND:
        assert "whole periods" in finding.remedy
        assert "Scatter of the periods" in finding.remedy
