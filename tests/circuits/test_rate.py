"""Rate stage: what is split off a rate error, and what is said of the rest."""

from math import radians

import pytest

from calc.pendulum import small_arc_period
from circuits.catalogue import Catalogue
from circuits.ledger import Ledger, Severity
from circuits.stages import rate
from circuits.stages.rate import RateResult
from tests.circuits.stands_in import design_of, moved
from tests.sources import Kind, source

SECONDS = '[movement]\nperiod = "2 s"\nmass = "1.2 kg"\narc = "2 deg"\nquality_factor = 6000\n'


def rated(text: str) -> tuple[RateResult, Ledger]:
    movement, _ = moved(text)
    ledger = Ledger()
    return rate.size(design_of(text), Catalogue(), ledger, movement), ledger


def number(ledger: Ledger, id: str) -> float:
    value = ledger.values[id].value
    assert isinstance(value, float)
    return value


@source(
    Kind.IDENTITY,
    "exact elliptic integral at 2 degrees, worked apart",
    printed="loses 6.5797 s/day",
)
def test_circular_error_and_what_one_degree_more_costs() -> None:
    """The slope is close to twice the error over the arc: 6.58 s/day a degree."""
    result, ledger = rated(SECONDS)
    assert number(ledger, "rate.circular") == pytest.approx(-6.5797, abs=0.5e-4)
    assert result.circular * 86400 == number(ledger, "rate.circular")
    slope = number(ledger, "rate.circular_slope") * radians(1)
    assert slope == pytest.approx(-6.58, abs=0.005)


@source(
    Kind.IDENTITY,
    "model-engineer.co.uk, thread on an electric clock: lost 1.5 min a day, 6 to 22 degC, 303 "
    "stainless rod; reworked",
    printed="16 K gives 12 s/day; 2.07 mm on a 0.994 m seconds pendulum; 1/8 of it",
)
def test_ninety_seconds_a_day_are_length_and_not_temperature() -> None:
    """The clock at so small an arc that its circular error does not count: 0.05 s/day."""
    period = small_arc_period(effective_length=0.994)
    text = f"""[movement]
    period = "{period} s"
    mass = "4.123 kg"
    arc = "0.18 deg"
    target_period = "{period * (1 - 90 / 86400)} s"
    nut_pitch = "0.5 mm"
    rod_expansion = "17.3e-6/K"
    quality_factor = 9000
    [tolerance]
    temperature = {{ from = "6 degC", to = "22 degC" }}
    """
    _, ledger = rated(text)
    assert number(ledger, "rate.regulation") == pytest.approx(-90, abs=0.1)
    assert number(ledger, "rate.length_change") == pytest.approx(-2.07e-3, abs=0.5e-5)
    assert number(ledger, "rate.nut_turns") == pytest.approx(-4.14, abs=0.01)
    assert number(ledger, "rate.temperature") == pytest.approx(-12, abs=0.5)
    assert number(ledger, "rate.temperature_slope") == pytest.approx(-0.747, abs=0.5e-3)
    assert ledger.values["rate.nut_direction"].value == "raise the bob"
    finding = ledger.findings["rate.regulation"]
    assert finding.severity is Severity.MIND
    assert "the temperature at most 12 s/day" in finding.text
    assert finding.remedy.startswith("Raise the bob by 2.07 mm, 4.14 turns of the nut")


def test_a_nut_without_a_pitch_is_moved_in_millimetres() -> None:
    _, ledger = rated(SECONDS + 'target_period = "2.001 s"\n')
    assert "rate.nut_turns" not in ledger.values
    assert ledger.findings["rate.regulation"].remedy.startswith("Lower the bob by 0.842 mm")


def test_a_regulated_pendulum_is_good() -> None:
    """At the wanted arc: the target is the period there, not that of the smallest arc."""
    movement, _ = moved(SECONDS)
    _, ledger = rated(SECONDS + f'target_period = "{movement.period_at_arc} s"\n')
    assert ledger.findings["rate.regulation"].severity is Severity.GOOD
    assert number(ledger, "rate.regulation") == pytest.approx(0, abs=1e-9)


def test_a_rate_that_nobody_asks_for_is_not_judged() -> None:
    _, ledger = rated(SECONDS)
    assert set(ledger.findings) == {"rate.open"}


@source(
    Kind.IDENTITY,
    "a public tuning log of an electronic clock: spring magnets turned the sign round",
)
def test_the_sign_of_rate_against_arc_is_never_assumed() -> None:
    asked = SECONDS + '[rate]\nallowed_error = "3 s/day"\n'
    _, ledger = rated(asked)
    finding = ledger.findings["rate.sign"]
    assert finding.severity is Severity.MEASURE
    assert "other sign" in finding.text
    assert "close no loop" in finding.remedy
    _, ledger = rated(asked + 'measured_slope = "-4100 1/day"\n')
    assert ledger.findings["rate.sign"].severity is Severity.GOOD
    assert "loses 4.1 s/day" in ledger.findings["rate.sign"].text


