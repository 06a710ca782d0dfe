"""A design at several voltages of its cells, each followed until its swing repeats itself."""

from itertools import pairwise
from math import inf

import numpy as np

from calc.switch_law import SwitchLaw
from circuits.cells_circuit import Circuit, Swing
from circuits.stages.cell_states import SupplyState, states_of

DEPTHS = (0.0, 0.08, 0.25, 0.5, 0.75, 0.92, 0.99, 1.0)
SEARCH = 5
"""Halvings between a voltage that holds an arc and one that does not."""


def exact_states(circuit: Circuit) -> tuple[SupplyState, ...]:
    """Return the circuit at the voltages of the discharge, and about where its arc is lost."""
    store, limits = circuit.store, circuit.limits
    v_fresh = float(store.v_rest[0])
    plain = states_of(
        circuit.design, circuit.catalogue, circuit.ledger, v_fresh, limits, circuit.stages
    )
    places = np.unique(np.interp(DEPTHS, store.depth, store.v_rest))[::-1]
    # From fresh down: each search for a width begins at the one before.
    swings = {float(v): circuit.swing(float(v)) for v in places}
    ordered = sorted(swings, reverse=True)
    for v_held, v_lost in pairwise(ordered):
        if swings[v_held].margin >= 0 > swings[v_lost].margin:
            if not limits.steered:
                high, low = v_held, v_lost
                for _ in range(SEARCH):
                    middle = (high + low) / 2
                    swings[middle] = circuit.swing(middle)
                    high, low = (
                        (middle, low) if swings[middle].margin >= 0 else (high, middle)
                    )  # fmt: skip
            break
    return tuple(_state(circuit, plain, v, swings[v]) for v in sorted(swings))


def _between(plain: tuple[SupplyState, ...], v: float) -> SupplyState:
    """Return the plain state at one voltage, straight between its neighbours."""
    at = [state.v for state in plain]

    def line(values: list[float]) -> float:
        return float(np.interp(v, at, values))

    names = plain[0].drains
    kept = set.intersection(*(set(state.margins) for state in plain))
    return SupplyState(
        v=v, drains={n: line([s.drains[n] for s in plain]) for n in names},
        i_peak=line([s.i_peak for s in plain]), width=line([s.width for s in plain]),
        margins={n: line([s.margins[n] for s in plain]) for n in kept},
    )  # fmt: skip


def _state(circuit: Circuit, plain: tuple[SupplyState, ...], v: float, swing: Swing) -> SupplyState:
    rough, switch = _between(plain, v), circuit.switching(v)
    drains, margins = dict(rough.drains), dict(rough.margins)
    interval = circuit.movement.period / 2 * circuit.drive.swings_per_pulse
    share = swing.width * circuit.drive.duty / interval
    if np.isfinite(swing.i_pulse):
        drains["pulse"] = swing.i_pulse
    if circuit.base is not None:
        drains["drive"] = switch.i_pin * share
    elif "drive" in drains:
        drains["drive"] = switch.i_pin * share + circuit.drive.q_gate / interval
    margins["arc"] = swing.margin
    passes = circuit.stages.passes
    if "threshold" in margins and passes is not None and passes.arc_seen > 0:
        # Below the arc that is seen no swing is held: told as the threshold's end by its place.
        lost = 0.9 * passes.arc_seen if swing.margin < 0 else float(circuit.arcs[-1])
        arc = swing.arc if np.isfinite(swing.arc) else lost
        margins["threshold"] = min(margins["threshold"], arc / passes.arc_seen - 1)
    if switch.margin is not None and switch.margin < inf:
        margins["saturation"] = switch.margin
    return SupplyState(
        v=v, drains=drains, i_peak=_peak(circuit, v, swing.width, switch.law), width=swing.width,
        arc=swing.arc, rate=swing.rate, margins=margins,
    )  # fmt: skip


def _peak(circuit: Circuit, v: float, width: float, law: SwitchLaw) -> float:
    """Return the pulse's greatest current, after the stages' own at fresh cells."""

    def rough(rail: float, r_source: float, length: float, of: SwitchLaw) -> float:
        resistance = circuit.coil.r_coil + r_source
        first = rail / resistance
        current: float = max(rail - float(of.drop(min(first, 0.95 * of.i_limit))), 0.0) / resistance
        return current * -float(np.expm1(-length * resistance / circuit.coil.l_coil))

    fresh, rails = circuit.pulse.fresh, circuit.rails
    known = rough(
        rails.fresh.v_coil, rails.fresh.r_source, circuit.pulse.width, circuit.drive.fresh.law
    )
    here = rough(circuit.limits.coil(v), circuit.r_source(v), width, law)
    return float(here * fresh.i_peak / known) if known > 0 else 0.0
