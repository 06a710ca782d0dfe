"""Ring-down: quality factor, its law of loss, period and its dependence on the arc, jitter."""

from math import pi

import numpy as np
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError
from calc.fit_beats import fit_free_beats, period_of_arc
from calc.fit_decay import SURE, Decay, fit_decay
from circuits.captures.measured import SPAN, Against, Asked, Measured
from circuits.captures.ringdown_pictures import draw_sizes, draw_times
from circuits.captures.swings import NOTED, Swings, swings_of
from circuits.errors import DesignFileError
from circuits.format_quantity import percent, show, show_range, significant

Array = NDArray[np.float64]
DEFINITION = "A = A0 exp(-pi n/Q), n whole periods to and fro"
SHALLOW = 0.8
"""A swing that has kept more of its arc than this tells little of its law of loss."""
LEAST_FALL = 1e-4
"""A fall that is a smaller share of the arc than this may be rounding."""
LEAST_SHORTENING = 5e-5
"""A period that shortens by less may do so for warmth: a steel rod takes 6e-6 for each kelvin."""


def read_ringdown(measured: Measured, asked: Asked, against: Against | None) -> None:
    """Enter what a free swing tells.

    Parameters
    ----------
    measured : Measured
        The capture, and what it has told.
    asked : Asked
        What the maker says of it.
    against : Against or None
        The design.

    Raises
    ------
    DesignFileError
        Where the capture holds no free swing.
    """
    try:
        swings = swings_of(measured.capture, asked, against)
    except OutOfRangeError as error:
        raise _refused(measured, error) from error
    measured.text("measured.how", swings.how, "how the arc was seen", "told by the columns")
    _count_words(measured, swings, asked)
    if swings.sizes is None:
        _from_times(measured, swings, asked, against)
    else:
        _from_sizes(measured, swings, swings.sizes, asked, against)
    if asked.coil is None:
        measured.mind(
            "ringdown.coil",
            "Whether the coil was open is not said: a coil with divider and clamp brakes too.",
            "Say --coil open or --coil connected; repeat a ring-down that was taken connected.",
        )
    elif asked.coil == "connected":
        measured.mind(
            "ringdown.coil", "Taken with the coil connected, the loss holds its braking as well.",
            "Repeat it with the coil's leads open before writing it into the design.",
        )  # fmt: skip


def _refused(measured: Measured, error: OutOfRangeError) -> DesignFileError:
    reason, _, repair = str(error).partition(";")
    return DesignFileError(
        file=measured.capture.file, found=f"no ring-down that can be used ({reason.strip()})",
        wanted=repair.strip() or "record a free swing",
    )  # fmt: skip


def _count_words(measured: Measured, swings: Swings, asked: Asked) -> None:
    if swings.certain:
        return
    taken = "beats (two a period)" if asked.count != "periods" else "whole periods"
    measured.unknown(
        "ringdown.count",
        f"The file does not say whether its events are beats or whole periods; they are taken as "
        f"{taken}. If they are the other, quality factor and period change by a factor of two.",
        "Say --beats or --periods, or give --design FILE, whose period decides it.",
    )


