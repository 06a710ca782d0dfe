"""The calculators' ripple beside a simulator's."""

import pytest

from calc.pwm import pwm_ripple, pwm_two_sections
from netlists.log_deck import LogCircuit, log_deck, log_figures
from netlists.runner import run_deck
from tests.simulator import Simulator
from tests.sources import Kind, source

CIRCUITS = {
    "one section": LogCircuit(
        v_high=3.3, f_pwm=1000.0, duty=0.5, r=10e3, c=1e-6, poles=1, r_load=1e6
    ),
    "one section, short pulses": LogCircuit(
        v_high=5.0, f_pwm=400.0, duty=0.12, r=22e3, c=470e-9, poles=1, r_load=220e3
    ),
    "two sections": LogCircuit(
        v_high=3.3, f_pwm=1000.0, duty=0.5, r=10e3, c=220e-9, poles=2, r_load=1e6
    ),
    "two sections, loaded": LogCircuit(
        v_high=2.8, f_pwm=250.0, duty=0.7, r=4.7e3, c=1e-6, poles=2, r_load=47e3
    ),
}


def calculated(c: LogCircuit) -> tuple[float, float]:
    """Ripple and mean by the calculators."""
    if c.poles == 2:
        two = pwm_two_sections(
            v_high=c.v_high, duty=c.duty, f_pwm=c.f_pwm, r=c.r, c=c.c, r_load=c.r_load, share=0.01
        )
        return two.ripple, two.gain * c.duty * c.v_high
    gain = c.r_load / (c.r_load + c.r)
    ripple = pwm_ripple(v_high=c.v_high, duty=c.duty, f_pwm=c.f_pwm, tau=gain * c.r * c.c)
    return gain * ripple, gain * c.duty * c.v_high


@pytest.mark.parametrize("name", CIRCUITS)
@source(Kind.SIMULATOR, "ngspice, the PWM from rest until it repeats itself")
def test_ripple_and_mean_agree(name: str, simulator: Simulator) -> None:
    """1 %: edges of a thousandth of the period, and sixty steps in it for its turns."""
    circuit = CIRCUITS[name]
    deck, analysis = log_deck(circuit)
    run = run_deck(
        deck, program=simulator.program, version=simulator.version, vectors=analysis.vectors,
        end=analysis.end,
    )  # fmt: skip
    found = log_figures(circuit, run, analysis)
    ripple, mean = calculated(circuit)
    assert found.ripple == pytest.approx(ripple, rel=0.01)
    assert found.mean == pytest.approx(mean, rel=0.01)
