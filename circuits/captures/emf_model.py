"""The linkage model laid over captured passes: which of remanence, gap and speed they tell."""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from calc.fit_pass import PassFit, fit_pass, three_alike
from calc.linkage_curve import LinkageCurve
from calc.linkage_parts import WindingShape
from circuits.captures.emf_passes import EmfPass
from circuits.captures.measured import SPAN, Against
from circuits.catalogue import Catalogue
from circuits.ledger import Ledger
from circuits.stages import magnet as magnet_stage
from circuits.stages.magnet_path import gap_of, path_of
from circuits.stages.movement import MovementResult

Array = NDArray[np.float64]
MOST_PASSES = 3
MOST_SAMPLES = 500
"""Of one pass: more are averaged in neighbours, which loses nothing of so smooth a wave."""
MODEL_SHARE = 0.01
"""The linkage model with a uniform winding and magnet is good to a part in a hundred."""
GAP_BY_EYE = 0.5e-3
"""A gap set by eye with a rule; common practice, no source."""
SPEED_BY_EYE = 0.05
"""An arc read off a scale gives the speed to a twentieth; common practice, no source."""
OFF = 0.1
"""A coil farther off the middle than this share of the swing is passed at another speed."""
FREE = {
    "remanence": ("gap", "speed"),
    "gap": ("strength", "speed"),
    "speed": ("strength", "gap"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelFit:
    """What the passes tell with one of three figures held, with two standard deviations' span.

    `alike` is how alike remanence and gap would be with all three free, `gap_blind` the span of
    the gap then; `shape_left` what the model leaves over, as a share of the height.
    """

    held: str
    held_span: float
    b_r: float
    b_r_span: float
    gap: float
    gap_span: float
    speed: float
    speed_span: float
    likeness: float
    alike: float
    gap_blind: float
    shape_left: float
    gap_tolerance_assumed: bool
    model_t: Array
    model: Array
    sign: float


def _averaged(one: EmfPass) -> tuple[Array, Array]:
    size = max(1, one.t.size // MOST_SAMPLES)
    count = one.t.size // size
    t, wave = (part[: count * size].reshape(count, size) for part in (one.t, one.wave))
    return t.mean(axis=1), wave.mean(axis=1)


def fit_model(
    against: Against, passes: tuple[EmfPass, ...], held: str, *, pickup: bool = False
) -> ModelFit:
    """Fit the design's linkage to captured passes.

    Parameters
    ----------
    against : Against
        The design.
    passes : tuple of EmfPass
        The passes; at most three from the whole capture are used.
    held : str
        remanence, gap or speed: what is taken from the design.
    pickup : bool
        Whether the passes are of the separate pickup coil.

    Returns
    -------
    fit : ModelFit

    Raises
    ------
    OutOfRangeError
        If a pass has too few samples.
    """
    design, done = against.design, against.done
    catalogue, ledger = Catalogue(design.part, design.file), Ledger()
    magnet = magnet_stage.size(design, catalogue, ledger)
    coil = done.result("pickup_coil" if pickup else "coil")
    movement: MovementResult = done.result("movement")
    path = path_of(design, ledger, done.result("coil").sides)
    own = design.pickup_coil if pickup else None
    position = 0.0 if own is None else own.position or 0.0
    factor = 1.0 if pickup else coil.linkage_factor
    if own is not None and own.sense == "reversed":
        factor = -factor
    winding = WindingShape(
        n_turns=coil.n_turns, r_inner=coil.r_inner, r_outer=coil.r_outer, height=coil.height
    )  # fmt: skip

    @cache
    def curve_at(gap: float) -> LinkageCurve:
        return path.curve(magnet.shape, winding, gap, position).shifted(-position).scaled(factor)

    gap = gap_of(design, None if own is None else own.gap)
    stated = design.stated_tolerance.get("magnet.gap")
    slack = stated * gap if stated is not None else design.tolerance.gap or 0.0
    half = movement.swing.arc * movement.swing.radius
    swing = movement.swing if abs(movement.offset + position) < OFF * half else None
    speed = movement.speed
    spread = magnet.b_r_high - magnet.b_r_low
    b_r_slack = spread / 2 if spread > 0 else 0.03 * magnet.shape.b_r
    gap_slack = slack or GAP_BY_EYE

    def fitted(one: EmfPass, *, b_r: float, at_gap: float, at_speed: float) -> PassFit:
        share = b_r / magnet.shape.b_r
        t, wave = _averaged(one)
        return fit_pass(
            t, wave / share, curve_at, gap=at_gap, speed=at_speed, crossing=one.crossing,
            free=FREE[held], swing=swing,
        )  # fmt: skip

    start = {"b_r": magnet.shape.b_r, "at_gap": gap, "at_speed": speed}
    chosen = passes[:: max(1, len(passes) // MOST_PASSES)][:MOST_PASSES]
    fits = [fitted(one, **start) for one in chosen]
    first = fits[0]
    values = np.array([[fit.strength * magnet.shape.b_r, fit.gap, fit.speed] for fit in fits])
    mean = values.mean(axis=0)
    noise = np.array([[f.strength_sigma * magnet.shape.b_r, f.gap_sigma, f.speed_sigma]
                      for f in fits]).mean(axis=0) / np.sqrt(len(fits))  # fmt: skip
    scatter = values.std(axis=0, ddof=1) / np.sqrt(len(fits)) if len(fits) > 2 else 0.0 * mean
    # What is held is not known exactly either: its slack moves the two others.
    moved = dict(start)
    slacks = {"remanence": ("b_r", b_r_slack), "gap": ("at_gap", gap_slack),
              "speed": ("at_speed", SPEED_BY_EYE * speed)}  # fmt: skip
    name, held_span = slacks[held]
    moved[name] += min(held_span, 0.5 * moved[name])
    other = fitted(chosen[0], **moved)
    shift = np.abs(
        np.array([other.strength * moved["b_r"], other.gap, other.speed]) - values[0]
    )  # fmt: skip
    if held == "remanence":
        shift[0] = b_r_slack
    sensitivity = MODEL_SHARE * mean
    sensitivity[1] = MODEL_SHARE / 0.15 * 1e-3  # 15 % of height to the millimetre of gap
    spans = np.sqrt((SPAN * noise) ** 2 + (SPAN * scatter) ** 2 + shift**2 + sensitivity**2)
    t, wave = _averaged(chosen[0])
    alike, blind = three_alike(t, wave, curve_at, first, swing)
    return ModelFit(
        held=held, held_span=held_span,
        b_r=float(mean[0]), b_r_span=float(spans[0]), gap=float(mean[1]), gap_span=float(spans[1]),
        speed=float(mean[2]), speed_span=float(spans[2]), likeness=first.likeness, alike=alike,
        gap_blind=SPAN * blind * float(mean[1]), shape_left=first.share_left,
        gap_tolerance_assumed=not slack, model_t=t, model=first.model, sign=first.sign,
    )  # fmt: skip
