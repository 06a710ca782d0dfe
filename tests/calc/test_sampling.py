"""Sampling: settling, steps and what the capacitor at the pin gives."""

import pytest

from calc.calculator import OutOfRangeError
from calc.sampling import quantisation_step, sampling_source_limit, settling_time, shared_charge
from tests.sources import Kind, source

CYCLES = [(1.5, 0.4), (7.5, 5.9), (13.5, 11.4), (28.5, 25.2), (41.5, 37.2), (55.5, 50.0)]


@source(Kind.PUBLISHED, "ST, STM32F101/F103 data sheets, equation 1 and table of R_AIN: 14 MHz,"
        " 8 pF, 1 kohm, 12 bits", printed="0.4 5.9 11.4 25.2 37.2 50 kohm")  # fmt: skip
@pytest.mark.parametrize(("cycles", "printed"), CYCLES)
def test_source_limits_of_the_data_sheet(cycles: float, printed: float) -> None:
    """Half of the last printed digit; the last is printed as 50, the equation gives 50.06."""
    found = sampling_source_limit(t_sample=cycles / 14e6, c_adc=8e-12, r_adc=1e3, n_bits=12.0)
    assert found == pytest.approx(printed * 1e3, abs=65 if cycles == 55.5 else 50)


@source(Kind.IDENTITY, "the sampling time that settles is the one whose limit is the source")
def test_settling_time_inverts_the_source_limit() -> None:
    t = settling_time(r_source=22e3, r_adc=2e3, c_adc=12e-12, n_bits=10.0)
    back = sampling_source_limit(t_sample=t, c_adc=12e-12, r_adc=2e3, n_bits=10.0)
    assert back == pytest.approx(22e3, rel=1e-12)


@source(
    Kind.PUBLISHED, "a public firmware's comments (github.com/dehne)", printed="1.6 mV per count"
)
def test_one_count_of_a_reference() -> None:
    assert quantisation_step(v_reference=1.65, n_bits=10.0) == pytest.approx(1.6e-3, abs=0.05e-3)


@source(Kind.IDENTITY, "conservation of charge")
def test_capacitor_at_the_pin_feeds_the_sample() -> None:
    assert shared_charge(c_adc=10e-12, c_filter=100e-9) == pytest.approx(1e-4, rel=1e-3)


def test_too_short_a_sample_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="t_sample must be longer"):
        sampling_source_limit(t_sample=1e-8, c_adc=8e-12, r_adc=1e3, n_bits=12.0)