def _from_times(measured: Measured, swings: Swings, asked: Asked, against: Against | None) -> None:
    """Enter what crossing times alone tell."""
    assert swings.times is not None
    try:
        found = fit_free_beats(times=swings.times, beats=swings.beats)
    except OutOfRangeError as error:
        raise _refused(measured, error) from error
    clock = asked.clock_error or 0.0
    measured.figure(
        "movement.period", found.period,
        "s", "period, to and fro, at the smallest arc", "fit of all crossing times",
        sigma=float(np.hypot(found.period_sigma, clock * found.period / SPAN)),
    )  # fmt: skip
    measured.figure(
        "measured.jitter", found.jitter, "s", "scatter of one crossing about the fit",
        "root mean square of what the fit leaves over",
    )  # fmt: skip
    _say_jitter(measured, found.jitter, found.period)
    balance = against is not None and against.design.movement.kind == "balance"
    if balance or not found.arc_seen:
        measured.unknown(
            "ringdown.q_factor",
            "These times alone do not show the arc, so nothing is known of the quality factor: "
            "it is not in the scatter of the periods.",
            "Record the arc as well: the height of the coil's EMF, the time that a flag covers a "
            "gate, or a crossing beside the middle.",
        )
        draw_times(measured, swings)
        return
    q_factor = pi / found.share
    sigma = q_factor * found.share_sigma / found.share
    measured.figure(
        "movement.quality_factor", q_factor, "1", "quality factor", DEFINITION, sigma=sigma
    )
    square, square_sigma = found.arc_squared, found.arc_squared_sigma
    if square > 4 * square_sigma:
        arc = float(np.sqrt(square))
        measured.figure(
            "measured.arc_start", arc, "rad", "arc at the first crossing",
            "from the period's circular error", sigma=square_sigma / (2 * arc),
        )  # fmt: skip
    beside = abs(found.unevenness) > 4 * found.unevenness_sigma
    by = (
        "the sensor's place beside the middle" if beside
        else "the period, which shortens as the arc falls"
    )  # fmt: skip
    measured.good(
        "ringdown.q_factor",
        f"Quality factor {significant(q_factor, 4)} +- {significant(SPAN * sigma, 2)} from the "
        f"times alone, by {by}, over {found.beats / 2:g} periods; defined by {DEFINITION}.",
    )
    shorter = square / 16 * -float(np.expm1(-found.share * found.beats))
    if beside or shorter > LEAST_SHORTENING:
        _write_back(measured, q_factor, SPAN * sigma, found.period)
    else:
        measured.mind(
            "ringdown.shortening",
            f"The period changed by {significant(1e6 * shorter, 2)} parts in a million only: a few "
            "degrees at the rod do as much, so the quality factor may be theirs.",
            "Let it swing wider, or record the arc as well; until then it is not written into a "
            "design.",
        )
    draw_times(measured, swings)


def _say_jitter(measured: Measured, jitter: float, period: float) -> None:
    measured.good(
        "ringdown.jitter",
        f"One crossing scatters by {show(jitter, 's')} ({significant(jitter / period, 2)} of the "
        "period): this is timing noise, and no quality factor follows from it.",
    )


def _from_sizes(
    measured: Measured, swings: Swings, sizes: Array, asked: Asked, against: Against | None
) -> None:
    """Enter what sizes in proportion to the arc tell."""
    assert swings.weights is not None
    periods = swings.beats / 2
    decay: Decay | None = None
    try:
        decay = fit_decay(periods=periods, arcs=sizes, weights=swings.weights)
    except OutOfRangeError as error:
        if "must fall" not in str(error):
            raise _refused(measured, error) from error
        measured.unknown(
            "ringdown.q_factor",
            "The arc does not fall: this is no free swing, so nothing is known of its loss.",
            "Switch the drive off, push by hand and record until the arc has halved.",
        )
    arc = _reference(swings, sizes, against)
    if decay is not None:
        _enter_decay(measured, swings, sizes, decay, arc)
    period = _enter_period(measured, swings, sizes, decay, asked, against)
    if decay is not None and _known(swings, decay, arc):
        _write_back(measured, decay.q_factor(arc), SPAN * _q_sigma(swings, decay, arc), period)
    draw_sizes(measured, swings, sizes, decay)


def _reference(swings: Swings, sizes: Array, against: Against | None) -> float:
    """Return the arc at which the quality factor is quoted: the wanted one if it was swept."""
    middle = float(np.sqrt(sizes[0] * sizes[-1]))
    if swings.unit == "rad" and against is not None:
        wanted = against.done.ledger.values.get("movement.arc")
        if wanted is not None and not isinstance(wanted.value, str):
            arc = float(wanted.value)
            if sizes.min() <= arc <= sizes.max():
                return arc
    return middle


