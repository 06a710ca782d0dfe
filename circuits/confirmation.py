"""The calculators' figures beside a simulator's, each with a tolerance and its reason."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import inf
from pathlib import Path

from calc.pulse import PulseOutcome
from circuits.spice_circuits import (
    Stages,
    drive_circuit,
    free_signal,
    listening_circuit,
    log_circuit,
    pass_circuit,
    pulse_window,
)
from netlists.deck import Analysis
from netlists.drive_deck import DriveFigures, drive_analysis, drive_deck, drive_figures
from netlists.filter_deck import (
    ResponseFigures,
    free_pass_deck,
    response_deck,
    response_figures,
)
from netlists.log_deck import log_deck, log_figures
from netlists.pass_deck import PinFigures, pass_deck, pin_curve, pin_figures
from netlists.run_many import Job, run_all

NEGLIGIBLE = 3e-3
"""An energy below this share of the whole pulse is held to that share of the pulse."""

NEARLY = 0.9
"""Share of the current at which the switch leaves saturation."""
FOREVER = 1e6
"""Stands for an event that never comes [s]."""

WAVEFORM = "the same equations, solved in steps"
BASE = "the calculators hold the base current constant; the simulator's follows V_BE"
SWITCH = "law and card meet the same data-sheet points and part between them"
RELEASE = "the calculators end the pulse at once; the simulator's switch takes its turn"
PATH = "the calculators carry the winding's inductance to second order and a bypass not at all"
EDGES = "the simulator's PWM has edges, and sixty steps in a period"
STEPS = "an upper bound: the calculators take pulse and kick as steps before the filter"
RIPPLE = "the calculators smooth a chopped pulse; the simulator's current has a ripple"
STARVED = (
    "the switch is starved: the coil gets the gain's multiple of a base current that is known no "
    "better than V_BE; see the sheet on saturation"
)
CHARGE = "share of the signal; the calculators let the pin's clamp set in at one moment"
DIP = "the calculators smooth the current of a supply whose resistance acts on average"
KICK = "an upper bound: the calculators take the current that resistance alone allows"


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure twice; `tolerance` and `difference` are shares of `scale`.

    With `bound` the calculators say "no more than": the simulator may find any less.
    """

    id: str
    words: str
    state: str
    unit: str
    calculated: float
    simulated: float
    tolerance: float
    scale: float
    reason: str
    bound: bool = False

    @property
    def difference(self) -> float:
        """The simulator's figure less the calculators', as a share."""
        return (self.simulated - self.calculated) / self.scale if self.scale else 0.0

    @property
    def agrees(self) -> bool:
        """Whether the difference lies within its tolerance."""
        distance = self.difference if self.bound else abs(self.difference)
        return distance <= self.tolerance


@dataclass(frozen=True, slots=True, kw_only=True)
class Confirmation:
    """Every figure that was laid beside the simulator's."""

    title: str
    version: str
    figures: tuple[Figure, ...]
    notes: tuple[str, ...]
    cells: bool = True

    @property
    def agrees(self) -> bool:
        """Whether all figures agree."""
        return all(figure.agrees for figure in self.figures)


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedJob:
    """A deck under its fixed name, with what it is for."""

    name: str
    words: str
    job: Job


COUNT = 5
"""Decks that a confirmation runs, one more where there is an output for a logger."""


def jobs_of(s: Stages, *, portable: bool = False) -> Iterator[NamedJob]:
    """Yield the decks of a design, the longest runs first.

    Parameters
    ----------
    s : Stages
        The sized design.
    portable : bool
        Whether other simulators are to read them.

    Yields
    ------
    job : NamedJob
        The free and the driven pass, the drive with fresh and with spent cells, the filter over
        frequency; for other simulators also the free pass through winding and filter alone.
    """
    whole = pass_circuit(s)
    for pulse, name in ((False, "free_pass"), (True, "driven_pass")):
        words = f"two passes, the first {'driven' if pulse else 'free'}, up to the pin"
        yield _named(name, words, *pass_deck(whole, pulse=pulse, portable=portable))
    for state in ("fresh", "spent"):
        circuit = pulse_window(drive_circuit(s, state))
        deck, analysis = drive_deck(circuit, portable=portable), drive_analysis(circuit)
        yield _named(f"drive_{state}", f"drive pulse, {state} cells", deck, analysis)
    listening = listening_circuit(s)
    deck, analysis = response_deck(listening, portable=portable)
    yield _named("filter", "winding, divider and filter over frequency", deck, analysis)
    if s.log_output is not None:
        deck, analysis = log_deck(log_circuit(s.log_output), portable=portable)
        yield _named("log_output", "the width as PWM into a logger, from rest", deck, analysis)
    if portable:
        deck, analysis = free_pass_deck(listening, *free_signal(s), portable=True)
        yield _named("listening", "a free pass, winding and filter alone", deck, analysis)


