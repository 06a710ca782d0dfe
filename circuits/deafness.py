"""What a firmware hears whose deaf time is its own: missed passes, double triggers, kicks."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from circuits.format_quantity import show
from circuits.stage_pass import StagePass
from circuits.stages.disturbance import disturbance
from circuits.stages.watch import Watch

Array = NDArray[np.float64]

SAMPLES = 6000
"""Samples of the time from one pass to the next."""
SAME = 0.01
"""Share of a period within which a firing counts as that of the pass that is expected."""

RANK = ("kick", "double", "back", "missed", "pass")
"""What is told first where it hangs on how the coil's ends are connected."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hearing:
    """What is heard from one pulse to the next pass, at one arc.

    `kind` is `pass` (the next pass and nothing before), `kick` (pulse or kick are taken for one),
    `double` (the same pass triggers again), `back` (over a magnet that lies, the pass back triggers
    too, whose lobes have the other sign), `missed` (the next pass is not seen) or `unseen` (not
    even this pass is). `t` is when, from the start of the pulse; `due` when the next pass is.
    """

    arc: float
    deaf: float
    needed: float
    kind: str
    t: float
    due: float


def hear(done: StagePass, *, deaf: float, arc: float) -> Hearing:
    """Listen from the end of a deaf time until the next pass has gone by.

    Parameters
    ----------
    done : StagePass
        The design's stages.
    deaf : float
        How long the firmware stays deaf from the start of the pulse [s].
    arc : float
        Arc of the swing [rad].

    Returns
    -------
    hearing : Hearing
    """
    names = ("rails", "coil", "movement", "emf", "drive", "clamp", "pickup", "filter")
    results = [done.result(name) for name in names]
    rails, _, movement, _, drive, _, pickup, chain = results
    pulse, timing = done.result("pulse"), done.result("timing")
    watch = Watch(*results)
    one = watch.at(arc)
    event = watch.event(one)
    beat = movement.period / 2
    # Over a magnet that lies the next pass in the same direction is the next alike.
    due = away = movement.period if watch.lying else beat
    if event is None:
        return Hearing(
            arc=arc, deaf=deaf, needed=timing.deaf_until, kind="unseen", t=0.0, due=due
        )  # fmt: skip
    # Timed from the pass before, the pulse comes ahead of the event that is waited for next.
    ahead = drive.trigger == "previous_pass"
    t_on = pulse.t_on if ahead else event + pulse.t_on - chain.event_time
    due = event - t_on if ahead else event + away - t_on
    t = np.linspace(0.0, due + 4 * SAME * movement.period, SAMPLES)
    bare = _waves(watch, one.t, one.signal, t + t_on, beat)
    steps = disturbance(rails, pickup, chain, pulse)
    near = SAME * movement.period

    def judged(signal: Array) -> tuple[str, float]:
        found, without = watch.heard(t, signal, after=deaf), watch.heard(t, bare, after=deaf)
        if not found or found[0] > due + near:
            return "missed", due
        heard = found[0]
        if abs(heard - due) <= near:
            return "pass", heard
        if watch.lying and heard > beat / 2:
            return "back", heard
        same = bool(without) and abs(without[0] - heard) <= near
        return ("double" if same else "kick"), heard

    signals = [bare]
    if steps is not None:
        left = steps.behind(chain, t)
        # In a coil that is coupled to the drive's the ends decide which way the pulse shows.
        ways = (1.0, -1.0) if pickup.v_pulse > 0 else (watch.sign,)
        signals = [bare + way * left for way in ways]
    kind, at = min((judged(signal) for signal in signals), key=lambda one: RANK.index(one[0]))
    return Hearing(arc=arc, deaf=deaf, needed=timing.deaf_until, kind=kind, t=at, due=due)


def _waves(watch: Watch, t: Array, signal: Array, at: Array, beat: float) -> Array:
    """Return this pass and those that follow; over a magnet that lies the next is reversed."""
    turn = -1.0 if watch.lying else 1.0
    total = np.zeros_like(at)
    for number in range(3):
        here = np.interp(at - number * beat, t, signal, left=0.0, right=0.0)
        total += turn**number * here
    return total


def hearing_words(found: Hearing) -> str:
    """Return in a sentence what the firmware hears."""
    start = f"With a deaf time of {show(found.deaf, 's')} from the start of the pulse"
    at = f"at an arc of {show(found.arc, 'rad')}"
    if found.kind == "pass":
        room = found.due - found.deaf
        return (
            f"{start} the firmware hears the next pass and nothing before it {at}; "
            f"{show(room, 's')} are left until that pass fires."
        )
    if found.kind == "kick":
        return (
            f"{start} it takes pulse and kick for a pass {at}, {show(found.t, 's')} after the "
            f"pulse began: it counts one pass too many. It must stay deaf for "
            f"{show(found.needed, 's')}."
        )
    if found.kind == "double":
        return (
            f"{start} the same pass triggers again {at}, {show(found.t, 's')} after the pulse "
            "began: it counts one pass too many. It must stay deaf until the pass is over, or "
            "wait for a higher threshold."
        )
    if found.kind == "back":
        return (
            f"{start} the pass back triggers too {at}, {show(found.t, 's')} after the pulse began: "
            "its lobes have the other sign, and the outer ones pass the threshold. Stay deaf until "
            "it is over, or raise the threshold."
        )
    if found.kind == "missed":
        return (
            f"{start} it misses the next pass {at}, due {show(found.due, 's')} after the pulse "
            "began: every second pass goes without a pulse. Shorten the deaf time."
        )
    return f"{start} it does not even see the pass {at}: the signal stays below the threshold."