def _q_sigma(swings: Swings, decay: Decay, arc: float) -> float:
    """Return the quality factor's standard deviation: of the fit, and of what the sizes are."""
    return float(np.hypot(decay.q_sigma(arc), swings.doubt * decay.q_factor(arc)))


def _known(swings: Swings, decay: Decay, arc: float) -> bool:
    """Return whether the fall stands out of scatter and rounding, so that a loss follows."""
    loss = decay.loss_share(arc)
    span = float(np.ptp(swings.beats)) / 2
    return loss * span > LEAST_FALL and decay.q_sigma(arc) * SURE < decay.q_factor(arc)


def _enter_decay(
    measured: Measured, swings: Swings, sizes: Array, decay: Decay, arc: float
) -> None:
    span = float(np.ptp(swings.beats)) / 2
    if not _known(swings, decay, arc):
        measured.unknown(
            "ringdown.q_factor",
            f"In {span:g} periods the arc hardly falls beside its scatter: the quality factor is "
            "not known.", "Record longer, until the arc has halved.",
        )  # fmt: skip
        return
    q_factor, sigma = decay.q_factor(arc), _q_sigma(swings, decay, arc)
    shown_arc = f" at {show(arc, 'rad')}" if swings.unit == "rad" else ""
    measured.figure(
        "movement.quality_factor", q_factor, "1", f"quality factor{shown_arc}", DEFINITION,
        sigma=sigma,
    )  # fmt: skip
    kept = float(decay.arc(np.array([swings.beats[-1] / 2]))[0]) / decay.arc_start
    measured.figure(
        "measured.arc_kept", kept, "1", "share of the arc at the end of the record",
        "fitted arc at the end over the one at the start",
    )  # fmt: skip
    rule = f"counted from the {'arcs' if swings.how == NOTED else 'crossings'}"
    measured.figure("measured.periods", span, "1", "whole periods recorded", rule)
    if swings.unit == "rad":
        measured.figure(
            "measured.arc_start", decay.arc_start, "rad", "arc at the first crossing counted",
            "of the fitted law",
            sigma=decay.arc_start_sigma,
        )  # fmt: skip
    law = {"viscous": "drag that grows with speed",
           "dry": "drag that grows with speed, and dry friction",
           "square": "drag that grows with speed, and turbulent air"}[decay.law]  # fmt: skip
    measured.text("measured.law", law, "what takes the arc away", "the simplest law that fits")
    first, last = float(sizes[0]), float(decay.arc(np.array([swings.beats[-1] / 2]))[0])
    text = (
        f"Quality factor {significant(q_factor, 4)} +- {significant(SPAN * sigma, 2)}{shown_arc} "
        f"from {span:g} periods in which the arc fell to {percent(kept)}; defined by {DEFINITION}."
    )
    measured.good("ringdown.q_factor", text)
    _say_law(measured, decay, first, max(last, 1e-12 * first))
    if kept > SHALLOW:
        measured.mind(
            "ringdown.fall", f"The arc kept {percent(kept)}: dry friction and drag look alike in "
            "so small a fall.", "Record until the arc has fallen to a third.",
        )  # fmt: skip
    if decay.structure > 0.6:
        measured.mind(
            "ringdown.shape",
            "What the law leaves over is not noise: neighbouring residuals go together "
            f"(correlation {significant(decay.structure, 2)}), so the loss depends on the arc in "
            "another way too; the spans given are widened for it.",
            "Look at the picture: a draught, a loose support or an iron part near the swing?",
        )