def _named(name: str, words: str, deck: str, analysis: Analysis) -> NamedJob:
    return NamedJob(name=name, words=words, job=Job(deck=deck, analysis=analysis))


def confirm(
    s: Stages,
    *,
    title: str,
    program: Path,
    version: str,
    progress: Callable[[int, int], None],
) -> Confirmation:
    """Run every deck of a design and lay the figures side by side.

    Parameters
    ----------
    s : Stages
        The sized design.
    title : str
        Its title.
    program : pathlib.Path
        The simulator.
    version : str
        Its version text.
    progress : callable
        Told how many runs are done, and how many there are.

    Returns
    -------
    confirmation : Confirmation

    Raises
    ------
    SimulatorFailed
        If a run gave no whole result.
    """
    jobs: list[NamedJob] = []

    def started() -> Iterator[Job]:
        for named in jobs_of(s):
            jobs.append(named)
            yield named.job

    count = COUNT + (s.log_output is not None)
    runs = run_all(started(), count=count, program=program, version=version, progress=progress)
    found = {named.name: run for named, run in zip(jobs, runs, strict=True)}
    figures: list[Figure] = []
    for state in ("fresh", "spent"):
        circuit = pulse_window(drive_circuit(s, state))
        simulated = drive_figures(circuit, found[f"drive_{state}"])
        figures += _drive(s, state, simulated, circuit.v_supply)
    analysis = next(named.job.analysis for named in jobs if named.name == "filter")
    sweep = response_figures(found["filter"], analysis, s.filter.f_mains)
    whole = pass_circuit(s)
    pin = pin_figures(
        whole,
        pin_curve(whole, found["free_pass"]),
        pin_curve(whole, found["driven_pass"]),
        level=_level(s),
        near=s.filter.crossing_time,
        signal=free_signal(s)[1],
        side=_arming_side(s),
        lowest=s.drive.trigger == "threshold",
    )
    figures += _listening(s, sweep, pin)
    if s.log_output is not None:
        output = log_circuit(s.log_output)
        logged = log_figures(output, found["log_output"], log_deck(output)[1])
        figures.append(_figure(s, "log_output.ripple", "V", logged.ripple, 0.02, EDGES))
    return Confirmation(
        title=title, version=version, figures=tuple(figures), notes=tuple(_notes(s, pin))
    )


def _arming_side(s: Stages) -> int:
    """Return on which side of rest the lobe stands that arms the crossing."""
    _, signal = free_signal(s)
    return 1 if s.drive.polarity == "repel" or signal.argmax() < signal.argmin() else -1


def _level(s: Stages) -> float:
    return max(min(s.pickup.hysteresis or s.pickup.threshold, s.pickup.threshold), 1e-9)


