"""EMF capture: lobes, peaks, spacing, hum, what the linkage model makes of them, and polarity."""

import re

import numpy as np

from calc.calculator import OutOfRangeError
from calc.swing import Swing
from circuits.captures.capture import Channel
from circuits.captures.emf_model import ModelFit, fit_model
from circuits.captures.emf_passes import EmfCapture, emf_capture
from circuits.captures.kinds import signals
from circuits.captures.measured import Against, Asked, Curve, Measured, Note, Panel
from circuits.design import Design
from circuits.errors import DesignFileError
from circuits.format_quantity import percent, show, show_range, significant

JUNCTION = 0.45
"""Volts: a base-emitter junction across the coil begins to conduct."""
HELD = "remanence"
PICKUP = re.compile(r"pick|listen|sens", re.I)
BADLY = 0.05
"""What the model leaves over of the height, from which it is not believed."""


def read_emf(measured: Measured, asked: Asked, against: Against | None) -> None:
    """Enter what a magnet's passes over the coil tell.

    Parameters
    ----------
    measured : Measured
        The capture, and what it has told.
    asked : Asked
        Which of remanence, gap and speed is held.
    against : Against or None
        The design, without which neither gap nor speed can follow.

    Raises
    ------
    DesignFileError
        Where no pass stands out.
    """
    channel = _channel(measured)
    pickup = _is_pickup(measured, channel, asked, against)
    found = emf_capture(measured.capture, channel)
    unit = channel.unit or "1"
    _enter_passes(measured, found, unit, pickup=pickup)
    _enter_noise(measured, found, unit)
    if pickup:
        measured.good(
            "emf.polarity", "This is the listening coil: which way round the drive coil pushes is "
            "told by a capture of that coil.",
        )  # fmt: skip
    else:
        _say_polarity(measured, found, against)
    fit = None
    if against is None:
        measured.unknown(
            "emf.model",
            "Height is speed times slope: without a design neither is known by itself, and the "
            "drop height or arc of this swing is not in the capture.",
            "Add --design FILE with coil, magnet and gap.",
        )
    elif unit != "V":
        measured.unknown(
            "emf.model", "The file does not say how many volts its figures are, so neither gap nor "
            "remanence follows.", "Say --units, with V or mV for this column.",
        )  # fmt: skip
    else:
        fit = _enter_model(measured, found, asked, against, pickup=pickup)
    _draw(measured, found, fit, unit)


def _channel(measured: Measured) -> Channel:
    every = signals(measured.capture)
    volts = [channel for channel in every if channel.unit in ("V", "1", "")]
    if not volts:
        raise DesignFileError(
            file=measured.capture.file, found="no column with a voltage",
            wanted="say --units V for the coil's column",
        )  # fmt: skip
    return max(volts, key=lambda channel: float(np.nanstd(channel.values)))


def _is_pickup(measured: Measured, channel: Channel, asked: Asked, against: Against | None) -> bool:
    """Whether the passes are of a separate pickup coil; says so where the design has one."""
    separate = against is not None and against.design.pickup_coil is not None
    if not separate:
        if asked.winding == "pickup":
            raise DesignFileError(
                file="command line", key="--winding", found="pickup, and no [pickup_coil]",
                wanted="add --design FILE with such a coil, or leave the option out",
            )  # fmt: skip
        return False
    pickup = asked.winding == "pickup" or (
        asked.winding is None and bool(PICKUP.search(channel.name))
    )
    taken = "pickup" if pickup else "drive"
    if asked.winding is None:
        measured.mind(
            "emf.winding", f"The design has two coils; the capture is taken for the {taken} "
            "coil's.", "Say --winding drive or --winding pickup.",
        )  # fmt: skip
    return pickup


def _mean(values: list[float], floor: float) -> tuple[float, float]:
    """Return mean and its standard deviation: of the scatter, no less than the noise gives."""
    array = np.array(values)
    scatter = float(array.std(ddof=1)) / np.sqrt(array.size) if array.size > 2 else 0.0
    return float(array.mean()), float(max(scatter, floor / np.sqrt(array.size)))


