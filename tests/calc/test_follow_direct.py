"""The direct engine against an independent integration, identities and another integrator."""

from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.special import ellipk

from calc.calculator import OutOfRangeError
from calc.clamp_law import ClampLaw, Junction
from calc.follow import DrivenMovement, Trigger
from calc.follow_direct import follow_swing
from calc.switch_law import SwitchLaw
from tests.calc.driven_plant import CASES, CENTRE, CURVE, IDS, LEAD, REFERENCE, plant
from tests.sources import Kind, source

DAY = 86400.0
SOURCE = "independent reference (NumPy, SciPy, magpylib, ngspice), case swing P2"


def settled(movement: DrivenMovement, arc: float, multiplier: float) -> float:
    """The arc that a swing reproduces, by steps that the multiplier foretells."""
    for _ in range(4):
        change = follow_swing(movement=movement, arc=arc, direction=1).arc_end - arc
        arc += change / (1 - multiplier)
    return arc


@pytest.mark.parametrize(("run", "case"), CASES, ids=IDS)
@source(Kind.REFERENCE_LIBRARY, SOURCE + ", arcs good to 1e-9, rates to 1e-6 s/day")
def test_settled_swing(run: str, case: dict[str, Any]) -> None:
    """Arc 1e-9 rad and rate 1e-6 s/day as the source has them.

    Energies 5e-9: they hang on the linkage curve between its nodes, which is good to 1e-8.
    """
    movement = plant(run, case["w_ms"] * 1e-3)
    arc = settled(movement, case["A_rad"] * 1.0001, case["multiplier"])
    assert arc == pytest.approx(case["A_rad"], abs=1e-9)
    swing = follow_swing(movement=movement, arc=arc, direction=1)
    assert DAY * (1.0 / swing.time - 1) == pytest.approx(case["rate"], abs=1e-6)
    assert swing.e_mechanical == pytest.approx(case["W_J"], rel=5e-9)
    assert swing.e_loss == pytest.approx(case["loss_J"], rel=5e-9)
    assert swing.e_supply == pytest.approx(case["E_supply_J"], rel=5e-9)


@pytest.mark.parametrize(("run", "case"), CASES[::4], ids=IDS[::4])
@source(Kind.REFERENCE_LIBRARY, SOURCE + ", derivatives good to 1e-4")
def test_return_to_the_settled_arc(run: str, case: dict[str, Any]) -> None:
    movement = plant(run, case["w_ms"] * 1e-3)
    ends = [
        follow_swing(movement=movement, arc=case["A_rad"] + step, direction=1).arc_end
        for step in (-1e-4, 1e-4)
    ]
    multiplier = (ends[1] - ends[0]) / 2e-4
    assert 1 - multiplier == pytest.approx(1 - case["multiplier"], rel=1e-4)


@pytest.mark.parametrize("width", [8, 10, 12])
@source(Kind.REFERENCE_LIBRARY, SOURCE + ": no arc is held from the exact crossing")
def test_a_short_pulse_from_the_crossing_holds_no_arc(width: int) -> None:
    movement = plant(CENTRE, width * 1e-3)
    for arc in (0.003, 0.01, 0.03, 0.1, 0.25):
        assert follow_swing(movement=movement, arc=arc, direction=1).arc_end < arc


