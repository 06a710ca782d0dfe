"""Drive capture: resistance, inductance, saturation, release, charge and energy of a pulse."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.calculator import OutOfRangeError
from calc.fit_coil import Edges, edges_of, fit_coil, fit_rise, integral, release_of
from calc.fit_wave import quiet_noise
from circuits.captures.capture import Channel
from circuits.captures.kinds import CURRENT, signals
from circuits.captures.measured import SPAN, Against, Asked, Curve, Measured, Note, Panel
from circuits.errors import DesignFileError
from circuits.format_quantity import percent, show, significant

Array = NDArray[np.float64]
ALIKE = 0.97
"""Resistance and inductance that go together like this are not told apart."""
BAD_SATURATION = 0.35
"""Volts across a closed bipolar switch from which it is not saturated; common practice."""
MOST_PULSES = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class _Waves:
    """The capture's current and switch voltage, either of which may be lacking."""

    t: Array
    current: Array | None
    switch: Array | None
    how: str
    shunt: float


def read_drive(measured: Measured, asked: Asked, against: Against | None) -> None:
    """Enter what a captured pulse tells.

    Parameters
    ----------
    measured : Measured
        The capture, and what it has told.
    asked : Asked
        The shunt's resistance and the supply, where known.
    against : Against or None
        The design, for the rail where nothing else tells it.

    Raises
    ------
    DesignFileError
        Where no pulse is found.
    """
    waves = _waves(measured, asked)
    measured.text("measured.how", waves.how, "what was captured", "told by the columns")
    try:
        pulses, rail = _pulses(measured, waves)
        supply = asked.supply or rail or _design_rail(against)
        if waves.switch is not None:
            _enter_switch(measured, waves, waves.switch, pulses, rail)
        if waves.current is not None:
            _enter_current(measured, waves, waves.current, pulses, supply)
        else:
            measured.unknown(
                "drive.current", "The switch's voltage alone tells no current, charge or energy.",
                "Put a small resistor (1 ohm) into the coil's lead and capture the voltage across "
                "it, with --shunt.",
            )  # fmt: skip
    except OutOfRangeError as error:
        reason, _, repair = str(error).partition(";")
        raise DesignFileError(
            file=measured.capture.file, found=f"no pulse that can be used ({reason.strip()})",
            wanted=repair.strip() or "capture one whole pulse with its release",
        ) from error  # fmt: skip
    _draw(measured, waves, pulses)


def _design_rail(against: Against | None) -> float | None:
    if against is None:
        return None
    value = against.done.ledger.values.get("supply.v_coil")
    value = value or against.done.ledger.values.get("supply.v_coil_fresh")
    return None if value is None or isinstance(value.value, str) else float(value.value)


def _waves(measured: Measured, asked: Asked) -> _Waves:
    capture = measured.capture
    every = signals(capture)
    if capture.time is None or not every:
        raise DesignFileError(
            file=capture.file, found="no wave with times",
            wanted="name the columns with --columns and their units with --units",
        )  # fmt: skip
    flows = next((c for c in every if c.unit == "A"), None)
    named = next((c for c in every if c.unit != "A" and CURRENT.search(c.name)), None)
    volts = [c for c in every if c.unit in ("V", "") and c is not named]
    scale, shunt, how = 1.0, 0.0, "a current"
    if flows is None and asked.shunt is not None:
        flows, shunt = named or min(volts, key=_height, default=None), asked.shunt
        scale = 1 / shunt
        how = f"the voltage across a shunt of {show(asked.shunt, 'ohm')}"
    elif flows is None and named is not None:
        raise DesignFileError(
            file=capture.file, found=f'the column "{named.name}" in volts, and no shunt',
            wanted='say its resistance, such as --shunt "1 ohm"',
        )  # fmt: skip
    switch = next((c for c in volts if c is not flows), None)
    if flows is None and switch is None:
        raise DesignFileError(
            file=capture.file, found="no column with a current or a voltage",
            wanted="name the unit of the wave with --units, such as A or V",
        )  # fmt: skip
    used = [c for c in (flows, switch) if c is not None]
    good = np.isfinite(capture.time)
    for channel in used:
        good &= np.isfinite(channel.values)
    t = capture.time[good]
    if t.size < 32 or not np.all(np.diff(t) > 0):
        raise DesignFileError(
            file=capture.file, found="no steady run of samples", wanted="give one whole capture"
        )
    current = None
    if flows is not None:
        current = flows.values[good] * scale
        current = current - _rest(current)
        if abs(current.min()) > 2 * abs(current.max()):
            current = -current
    told = [how] if flows is not None else []
    told += ["the switch's voltage"] if switch is not None else []
    return _Waves(
        t=t, current=current, switch=None if switch is None else switch.values[good],
        how=" and ".join(told), shunt=shunt,
    )  # fmt: skip


