"""What no figure of the design file settles: sign, impulse, place."""

from math import radians

from calc.disturbance import impulse_rate
from calc.gravity import gravity_at_height, gravity_at_latitude, rate_from_gravity
from calc.pendulum import circular_slope
from circuits.design import Design
from circuits.format_quantity import DAY, show, significant
from circuits.ledger import Ledger, Severity
from circuits.stages.movement import MovementResult

LATITUDE = radians(45.0)
FLOOR = 3.0


def enter_cautions(design: Design, ledger: Ledger, movement: MovementResult) -> None:
    """Say what must be known of the rate before it is trusted, if it is to be trusted at all."""
    rate = design.rate
    wanted = (rate.allowed_error, rate.time_constant, rate.measured_slope,
              design.movement.target_period)  # fmt: skip
    if all(value is None for value in wanted):
        ledger.say(
            "rate.open",
            Severity.MIND,
            "The rate is not judged: the file states neither target_period nor allowed_error.",
            remedy="State target_period in [movement] and allowed_error in [rate] if it shall "
            "keep time.",
        )
        return
    _sign(design, ledger, movement)
    _impulse(ledger, movement)
    if movement.kind == "pendulum":
        _place(ledger)


def _sign(design: Design, ledger: Ledger, movement: MovementResult) -> None:
    slope = design.rate.measured_slope
    if slope is not None:
        ledger.say(
            "rate.sign",
            Severity.GOOD,
            f"The measured slope is used: a pulse 1 ms wider "
            f"{'gains' if slope > 0 else 'loses'} {show(abs(slope) * 1e-3, 's/day')}.",
            value=slope,
            unit="1/day",
        )
        return
    if movement.kind == "pendulum":
        one = DAY * circular_slope(arc=movement.arc) * radians(1)
        alone = f"Gravity alone makes it lose {show(-one, 's/day')} for each degree more arc"
    else:
        alone = "A linear spring alone keeps the same time at every arc"
    ledger.say(
        "rate.sign",
        Severity.MEASURE,
        f"{alone}, but magnets, iron or springs near the swing can outweigh that twenty times "
        "and with the other sign.",
        remedy="Let it settle at two pulse widths, note the rate of each, and write the "
        "difference over the difference as measured_slope in [rate]; close no loop before.",
    )


def _impulse(ledger: Ledger, movement: MovementResult) -> None:
    """Airy: before the centre gains, after it loses; at the centre only the arc changes."""
    at = 0.01 * movement.period
    phase = movement.omega * at
    low = DAY * impulse_rate(phase=phase, q_factor=movement.q_high)
    high = DAY * impulse_rate(phase=phase, q_factor=movement.q_low)
    span = (
        show(-low, "s/day") if low == high else f"{significant(-low)} to {significant(-high)} s/day"
    )
    ledger.say(
        "rate.impulse",
        Severity.MIND,
        f"For each {show(at, 's')} that the impulse comes after the centre its place alone loses "
        f"{span}, for each that it comes before it gains as much (the least that holds the arc; a "
        "stronger one more): the pulse's place sets the rate, and a rate that is corrected by the "
        "pulse leaves a standing offset of its place.",
    )


def _place(ledger: Ledger) -> None:
    g = gravity_at_latitude(latitude=LATITUDE)
    north = gravity_at_latitude(latitude=LATITUDE + radians(1))
    up = gravity_at_height(g=g, height=FLOOR)
    gain = DAY * rate_from_gravity(g_from=g, g_to=north)
    loss = -DAY * rate_from_gravity(g_from=g, g_to=up)
    ledger.say(
        "rate.place",
        Severity.MIND,
        f"Moving house shifts the rate: one degree of latitude nearer the pole gains about "
        f"{show(gain, 's/day', 2)} (at 45 degrees), one floor up loses {show(loss, 's/day', 2)}.",
        remedy="Regulate it where it will stand.",
    )
