"""Widths of a steered movement: the correction that the loop holds, and the lag that it takes."""

from circuits.captures.measured import Against, Measured
from circuits.format_quantity import DAY, show
from circuits.stages.steering_loop import SteeringResult

NEAR = 0.02
"""A mean width within this share of the room from a limit leaves the loop no room."""


def enter_steered(
    measured: Measured, mean: float, span: tuple[float, float], against: Against | None
) -> None:
    """Enter what rate the mean width holds against, and the lag without the summed part.

    Parameters
    ----------
    measured : Measured
        What the log has told.
    mean : float
        Mean width of the log [s].
    span : tuple of float
        Its low and high [s].
    against : Against or None
        The design; nothing is entered if it steers nothing.
    """
    loop = None if against is None else against.done.result("steering")
    if not isinstance(loop, SteeringResult):
        return
    wider = mean - loop.width_now
    corrected, one, other = (loop.rate_at(w) - loop.rate_now for w in (mean, *span))
    measured.figure(
        "measured.width_held", wider, "s", "mean width over the design's own",
        "mean of the log less drive.pulse_width",
        low=span[0] - loop.width_now, high=span[1] - loop.width_now,
    )  # fmt: skip
    measured.figure(
        "measured.rate_corrected", DAY * corrected, "s/day",
        "rate that the loop adds by that width", "the design's settled rate at both widths",
        low=DAY * min(one, other), high=DAY * max(one, other),
    )  # fmt: skip
    lags = sorted((w - loop.width_now) / loop.kp for w in span)
    measured.figure(
        "measured.locked_lag", wider / loop.kp, "s",
        "lag at which a loop without its summed part would hold this width",
        "width over the design's own / kp", low=lags[0], high=lags[1],
    )  # fmt: skip
    does = "gain" if corrected < 0 else "lose"
    measured.good(
        "log.steered",
        f"The loop holds a pulse {show(abs(wider), 's')} {'wider' if wider > 0 else 'narrower'} "
        f"than the design's own: left alone at that one the movement would {does} "
        f"{show(abs(DAY * corrected), 's/day')} more than it does. The summed part of the loop "
        f"carries this; without it the movement would stay {show(abs(wider / loop.kp), 's')} "
        f"{'behind' if wider / loop.kp > 0 else 'ahead'}.",
    )
    room = NEAR * (loop.width_max - loop.width_min)
    if not loop.width_min + room < mean < loop.width_max - room:
        measured.mind(
            "log.steered_limit",
            f"The mean width of {show(mean, 's')} is at a limit of the loop, "
            f"{show(loop.width_min, 's')} to {show(loop.width_max, 's')}: it cannot correct "
            "further to that side.",
            "Turn the nut, so that the loop works amid its reach.",
        )
