"""Invented results of earlier stages, for tests of one stage alone."""

import numpy as np

from calc.linkage_curve import LinkageCurve
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.design_file import parse_design
from circuits.ledger import Ledger
from circuits.stages import movement
from circuits.stages.energy import Drain, EnergyResult
from circuits.stages.linkage import LinkageResult
from circuits.stages.movement import MovementResult
from circuits.stages.rails import Rail, Rails


def bell_linkage(width: float = 0.011) -> LinkageResult:
    """A linkage of Gaussian shape, steepest at `width` from the axis; invented."""
    path = np.linspace(-8, 8, 161) * width
    u = path / width
    flux = 2e-3 * np.exp(-(u**2) / 2)
    curve = LinkageCurve(
        path=path,
        node_flux=flux,
        node_slope=-u * flux / width,
        node_curvature=(u**2 - 1) * flux / width**2,
    )
    return LinkageResult(
        drive=curve,
        pickup=None,
        mutual=0.0,
        axis="coil",
        slope_peak_low=0.9 * curve.slope_peak,
        slope_peak_high=1.1 * curve.slope_peak,
    )


MAGNET = """
[magnet]
shape = "cylinder"
diameter = "9 mm"
height = "6 mm"
grade = "N42"
gap = "3.5 mm"
"""
MOVEMENT = """
[movement]
period = "1.3 s"
"""


def design_of(text: str) -> Design:
    """Read a design file's text; a magnet and a movement are added where it has none."""
    whole = text
    for heading, section in (("[magnet]", MAGNET), ("[movement]", MOVEMENT)):
        if heading not in text:
            whole += section
    return parse_design(whole, "invented.toml")


def moved(text: str, width: float = 0.011) -> tuple[MovementResult, Ledger]:
    """Run the movement stage alone on a design file's text."""
    design = design_of(text)
    ledger = Ledger()
    return movement.size(design, Catalogue(), ledger, bell_linkage(width)), ledger


def rails_of(n_series: int, cutoff: float) -> Rails:
    """Plain rails of alkaline cells in series."""
    fresh = Rail(
        state="fresh", v_coil=1.6 * n_series, v_logic=1.6 * n_series, r_source=0.2 * n_series
    )
    spent = Rail(
        state="spent", v_coil=cutoff * n_series, v_logic=cutoff * n_series, r_source=n_series
    )
    return Rails(
        fresh=fresh, spent=spent, v_max=1.65 * n_series, n_series=n_series, cutoff_per_cell=cutoff
    )


def energy_of(i_fresh: float, i_spent: float) -> EnergyResult:
    """A mean demand of two consumers, the first the larger."""
    shares = (("drive", "coil", 0.8), ("divider", "divider", 0.2))
    drains = tuple(
        Drain(name=name, words=words, i_fresh=part * i_fresh, i_spent=part * i_spent)
        for name, words, part in shares
    )
    return EnergyResult(drains=drains, i_mean=i_fresh, i_mean_spent=i_spent)
