"""Disturbance: what pulse and kick put before the filter, as steps of a voltage."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuits.stages.filter import FilterResult
from circuits.stages.pickup import PickupResult
from circuits.stages.pulse import PulseResult
from circuits.stages.rails import Rails

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Disturbance:
    """Steps of the voltage before the filter, and when they come after the pulse's start."""

    edges: Array
    steps: Array

    def behind(self, filter: FilterResult, since: Array) -> Array:
        """Return what is left of it at the pin, against the time since the pulse began."""
        t = np.maximum(since[:, None] - self.edges, 0.0)
        slow, fast, share = np.exp(-t / filter.tau_slow), np.zeros_like(t), 1.0
        if filter.tau_fast > 0:
            share = filter.tau_slow / (filter.tau_slow - filter.tau_fast)
            fast = np.exp(-t / filter.tau_fast)
        rest = share * slow - (share - 1.0) * fast
        return np.asarray(filter.gain * (self.steps * (1.0 - rest)).sum(axis=1))


def disturbance(
    rails: Rails, pickup: PickupResult, filter: FilterResult, pulse: PulseResult
) -> Disturbance | None:
    """Return the steps of pulse and kick; None where the listening coil sees nothing of them."""
    width = pulse.width
    t_zero = max(pulse.fresh.t_zero, pulse.spent.t_zero, 1e-6)
    v = rails.fresh.v_coil
    if pickup.v_pulse > 0:
        # Both edges last as long as the coil's current takes to change.
        rise = max(min(pickup.tau_winding, width), 1e-9)
        kick = pickup.v_pulse * rise / t_zero
        return Disturbance(
            edges=np.array([0.0, rise, width, width + t_zero]),
            steps=np.array([-pickup.v_pulse, pickup.v_pulse, kick, -kick]),
        )
    if pickup.arrangement == "mid_rail":
        # A listening coil that shares no flux with the drive sees nothing of the pulse.
        return None
    fall, kick = v, max(pickup.v_node_peak - rails.v_max, 0.0)
    if pickup.coupling is not None and pickup.pin is not None:
        # The clamp stands behind the filter: a short pulse does not reach it.
        risen = -np.expm1(-width / (filter.tau_slow + filter.tau_fast))
        fall = min(fall, (pickup.v_bias_fresh - pickup.pin.v_low) / float(risen))
    # As long as a flat kick of that height would last that takes the clamp's energy.
    t_kick = min(2 * pulse.fresh.e_clamp / max(pulse.fresh.i_off * kick, 1e-30), t_zero)
    return Disturbance(
        edges=np.array([0.0, width, width + t_kick]),
        steps=np.array([-fall, fall + kick, -kick]),
    )
