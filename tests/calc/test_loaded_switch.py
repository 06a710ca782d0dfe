"""A switch that carries a resistor's current beside the coil's."""

from dataclasses import replace

import numpy as np
import pytest

from calc.clamp_law import ClampLaw
from calc.follow_batch import many_swings
from calc.follow_direct import follow_swing
from calc.loaded_switch import LoadedSwitch, current_beside, loaded, node_voltage
from calc.pulse import PulseCircuit, coil_pulse
from calc.switch_law import SwitchLaw
from tests.calc.driven_plant import CENTRE, plant
from tests.sources import Kind, source

STARVED = SwitchLaw(v_thermal=0.0257, beta_f=60.0, beta_r=4.0, i_b=2e-3, resistance=0.8)
R_COIL = 30.0


@pytest.mark.parametrize("r_beside", [5.0, 100.0, 1e4, 1e6])
@pytest.mark.parametrize("r_source", [0.0, 2.0])
@source(Kind.IDENTITY, "Kirchhoff's laws at the node and round the loop")
def test_the_node_obeys_both_laws(r_beside: float, r_source: float) -> None:
    """The steepest of the two tellings leaves 1e-10 of the largest voltage."""
    switch = LoadedSwitch(switch=STARVED, r_beside=r_beside, v_supply=5.0, r_source=r_source)
    i = np.linspace(-0.02, 0.3, 23)
    total, node = switch.total(i), switch.node(i)
    rail = 5.0 - r_source * total
    assert (rail - node) / r_beside == pytest.approx(total - i, rel=1e-9, abs=1e-12)
    inside = switch.switch.slope(total) < r_beside
    assert switch.switch.drop(total)[inside] == pytest.approx(node[inside], rel=1e-12)
    assert (np.diff(node) > 0).all()


@source(Kind.IDENTITY, "slope by differences")
def test_the_slope_is_that_of_the_drop() -> None:
    switch = LoadedSwitch(switch=STARVED, r_beside=100.0, v_supply=5.0, r_source=2.0)
    i, h = np.linspace(0.0, 0.2, 9), 1e-6
    risen = (switch.drop(i + h) - switch.drop(i - h)) / (2 * h)
    assert switch.slope(i) == pytest.approx(risen, rel=1e-5)


@pytest.mark.parametrize("r_clamp", [5.0, 10.0, 33.0])
@source(Kind.IDENTITY, "current divider: what the switch can carry is shared by coil and resistor")
def test_a_starved_switch_shares_its_current_between_coil_and_resistor(r_clamp: float) -> None:
    """At 5 V the resistor alone would take more than the switch's 0.12 A."""
    t = np.linspace(0.0, 0.04, 5)
    circuit = PulseCircuit(
        v_supply=5.0, r_source=0.0, r_coil=R_COIL, l_coil=0.012, duty=1.0, p_base=0.0,
        switch=STARVED, clamp=ClampLaw(resistance=r_clamp), t_emf=t, emf=0 * t,
    )  # fmt: skip
    outcome = coil_pulse(circuit=circuit, t_on=0.0, pulse_width=0.02)
    expected = STARVED.i_limit * r_clamp / (r_clamp + R_COIL)
    assert outcome.i_off == pytest.approx(expected, rel=1e-5)
    assert outcome.balance_error == pytest.approx(0.0, abs=1e-6)
    assert outcome.i_peak + outcome.i_beside == pytest.approx(STARVED.i_limit, rel=1e-6)


@source(Kind.IDENTITY, "a clamp that carries nothing while the switch is closed changes nothing")
def test_a_diode_leaves_the_switch_as_it_is() -> None:
    plain = loaded(STARVED, ClampLaw(v_constant=0.7), v_supply=5.0, r_source=1.0)
    assert plain is STARVED
    assert node_voltage(plain, 0.01) == STARVED.drop(0.01)
    assert current_beside(plain, 0.01) == 0


@pytest.mark.parametrize("r_clamp", [10.0, 100.0])
@source(Kind.IDENTITY, "the same law in the pulse and in the moving system; two engines")
def test_a_moving_system_meets_the_same_loaded_switch(r_clamp: float) -> None:
    """The engines agree to 1e-4 in the charge and to 1e-6 in the arc.

    What the coil gives to 2 %: from the switch's opening on the EMF drives a current of its own
    round the resistor, which the fast engine counts as braking; the other has no moment at which
    it parts the two before their sum has fallen to nothing. The arc knows of no such parting.
    """
    movement = replace(
        plant(CENTRE, 20e-3), switch=STARVED, clamp=ClampLaw(resistance=r_clamp), r_source=1.0
    )
    i = np.linspace(0.0, 0.1, 11)
    switch = LoadedSwitch(
        switch=STARVED, r_beside=r_clamp, v_supply=movement.v_supply, r_source=1.0
    )
    expected = movement.v_supply - switch.drop(i) - movement.r_loop * i
    assert movement.held_on(i) == pytest.approx(expected, rel=1e-12, abs=1e-12)
    assert movement.stiff_on(i) == pytest.approx(movement.r_loop + switch.slope(i), rel=1e-12)
    swing = follow_swing(movement=movement, arc=0.1, direction=1)
    assert swing.electrical_balance == pytest.approx(0.0, abs=1e-6)
    at_once = many_swings(movement, np.array([0.1]), np.array([movement.pulse_width]), 1)
    given = swing.e_mechanical + swing.e_brake
    assert at_once.e_mechanical[0, 0] == pytest.approx(given, rel=2e-2)
    assert at_once.arc_end[0, 0] == pytest.approx(swing.arc_end, rel=1e-6)
    assert at_once.e_supply[0, 0] == pytest.approx(swing.e_supply, rel=1e-4)
