"""Every whole number that the firmware needs, from the sheet of one design."""

from dataclasses import dataclass, replace
from math import ceil, floor, isfinite

from calc.calculator import OutOfRangeError
from calc.regulator import ONE_TICK, RegulatorConstants
from calc.regulator_sizing import check_constants
from circuits import VERSION
from circuits.design import Design
from circuits.errors import DesignFileError
from circuits.face_json import assumed_entry, finding_entry, json_text
from circuits.format_quantity import show, significant
from circuits.ledger import Ledger, Severity
from circuits.stage_pass import StagePass
from circuits.stages.steering_loop import SteeringResult
from circuits.steering.constants_checks import judge
from circuits.steering.constants_header import Constant, Group, header_text, regulator_group
from circuits.steering.loop_constants import regulator_of
from circuits.steering.planned_loop import planned_loop
from circuits.supply_words import reword, without_cells

SILENT_PERIODS = 3
"""Periods without an event after which the movement is taken to stand."""
CONCERNS = ("controller.", "steering.", "pickup.hysteresis", "drive.pulse", "rate.")
"""Beginnings of the assumptions that a constant of the firmware rests on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FirmwareConstants:
    """The constants in groups, the regulator among them, and what is to be said of them."""

    title: str
    regulator: RegulatorConstants
    groups: tuple[Group, ...]
    ledger: Ledger
    assumed: tuple[str, ...]

    def header(self) -> str:
        """Return the C header."""
        notes = [f"Written by coilwright {VERSION}; every figure is for this design alone."]
        notes += [f"Assumed, not stated: {each}." for each in self.assumed]
        notes += [
            f"{finding.severity.value.capitalize()}: {finding.text}"
            for finding in self.ledger.findings.values()
            if finding.severity is not Severity.GOOD
        ]
        return header_text(self.title, tuple(notes), self.groups)

    @property
    def fails(self) -> bool:
        """Whether a finding fails."""
        return any(f.severity is Severity.FAILS for f in self.ledger.findings.values())

    def sentences(self) -> str:
        """Return what is to be said of the constants, a sentence a line."""
        lines = [f"{sum(len(group.constants) for group in self.groups)} constants written."]
        for finding in self.ledger.findings.values():
            if finding.severity is Severity.GOOD:
                continue
            lines.append(f"{finding.severity.value}: {finding.text} ({finding.id})")
            if finding.remedy:
                lines.append(f"    {finding.remedy}")
        return "\n".join(lines) + "\n"

    def json(self) -> str:
        """Return values, findings and assumptions as every other command prints them."""
        constants = [constant for group in self.groups for constant in group.constants]
        values = {
            f"firmware.{constant.name.lower()}": {
                "value": constant.value * constant.si, "unit": constant.si_unit, "low": None,
                "high": None, "basis": "computed",
            }
            for constant in constants
        }  # fmt: skip
        table = [
            {"name": c.name, "value": c.value, "unit": c.unit, "origin": c.origin}
            for c in constants
        ]
        findings = [finding_entry(finding) for finding in self.ledger.findings.values()]
        assumed = [assumed_entry(entry) for entry in self.ledger.assumed.values()]
        return json_text(
            {
                "title": self.title, "version": VERSION, "values": values, "findings": findings,
                "assumed": assumed, "constants": table,
            }
        )  # fmt: skip


def firmware_constants(design: Design) -> FirmwareConstants:
    """Return all constants of a design's firmware.

    Parameters
    ----------
    design : Design
        The design file.

    Returns
    -------
    constants : FirmwareConstants

    Raises
    ------
    DesignFileError
        If no loop can be planned, or a figure fits no whole number of the controller.
    """
    done, loop, of_loop = planned_loop(design)
    try:
        regulator = regulator_of(loop)
        most = check_constants(regulator)
    except OutOfRangeError as error:
        reason, _, repair = str(error).partition(";")
        raise DesignFileError(
            file=design.file, section="rate",
            found="a loop that the firmware's whole numbers cannot hold "
            f"({reason.removeprefix('regulator: ').removeprefix('steering: ').strip()})",
            wanted=repair.strip() or "a coarser tick, or other widths and gains",
        ) from error  # fmt: skip
    groups: tuple[Group, ...] = (
        _timer(design, loop),
        _pickup(design, done, loop),
        _pulse(done, loop),
        regulator_group(regulator, _origins(design, loop, regulator)),
    )
    ledger = Ledger()
    judge(ledger, done, loop, of_loop, regulator, most)
    if design.supply.cell is None:
        reword(ledger, one_voltage=not design.tolerance.supply)
        groups = tuple(_without_cells(group) for group in groups)
    assumed = {
        entry.id: entry
        for entry in (done.ledger.assumed | of_loop.assumed).values()
        if entry.id.startswith(CONCERNS)
    }
    ledger.assumed.update(assumed)
    said = tuple(
        f"{a.id} = {show(a.value, a.unit) if isinstance(a.value, float) else a.value} ({a.source})"
        for a in assumed.values()
    )
    return FirmwareConstants(
        title=design.design.title or design.file, regulator=regulator, groups=groups,
        ledger=ledger, assumed=said,
    )  # fmt: skip


def _without_cells(group: Group) -> Group:
    return replace(
        group, words=without_cells(group.words),
        constants=tuple(
            replace(each, origin=without_cells(each.origin)) for each in group.constants
        ),
    )  # fmt: skip


def _stated(value: object) -> str:
    return "as stated" if value is not None else "sized or assumed"


def _timer(design: Design, loop: SteeringResult) -> Group:
    tick, beat = loop.tick, loop.beat
    a_second = 1 / tick
    return Group(
        words="The timer and the beat",
        constants=(
            Constant(
                name="TIMER_TICK", value=round(tick * 1e12), unit="ps", si_unit="s", bits=64,
                si=1e-12,
                origin=f"One tick, {tick:.9g} s, {_stated(design.controller.tick)}; "
                f"{a_second:.9g} ticks a second",
            ),
            Constant(
                name="MOVEMENT_BEAT", value=round(beat / tick * ONE_TICK), unit="1/65536 tick",
                bits=64,
                origin=f"One swing, one way, on time: {beat:.9g} s. Whole ticks alone would make "
                "it gain or lose for good",
            ),
            Constant(
                name="MOVEMENT_SILENT", value=ceil(2 * SILENT_PERIODS * beat / tick),
                unit="ticks", bits=64,
                origin=f"Without an event for {SILENT_PERIODS} periods the movement stands; "
                "common practice, no source",
            ),
        ),
    )  # fmt: skip


def _pickup(design: Design, done: StagePass, loop: SteeringResult) -> Group:
    pickup = done.result("pickup")
    pin = pickup.pin
    if pin is None:
        return Group(words="The pickup", constants=())
    full = 1 << pin.n_bits
    fresh, spent = full / pin.v_reference_fresh, full / pin.v_reference_spent
    threshold = max(floor(pickup.threshold * fresh), 1)
    hysteresis = max(floor((pickup.hysteresis or pickup.threshold / 2) * fresh), 1)
    kind = design.pickup.baseline or "tracked"
    moves = "" if abs(fresh / spent - 1) < 1e-9 else (
        f"; with spent cells a count is worth {show(1 / spent, 'V')} instead of "
        f"{show(1 / fresh, 'V')}, and this threshold {show(threshold / spent, 'V')}"
    )  # fmt: skip
    side = "falls" if pickup.side > 0 else "rises"
    rows = [
        Constant(
            name="PICKUP_BITS", value=pin.n_bits, unit="bits",
            origin=f"Of the converter, {_stated(design.controller.adc_bits)}",
        ),
        Constant(
            name="PICKUP_BASELINE", value=round(pickup.v_bias_fresh * fresh), unit="counts",

            origin=f"Rest level at the pin, {show(pickup.v_bias_fresh, 'V')} with fresh cells; "
            + ("to be tracked from there" if kind == "tracked" else f"baseline {kind}"),
        ),
        Constant(
            name="PICKUP_BASELINE_SPENT", value=round(pickup.v_bias_spent * spent), unit="counts",

            origin=f"The same with spent cells, {show(pickup.v_bias_spent, 'V')}",
        ),
        Constant(
            name="PICKUP_THRESHOLD", value=threshold, unit="counts from the baseline",

            origin=f"The lobe is there when the signal {side} by {show(pickup.threshold, 'V')}, "
            f"{_stated(design.pickup.threshold)}; rounded down with fresh cells{moves}",
        ),
        Constant(
            name="PICKUP_HYSTERESIS", value=min(hysteresis, threshold),
            unit="counts from the baseline",
            origin="Armed again when the signal has come back within "
            f"{show(pickup.hysteresis or pickup.threshold / 2, 'V')}, "
            f"{_stated(design.pickup.hysteresis)}",
        ),
        Constant(
            name="PICKUP_SIDE", value=1 if pickup.side > 0 else -1,
            unit="+1 the lobe that is waited for falls, -1 it rises",
            origin="Sign of the threshold",
        ),
        Constant(
            name="PICKUP_DEAF", value=ceil(done.result("timing").deaf_until / loop.tick),
            unit="ticks from the start of the pulse",
            origin="Deaf time: pulse, release and the filter's recovery, "
            f"{show(done.result('timing').deaf_until, 's')}; rounded up",
        ),
    ]  # fmt: skip
    return Group(words="The pickup: what the converter shows", constants=tuple(rows))


def _pulse(done: StagePass, loop: SteeringResult) -> Group:
    pulse, drive = done.result("pulse"), done.result("drive")
    rows = [
        Constant(
            name="PULSE_DELAY", value=max(round(pulse.delay / loop.tick), 0),
            unit="ticks from the event",
            origin=f"The pulse starts {show(pulse.delay, 's')} after the event",
        ),
        Constant(
            name="PULSE_WIDTH", value=max(round(loop.width_now / loop.tick), 1), unit="ticks",

            origin=f"Unsteered width, {show(loop.width_now, 's')}, that holds the arc with spent "
            "cells",
        ),
        Constant(
            name="PULSE_LONGEST", value=ceil(loop.width_max / loop.tick) + 1, unit="ticks",

            origin="No pulse may last longer: switch off by a second timer or the watchdog; a pin "
            "that sticks feeds the coil for good",
        ),
        Constant(
            name="PULSE_BEATS", value=drive.swings_per_pulse, unit="beats from pulse to pulse",
            origin="1 each pass, 2 each period",
        ),
    ]  # fmt: skip
    if isfinite(drive.duty) and drive.duty < 1:
        rows.append(
            Constant(
                name="PULSE_DUTY", value=round(65536 * drive.duty), unit="1/65536",
                origin=f"Duty inside the pulse, {significant(drive.duty)}",
            )
        )  # fmt: skip
    return Group(words="The pulse", constants=tuple(rows))


def _origins(design: Design, loop: SteeringResult, regulator: RegulatorConstants) -> dict[str, str]:
    """Say by field where each of the regulator's constants came from."""
    rate, scale, tick = design.rate, 1 << regulator.shift, loop.tick
    gain = "as stated" if rate.kp is not None or rate.ki is not None else (
        f"from the time constant {show(loop.time_constant, 's')} and damping "
        f"{significant(loop.damping)}"
    )  # fmt: skip
    return {
        "law": "Width = centre + direction (KP error + KI total) / 2^SHIFT",
        "beats_per_correction": f"{show(loop.interval, 's')} from one correction to the next",
        "nominal": f"What that many beats take on time, {loop.interval / tick:.4f} ticks",
        "interval_limit": "Half a beat, or a 64th of the interval if that is more: what is "
        "farther off is not believed. Notice missed events where they arise, beat by beat",
        "width_min": f"Narrowest pulse, {show(loop.width_min, 's')}, {_stated(rate.width_min)}",
        "width_centre": f"On time with fresh cells, {show(loop.fresh.width, 's')}",
        "width_max": f"Widest pulse, {show(loop.width_max, 's')}, {_stated(rate.width_max)}",
        "width_step": "Least change of the width",
        "direction": "Sign of the stated gains, against that of the settled rate: it runs away"
        if regulator.direction != loop.direction
        else "Sign of the settled rate against the width, "
        + ("as measured" if loop.curves.measured else "as computed; measure it first"),
        "kp": f"{significant(regulator.kp / scale, 5)} s of width for each second of time error, "
        f"{gain}",
        "ki": f"{significant(regulator.ki / scale, 5)} s for each second of error summed once a "
        f"correction, {gain}",
        "shift": "The largest with which no product can overflow",
        "dead_band": "Time error that is left alone"
        + (f", {show(regulator.dead_band * tick, 's')}: jitter" if regulator.dead_band else ""),
        "error_limit": f"{show(regulator.error_limit * tick, 's')}: more is a stop, not a rate",
        "total_limit": "What carries the width from one limit to the other, and no more",
    }
