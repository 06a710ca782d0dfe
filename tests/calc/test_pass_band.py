"""A pass band between a coupling capacitor and a low-pass, against its own response."""

from math import inf

import numpy as np
import pytest

from calc.ladder import poles_cutoff, response
from calc.pass_band import pass_band
from tests.sources import Kind, source


@source(Kind.IDENTITY, "the response itself, read off at many frequencies")
@pytest.mark.parametrize("taus", [(0.5, 0.01, 0.0), (0.1, 0.01, 0.002), (0.02, 0.015, 0.004),
                                  (0.005, 0.02, 0.0)])  # fmt: skip
def test_pass_band_is_where_the_response_says(taus: tuple[float, float, float]) -> None:
    """1e-3: the frequencies stand 6e-4 apart."""
    high, slow, fast = taus
    band = pass_band(tau_high=high, tau_slow=slow, tau_fast=fast)
    f = np.geomspace(1e-2, 1e3, 20_001)
    gain = np.array([
        response(f=float(x), gain_dc=1.0, tau_high=high, tau_slow=slow, tau_fast=fast).gain
        for x in f
    ])  # fmt: skip
    assert band.height == pytest.approx(gain.max(), rel=1e-6)
    top = int(gain.argmax())
    last = top + int(np.flatnonzero(gain[top:] > gain.max() / np.sqrt(2))[-1])
    assert band.f_c == pytest.approx(f[last], rel=1e-3)


@source(Kind.IDENTITY, "without a capacitor nothing but the low-pass is left")
def test_no_capacitor_leaves_the_low_pass() -> None:
    band = pass_band(tau_high=inf, tau_slow=0.01, tau_fast=0.003)
    assert band.height == 1.0
    assert band.f_c == poles_cutoff(tau_slow=0.01, tau_fast=0.003)
