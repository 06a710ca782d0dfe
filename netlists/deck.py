"""A deck under construction: PySpice keeps the circuit, every number and name is ours."""

import threading
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from netlists.deck_gate import TITLE, check_deck
from netlists.errors import SimulatorMissing
from netlists.spice_number import spice_number

CELSIUS = 273.15
GROUND = "0"

HOW_TO_INSTALL = (
    "PySpice, which builds the decks, is not installed; "
    'install coilwright with `pipx install ".[spice]"`'
)

_import_lock = threading.Lock()


@dataclass(frozen=True, slots=True, kw_only=True)
class Analysis:
    """One analysis line, the vectors it must give and the abscissa that it must reach."""

    kind: str
    line: str
    vectors: tuple[str, ...]
    end: float


def transient(*, end: float, step_max: float, vectors: Sequence[str]) -> Analysis:
    """Return an analysis in time that begins with the circuit at rest.

    Parameters
    ----------
    end : float
        Last time [s].
    step_max : float
        Longest step of the simulator [s].
    vectors : sequence of str
        Vectors to keep, such as ``v(n1)``.
    """
    times = (step_max, end, 0.0, step_max)
    line = f".tran {' '.join(map(spice_number, times))}"
    return Analysis(kind="tran", line=line, vectors=tuple(sorted(set(vectors))), end=end)


def sweep(*, start: float, end: float, per_decade: int, vectors: Sequence[str]) -> Analysis:
    """Return an analysis over frequency, logarithmic.

    Parameters
    ----------
    start, end : float
        First and last frequency [Hz].
    per_decade : int
        Points in a decade.
    vectors : sequence of str
        Vectors to keep.
    """
    line = f".ac dec {per_decade} {spice_number(start)} {spice_number(end)}"
    return Analysis(kind="ac", line=line, vectors=tuple(sorted(set(vectors))), end=end)


def operating_sweep(*, source: str, start: float, end: float, step: float,
                    vectors: Sequence[str]) -> Analysis:  # fmt: skip
    """Return an analysis at rest over the value of one source.

    Parameters
    ----------
    source : str
        Name of the source that is swept.
    start, end, step : float
        Its values, in its own unit.
    vectors : sequence of str
        Vectors to keep.
    """
    line = f".dc {source} {' '.join(map(spice_number, (start, end, step)))}"
    return Analysis(kind="dc", line=line, vectors=tuple(sorted(set(vectors))), end=end)


def _circuit() -> Any:
    # Two threads that import it at once may find its circuit without its elements.
    with _import_lock:
        try:
            from PySpice.Spice.Netlist import Circuit  # noqa: PLC0415
        except ImportError as error:
            raise SimulatorMissing(HOW_TO_INSTALL) from error
    return Circuit(TITLE)


def _circuit_lines(circuit: Any) -> list[str]:
    """Return the element and model lines as PySpice's ngspice simulator would hand them over."""
    from PySpice.Spice.NgSpice.Simulation import NgSpiceCircuitSimulator  # noqa: PLC0415

    class Handed(NgSpiceCircuitSimulator):  # type: ignore[misc]
        def str_options(self, unit: bool = True) -> str:  # noqa: ARG002
            return ""  # PySpice writes a temperature with a letter behind it

    text = str(Handed(circuit, pipe=False)).lower()
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return [line for line in lines if not line.startswith((".title", ".end"))]


