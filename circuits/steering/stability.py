"""How steady a steered movement is over short and long spans: the Allan deviation."""

from dataclasses import dataclass

import numpy as np

from circuits.steering.simulation import LoopRun

FEWEST = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Stability:
    """Overlapping Allan deviation of the rate over each span, as ratios."""

    span: tuple[float, ...]
    deviation: tuple[float, ...]


def stability_of(run: LoopRun, *, against_crystal: bool = False) -> Stability | None:
    """Return the Allan deviation of a run's time error, None where it is too short.

    Parameters
    ----------
    run : LoopRun
        The run.
    against_crystal : bool
        Whether the crystal counts as right; else true time does.
    """
    phase = run.seen if against_crystal else run.error
    if len(phase) < FEWEST:
        return None
    import allantools  # noqa: PLC0415 - it takes a while to load, and few commands need it

    spans, deviations, _, _ = allantools.oadev(
        phase, rate=1 / float(run.time[0]), data_type="phase", taus="decade"
    )
    good = np.isfinite(deviations)
    return Stability(span=tuple(spans[good].tolist()), deviation=tuple(deviations[good].tolist()))