def _say_law(measured: Measured, decay: Decay, first: float, last: float) -> None:
    share, bound = decay.step / first, SPAN * decay.step_sigma / first
    measured.figure(
        "measured.dry_share", share, "1",
        "arc lost to dry friction in a period, as a share of the first arc",
        "fit of a constant step beside the share",
        sigma=decay.step_sigma / first,
    )  # fmt: skip
    if decay.law == "viscous":
        most = max(share + bound, 0.0)
        measured.good(
            "ringdown.law",
            "The arc falls by the same share each period: drag that grows with speed explains it "
            f"all; dry friction takes at most {percent(most)} of the first arc a period, of "
            f"{percent(decay.loss_share(first))} in all.",
        )
        return
    one, two = decay.q_factor(first), decay.q_factor(last)
    measured.figure("measured.q_first", one, "1", "quality factor at the first arc", DEFINITION)
    measured.figure("measured.q_last", two, "1", "quality factor at the last arc", DEFINITION)
    second = "dry friction" if decay.law == "dry" else "turbulent air"
    at_first = (share if decay.law == "dry" else decay.square * first) / decay.loss_share(first)
    told = "" if decay.likeness < 0.98 else (
        " The two losses are much alike in this record: their sum is known better than each."
    )  # fmt: skip
    measured.mind(
        "ringdown.law",
        f"Beside drag that grows with speed, {second} takes {percent(at_first)} of the loss at the "
        f"first arc: the quality factor runs from {significant(one)} there to {significant(two)} "
        f"at the last, so one number holds at one arc only.{told}",
        "Clean and oil, or renew the pivot or edge." if decay.law == "dry" else "",
    )


def _enter_period(
    measured: Measured, swings: Swings, sizes: Array, decay: Decay | None, asked: Asked,
    against: Against | None,
) -> float | None:  # fmt: skip
    """Enter period, its dependence on the arc and the jitter; None where no times are known."""
    if swings.times is None:
        return None
    arcs = sizes if decay is None else np.maximum(decay.arc(swings.beats / 2), 1e-9 * sizes.max())
    try:
        line = period_of_arc(times=swings.times, beats=swings.beats, arcs=arcs)
    except OutOfRangeError as error:
        raise _refused(measured, error) from error
    clock = asked.clock_error or 0.0
    measured.figure(
        "movement.period", line.period, "s", "period, to and fro, at the smallest arc",
        "fit of all crossing times", sigma=float(np.hypot(line.period_sigma,
                                                          clock * line.period / SPAN)),
    )  # fmt: skip
    measured.figure(
        "measured.jitter", line.jitter, "s", "scatter of one crossing about the fit",
        "root mean square of what the fit leaves over",
    )  # fmt: skip
    _say_jitter(measured, line.jitter, line.period)
    if swings.unit == "rad":
        _say_bend(measured, line.bend, line.bend_sigma, against)
    else:
        grown = line.bend * float(arcs[0]) ** 2
        measured.figure(
            "measured.period_growth", grown, "1",
            "how much longer the period is at the first arc than at none",
            "fit of all crossing times", sigma=line.bend_sigma * float(arcs[0]) ** 2,
        )  # fmt: skip
    return line.period


def _say_bend(measured: Measured, bend: float, sigma: float, against: Against | None) -> None:
    measured.figure(
        "measured.period_bend", bend, "1", "relative growth of the period with the arc squared",
        "fit of all crossing times", sigma=sigma,
    )  # fmt: skip
    if against is not None and against.design.movement.kind == "balance":
        return
    low, high = bend - SPAN * sigma, bend + SPAN * sigma
    if low <= 1 / 16 <= high:
        measured.good(
            "ringdown.bend", "The period grows with the arc as a free pendulum's does: "
            f"{show_range(low, high, '1')} of the arc squared, 0.0625 by gravity alone.",
        )  # fmt: skip
    else:
        measured.mind(
            "ringdown.bend",
            f"The period grows with {show_range(low, high, '1')} of the arc squared; gravity alone "
            "gives 0.0625. A suspension spring, a magnet or iron near the swing does that, or the "
            "arc's scale is off.",
            "Check the arc's scale; then let `follow` and [rate] measured_slope carry the sign.",
        )


def _write_back(measured: Measured, q_factor: float, span: float, period: float | None) -> None:
    measured.change("movement", "quality_factor", significant(q_factor, 4))
    measured.change("tolerance", "quality_factor", significant(max(span / q_factor, 1e-4), 2))
    if period is None:
        return
    measured.change("movement", "period", f"{period:.9g} s")
