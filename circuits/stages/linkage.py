"""Linkage: flux through the winding, and its slope, along the magnet's path."""

from dataclasses import dataclass

from calc.linkage_curve import LinkageCurve


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkageResult:
    """Linkage of the drive coil, and of the pickup coil if there is one, at their terminals.

    The path coordinate is measured along the path from the drive coil's axis.
    """

    drive: LinkageCurve
    pickup: LinkageCurve | None
    mutual: float
    axis: str
    slope_peak_low: float
    slope_peak_high: float
