"""The closed switch, backwards too."""

import numpy as np
import pytest

from calc.switch_law import SwitchLaw
from tests.sources import Kind, source

WEAK = SwitchLaw(resistance=900.0)
STARVED = SwitchLaw(v_thermal=0.02585, beta_f=120.0, beta_r=4.0, i_b=2e-6, resistance=0.8)


@pytest.mark.parametrize("law", [WEAK, STARVED], ids=["MOSFET", "bipolar"])
@source(Kind.COMMON_PRACTICE, "no source: a silicon junction keeps 0.6 V to 0.8 V")
def test_a_reversed_current_leaves_a_junction_s_voltage_at_most(law: SwitchLaw) -> None:
    """Between drain and source lies a diode; a bipolar's collector conducts from its base."""
    rest = float(law.drop(0.0))
    assert -0.8 < float(law.drop(-50e-3)) - rest < -0.6
    assert float(law.drop(-1e-7)) - rest == pytest.approx(-1e-7 * float(law.slope(0.0)), rel=1e-2)


@pytest.mark.parametrize("law", [WEAK, STARVED], ids=["MOSFET", "bipolar"])
@source(Kind.IDENTITY, "the slope is the drop's derivative; both run on through zero")
def test_slope_is_the_derivative_on_both_sides(law: SwitchLaw) -> None:
    """1e-5: central differences."""
    i = np.array([-3e-3, -1e-4, -1e-6, 1e-6, 1e-4])
    step = 1e-4 * np.abs(i)
    slope = (law.drop(i + step) - law.drop(i - step)) / (2 * step)
    assert law.slope(i) == pytest.approx(slope, rel=1e-5)
    assert float(law.slope(-1e-12)) == pytest.approx(float(law.slope(1e-12)), rel=1e-5)