def _drive(s: Stages, state: str, found: DriveFigures, v_supply: float) -> list[Figure]:
    outcome: PulseOutcome = s.pulse.fresh if state == "fresh" else s.pulse.spent
    suffix = "" if state == "fresh" else "_spent"
    whole = outcome.e_supply
    law = (s.drive.fresh if state == "fresh" else s.drive.spent).law
    solved = STARVED if outcome.i_peak > NEARLY * law.i_limit else WAVEFORM
    ripple, falling = (0.01, solved), (0.03, RELEASE)
    if s.drive.duty < 1:
        ripple, falling = (0.1, RIPPLE), (0.1, RIPPLE)
    rows = (
        ("energy.e_pulse", "J", found.e_pulse, 0.01, solved),
        ("energy.e_base", "J", found.e_base, 0.1, BASE),
        ("energy.e_copper", "J", found.e_copper, 0.02, solved),
        ("energy.e_switch", "J", found.e_switch, 0.2, SWITCH),
        ("energy.e_clamp", "J", found.e_clamp, 0.05, RELEASE),
        ("energy.e_mechanical", "J", found.e_mechanical, 0.01, solved),
        ("drive.i_coil", "A", found.i_peak, *ripple),
        ("drive.v_switch", "V", found.v_switch, 0.2, SWITCH),
        ("clamp.t_decay", "s", found.t_decay, *falling),
        ("supply.v_dip", "V", v_supply - found.v_rail_least, 0.03, DIP),
    )
    figures = []
    for name, unit, simulated, tolerance, reason in rows:
        entry = s.ledger.values.get(name + suffix)
        if entry is None:
            continue
        calculated = float(entry.value)
        # What is a trifle of the pulse, or of the rail, is judged against the whole.
        least = {"J": NEGLIGIBLE * whole, "V": NEGLIGIBLE * v_supply}.get(unit, 0.0) / tolerance
        figures.append(
            Figure(
                id=name, words=entry.words, state=state, unit=unit, calculated=calculated,
                simulated=simulated, tolerance=tolerance,
                scale=max(abs(calculated), least), reason=reason,
            )
        )  # fmt: skip
    if state == "fresh":
        figures.append(
            _figure(s, "clamp.v_switch_peak", "V", found.v_switch_peak, 0.01, KICK, bound=True)
        )
    return figures


def _figure(
    s: Stages, name: str, unit: str, simulated: float, tolerance: float, reason: str,
    *, calculated: float | None = None, scale: float | None = None, bound: bool = False,
) -> Figure:  # fmt: skip
    entry = s.ledger.values.get(name)
    value = calculated
    if value is None:
        if entry is None:
            raise ValueError(f"the sheet has no {name}")
        value = float(entry.value)
    return Figure(
        id=name, words=entry.words if entry else name, state="fresh", unit=unit,
        calculated=value, simulated=simulated, tolerance=tolerance,
        scale=abs(value) if scale is None else scale, reason=reason, bound=bound,
    )  # fmt: skip


def _listening(s: Stages, sweep: ResponseFigures, pin: PinFigures) -> list[Figure]:
    figures = [
        _figure(s, "filter.f_c", "Hz", sweep.f_c, 0.01, WAVEFORM),
        _figure(s, "filter.mains_gain", "1", sweep.mains_gain, 0.02, PATH),
        _figure(
            s, "pickup.v_bias", "V", pin.curve.rest, 0.01, WAVEFORM,
            calculated=s.pickup.v_bias_fresh,
        ),
    ]  # fmt: skip
    true_crossing = s.filter.crossing_time - s.filter.delay
    if s.filter.reached:
        # A crossing that the simulator does not find differs beyond any tolerance.
        delay = inf if pin.crossing is None else pin.crossing - true_crossing
        figures += [
            _figure(s, "filter.delay", "s", min(delay, FOREVER), 0.02, PATH),
            _figure(s, "filter.peak_kept", "1", pin.kept / s.filter.gain, 0.02, PATH),
        ]
    figures.append(_figure(s, "timing.deaf_until", "s", pin.deaf_until, 0.03, STEPS, bound=True))
    if "pickup.v_residual" in s.ledger.values:
        # Against the peak at the pin: what is left matters as a share of the signal.
        figures.append(
            _figure(
                s, "pickup.v_residual", "V", pin.residual, 0.15, CHARGE,
                scale=max(s.filter.peak, 1e-9),
            )
        )  # fmt: skip
    return figures


def _notes(s: Stages, pin: PinFigures) -> list[str]:
    from circuits.format_quantity import show  # noqa: PLC0415

    notes = [
        f"At the pin the simulator sees {show(pin.v_pin_min, 'V')} to {show(pin.v_pin_max, 'V')} "
        f"over pulse and kick; the pin's own junctions take {show(max(pin.i_clamp, 0.0), 'A')} at "
        "most.",
    ]
    if not s.filter.reached:
        notes.append("The signal never crosses its rest: delay and peak are not compared.")
    elif pin.crossing is not None and pin.crossing_next is not None:
        shift = pin.crossing_next - pin.crossing
        notes.append(
            f"At the next pass {show(abs(pin.residual), 'V')} of the pulse are left at the pin, "
            f"and the crossing comes {show(abs(shift), 's')} {'late' if shift > 0 else 'early'}."
        )
    if s.drive.duty < 1:
        notes.append(
            "The pulse is chopped; the design file does not say how fast, so the simulator chops "
            "it into at most 400 parts."
        )
    return notes
