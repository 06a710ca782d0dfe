"""Templates in true size: cheeks, gap gauge and arc scale, with bars to check the printer."""

from circuits.format_quantity import show, significant
from circuits.report.arc_scale import arc_scale
from circuits.report.ink import LIGHT
from circuits.report.markup import Markup, join, tag
from circuits.report.true_size import TEXT, WIDE, circle, line, says, true_sheet
from circuits.sheet import Sheet
from circuits.stage_pass import StagePass
from circuits.stages.coil import CoilResult
from circuits.stages.linkage import LinkageResult

BAR = 100.0
RIM = 1.0
"""How far a cheek stands out beyond the winding [mm]."""
STRIP = 60.0
SLACK = 0.25e-3
"""m; how exactly a gap is set by a strip of card, where the file states no tolerance."""


def bars() -> Markup:
    """Return two bars of known length, to check what the printer makes of them."""
    pieces = [line(4, 8, 4 + BAR, 8, width=0.4), line(4, 8, 4, 8 + BAR, width=0.4)]
    for millimetre in range(int(BAR) + 1):
        long = 4.0 if millimetre % 10 == 0 else 2.5 if millimetre % 5 == 0 else 1.5
        pieces.append(line(4 + millimetre, 8, 4 + millimetre, 8 + long, width=0.15))
        pieces.append(line(4, 8 + millimetre, 4 + long, 8 + millimetre, width=0.15))
    for ten in range(10, int(BAR) + 1, 10):
        pieces.append(says(4 + ten, 16, str(ten), anchor="middle"))
        pieces.append(says(10, 9.2 + ten, str(ten)))
    return true_sheet(
        "template-bars", "Bars to check the printer",
        "Print at 100 %, not fitted to the page. Both bars must measure 100 mm; if they do not, "
        "throw the templates away.", 112, 112, *pieces,
    )  # fmt: skip


def cheeks(done: StagePass, stage: str, mark: str) -> Markup | None:
    """Return the two cheeks of a bobbin; None where there is no such coil, or it is too large."""
    coil: CoilResult | None = done.result(stage)
    if coil is None:
        return None
    core, outer = 1e3 * coil.r_inner, 1e3 * coil.r_outer + RIM
    if 2 * outer + 8 > WIDE:
        return None
    beside = 4 * outer + 16 <= WIDE
    centres = [(outer + 4, outer + 4)]
    centres.append((3 * outer + 10, outer + 4) if beside else (outer + 4, 3 * outer + 10))
    pieces: list[Markup] = []
    for (x, y), side in zip(centres, ("inner side up", "outer side up"), strict=True):
        cross = min(3.0, 0.5 * core)
        label = f"{mark}, {side}" if outer > 16 else side.partition(" ")[0]
        pieces += [
            circle(x, y, outer),
            circle(x, y, core, dashes="2 1.2"),
            line(x - cross, y, x + cross, y),
            line(x, y - cross, x, y + cross),
            line(x + core, y, x + core + 2.5, y, width=0.6),
            says(
                x,
                2 * outer + 4 + TEXT + 2 if beside else y + core + TEXT + 1.5,
                label,
                anchor="middle",
            ),
        ]
    width = max(x for x, _ in centres) + outer + 4
    height = max(y for _, y in centres) + outer + (10 if beside else 4)
    across = significant(2 * outer)
    return true_sheet(
        f"template-cheeks-{stage.replace('_', '-')}", f"Cheeks of the bobbin {mark}",
        f"Cut along the full circle, {across} mm across; glue the core of "
        f"{show(2 * coil.r_inner, 'm')} onto the dashed one, {show(coil.height, 'm')} between the "
        "cheeks. The short line is the slot for the start of the wire.", width, height, *pieces,
    )  # fmt: skip


def gap_gauge(done: StagePass) -> Markup:
    """Return strips as high as the gap, a little less and a little more."""
    linkage: LinkageResult = done.result("linkage")
    flange = done.design.magnet.flange or 0.0
    gap = linkage.gap - flange
    slack = done.design.tolerance.gap or SLACK
    slack = min(slack, 0.5 * gap)
    pieces: list[Markup] = []
    y = 4.0
    for height, what in (
        (gap - slack, "must pass freely"), (gap, "just touches"), (gap + slack, "must not pass"),
    ):  # fmt: skip
        tall = 1e3 * height
        pieces.append(
            tag("rect", x=4, y=y, width=STRIP, height=tall, fill="none", stroke=LIGHT["ink"],
                stroke_width=0.2, class_="s-ink")
        )  # fmt: skip
        label = f"{significant(1e3 * height)} mm: {what}"
        pieces.append(says(4 + STRIP + 4, y + tall / 2 + 1.1, label))
        y += max(tall, TEXT) + 5
    to = "the bobbin's cheek" if flange else "the winding's face"
    return true_sheet(
        "template-gap", "Gap gauge",
        f"Cut the strips out of stiff card and stand them between magnet and {to}, in the middle "
        f"of the swing: the gap is {show(gap, 'm')}.", 124, y, *pieces,
    )  # fmt: skip


def templates(sheet: Sheet, done: StagePass) -> Markup:
    """Return every template of this design."""
    every = [
        bars(),
        gap_gauge(done),
        arc_scale(sheet, done),
        cheeks(done, "coil", "L1"),
        cheeks(done, "pickup_coil", "L2"),
    ]
    return join(
        tag("p", "These drawings are in true size on paper. Print the pages at 100 %, without "
            "fitting them to the paper, and check the bars with a ruler before you cut."),
        *every,
    )  # fmt: skip