DIODE = ClampLaw(junctions=(Junction(v_log=0.05, i_log=4e-9),), resistance=0.6)
BIPOLAR = SwitchLaw(v_thermal=0.02585, beta_f=150.0, beta_r=4.0, i_b=4e-3, resistance=0.7)
SWITCHED: dict[str, dict[str, Any]] = {
    "reference": {},
    "chopped": {"duty": 0.6},
    "diode and bipolar": {"clamp": DIODE, "switch": BIPOLAR},
    "zener across the switch": {"clamp": ClampLaw(v_constant=9.0, from_supply=True)},
    "cells with resistance": {"r_source": 2.5},
    "coil off centre": {"offset": 2.5e-3},
    "train": {"work_per_swing": 8e-5},
    "other way round": {"sense": 1.0},
    "balance": {"kind": "balance"},
    "past the knee": {"clamp": ClampLaw(v_constant=0.25)},
    "past a diode's knee": {"radius": 1.6, "clamp": DIODE, "sense": 1.0,
                            "trigger": Trigger(lead=9e-3)},
    "resistor across the coil": {"clamp": ClampLaw(resistance=47.0), "r_source": 1.5},
    "small resistor, coil off centre": {"clamp": ClampLaw(resistance=10.0), "offset": 3e-3},
    "chopped beside a resistor": {"clamp": ClampLaw(resistance=220.0), "duty": 0.6},
    "one period": {"both_ways": False},
    "level": {"trigger": Trigger(kind="level", level=0.1, delay=2e-3)},
    "from the turning point": {
        "sense": 1.0, "offset": 1e-3,
        "trigger": Trigger(
            kind="turn", arcs=(0.05, 0.12, 0.2, 0.4), delays=(0.42, 0.46, 0.47, 0.48),
            delays_back=(0.421, 0.461, 0.471, 0.481),
        ),
    },
    "later for small arcs, deaf to the smallest": {
        "trigger": Trigger(
            delay=4e-3, arcs=(0.05, 0.12, 0.2, 0.4), delays=(2e-3, 1e-3, 0.0, -1e-3), arc_least=0.1
        )
    },
}  # fmt: skip


@pytest.mark.parametrize("direction", [1, -1])
@pytest.mark.parametrize("change", SWITCHED.values(), ids=SWITCHED.keys())
@source(Kind.IDENTITY, "conservation of energy, each term integrated by itself")
def test_energy_of_a_swing_closes(change: dict[str, Any], direction: int) -> None:
    """1e-9 of what the movement loses in the swing; the issue of a wrong term would be 1e-3."""
    movement = plant(CENTRE, 20e-3, **change)
    swing = follow_swing(movement=movement, arc=0.22, direction=direction)
    assert abs(swing.mechanical_balance) < 1e-9
    assert abs(swing.electrical_balance) < 1e-9


@source(Kind.IDENTITY, "definition of the quality factor: A = A0 exp(-pi n / Q)")
@pytest.mark.parametrize("q_factor", [50.0, 700.0, 20000.0])
def test_ring_down_gives_the_quality_factor_back(q_factor: float) -> None:
    """1e-6, less the 1/(8 Q^2) by which damping itself lengthens the period."""
    movement = plant(CENTRE, 0.0, q_factor=q_factor)
    arc = start = 1e-3
    for beat in range(8):
        arc = follow_swing(movement=movement, arc=arc, direction=1 - 2 * (beat % 2)).arc_end
    found = np.pi * 4 / np.log(start / arc)
    assert found == pytest.approx(q_factor, rel=1e-6 + 1 / (7 * q_factor**2))


@source(Kind.PUBLISHED, "complete elliptic integral: T = 4 K(sin(arc / 2)^2) / omega")
@pytest.mark.parametrize("arc", [0.01, 0.2, 0.785, 2.0])
def test_free_swing_keeps_the_elliptic_period(arc: float) -> None:
    movement = plant(CENTRE, 0.0, q_factor=1e13, clamp=ClampLaw(v_constant=100.0))
    swing = follow_swing(movement=movement, arc=arc, direction=1)
    known = 2 * ellipk(np.sin(arc / 2) ** 2) / movement.omega
    assert swing.time == pytest.approx(known, rel=1e-10)


@source(Kind.IDENTITY, "mirror image of a centred coil")
def test_both_directions_are_alike_over_a_centred_coil() -> None:
    movement = plant(LEAD, 15e-3)
    there, back = (
        follow_swing(movement=movement, arc=0.2, direction=direction) for direction in (1, -1)
    )
    assert there.arc_end == pytest.approx(back.arc_end, rel=1e-12)
    shifted = plant(LEAD, 15e-3, offset=2e-3)
    there, back = (
        follow_swing(movement=shifted, arc=0.2, direction=direction) for direction in (1, -1)
    )
    assert abs(there.time - back.time) > 1e-7