class Deck:
    """Elements under fixed names between nodes n1, n2 …; values in SI units.

    A portable deck keeps to what every SPICE has: no behavioural source, the oldest MOSFET
    model, results printed. The other kind is what our own runs take: exact waveforms, all
    results in one file.
    """

    def __init__(self, *, portable: bool = False) -> None:
        self._circuit = _circuit()
        self._portable = portable

    def resistor(self, name: str, plus: str, minus: str, value: float) -> None:
        """Add a resistor [Ω]."""
        self._circuit.R(name, plus, minus, spice_number(value))

    def capacitor(self, name: str, plus: str, minus: str, value: float) -> None:
        """Add a capacitor [F]."""
        self._circuit.C(name, plus, minus, spice_number(value))

    def inductor(self, name: str, plus: str, minus: str, value: float) -> None:
        """Add an inductor [H]."""
        self._circuit.L(name, plus, minus, spice_number(value))

    def coupling(self, name: str, one: str, other: str, factor: float) -> None:
        """Couple two inductors by their coupling factor [1]."""
        self._circuit.CoupledInductor(name, f"L{one}", f"L{other}", spice_number(factor))

    def source(self, name: str, plus: str, minus: str, value: float) -> None:
        """Add a steady voltage [V]."""
        self._circuit.V(name, plus, minus, f"dc {spice_number(value)}")

    def test_signal(self, name: str, plus: str, minus: str) -> None:
        """Add a voltage of 1 V for a sweep over frequency."""
        self._circuit.V(name, plus, minus, f"dc {spice_number(0.0)} ac {spice_number(1.0)}")

    def current(self, name: str, plus: str, minus: str, value: float) -> None:
        """Add a steady current [A] that flows from minus to plus outside the source."""
        self._circuit.I(name, minus, plus, f"dc {spice_number(value)}")

    def steps(
        self, name: str, plus: str, minus: str, points: Sequence[tuple[float, float]]
    ) -> None:
        """Add a voltage along a few points of time [s] and value [V]."""
        pairs = " ".join(f"{spice_number(t)} {spice_number(v)}" for t, v in points)
        self._circuit.V(name, plus, minus, f"pwl({pairs})")

    def waveform(
        self,
        name: str,
        plus: str,
        minus: str,
        t: NDArray[np.float64],
        v: NDArray[np.float64],
    ) -> None:
        """Add a voltage [V] along many points of time [s]; it stays flat beyond them.

        A behavioural source looks its points up, where a plain source walks them all at each
        step; it extrapolates, so that its first and last point stand twice.
        """
        if self._portable:
            kept = few_points(t, v)
            self.steps(
                f"5{name}", plus, minus, list(zip(t[kept].tolist(), v[kept].tolist(), strict=True))
            )
            return
        times = np.concatenate(([t[0] - 1.0], t, [t[-1] + 1.0]))
        values = np.concatenate(([v[0]], v, [v[-1]]))
        pairs = ",".join(
            f"{spice_number(at)},{spice_number(value)}"
            for at, value in zip(times.tolist(), values.tolist(), strict=True)
        )
        self._circuit.B(name, plus, minus, v=f"pwl(time,{pairs})")

    def bipolar(self, name: str, collector: str, base: str, emitter: str, model: str) -> None:
        """Add a bipolar transistor."""
        self._circuit.Q(name, collector, base, emitter, model=model)

    def mosfet(self, name: str, drain: str, gate: str, source: str, model: str) -> None:
        """Add a vertical MOSFET, whose body is its source."""
        # PySpice knows four-node MOSFETs only; the vertical kind has three.
        nodes = f"{drain} {gate} {source}"
        if self._portable:
            nodes += f" {source}"
        self._circuit.raw_spice += f"m{name} {nodes} {model}\n"

    def diode(self, name: str, anode: str, cathode: str, model: str) -> None:
        """Add a diode."""
        self._circuit.D(name, anode, cathode, model=model)

    def model(self, name: str, kind: str, **parameters: float) -> None:
        """Add a model card."""
        if self._portable and kind == "vdmos":
            kind = "nmos"
        self._circuit.model(
            name, kind, **{key: spice_number(value) for key, value in parameters.items()}
        )

    def finished(self, analysis: Analysis, *, temperature: float = 25.0 + CELSIUS) -> str:
        """Return the whole deck, past the gate.

        Parameters
        ----------
        analysis : Analysis
            What to run.
        temperature : float
            Temperature of the circuit [K]; model cards hold at 25 degrees Celsius.

        Returns
        -------
        deck : str
            The text, closed by ``.end`` and a line break.

        Raises
        ------
        UnsafeDeckError
            If a line is not a plain circuit line.
        """
        celsius, tnom = spice_number(temperature - CELSIUS), spice_number(25.0)
        lines = [TITLE, *_circuit_lines(self._circuit)]
        if self._portable:
            lines += [f".temp {celsius}", f".options tnom={tnom} reltol=1.0e-03"]
            lines.append(f".print {analysis.kind} {' '.join(analysis.vectors)}")
        else:
            lines.append(f".options temp={celsius} tnom={tnom} reltol=1.0e-03 method=trap")
            lines.append(f".save {' '.join(analysis.vectors)}")
        lines += [analysis.line, ".end", ""]
        return check_deck("\n".join(lines))


def few_points(
    t: NDArray[np.float64], v: NDArray[np.float64], *, share: float = 1e-3
) -> NDArray[np.intp]:
    """Return which samples to keep so that straight lines stay near the whole waveform.

    Parameters
    ----------
    t, v : numpy.ndarray
        Times, rising, and values.
    share : float
        Largest distance that is left, as a share of the largest value.

    Returns
    -------
    kept : numpy.ndarray
        Rising indices, first and last among them.
    """
    limit = share * float(np.abs(v).max())
    kept = [0, len(t) - 1]
    spans = [(0, len(t) - 1)]
    while spans:
        first, last = spans.pop()
        if last - first < 2:
            continue
        inside = slice(first + 1, last)
        line = np.interp(t[inside], t[[first, last]], v[[first, last]])
        miss = np.abs(v[inside] - line)
        worst = first + 1 + int(np.argmax(miss))
        if miss.max() > limit:
            kept.append(worst)
            spans += [(first, worst), (worst, last)]
    return np.array(sorted(kept))
