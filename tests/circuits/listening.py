"""An invented movement carried through the stages up to the pickup, for tests of what listens."""

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any, cast

from calc.clamp_law import ClampLaw, Junction
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.design_file import parse_design
from circuits.ledger import Ledger
from circuits.stages import coil, drive, emf, linkage, movement, pickup, rails, timing
from circuits.stages import filter as filter_stage
from circuits.stages.clamp import ClampResult
from circuits.stages.filter import FilterResult
from circuits.stages.pickup import PickupResult
from circuits.stages.pulse import PulseResult
from circuits.stages.timing import TimingResult

MOVEMENT = """
[movement]
kind = "pendulum"
period = "1.9 s"
mass = "0.4 kg"
magnet_radius = "0.85 m"
arc = "6 deg"
quality_factor = 900

[magnet]
shape = "cylinder"
diameter = "10 mm"
height = "5 mm"
remanence = "1.2 T"
gap = "4 mm"

[supply]
cell = "LR20"
series = 3
"""
COIL = """
[coil]
wire = "0.2 mm"
inner_diameter = "10 mm"
outer_diameter = "25 mm"
height = "8 mm"
turns = 1000
"""
PICKUP_COIL = """
[pickup_coil]
wire = "0.08 mm"
inner_diameter = "10 mm"
outer_diameter = "25 mm"
height = "8 mm"
turns = 3000
"""
DIODE = ClampLaw(junctions=(Junction(v_log=0.05, i_log=1e-8),))


@dataclass(frozen=True)
class Heard:
    """The results of the three stages and the sheet."""

    design: Design
    ledger: Ledger
    pickup: PickupResult
    filter: FilterResult
    timing: TimingResult

    def value(self, id: str) -> float:
        return float(self.ledger.values[id].value)


def outcome(t_zero: float, v_clamp: float) -> Any:
    """A pulse whose clamp takes a current that falls evenly to zero."""
    i_off = 0.1
    return SimpleNamespace(t_zero=t_zero, i_off=i_off, e_clamp=v_clamp * i_off * t_zero / 2)


def heard(extra: str = "", *, movement_text: str = MOVEMENT, coil_text: str = COIL,
          width: float = 0.02, v_clamp: float = 0.8, t_zero: float = 0.9e-3) -> Heard:  # fmt: skip
    """Run the stages on a design file's text; the clamp is a diode, the pulse is given."""
    design = parse_design(movement_text + coil_text + extra, "invented.toml")
    parts, ledger = Catalogue(), Ledger()
    the_rails = rails.size(design, parts, ledger)
    the_coil = coil.size(design, parts, ledger)
    second = coil.size_pickup(design, parts, ledger)
    the_linkage = linkage.size(design, parts, ledger, the_coil, second)
    the_movement = movement.size(design, parts, ledger, the_linkage)
    the_emf = emf.size(design, parts, ledger, the_linkage, the_movement)
    the_drive = drive.size(design, parts, ledger, the_rails, the_coil)
    the_clamp = ClampResult(
        kind="diode", law=DIODE, v_knee=0.5, v_switch_peak=the_rails.v_max + v_clamp
    )
    the_pickup = pickup.size(design, parts, ledger, the_rails, the_coil, second, the_linkage,
                             the_emf, the_drive, the_clamp)  # fmt: skip
    the_filter = filter_stage.size(design, parts, ledger, the_rails, the_coil, the_movement,
                                   the_emf, the_drive, the_pickup)  # fmt: skip
    the_pulse = cast(
        PulseResult,
        SimpleNamespace(
            width=width,
            delay=0.0,
            t_on=the_filter.event_time + 0.001,
            fresh=outcome(t_zero, v_clamp),
            spent=outcome(t_zero, v_clamp),
        ),
    )
    the_timing = timing.size(design, parts, ledger, the_rails, the_movement, the_emf, the_pickup,
                             the_filter, the_pulse)  # fmt: skip
    return Heard(design, ledger, the_pickup, the_filter, the_timing)