@source(
    Kind.IDENTITY,
    "febo.com time-nuts list, August 2010: the phase of the pulse decides the rate; after Airy",
)
def test_the_place_of_the_impulse_is_said_with_its_sign() -> None:
    """One hundredth of the period after the centre: tan(3.6 deg)/(2 Q) is 0.453 s/day."""
    _, ledger = rated(SECONDS + '[rate]\nallowed_error = "3 s/day"\n')
    text = ledger.findings["rate.impulse"].text
    assert "each 20 ms that the impulse comes after the centre its place alone loses 0.453" in text
    assert "that it comes before it gains as much" in text
    assert "standing offset" in text


@source(Kind.IDENTITY, "circular error over the allowed error")
def test_how_steady_the_arc_must_be() -> None:
    _, ledger = rated(SECONDS + '[rate]\nallowed_error = "3 s/day"\n')
    finding = ledger.findings["rate.arc"]
    assert finding.value == pytest.approx(radians(3 / 6.58), rel=1e-3)
    assert finding.severity is Severity.GOOD
    _, ledger = rated(SECONDS + '[rate]\nallowed_error = "0.3 s/day"\n')
    assert ledger.findings["rate.arc"].severity is Severity.MIND


@pytest.mark.parametrize(
    ("ppm", "severity"), [(10, Severity.GOOD), (22, Severity.TIGHT), (30, Severity.FAILS)]
)
@source(Kind.IDENTITY, "10 ppm is 0.864 s/day")
def test_the_crystal_must_be_better_than_what_it_judges(ppm: float, severity: Severity) -> None:
    text = f'{SECONDS}[rate]\nallowed_error = "2 s/day"\n[controller]\n'
    result, ledger = rated(f"{text}crystal_tolerance = {ppm * 1e-6}\n")
    finding = ledger.findings["rate.reference"]
    assert finding.severity is severity
    assert finding.value == pytest.approx(0.0864 * ppm, rel=1e-12)
    assert result.reference == pytest.approx(ppm * 1e-6)
    if severity is Severity.FAILS:
        for changes in finding.changes:
            changed = {change.key: change.text for change in changes}
            if "crystal_tolerance" in changed:
                assert float(changed["crystal_tolerance"]) * 86400 < 2
            else:
                assert changed["allowed_error"].endswith("s/day")


def test_a_crystal_in_the_cold_runs_off_its_tolerance() -> None:
    """25 K below the turnover: 0.035 ppm/K^2 times 625 is 21.9 ppm, 1.89 s/day."""
    text = f"""{SECONDS}
    [controller]
    crystal_tolerance = 10e-6
    [tolerance]
    temperature = {{ from = "0 degC", to = "30 degC" }}
    """
    _, ledger = rated(text)
    assert number(ledger, "rate.reference") == pytest.approx(0.864 + 1.89, abs=0.005)
    assert "rate.crystal_coefficient" in ledger.assumed


def test_a_crystal_of_which_nothing_is_said_must_be_measured() -> None:
    _, ledger = rated(SECONDS + '[rate]\nallowed_error = "3 s/day"\n')
    assert ledger.findings["rate.reference"].severity is Severity.MEASURE


@source(
    Kind.IDENTITY,
    "normal gravity at 45 and 46 degrees; free-air gradient 0.0136 s/day a metre",
)
def test_moving_house_is_said() -> None:
    """Half of the relative change of gravity over a degree: 4.0 s/day; three metres 0.041."""
    _, ledger = rated(SECONDS + '[rate]\nallowed_error = "3 s/day"\n')
    text = ledger.findings["rate.place"].text
    assert "gains about 4 s/day" in text
    assert "loses 0.041 s/day" in text


@source(Kind.IDENTITY, "-m g / (2 k L) for a stiff support")
def test_a_swaying_support_loses() -> None:
    """1.2 kg on 50 kN/m at 0.994 m: 118 ppm, 10.2 s/day."""
    _, ledger = rated(SECONDS + 'support_stiffness = "50 kN/m"\n')
    expected = -86400 * 1.2 * 9.80665 / (2 * 50e3 * 0.99362)
    assert number(ledger, "rate.support") == pytest.approx(expected, rel=3e-4)
    assert ledger.findings["rate.support"].severity is Severity.MIND


def test_temperature_without_a_rod_is_asked_for() -> None:
    span = '[tolerance]\ntemperature = { from = "6 degC", to = "22 degC" }\n'
    _, ledger = rated(SECONDS + span)
    finding = ledger.findings["rate.temperature"]
    assert finding.severity is Severity.MIND
    assert "rod_expansion" in finding.remedy


def test_a_balance_has_no_circular_error() -> None:
    text = """[movement]
    kind = "balance"
    period = "0.62 s"
    target_period = "0.625 s"
    inertia = "8e-7 kg*m^2"
    magnet_radius = "19 mm"
    arc = "140 deg"
    quality_factor = 250
    """
    result, ledger = rated(text)
    assert result.circular == 0.0
    assert "rate.circular" not in ledger.values
    assert "rate.length_change" not in ledger.values
    assert number(ledger, "rate.regulation") == pytest.approx(86400 * (0.625 / 0.62 - 1))
    assert "spring" in ledger.findings["rate.regulation"].remedy
    assert "rate.place" not in ledger.findings
