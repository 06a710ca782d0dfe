"""Supply: the dip that the pulse makes, against brown-out."""

from dataclasses import dataclass
from math import exp, inf

from calc.crossing import filtered_wave
from calc.pulse import PulseOutcome
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.format_quantity import percent, show
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.preferred_values import next_higher
from circuits.ratings import capacitor_rating
from circuits.stages.coil import CoilResult
from circuits.stages.energy import EnergyResult
from circuits.stages.pulse import PulseResult
from circuits.stages.rails import Rail, Rails

NOTICEABLE = 0.02
"""Share of the rail whose dip a fixed threshold takes for a signal."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyResult:
    """The largest dip of the logic's rail during a pulse."""

    v_dip_fresh: float
    v_dip_spent: float


def size(
    design: Design, catalogue: Catalogue, ledger: Ledger, rails: Rails, coil: CoilResult,
    pulse: PulseResult, energy: EnergyResult,
) -> SupplyResult:  # fmt: skip
    """Return the dip and judge it against brown-out and as a false signal."""
    del catalogue, coil, energy
    fresh = _dip(design, rails.fresh, pulse.fresh, pulse.width)
    spent = _dip(design, rails.spent, pulse.spent, pulse.width)
    rule = "coil current x supply's resistance"
    if design.supply.reservoir:
        rule += ", shared by the reservoir"
        rating = capacitor_rating(rails.v_max)
        ledger.part("C4", "reservoir", show(design.supply.reservoir, "F"), rating)
    for name, dip, state in (
        ("supply.v_dip", fresh, "fresh"),
        ("supply.v_dip_spent", spent, "spent"),
    ):
        ledger.value(
            name, dip, "V", words="dip of the rail at the pulse", basis=Basis.COMPUTED,
            rule=rule, state=state,
        )  # fmt: skip
    regulated = design.supply.regulator_output is not None
    dropout = design.supply.regulator_dropout or 0.0
    for_logic = 0.0 if regulated else spent
    lowest = rails.spent.v_logic - for_logic
    brown_out = design.controller.brown_out
    more: list[tuple[Change, ...]] = []
    room = rails.fresh.v_logic - (brown_out or 0.0)
    if room > 0:
        # Two thirds of the room for the charge of one pulse, as if nothing refilled it meanwhile.
        least = max(pulse.fresh.q_supply / (room * 2 / 3), design.supply.reservoir or 1e-6)
        text = f"{next_higher(least, 'E6') * 1e6:.6g} uF"
        more.append((Change(section="supply", key="reservoir", text=text),))
    if design.supply.cell:
        series = (design.supply.series or 1) + 1
        more.append((Change(section="supply", key="series", text=str(series)),))
    if brown_out is not None and not regulated:
        # The end of life is taken no lower than brown-out at rest: what counts is the dip below.
        ledger.at_least(
            "supply.brown_out", rails.fresh.v_logic - fresh, brown_out, "V",
            f"Fresh, the pulse pulls the controller's rail down to "
            f"{show(rails.fresh.v_logic - fresh, 'V')}; it stops at {show(brown_out, 'V')}.",
            remedy="A reservoir capacitor, cells of less resistance, or a coil of more.",
            changes=more,
        )  # fmt: skip
        ledger.at_least(
            "supply.brown_out_spent", lowest, brown_out, "V",
            f"At the end of the cells' life the pulse pulls the rail down to {show(lowest, 'V')}; "
            f"the controller stops at {show(brown_out, 'V')}.",
            soft=True,
            remedy="The cells end earlier than their cut-off by this dip; a reservoir at the "
            "controller behind a diode or resistor keeps it up.",
        )  # fmt: skip
    elif brown_out is not None and regulated:
        raw = rails.spent.v_logic + dropout
        ledger.say(
            "supply.brown_out", Severity.GOOD,
            f"The regulator keeps the dip of {show(spent, 'V')} from the controller while its "
            f"input stays above {show(raw, 'V')}.",
        )  # fmt: skip
    share = spent / rails.spent.v_coil
    follows = design.pickup.baseline in ("ratiometric", "tracked")
    quiet = share < NOTICEABLE or follows
    ledger.say(
        "supply.false_signal", Severity.GOOD if quiet else Severity.MIND,
        f"The dip is {percent(share)} of the rail; through a divider from the rail it looks like a "
        "signal of its own" + ("; this baseline follows the rail." if follows else "."),
        remedy="" if quiet
        else "Keep the input deaf during pulse and recovery, or take the baseline from the rail.",
        value=share, unit="1",
    )  # fmt: skip
    ledger.test_point(
        "cells' terminals", "switch on", "oscilloscope, AC coupled",
        f"a dip of {show(fresh, 'V')} with fresh cells, {show(spent, 'V')} when spent",
        "more: a contact or the cells' resistance; with fresh cells clean the contacts",
    )  # fmt: skip
    return SupplyResult(v_dip_fresh=fresh, v_dip_spent=spent)


def _dip(design: Design, rail: Rail, outcome: PulseOutcome, width: float) -> float:
    """Return the dip; a resistor across the coil draws its current beside the coil's."""
    if rail.r_source <= 0:
        return 0.0
    if not design.supply.reservoir:
        return rail.r_source * (outcome.i_peak + outcome.i_beside)
    # Cells and reservoir smooth the current as one pole; the coil draws on them while switched on.
    drawn = outcome.t <= outcome.t[0] + width
    smoothed = filtered_wave(
        t=outcome.t[drawn], wave=rail.r_source * outcome.i[drawn], gain=1.0, tau_high=inf,
        tau_slow=rail.r_source * design.supply.reservoir, tau_fast=0.0,
    )  # fmt: skip
    tau = rail.r_source * design.supply.reservoir
    beside = rail.r_source * outcome.i_beside * (1 - exp(-width / tau))
    return float(smoothed.wave.max()) + beside