def by_steps(movement: DrivenMovement, arc: float) -> tuple[float, float]:
    """Arc and time by a general integrator, phase after phase; NPN switch and diode as given."""
    m = movement

    def system(mode: str) -> Any:
        def rates(_t: float, y: Any) -> list[float]:
            angle, speed, i = y
            grip = m.sense * m.radius * float(CURVE.slope(m.radius * angle - m.offset))
            torque = grip * i / m.inertia
            rate = -(m.omega**2) * np.sin(angle) - m.omega / m.q_factor * speed + torque
            if mode == "off":
                return [speed, rate - torque, 0.0]
            drop = float(m.switch.drop(i)) - m.v_supply if mode == "on" else float(
                m.clamp.voltage(i)
            )  # fmt: skip
            return [speed, rate, (-drop - m.r_coil * i - grip * speed) / m.l_coil]

        return rates

    def stop(function: Any, way: int) -> Any:
        function.terminal, function.direction = True, way
        return function

    def phase(mode: str, y: Any, span: float, event: Any = None) -> tuple[float, Any]:
        out = solve_ivp(
            system(mode),
            (0, span),
            y,
            method="DOP853",
            rtol=1e-12,
            atol=1e-15,
            events=event,
        )
        return float(out.t[-1]), out.y[:, -1]

    lead = m.trigger.lead
    reach = stop(lambda _t, y: m.radius * y[0] - m.offset + lead, 1)
    gone = stop(lambda _t, y: y[2] - 1e-6 * m.i_scale, -1)
    turn = stop(lambda _t, y: y[1], -1)
    rest = "clamp" if m.looped else "off"
    total, y = phase(rest, [-arc, 0.0, 0.0], 2.0, reach)
    for mode, span, event in (
        ("on", m.pulse_width, None), ("clamp", 0.1, gone), (rest, 2.0, turn),
    ):  # fmt: skip
        took, y = phase(mode, y, span, event)
        total += took
    return float(y[0]), total


@source(Kind.REFERENCE_LIBRARY, "scipy.integrate.solve_ivp, DOP853, rtol 1e-12, events")
@pytest.mark.parametrize("run", [CENTRE, LEAD])
def test_bipolar_and_diode_against_a_general_integrator(run: str) -> None:
    """2e-10: the general integrator's own tolerance over some hundred steps.

    The diode is one that the free magnet's EMF does not reach: the other side leaves that out.
    """
    diode = ClampLaw(junctions=(Junction(v_log=0.05, i_log=4e-12),), resistance=0.6)
    movement = plant(run, 18e-3, clamp=diode, switch=BIPOLAR, offset=1e-3)
    arc, time = by_steps(movement, 0.2)
    swing = follow_swing(movement=movement, arc=0.2, direction=1)
    assert swing.arc_end == pytest.approx(arc, rel=2e-10)
    assert swing.time == pytest.approx(time, rel=2e-10)


@source(Kind.REFERENCE_LIBRARY, "scipy.integrate.solve_ivp, DOP853, rtol 1e-12, events")
@pytest.mark.parametrize("run", [CENTRE, LEAD])
def test_resistor_against_a_general_integrator(run: str) -> None:
    """1e-9; the loop carries current from turning point to turning point, in both senses.

    The general integrator's switch has no resistor beside it: a stiff one does not feel it.
    """
    movement = plant(
        run, 18e-3, clamp=ClampLaw(resistance=22.0), switch=SwitchLaw(v_constant=0.1), offset=1e-3
    )
    arc, time = by_steps(movement, 0.2)
    swing = follow_swing(movement=movement, arc=0.2, direction=1)
    assert swing.arc_end == pytest.approx(arc, rel=1e-9)
    assert swing.time == pytest.approx(time, rel=1e-9)


@source(Kind.IDENTITY, "current of a closed loop: EMF / R, in the lobes of either sign")
def test_a_resistor_brakes_in_both_lobes() -> None:
    """1 %: the coil's own time is left out of the other side; a diode would take half."""
    movement = plant(CENTRE, 0.0, q_factor=1e9, clamp=ClampLaw(resistance=470.0))
    swing = follow_swing(movement=movement, arc=0.25, direction=1)
    x = np.linspace(-0.08, 0.08, 20001)
    speed = (
        movement.omega
        * movement.radius
        * np.sqrt(2 * (movement.height(0.25) - movement.height(x / movement.radius)))
    )
    emf = movement.grip(x / movement.radius) * speed / movement.radius
    known = float(np.sum(emf**2 / speed) * (x[1] - x[0])) / (470.0 + movement.r_coil)
    assert swing.e_brake == pytest.approx(known, rel=0.01)
    assert swing.e_mechanical == -swing.e_brake