def _enter_passes(measured: Measured, found: EmfCapture, unit: str, *, pickup: bool) -> None:
    passes = found.passes
    of = "_pickup" if pickup else ""
    width = max(1, passes[0].t.size // 60)
    peak, sigma = _mean([one.peak for one in passes], found.noise / np.sqrt(width))
    measured.figure(
        f"emf.emf_peak{of}", peak, unit, "peak of the EMF in a pass",
        "mean of the passes, hum removed", sigma=sigma,
    )  # fmt: skip
    steps = float(found.t[1] - found.t[0])
    spacing, sigma = _mean([one.spacing for one in passes], steps / np.sqrt(12) + _late(found))
    lobes = int(np.median([len(one.heights) for one in passes]))
    if lobes > 1:
        measured.figure(
            f"emf.peak_spacing{of}", spacing, "s", "time from the first lobe's peak to the last's",
            "mean of the passes", sigma=sigma,
        )  # fmt: skip
    measured.figure("linkage.lobes", lobes, "1", "lobes of a pass", "above a twentieth of the peak")
    order = ", ".join("up" if height > 0 else "down" for height in passes[0].heights)
    measured.text("measured.lobe_order", order, "order of the lobes", "of the first pass")
    measured.figure("measured.passes", len(passes), "1", "passes in the capture", "counted")
    crossing = passes[0].crossing
    measured.figure("measured.crossing", crossing, "s", "first crossing", "by the capture's clock")
    if len(passes) >= 3:
        times = np.array([one.crossing for one in passes])
        whole = times[2:] - times[:-2]
        period, sigma = _mean(whole.tolist(), steps / 4)
        measured.figure(
            "movement.period_at_arc", period, "s", "period at this arc",
            "from every second crossing", sigma=sigma,
        )  # fmt: skip
        uneven = float(np.abs(np.diff(times)[1:] - np.diff(times)[:-1]).mean() / 2)
        if uneven > 5e-3 * period:
            measured.mind(
                "emf.beats",
                f"Long and short beats alternate by {show(2 * uneven, 's')}: the coil stands "
                "beside the middle of the swing, or the movement is out of beat.",
                "Shift the coil until both beats are alike.",
            )
    if unit == "V" and peak > JUNCTION:
        measured.mind(
            "emf.clamped",
            f"The peak is {show(peak, 'V')}: if a base-emitter junction or a diode lies across "
            "the coil, it conducts from about half a volt, and the reading is low.",
            "Read it with the coil's leads open.",
        )


def _late(found: EmfCapture) -> float:
    """Return how far noise moves the peak of a lobe in time: it is flat there."""
    one = found.passes[0]
    flat = one.spacing / 4 if one.spacing else float(np.ptp(one.t)) / 8
    return flat * found.noise / one.peak


def _enter_noise(measured: Measured, found: EmfCapture, unit: str) -> None:
    measured.figure(
        "measured.noise", found.noise, unit, "noise between the passes",
        "root mean square, hum removed",
    )  # fmt: skip
    hum = found.hum
    if hum is None:
        return
    measured.figure(
        "measured.hum_frequency", hum.frequency, "Hz", "frequency of the hum",
        "a sine fitted between the passes", sigma=hum.frequency_sigma,
    )  # fmt: skip
    measured.figure(
        "measured.hum_amplitude", hum.amplitude, unit, "amplitude of the hum",
        "a sine fitted between the passes", sigma=hum.amplitude_sigma,
    )  # fmt: skip
    peak = max(one.peak for one in found.passes)
    text = (
        f"Hum of {show(hum.amplitude, unit)} at {show(hum.frequency, 'Hz', 4)}, "
        f"{percent(hum.amplitude / peak)} of the peak; it was taken away before the lobes were "
        "measured."
    )
    if hum.amplitude > 0.05 * peak:
        measured.mind("emf.hum", text, "Twist the leads, keep them short, and filter.")
    else:
        measured.good("emf.hum", text)


def _say_polarity(measured: Measured, found: EmfCapture, against: Against | None) -> None:
    """Say which way round the coil must be connected for the pulse to push."""
    first = found.passes[0]
    probe = "if the probe's tip was on the switch's end of the coil and its clip on the rail's end"
    sizes = [abs(height) for height in first.heights]
    tallest = int(np.argmax(sizes))
    inner = 0 < tallest < len(sizes) - 1
    if inner and sizes[tallest] > 1.3 * max(sizes[tallest - 1], sizes[tallest + 1]):
        measured.text("measured.polarity", "by direction", "which way the coil is connected", probe)
        measured.good(
            "emf.polarity",
            f"The main lobe stands between two smaller ones: the magnet's axis lies along the "
            f"motion. Push on the passes whose main lobe points down, {probe}; these are the "
            f"ones {'after' if first.heights[tallest] > 0 else 'like'} the first one captured.",
        )
        return
    if len(first.heights) < 2:
        measured.unknown(
            "emf.polarity", "Only one lobe is seen, so nothing is said of the polarity.",
            "Capture a whole pass, across the coil's axis.",
        )  # fmt: skip
        return
    up_first = first.heights[0] > 0
    wanted = "repel" if against is None else against.design.drive.polarity or "repel"
    right = up_first == (wanted == "repel")
    order = "up, then down" if up_first else "down, then up"
    measured.text(
        "measured.polarity", "as it is" if right else "swap the leads",
        f"which way to connect the coil to {wanted}", probe,
    )  # fmt: skip
    after = "after the crossing" if wanted == "repel" else "before the crossing"
    half = "Only the half-pass that points down can be driven, and that lies "
    if right:
        measured.good(
            "emf.polarity",
            f"The lobes go {order}, {probe}: {half}{after}, as {wanted} wants it. Leave the coil "
            "connected as it is.",
        )
    else:
        measured.mind(
            "emf.polarity",
            f"The lobes go {order}, {probe}: a pulse {after} would brake.",
            "Swap the coil's two leads, or turn the magnet over.",
        )


def _enter_model(
    measured: Measured, found: EmfCapture, asked: Asked, against: Against, *, pickup: bool
) -> ModelFit | None:
    held, of = asked.held or HELD, "pickup_" if pickup else ""
    try:
        fit = fit_model(against, found.passes, held, pickup=pickup)
    except OutOfRangeError as error:
        reason, _, repair = str(error).partition(";")
        measured.unknown(
            "emf.model", f"The linkage cannot be fitted: {reason.strip()}.",
            repair.strip() or "Sample the pass more closely.",
        )  # fmt: skip
        return None
    design = against.design
    rule = f"linkage fitted to the passes, {held} held"
    measured.figure(
        "movement.speed", fit.speed, "m/s", "speed of the magnet over the coil's axis", rule,
        low=fit.speed - fit.speed_span, high=fit.speed + fit.speed_span,
    )  # fmt: skip
    # The steepest place lies beside the middle, where the swing is a little slower.
    swing: Swing = against.done.result("movement").swing
    apart = float(np.mean([one.spacing for one in found.passes]))
    lobes = len(found.passes[0].heights)
    slower = float(np.cos(np.pi * apart / swing.period)) if lobes == 2 else 1.0
    peak = float(np.mean([one.peak for one in found.passes])) / slower
    measured.figure(
        f"linkage.{of}slope_peak", peak / fit.speed, "Wb/m", "greatest slope of the linkage",
        "peak over the speed there", low=peak / (fit.speed + fit.speed_span),
        high=peak / max(fit.speed - fit.speed_span, 0.2 * fit.speed),
    )  # fmt: skip
    if held != "gap":
        measured.figure(
            f"measured.{of}gap", fit.gap, "m", "gap from magnet face to winding face", rule,
            low=fit.gap - fit.gap_span, high=fit.gap + fit.gap_span,
        )  # fmt: skip
    if held != "remanence":
        measured.figure(
            "linkage.b_r", fit.b_r, "T", "remanence of the magnet", rule,
            low=fit.b_r - fit.b_r_span, high=fit.b_r + fit.b_r_span,
        )  # fmt: skip
    if fit.gap_tolerance_assumed and held == "gap":
        measured.ledger.assume(
            "measured.gap_slack", fit.held_span, "m",
            "a gap set by eye, since [tolerance] gap is not stated; common practice, no source",
        )  # fmt: skip
    _enter_arc(measured, fit, against)
    _say_model(measured, fit, held)
    _note_changes(measured, fit, held, design, pickup=pickup)
    return fit


def _enter_arc(measured: Measured, fit: ModelFit, against: Against) -> None:
    swing: Swing = against.done.result("movement").swing
    arcs = []
    for speed in (fit.speed - fit.speed_span, fit.speed, fit.speed + fit.speed_span):
        share = max(speed, 0.0) / swing.speed_at_centre
        if swing.kind == "balance":
            arcs.append(swing.arc * share)
        else:
            arcs.append(2 * float(np.arcsin(min(np.sin(swing.arc / 2) * share, 1.0))))
    measured.figure(
        "movement.arc", arcs[1], "rad", "arc of the swing that was captured",
        "the free swing with this speed at its middle", low=arcs[0], high=arcs[2],
    )  # fmt: skip


def _say_model(measured: Measured, fit: ModelFit, held: str) -> None:
    told = {
        "gap": f"a gap of {show_range(fit.gap - fit.gap_span, fit.gap + fit.gap_span, 'm')}",
        "speed": "a speed of "
        f"{show_range(fit.speed - fit.speed_span, fit.speed + fit.speed_span, 'm/s')}",
        "remanence": "a remanence of "
        f"{show_range(fit.b_r - fit.b_r_span, fit.b_r + fit.b_r_span, 'T')}",
    }
    slack = {"remanence": f"{show(fit.b_r, 'T')} +- {show(fit.held_span, 'T', 2)}",
             "gap": f"{show(fit.gap, 'm')} +- {show(fit.held_span, 'm', 2)}",
             "speed": f"{show(fit.speed, 'm/s')} +- {show(fit.held_span, 'm/s', 2)}"}  # fmt: skip
    both = [told[name] for name in told if name != held]
    measured.good(
        "emf.model",
        f"With {held} held at {slack[held]}, height and length of the passes give {both[0]} and "
        f"{both[1]}; the model leaves {percent(fit.shape_left)} of the height over.",
    )
    measured.mind(
        "emf.alike",
        "A pass shows two things well, its height and its length in time, and three make them: "
        f"remanence, gap and speed. Remanence and gap go together (correlation "
        f"{significant(abs(fit.alike), 3)}): with all three free the gap would be known to "
        f"{show(fit.gap_blind, 'm', 2)} at best, so the capture alone does not tell a strong "
        "magnet far away from a weak one near by.",
        "Measure the one that you can: the gap with a feeler, or the speed from the arc, and hold "
        "it with --hold.",
    )
    if fit.shape_left > BADLY:
        measured.mind(
            "emf.shape",
            f"The model leaves {percent(fit.shape_left)} of the height over: the winding or the "
            "magnet is another than the design says, or a filter or a junction bends the wave.",
            "Check the sizes of winding and magnet, and read at the coil's open leads.",
        )


def _note_changes(
    measured: Measured, fit: ModelFit, held: str, design: Design, *, pickup: bool
) -> None:
    if held != "gap":
        stated = fit.gap - (design.magnet.flange or 0.0)
        if stated > 0:
            measured.change("pickup_coil" if pickup else "magnet", "gap", f"{1e3 * stated:.3g} mm")
            measured.change("tolerance", "gap", f"{1e3 * fit.gap_span:.2g} mm")
    if held != "remanence":
        measured.change("magnet", "remanence", f"{fit.b_r:.4g} T")


def _draw(measured: Measured, found: EmfCapture, fit: ModelFit | None, unit: str) -> None:
    first = found.passes[0]
    y = "EMF (V)" if unit == "V" else "as captured"
    marks = tuple(Note(x=one.crossing, y=None, text=f"{number + 1}")
                  for number, one in enumerate(found.passes[:40]))  # fmt: skip
    measured.panels.append(
        Panel(title="The capture, hum removed", x_label="time (s)", y_label=y,
              curves=(Curve(x=found.t, y=found.wave, style="data"),), notes=marks)
    )  # fmt: skip
    curves = [Curve(x=first.t, y=first.wave, style="data", label="first pass")]
    if fit is not None:
        curves.append(Curve(x=fit.model_t, y=fit.model, style="fit", label="linkage model"))
    notes = [Note(x=t, y=height, text=show(height, unit))
             for t, height in zip(first.times, first.heights, strict=True)]  # fmt: skip
    notes.append(Note(x=first.crossing, y=None, text="crossing"))
    title = f"One pass; lobes {show(first.spacing, 's')} apart"
    measured.panels.append(
        Panel(title=title, x_label="time (s)", y_label=y,
              curves=tuple(curves), notes=tuple(notes))
    )  # fmt: skip
