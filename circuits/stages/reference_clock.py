"""The crystal that the movement is judged by, against the error that is allowed."""

from calc.rate import crystal_rate
from circuits.design import Design
from circuits.format_quantity import DAY, show, significant
from circuits.ledger import Basis, Change, Ledger, Severity
from circuits.temperature_span import span_of

COEFFICIENT = -0.035e-6
TURNOVER = 298.15
SOURCE = "makers' sheets of 32.768 kHz tuning forks: -0.030 and -0.035 ppm/K^2, turnover 25 degC"


def judge(design: Design, ledger: Ledger) -> float | None:
    """Return the crystal's largest error as a ratio, None where its tolerance is not stated."""
    tolerance = design.controller.crystal_tolerance
    allowed = design.rate.allowed_error
    if tolerance is None:
        if allowed is not None:
            ledger.say(
                "rate.reference",
                Severity.MEASURE,
                f"The rate shall stay within {show(allowed, 's/day')}, but nothing is said of the "
                "crystal that judges it.",
                remedy="State crystal_tolerance in [controller] from its sheet (20 ppm is 20e-6), "
                "or compare it with a time signal over a week.",
            )
        return None
    bent = _bent(design, ledger)
    error = tolerance + bent
    ledger.value(
        "rate.reference", DAY * error, "s/day",
        words="largest error of the crystal that the movement is judged by",
        basis=Basis.STATED if not bent else Basis.COMPUTED,
        rule="crystal_tolerance" if not bent
        else "crystal_tolerance and 0.035 ppm/K^2 at the far end of the temperature span",
    )  # fmt: skip
    if allowed is None:
        return error
    room = allowed / DAY - bent
    ledger.at_most(
        "rate.reference",
        DAY * error,
        allowed,
        "s/day",
        f"The crystal may be {show(DAY * error, 's/day')} wrong ({significant(1e6 * tolerance)} "
        f"ppm as bought{f', {significant(1e6 * bent)} ppm by temperature' if bent else ''}), "
        f"{show(allowed, 's/day')} is allowed: no steering is better than what it compares with.",
        remedy="Trim the crystal against a time signal, take a compensated one, or allow more.",
        changes=_changes(room, error),
    )
    return error


def _bent(design: Design, ledger: Ledger) -> float:
    if span_of(design) is not None:
        ledger.assume("rate.crystal_coefficient", COEFFICIENT, "1/K^2", SOURCE)
    return bent_over(design)


def bent_over(design: Design) -> float:
    """Return what temperature takes off a tuning fork at the far end of the span."""
    span = span_of(design)
    if span is None:
        return 0.0
    return max(
        -crystal_rate(coefficient=COEFFICIENT, temperature=end, turnover=TURNOVER) for end in span
    )


def _changes(room: float, error: float) -> tuple[tuple[Change, ...], ...]:
    allow = Change(section="rate", key="allowed_error", text=f"{1.2 * DAY * error:.2g} s/day")
    if room <= 0:
        return ((allow,),)
    trimmed = Change(section="controller", key="crystal_tolerance", text=f"{0.8 * room:.1e}")
    return ((trimmed,), (allow,))