def test_emf_beyond_the_knee_brakes() -> None:
    """A quarter of a volt of clamp against half a volt of EMF; without it nothing brakes."""
    braked = follow_swing(
        movement=plant(CENTRE, 20e-3, clamp=ClampLaw(v_constant=0.25)), arc=0.25, direction=1
    )
    free = follow_swing(movement=plant(CENTRE, 20e-3), arc=0.25, direction=1)
    assert braked.e_brake > 0.01 * braked.e_loss
    assert free.e_brake == 0
    assert braked.arc_end < free.arc_end


@pytest.mark.parametrize("arc", [0.5, 1.0, 2.0])
@source(Kind.IDENTITY, "quasi-static current of a constant knee: (EMF - knee) / R")
def test_braking_beyond_the_knee_at_any_speed(arc: float) -> None:
    """However short the lobe, its braking is found; 10 %: the coil's inductance is left out."""
    movement = plant(CENTRE, 0.0, q_factor=1e9, clamp=ClampLaw(v_constant=0.1), r_coil=3000.0)
    swing = follow_swing(movement=movement, arc=arc, direction=1)
    x = np.linspace(-0.08, 0.08, 20001)
    speed = movement.omega * movement.radius * np.sqrt(2 * movement.height(arc))
    emf = movement.grip(x / movement.radius) * speed / movement.radius
    drive = np.maximum(-emf - 0.1, 0) / 3000.0
    known = float(np.sum(-emf * drive) * (x[1] - x[0]) / speed)
    assert swing.e_brake == pytest.approx(known, rel=0.1)


def test_a_pulse_timed_by_the_pass_before() -> None:
    """Started where the place would have started it, it is the same pulse."""
    by_place = follow_swing(movement=plant(LEAD, 15e-3), arc=0.2, direction=1)
    timed = plant(LEAD, 15e-3, trigger=Trigger(kind="previous", delay=1.0))
    swing = follow_swing(movement=timed, arc=0.2, direction=1, t_on=by_place.t_on)
    assert swing.arc_end == pytest.approx(by_place.arc_end, rel=1e-11)
    unset = follow_swing(movement=timed, arc=0.2, direction=1)
    assert unset.e_supply == 0


def test_a_place_that_is_never_reached_gives_no_pulse() -> None:
    swing = follow_swing(movement=plant(LEAD, 15e-3), arc=0.005, direction=1)
    assert swing.t_on is None
    assert swing.e_supply == 0


def test_a_pulse_longer_than_the_swing_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="lasts beyond the turning point"):
        follow_swing(movement=plant(CENTRE, 0.7), arc=0.2, direction=1)


def test_a_quality_factor_of_a_few_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="q_factor must be above 5"):
        plant(CENTRE, 0.02, q_factor=4.0)


def test_the_reference_leaves_no_case_out() -> None:
    assert len(CASES) == 17
    assert REFERENCE["plant"]["Q"] == 1000.0


@source(Kind.IDENTITY, "definition of the trigger: crossing, delay of that arc, then the pulse")
def test_the_delay_of_the_arc_enters_and_a_small_arc_triggers_nothing() -> None:
    trigger = Trigger(
        delay=4e-3, arcs=(0.05, 0.12, 0.2, 0.4), delays=(2e-3, 1e-3, 0.0, -1e-3), arc_least=0.1
    )
    movement = plant(CENTRE, 10e-3, trigger=trigger)
    for arc, wait in ((0.12, 5e-3), (0.2, 4e-3), (0.4, 3e-3)):
        swing = follow_swing(movement=movement, arc=arc, direction=1)
        assert swing.t_on is not None
        assert swing.t_cross is not None
        assert swing.t_on - swing.t_cross == pytest.approx(wait, abs=1e-12)
    unseen = follow_swing(movement=movement, arc=0.099, direction=1)
    assert unseen.t_on is None
    assert unseen.e_supply == 0
