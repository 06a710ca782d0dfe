"""Captured pulses: resistance, inductance, release, charge and energy found again."""

from pathlib import Path

import numpy as np
import pytest

from circuits.errors import DesignFileError
from tests.circuits.captures.invented_captures import coil_pulse, holds, severities, told, written
from tests.sources import Kind, source

R, L, WIDTH, RAIL, V_SAT, V_F = 77.0, 0.058, 7.5e-3, 4.5, 0.14, 0.7
TAU = L / R
END = (RAIL - V_SAT) / R
I_OFF = END * -np.expm1(-WIDTH / TAU)
CHARGE = END * (WIDTH + TAU * np.expm1(-WIDTH / TAU))
DECAY = TAU * np.log((I_OFF + V_F / R) / (0.05 * I_OFF + V_F / R))
ZERO = TAU * np.log((I_OFF + V_F / R) / (V_F / R))


@pytest.mark.parametrize("seed", range(4))
@source(Kind.IDENTITY, "a resistor and an inductor through switch and clamp, in closed form")
def test_current_and_switch_give_everything(tmp_path: Path, seed: int) -> None:
    t, current, switch = coil_pulse(seed)
    path = written(tmp_path / "p.csv", "Time (s),Current (mA),Switch (V)", t, 1e3 * current, switch)
    out = told(path)
    assert out.measured.kind == "drive"
    assert holds(out, "coil.r_coil", R)
    assert holds(out, "coil.l_coil", L)
    assert holds(out, "drive.i_coil", I_OFF)
    assert holds(out, "drive.v_switch", V_SAT)
    assert holds(out, "drive.pulse_width", WIDTH)
    assert holds(out, "energy.q_pulse", CHARGE)
    assert holds(out, "energy.e_pulse", RAIL * CHARGE)
    assert holds(out, "clamp.t_decay", DECAY)
    assert holds(out, "clamp.t_zero", ZERO)
    peak = out.sheet.values["clamp.v_switch_peak"].value
    assert peak == pytest.approx(RAIL + V_F, abs=0.05)  # the highest of a thousand noisy samples
    assert severities(out)["drive.saturation"] == "good"
    texts = {change.key: change.text for change in out.measured.changes}
    assert float(texts["measured_resistance"].split()[0]) == pytest.approx(R, rel=0.01)
    assert float(texts["measured_inductance"].split()[0]) == pytest.approx(L, rel=0.01)


@pytest.mark.parametrize("seed", range(3))
@source(Kind.IDENTITY, "the same through a shunt of two ohms alone")
def test_a_shunt_alone(tmp_path: Path, seed: int) -> None:
    """The branch holds shunt and switch: rail over final current; what is known comes off it."""
    t, current, _ = coil_pulse(seed)
    path = written(tmp_path / "p.csv", "Time (s),shunt (mV)", t, 2e3 * current)
    out = told(path, shunt=2.0, supply=RAIL)
    assert holds(out, "coil.r_coil", RAIL / END - 2.0)
    assert holds(out, "coil.l_coil", RAIL / END * TAU)
    assert holds(out, "drive.i_coil", I_OFF)
    assert holds(out, "drive.pulse_width", WIDTH, times=3.0)
    assert out.sheet.values["energy.q_pulse"].value == pytest.approx(CHARGE, rel=5e-3)
    assert holds(out, "clamp.t_decay", DECAY)


@source(Kind.IDENTITY, "a pulse of a quarter of the time constant")
def test_a_short_pulse_tells_the_inductance_only(tmp_path: Path) -> None:
    t, current, _ = coil_pulse(1, width=0.2e-3)
    path = written(tmp_path / "p.csv", "Time (s),current (A)", t, current)
    out = told(path, supply=RAIL)
    assert severities(out)["drive.coil"] == "measure"
    assert "coil.r_coil" not in out.sheet.values
    assert holds(out, "coil.l_coil", RAIL / END * TAU, times=3.0)


@source(Kind.IDENTITY, "the switch alone")
def test_the_switch_alone_tells_no_charge(tmp_path: Path) -> None:
    t, _, switch = coil_pulse(2)
    out = told(written(tmp_path / "p.csv", "Time (s),node (V)", t, switch))
    assert out.measured.kind == "drive"
    assert holds(out, "drive.pulse_width", WIDTH)
    assert holds(out, "drive.v_switch", V_SAT)
    assert holds(out, "clamp.t_zero", ZERO)
    assert severities(out)["drive.current"] == "measure"
    assert not {"energy.q_pulse", "energy.e_pulse", "coil.r_coil"} & set(out.sheet.values)


@source(Kind.COMMON_PRACTICE, "no source: a saturated small switch keeps a tenth or two of a volt")
def test_a_starved_switch_is_named(tmp_path: Path) -> None:
    t, _, switch = coil_pulse(3)
    on = (t >= 0) & (t < WIDTH)
    path = written(tmp_path / "p.csv", "Time (s),node (V)", t, np.where(on, switch + 0.9, switch))
    assert severities(told(path))["drive.saturation"] == "mind"


def test_without_a_rail_there_is_no_energy(tmp_path: Path) -> None:
    t, current, _ = coil_pulse(1)
    out = told(written(tmp_path / "p.csv", "Time (s),current (A)", t, current))
    assert severities(out)["drive.energy"] == "measure"
    assert "energy.e_pulse" not in out.sheet.values
    assert "energy.q_pulse" in out.sheet.values


def test_a_shunt_in_volts_asks_for_its_resistance(tmp_path: Path) -> None:
    t, current, _ = coil_pulse(1)
    path = written(tmp_path / "p.csv", "Time (s),shunt (V)", t, current)
    with pytest.raises(DesignFileError, match='--shunt "1 ohm"'):
        told(path)
