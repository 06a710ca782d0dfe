"""Noise, jitter and hum at the crossing."""

from math import pi, sqrt

import numpy as np
import pytest

from calc.jitter import crossing_jitter, thermal_noise
from calc.mains import hum_wander, mains_alias
from tests.sources import Kind, source


@source(Kind.IDENTITY, "4 k T R times the noise bandwidth pi/2 f_c of one pole is k T / C")
def test_noise_of_a_capacitor_is_that_of_its_resistor_in_its_band() -> None:
    r, c, kelvin = 22e3, 470e-9, 295.0
    f_c = 1 / (2 * pi * r * c)
    by_band = sqrt(4 * 1.380649e-23 * kelvin * r * f_c * pi / 2)
    assert thermal_noise(temperature=kelvin, c=c) == pytest.approx(by_band, rel=1e-12)


@source(Kind.IDENTITY, "scatter of crossings with an even error of one step, drawn at random")
def test_jitter_is_the_scatter_of_drawn_crossings() -> None:
    """3 %: a hundred thousand draws leave 0.3 %, and the hum's phase is drawn as well."""
    generator = np.random.default_rng(4)
    size, slope, step, noise, tick = 100_000, 5.0, 2e-3, 3e-4, 50e-6
    event = generator.uniform(-0.5, 0.5, (2, size)) * step / slope
    event += generator.normal(0, noise, (2, size)) / slope
    event += generator.uniform(-0.5, 0.5, (2, size)) * tick
    hum, f_mains, interval = 1e-3, 50.0, 0.993
    phase = generator.uniform(0, 2 * pi, size)
    event[0] += hum * np.sin(phase) / slope
    event[1] += hum * np.sin(phase + 2 * pi * f_mains * interval) / slope
    alias = mains_alias(interval=interval, f_mains=f_mains)
    wander = hum_wander(v_hum=hum, slope=slope, f_alias=alias.f_alias, interval=interval)
    found = crossing_jitter(v_thermal=noise, v_step=step, v_hum=hum, tick=tick, slope=slope,
                            hum_share=wander.share)  # fmt: skip
    assert found.beat == pytest.approx(float(np.std(event[1] - event[0])), rel=0.03)


@source(Kind.IDENTITY, "a sine met once a beat is a sine of the alias's frequency")
def test_hum_met_once_a_beat_looks_slow() -> None:
    interval, f_mains = 1.0003, 50.0
    found = mains_alias(interval=interval, f_mains=f_mains)
    k = np.arange(200)
    met = np.sin(2 * pi * f_mains * k * interval)
    slow = np.sin(2 * pi * found.f_alias * k * interval)
    assert found.cycles == 50
    assert np.abs(met - slow).max() < 1e-9
    assert mains_alias(interval=1.0, f_mains=50.0).f_alias == 0.0


@source(Kind.IDENTITY, "hum exactly in step moves every event alike and no interval at all")
def test_hum_in_step_changes_no_interval() -> None:
    still = hum_wander(v_hum=1e-3, slope=2.0, f_alias=0.0, interval=1.0)
    assert still.interval_change == 0
    worst = hum_wander(v_hum=1e-3, slope=2.0, f_alias=0.5, interval=1.0)
    assert worst.interval_change == pytest.approx(2 * worst.shift, rel=1e-12)
