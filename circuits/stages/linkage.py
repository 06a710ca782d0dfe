"""Linkage: flux through the winding, and its slope, along the magnet's path."""

from dataclasses import dataclass

import numpy as np

from calc.inductance import coupling_factor, offset_mutual_inductance
from calc.linkage import straight_linkage
from calc.linkage_curve import LinkageCurve
from calc.linkage_parts import MagnetShape, WindingShape
from circuits.catalogue import Catalogue
from circuits.design import Design
from circuits.format_quantity import percent, show, significant
from circuits.ledger import Basis, Ledger, Severity
from circuits.stages import magnet as magnet_stage
from circuits.stages.coil import CoilResult
from circuits.stages.magnet import MagnetResult
from circuits.stages.magnet_path import (
    MagnetPath,
    check_clearance,
    check_pickup,
    gap_of,
    path_of,
)

MILLIMETRE = 1e-3
STEEP = 0.25
"""A millimetre of gap that changes the slope by more than this wants a screw to set it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkageResult:
    """Linkage of the drive coil, and of the pickup coil if there is one, at their terminals.

    The path coordinate is measured along the path from the drive coil's axis. `slope_low` and
    `slope_high` are the least and greatest slope as shares of the typical one.
    """

    drive: LinkageCurve
    pickup: LinkageCurve | None
    mutual: float
    axis: str
    slope_peak_low: float
    slope_peak_high: float
    gap: float = 0.0
    pickup_gap: float | None = None
    plane: str = "arc"

    @property
    def slope_low(self) -> float:
        """The least slope as a share of the typical one."""
        return self.slope_peak_low / self.drive.slope_peak

    @property
    def slope_high(self) -> float:
        """The greatest slope as a share of the typical one."""
        return self.slope_peak_high / self.drive.slope_peak


@dataclass(frozen=True, slots=True, kw_only=True)
class _Share:
    """Linkage on the axis and greatest slope as shares of the typical ones."""

    on_axis: float
    slope: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _OtherGaps:
    """What another gap does, on a straight path: the bend cancels to a part in a thousand."""

    magnet: MagnetShape
    winding: WindingShape
    gap: float
    here: LinkageCurve

    def at(self, gap: float) -> _Share:
        """Return the shares at another gap."""
        there = straight_linkage(magnet=self.magnet, winding=self.winding, gap=gap)
        return _Share(
            on_axis=1.0 if self.magnet.lying else there.on_axis / self.here.on_axis,
            slope=there.slope_peak / self.here.slope_peak,
        )

    @property
    def step(self) -> float:
        """How much narrower a gap is tried: a millimetre, where there is room for it."""
        return MILLIMETRE if self.gap > 1.2 * MILLIMETRE else self.gap / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class _Around:
    """The shares at a wider and a narrower gap, and between them."""

    others: _OtherGaps
    far: _Share
    near: _Share

    def at(self, wider: float) -> _Share:
        """Return the shares with the gap so much wider; outside the two it is computed anew."""
        step = self.others.step
        if not -step <= wider <= MILLIMETRE:
            return self.others.at(max(self.others.gap + wider, 0.1 * self.others.gap))

        def between(far: float, near: float) -> float:
            # The logarithm bends little: the parabola through three gaps is good to 0.1 %.
            up, down = np.log(far), np.log(near)
            slopes = up / MILLIMETRE, -down / step
            bend = (slopes[0] - slopes[1]) / (MILLIMETRE + step)
            return float(np.exp(wider * (slopes[0] + bend * (wider - MILLIMETRE))))

        return _Share(
            on_axis=between(self.far.on_axis, self.near.on_axis),
            slope=between(self.far.slope, self.near.slope),
        )


def size(
    design: Design,
    catalogue: Catalogue,
    ledger: Ledger,
    coil: CoilResult,
    pickup_coil: CoilResult | None,
) -> LinkageResult:
    """Return the linkage of the magnet with the windings, and enter it into the sheet.

    Parameters
    ----------
    design : Design
        The design file.
    catalogue : Catalogue
        The magnet grades.
    ledger : Ledger
        The sheet.
    coil : CoilResult
        The drive coil.
    pickup_coil : CoilResult or None
        The separate pickup coil.

    Returns
    -------
    linkage : LinkageResult

    Raises
    ------
    DesignFileError
        Where magnet, gap or path cannot be used.
    """
    magnet = magnet_stage.size(design, catalogue, ledger)
    path = path_of(design, ledger, coil.sides)
    gap = gap_of(design)
    slack = _gap_tolerance(design, gap)
    check_clearance(design, ledger, path, magnet.shape, gap=gap, slack=slack)
    check_pickup(design, path, magnet.shape)
    winding = _shape(coil)
    # The winding's sense is the maker's choice: taken so that the driven pass is driven.
    attract = design.drive.polarity == "attract"
    sense = -1.0 if magnet.shape.lying and attract else 1.0
    drive = path.curve(magnet.shape, winding, gap, 0.0).scaled(sense * coil.linkage_factor)
    others = _OtherGaps(
        magnet=magnet.shape, winding=winding, gap=gap,
        here=straight_linkage(magnet=magnet.shape, winding=winding, gap=gap),
    )  # fmt: skip
    around = _Around(
        others=others, far=others.at(gap + MILLIMETRE), near=others.at(gap - others.step)
    )
    low, high = _spread_of(magnet, around, slack)
    pickup, mutual = None, 0.0
    if pickup_coil is not None:
        pickup, mutual = _pickup(design, path, magnet, coil=coil, pickup_coil=pickup_coil)
        pickup = pickup.scaled(sense)
    result = LinkageResult(
        drive=drive, pickup=pickup, mutual=mutual,
        axis="motion" if magnet.shape.lying else "coil",
        slope_peak_low=drive.slope_peak * low.slope,
        slope_peak_high=drive.slope_peak * high.slope,
        gap=gap, pickup_gap=_own_gap(design), plane=path.plane,
    )  # fmt: skip
    _enter(ledger, result, low, high, spread=magnet.b_r_low < magnet.b_r_high or slack > 0)
    _enter_gap(ledger, around, result)
    if pickup_coil is not None and pickup is not None:
        _enter_pickup(ledger, result, coil, pickup_coil)
    _explain(ledger, result)
    return result


def _shape(coil: CoilResult) -> WindingShape:
    return WindingShape(
        n_turns=coil.n_turns, r_inner=coil.r_inner, r_outer=coil.r_outer, height=coil.height
    )


def _own_gap(design: Design) -> float | None:
    """Return the pickup coil's gap; the drive coil's unless it states one."""
    return None if design.pickup_coil is None else gap_of(design, design.pickup_coil.gap)


def _gap_tolerance(design: Design, gap: float) -> float:
    stated = design.stated_tolerance.get("magnet.gap")
    return stated * gap if stated is not None else design.tolerance.gap or 0.0


def _spread_of(magnet: MagnetResult, around: _Around, slack: float) -> tuple[_Share, _Share]:
    ends = []
    for b_r, wider in ((magnet.b_r_low, slack), (magnet.b_r_high, -slack)):
        share, there = b_r / magnet.shape.b_r, around.at(wider)
        ends.append(_Share(on_axis=share * there.on_axis, slope=share * there.slope))
    return ends[0], ends[1]


def _pickup(
    design: Design, path: MagnetPath, magnet: MagnetResult, *, coil: CoilResult,
    pickup_coil: CoilResult,
) -> tuple[LinkageCurve, float]:  # fmt: skip
    """Return the pickup coil's linkage and its mutual inductance with the drive's terminals."""
    keys = design.pickup_coil
    assert keys is not None
    gap = gap_of(design)
    own_gap = _own_gap(design) or gap
    position = keys.position or 0.0
    turned = -1.0 if keys.sense == "reversed" else 1.0
    winding = _shape(pickup_coil)
    curve = path.curve(magnet.shape, winding, own_gap, position).scaled(turned)
    one, apart = _shape(coil), path.apart(position)
    mutual = offset_mutual_inductance(one=one, other=winding, drop=own_gap - gap, position=apart)
    if coil.count == 2 and coil.sides == "both":
        # The far coil looks the other way: its face is one magnet and two gaps beyond.
        beyond = 2 * gap + magnet.shape.depth + coil.height
        far = offset_mutual_inductance(
            one=one, other=winding, drop=beyond + own_gap - gap, position=apart
        )
        mutual += -far if magnet.shape.lying else far
        mutual *= coil.linkage_factor / 2
    else:
        mutual *= coil.linkage_factor
    return curve, turned * mutual


def _enter(
    ledger: Ledger, result: LinkageResult, low: _Share, high: _Share, *, spread: bool
) -> None:
    curve = result.drive
    # An odd linkage is zero on the axis; what rounding leaves is not a figure.
    on_axis = curve.on_axis if abs(curve.on_axis) > 1e-9 * curve.slope_peak * result.gap else 0.0
    spans = spread and on_axis > 0
    rule = {
        "arc": "the winding's potential summed over the tilted magnet's poles",
        "face": "the winding's potential summed over the magnet's poles",
    }[result.plane]
    ledger.value(
        "linkage.on_axis", on_axis, "Wb", words="flux linkage, magnet on the coil's axis",
        basis=Basis.COMPUTED, rule=rule,
        low=on_axis * low.on_axis if spans else None,
        high=on_axis * high.on_axis if spans else None,
    )  # fmt: skip
    ledger.value(
        "linkage.slope_peak", curve.slope_peak, "Wb/m",
        words="greatest slope of the linkage: volts per m/s, and newtons per ampere",
        basis=Basis.COMPUTED, rule="EMF = speed x slope; force = current x slope",
        low=result.slope_peak_low if spread else None,
        high=result.slope_peak_high if spread else None,
    )  # fmt: skip
    ledger.value(
        "linkage.x_peak", curve.path_peak, "m",
        words="where the slope is greatest, from the coil's axis along the path",
        basis=Basis.COMPUTED, rule="zero of the linkage's curvature",
    )  # fmt: skip
    ledger.value(
        "linkage.lobes", curve.lobes, "1", words="lobes of the slope, and so of the EMF, in a pass",
        basis=Basis.COMPUTED, rule="those above a twentieth of the greatest",
    )  # fmt: skip
    ledger.value(
        "linkage.curvature_on_axis", curve.curvature_on_axis, "Wb/m^2",
        words="rise of the slope with distance from the axis", basis=Basis.COMPUTED,
        rule="second derivative of the linkage",
    )  # fmt: skip
    if result.axis == "motion" and curve.lobes > 2:
        heights = sorted(abs(height) for height in curve.lobe_heights)
        ledger.value(
            "linkage.side_lobe", heights[-2] / heights[-1], "1",
            words="side lobe against the main lobe", basis=Basis.COMPUTED,
            rule="ratio of the slope's peaks",
        )  # fmt: skip


def _enter_gap(ledger: Ledger, around: _Around, result: LinkageResult) -> None:
    gap, peak = result.gap, result.drive.slope_peak
    far = around.far.slope
    ledger.value(
        "linkage.slope_peak_far", far * peak, "Wb/m",
        words="greatest slope with a gap one millimetre wider", basis=Basis.COMPUTED,
        rule=f"gap {show(gap + MILLIMETRE, 'm')}, straight-path ratio",
    )  # fmt: skip
    ledger.value(
        "linkage.gap_share", 1 - far, "1", words="what a millimetre more gap costs",
        basis=Basis.COMPUTED, rule="1 - slope_peak_far / slope_peak",
    )  # fmt: skip
    nearer = ""
    if gap > 1.2 * MILLIMETRE:
        near = around.near.slope
        ledger.value(
            "linkage.slope_peak_near", near * peak, "Wb/m",
            words="greatest slope with a gap one millimetre narrower", basis=Basis.COMPUTED,
            rule=f"gap {show(gap - MILLIMETRE, 'm')}, straight-path ratio",
        )  # fmt: skip
        nearer = f", and a millimetre less adds {percent(near - 1)}"
    steep = 1 - far > STEEP
    ledger.say(
        "linkage.gap", Severity.MIND if steep else Severity.GOOD,
        f"A millimetre more gap takes {percent(1 - far)} off signal and push{nearer}.",
        remedy="Measure the gap with a feeler of known thickness, and make it adjustable."
        if steep else "",
        value=1 - far, unit="1",
    )  # fmt: skip


def _enter_pickup(
    ledger: Ledger, result: LinkageResult, coil: CoilResult, pickup_coil: CoilResult
) -> None:
    assert result.pickup is not None
    ledger.value(
        "linkage.pickup_slope_peak", result.pickup.slope_peak, "Wb/m",
        words="greatest slope of the pickup coil's linkage: volts per m/s", basis=Basis.COMPUTED,
        rule="as the drive coil's, at its own gap and place",
    )  # fmt: skip
    ledger.value(
        "linkage.pickup_x_peak", result.pickup.path_peak, "m",
        words="where that slope is greatest, from the pickup coil's axis", basis=Basis.COMPUTED,
        rule="zero of the linkage's curvature",
    )  # fmt: skip
    ledger.value(
        "linkage.mutual", result.mutual, "H",
        words="mutual inductance of drive and pickup coil", basis=Basis.COMPUTED,
        rule="quadrature over two windings of evenly spread turns",
    )  # fmt: skip
    if result.mutual**2 < coil.l_coil * pickup_coil.l_coil:
        ledger.value(
            "linkage.coupling", coupling_factor(
                mutual=result.mutual, l_one=coil.l_coil, l_other=pickup_coil.l_coil
            ), "1", words="coupling factor of the two coils", basis=Basis.COMPUTED,
            rule="M / sqrt(L1 L2)",
        )  # fmt: skip


def _explain(ledger: Ledger, result: LinkageResult) -> None:
    curve = result.drive
    if result.axis == "coil":
        ledger.say(
            "linkage.dead_centre", Severity.GOOD,
            "With the magnet on the coil's axis there is neither EMF nor push, whatever the "
            f"current: both are greatest {show(curve.path_peak, 'm')} beside it, so a pulse "
            "centred on the crossing does nothing.",
        )  # fmt: skip
        if curve.lobes > 2:
            ledger.say(
                "linkage.lobes", Severity.MIND,
                f"The winding is wide beside this magnet, so a pass has {curve.lobes} lobes: the "
                "signal crosses zero beside the coil's axis too, and the push turns round there.",
                remedy="Take a winding no wider inside than the magnet, a wider magnet or a wider "
                "gap.",
                value=float(curve.lobes), unit="1",
            )  # fmt: skip
        return
    side = sorted(abs(height) for height in curve.lobe_heights)
    share = side[-2] / side[-1] if len(side) > 1 else 0.0
    places = sorted(abs(where - curve.centre) for where in curve.lobe_paths)
    turn = places[1] if len(places) > 1 else 0.0
    ledger.say(
        "linkage.dead_centre", Severity.GOOD,
        "With the magnet's axis along the motion EMF and push are greatest on the coil's axis and "
        f"turn round beside it (side lobes of {significant(share, 2)} at {show(turn, 'm')}); the "
        "EMF's sign follows the direction and the push does not, so drive one pass of two.",
    )  # fmt: skip