def _height(channel: Channel) -> float:
    return float(np.nanmax(channel.values) - np.nanmin(channel.values))


def _rest(current: Array) -> float:
    """Return the level at rest: that of the samples that the capture begins with."""
    return float(np.median(current[: max(8, current.size // 20)]))


def _pulses(measured: Measured, waves: _Waves) -> tuple[list[Edges], float | None]:
    """Return the pulses and, where the switch's voltage shows it, the rail."""
    rail = None
    if waves.switch is not None:
        v = waves.switch
        low = float(np.quantile(v, 0.005))
        rail = _rest(v) if abs(_rest(v) - low) > 0.2 * (float(np.max(v)) - low) else None
        top = rail if rail is not None else float(np.median(v))
        pulses = edges_of(waves.t, -v, -(low + top) / 2)
    else:
        assert waves.current is not None
        rough = edges_of(waves.t, waves.current, 0.3 * float(waves.current.max()))
        pulses = [_sharp(waves.t, waves.current, one) for one in rough]
    long = max((one.width for one in pulses), default=0.0)
    pulses = [one for one in pulses if one.width > 0.3 * long]
    if not pulses:
        raise DesignFileError(
            file=measured.capture.file, found="no whole pulse",
            wanted="begin the capture before the pulse and end it after the release",
        )  # fmt: skip
    return pulses[:MOST_PULSES], rail


def _sharp(t: Array, current: Array, rough: Edges) -> Edges:
    """Return a pulse whose end is where the falling flank meets the level before it."""
    inside = np.flatnonzero((t >= rough.on) & (t <= rough.off))
    smooth = np.convolve(current, np.ones(3) / 3, mode="same")
    best = int(inside[np.argmax(smooth[inside])])
    top = float(smooth[best])
    after = np.arange(best, t.size)

    def falls_below(level: float) -> float:
        index = int(after[np.flatnonzero(smooth[after] < level)[0]])
        a, b = float(smooth[index - 1]), float(smooth[index])
        return float(t[index - 1] + (a - level) / (a - b) * (t[index] - t[index - 1]))

    first, second = falls_below(0.9 * top), falls_below(0.75 * top)
    steep = -0.15 * top / max(second - first, 1e-12)
    end = first - 0.7 * (second - first)
    late = (t >= end - 0.3 * (end - rough.on)) & (t <= end)
    off = end
    if late.sum() >= 4:
        # Where the line of the last rise meets the line of the first fall.
        middle = float(t[late].mean())
        slope, level = (float(c) for c in np.polyfit(t[late] - middle, current[late], 1))
        off = middle + (0.9 * top - level - steep * (first - middle)) / (slope - steep)
    off = min(max(off, rough.on), first)
    rising = (t >= rough.on) & (t <= off)
    # The rise is bent from its beginning: its law, not a line, leads back to where it began.
    on = fit_rise(t=t[rising], current=current[rising]).t_on if rising.sum() >= 12 else rough.on
    return Edges(on=float(on), off=off)


def _mean(values: list[float], floor: float = 0.0) -> tuple[float, float]:
    array = np.array(values)
    scatter = float(array.std(ddof=1)) / np.sqrt(array.size) if array.size > 1 else 0.0
    return float(array.mean()), float(max(scatter, floor / np.sqrt(array.size)))


def _enter_switch(
    measured: Measured, waves: _Waves, v: Array, pulses: list[Edges], rail: float | None
) -> None:
    t = waves.t
    noise = quiet_noise(v)
    step = float(np.median(np.diff(t)))
    widths = [one.width for one in pulses]
    mean, sigma = _mean(widths, step / np.sqrt(6))
    measured.figure(
        "drive.pulse_width", mean, "s", "width of the pulse", "between half levels", sigma=sigma
    )
    ends, starts, peaks, zeros = [], [], [], []
    for one in pulses:
        last = (t > one.off - 0.25 * one.width) & (t < one.off - step)
        begin = (t > one.on + 0.15 * one.width) & (t < one.on + 0.4 * one.width)
        if last.sum() < 2 or begin.sum() < 2:
            continue
        ends.append(float(np.median(v[last])))
        starts.append(float(np.median(v[begin])))
        after = (t >= one.off) & (t <= one.off + 2 * one.width)
        if rail is not None and after.any():
            peaks.append(float(v[after].max()))
            above = np.flatnonzero(v[after] > rail + max(0.3 * (peaks[-1] - rail), 4 * noise))
            if above.size and above[-1] < after.sum() - 1:
                zeros.append(float(t[after][above[-1]] + step / 2 - one.off))
    if ends:
        v_sat, sigma = _mean(ends, noise / 2)
        measured.figure(
            "drive.v_switch", v_sat, "V", "voltage across the closed switch, end of the pulse",
            "median of the last quarter; the probe's own error comes on top", sigma=sigma,
        )  # fmt: skip
        rises = v_sat - float(np.mean(starts))
        if v_sat > BAD_SATURATION or rises > max(0.1, 5 * noise):
            measured.mind(
                "drive.saturation",
                f"The closed switch keeps {show(v_sat, 'V')}, {show(rises, 'V')} more than at the "
                "start of the pulse: it is not saturated.",
                "Lower the base resistor, or look at what the pin gives under load.",
            )
        else:
            measured.good(
                "drive.saturation", f"The closed switch keeps {show(v_sat, 'V')}: saturated."
            )
    if rail is not None:
        measured.figure("supply.v_rail", rail, "V", "rail between the pulses", "median at rest")
    if peaks and rail is not None:
        peak, sigma = _mean(peaks, noise)
        measured.figure(
            "clamp.v_switch_peak", peak, "V", "highest voltage at the switch after the pulse",
            "highest sample", sigma=sigma,
        )  # fmt: skip
    if zeros:
        zero, sigma = _mean(zeros, step)
        measured.figure(
            "clamp.t_zero", zero, "s", "time until the coil's current has gone",
            "while the switch stands above the rail", sigma=sigma,
        )  # fmt: skip


def _enter_current(
    measured: Measured, waves: _Waves, current: Array, pulses: list[Edges], supply: float | None
) -> None:
    t = waves.t
    noise = quiet_noise(current)
    step = float(np.median(np.diff(t)))
    lasts, charges, decays, zeros, rests = [], [], [], [], []
    for one in pulses:
        on = (t >= one.on - 2 * step) & (t <= one.off)
        last = (t > one.off - max(0.05 * one.width, 4 * step)) & (t <= one.off)
        if last.sum() < 2:
            continue
        lasts.append(float(np.polyval(np.polyfit(t[last] - one.off, current[last], 1), 0.0)))
        rest = lasts[-1] * (one.off - float(t[on][-1]))
        charges.append(float(integral(t[on], current[on])[-1]) + rest)
        following = pulses[pulses.index(one) + 1].on if one is not pulses[-1] else float(t[-1])
        part = (t >= one.on) & (t < following)
        released = release_of(t=t[part], current=current[part], t_off=one.off, noise=noise)
        decays.append(released.t_decay)
        zeros.append(released.t_zero)
        rests.append(released.charge)
    peak, sigma = _mean(lasts, noise / 2)
    measured.figure(
        "drive.i_coil", peak, "A", "coil current when the switch opens",
        "line through the last samples of the pulse", sigma=sigma,
    )  # fmt: skip
    if waves.switch is None:
        width, sigma = _mean([one.width for one in pulses], step)
        measured.figure(
            "drive.pulse_width", width, "s", "width of the pulse",
            "from the current's rise to the break of its fall", sigma=sigma,
        )  # fmt: skip
    width = float(np.mean([one.width for one in pulses]))
    # Noise in the pulse, the level at rest, and the moment of switching off.
    resting = max(8, current.size // 20)
    floor = noise * np.sqrt(step * width + width**2 * 1.6 / resting) + peak * step / np.sqrt(12)
    charge, charge_sigma = _mean(charges, float(floor))
    measured.figure(
        "energy.q_pulse", charge, "C", "charge that a pulse takes from the supply",
        "integral of the current while the switch is closed", sigma=charge_sigma,
    )  # fmt: skip
    decay, sigma = _mean(decays, 2 * step)
    measured.figure("clamp.t_decay", decay, "s", "time until a twentieth of the current is left",
                    "from the opening of the switch", sigma=sigma)  # fmt: skip
    if "clamp.t_zero" not in measured.ledger.values:
        zero, sigma = _mean(zeros, 3 * step)
        measured.figure("clamp.t_zero", zero, "s", "time until the coil's current has gone",
                        "from the opening of the switch", sigma=sigma)  # fmt: skip
    measured.figure("measured.q_release", float(np.mean(rests)), "C",
                    "charge that flows on through the clamp",
                    "integral after the pulse")  # fmt: skip
    if supply is None:
        measured.unknown(
            "drive.energy", "The rail is not known, so neither energy nor resistance follows.",
            'Say --supply "4.5 V", capture the switch too, or add --design FILE.',
        )  # fmt: skip
        return
    measured.figure(
        "energy.e_pulse", supply * charge, "J", "energy that a pulse takes from the supply",
        f"charge times a rail of {show(supply, 'V')}", sigma=supply * charge_sigma,
    )  # fmt: skip
    _enter_coil(measured, waves, current, pulses[0], supply)


def _enter_coil(
    measured: Measured, waves: _Waves, current: Array, one: Edges, supply: float
) -> None:
    """Enter resistance and inductance from the first pulse's rise."""
    t = waves.t
    on = (t >= one.on) & (t <= one.off)
    rise = fit_rise(t=t[on], current=current[on])
    if waves.switch is not None:
        coil = fit_coil(t=t[on], current=current[on], voltage=supply - waves.switch[on])
        r, r_sigma = coil.resistance, coil.resistance_sigma
        l_coil, l_sigma = coil.inductance, coil.inductance_sigma
        how = "flux = R charge + L current, rail less the switch's voltage"
    else:
        r = supply / rise.i_end
        r_sigma = r * rise.i_end_sigma / rise.i_end
        # Slope of the beginning, V/L: known well even where end and time constant are not.
        one_, other = rise.tau_sigma / rise.tau, rise.i_end_sigma / rise.i_end
        relative = np.sqrt(max(one_**2 + other**2 - 2 * rise.likeness * one_ * other, 0.0))
        l_coil = supply * rise.tau / rise.i_end
        l_sigma = l_coil * float(relative)
        how = f"exponential rise from a rail of {show(supply, 'V')}, switch and cells included"
    if waves.shunt > 0:
        # What is laid beside the design and written into a file is the coil without it.
        r -= waves.shunt
        how += f", shunt of {show(waves.shunt, 'ohm')} taken off"
    # A rail read to a hundredth moves both by as much.
    r_sigma, l_sigma = float(np.hypot(r_sigma, 0.005 * r)), float(np.hypot(l_sigma, 0.005 * l_coil))
    short = r_sigma > 0.15 * r
    if short:
        measured.unknown(
            "drive.coil",
            f"The pulse of {show(one.width, 's')} is short beside the coil's time constant: end "
            f"and time constant of the rise go together (correlation "
            f"{significant(rise.likeness, 3)}), so its resistance is not told; the inductance "
            "follows from the slope at the start.",
            "Measure the resistance with a meter, or capture a longer pulse.",
        )
    else:
        measured.figure("coil.r_coil", r, "ohm", "resistance of the coil", how,
                        sigma=r_sigma)  # fmt: skip
        measured.change("coil", "measured_resistance", f"{r:.4g} ohm")
    measured.figure("coil.l_coil", l_coil, "H", "inductance of the coil", how, sigma=l_sigma)
    measured.change("coil", "measured_inductance", f"{l_coil:.4g} H")
    told = "" if short else (
        f" and resistance {show(r, 'ohm')} +- {percent(SPAN * r_sigma / r)}"
    )  # fmt: skip
    measured.good(
        "drive.rise",
        f"The rise gives an inductance of {show(l_coil, 'H')} +- "
        f"{percent(SPAN * l_sigma / l_coil)}{told}. A magnet that moves over the coil meanwhile "
        "counts as resistance: capture with it at "
        "rest, or away.",
    )


def _draw(measured: Measured, waves: _Waves, pulses: list[Edges]) -> None:
    one = pulses[0]
    shown = (waves.t > one.on - 0.5 * one.width) & (waves.t < one.off + 1.5 * one.width)
    t = (waves.t[shown] - one.on) * 1e3
    marks = (Note(x=0.0, y=None, text="on"), Note(x=one.width * 1e3, y=None, text="off"))
    for wave, title, unit, factor in (
        (waves.current, "Coil current", "current (mA)", 1e3),
        (waves.switch, "Voltage at the switch", "voltage (V)", 1.0),
    ):
        if wave is not None:
            measured.panels.append(
                Panel(title=title, x_label="time from on (ms)", y_label=unit, notes=marks,
                      curves=(Curve(x=t, y=wave[shown] * factor, style="data"),))
            )  # fmt: skip
