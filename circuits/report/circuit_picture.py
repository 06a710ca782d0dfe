"""The circuit with its chosen values and test points, for each arrangement, switch and clamp."""

from circuits.report.drawing import Sketch
from circuits.report.figure import Picture
from circuits.report.typography import printed
from circuits.sheet import Sheet
from circuits.sheet_sentences import shown
from circuits.stage_pass import StagePass
from circuits.stages.drive import DriveResult

TOP, NODE, TAP, LOW = 8.4, 5.0, 2.6, 0.0
"""Heights of the rail, the switch's node, the signal's line and ground."""
CELLS, RESERVOIR, CLAMP, COIL = 0.6, 2.4, 5.5, 7.2
"""Places of the upright branches from left to right."""
DIVIDER, FIRST, SECOND = 11.2, 14.0, 16.5
BIAS, BYPASS = 9.95, 14.2
ZENER_COLUMN = 1.1
LONGEST = 14
"""Letters of a part's name that have room; the parts list has it whole."""

CLAMP_WORDS = {
    "diode": "a diode across the coil",
    "diode_zener": "diode and zener in series across the coil",
    "switch_zener": "a zener across the switch",
    "resistor": "a resistor across the coil",
}
LISTEN_WORDS = {
    "at_switch": "a divider from the switch's node",
    "mid_rail": "a winding of its own that stands on a bypassed mid-rail",
    "through_capacitor": "a capacitor from the node into a bias divider",
}


class _Circuit:
    """One circuit while it is drawn."""

    def __init__(self, sheet: Sheet, done: StagePass) -> None:
        self.sketch = Sketch()
        self.sheet, self.done = sheet, done
        self.parts = {part.reference: part for part in sheet.parts}
        self.drive: DriveResult = done.result("drive")
        # A zener beside the switch wants a column of its own.
        more = ZENER_COLUMN if done.result("clamp").kind == "switch_zener" else 0.0
        self.divider, self.first, self.second = DIVIDER + more, FIRST + more, SECOND + more
        self.bias, self.bypass = BIAS + more, BYPASS + more

    def label(self, reference: str) -> tuple[str, ...]:
        """Return a part's mark and its value."""
        part = self.parts.get(reference)
        if part is None:
            return (reference,)
        figure = part.part.partition(",")[0]
        short = figure if len(figure) <= LONGEST else figure[: LONGEST - 1] + "\u2026"
        return reference, printed(short)

    def down(self, kind: str, x: float, top: float, low: float, reference: str, *,
             left: bool = False) -> None:  # fmt: skip
        """Add an upright part with its label beside it."""
        self.sketch.part(kind, (x, top), (x, low))
        self.sketch.words(
            x - 0.42 if left else x + 0.42, (top + low) / 2, *self.label(reference),
            anchor="end" if left else "start",
        )  # fmt: skip

    def across(self, kind: str, left: float, right: float, y: float, reference: str) -> None:
        """Add a lying part with its label above it."""
        self.sketch.part(kind, (left, y), (right, y))
        self.sketch.words((left + right) / 2, y + 0.72, *self.label(reference), anchor="middle")

    def supply(self) -> None:
        """Add what feeds the coil."""
        s, cells = self.sketch, self.parts.get("B1")
        if cells is not None:
            s.part("Battery", (CELLS, LOW), (CELLS, TOP))
            s.words(CELLS + 0.55, 4.4, "B1", f"{cells.quantity} \u00d7 {cells.part}")
        else:
            s.wire((CELLS, LOW), (CELLS, 3.6))
            s.wire((CELLS, 5.2), (CELLS, TOP))
            s.dot(CELLS, 3.6, terminal=True)
            s.dot(CELLS, 5.2, terminal=True)
            rail = self.done.result("rails").fresh
            s.words(CELLS + 0.3, 4.4, "supply", f"{rail.v_coil:.3g} V")
        self.sketch.mark(CELLS, TOP, "TP5", dx=0.1, dy=0.42)
        right = {"mid_rail": self.bias, "through_capacitor": self.divider}.get(
            self.arrangement, COIL
        )
        s.wire((CELLS, TOP), (right, TOP))
        s.wire((CELLS, LOW), (self.second if "C3" in self.parts else self.first, LOW))
        s.ground((CELLS + COIL) / 2, LOW)
        if "C4" in self.parts:
            self.down("Capacitor", RESERVOIR, TOP, 6.0, "C4")
            s.wire((RESERVOIR, 6.0), (RESERVOIR, 5.6))
            s.ground(RESERVOIR, 5.6)

    @property
    def arrangement(self) -> str:
        """How the pickup listens."""
        return str(self.done.result("pickup").arrangement)

    def coil(self) -> None:
        """Add coil, clamp and switch."""
        s, values = self.sketch, self.sheet.values
        s.part("Inductor", (COIL, TOP), (COIL, NODE))
        turns, ohms = values["coil.n_turns"].value, values["coil.r_coil"]
        s.words(COIL + 0.35, (TOP + NODE) / 2, "L1", f"{turns} turns", printed(shown(ohms)))
        kind = self.done.result("clamp").kind
        if kind == "switch_zener":
            zener = COIL + 2.1
            s.wire((COIL, NODE), (zener, NODE))
            s.dot(zener, NODE)
            self.sketch.part("Zener", (zener, LOW), (zener, NODE))
            s.words(zener + 0.35, 0.9, *self.label("D2"))
        else:
            s.wire((CLAMP, NODE), (COIL, NODE))
            if kind == "resistor":
                self.down("ResistorIEC", CLAMP, TOP, NODE, "R7", left=True)
            elif kind == "diode_zener":
                middle = (TOP + NODE) / 2
                s.part("Diode", (CLAMP, NODE), (CLAMP, middle))
                s.part("Zener", (CLAMP, TOP), (CLAMP, middle))
                s.words(CLAMP - 0.4, (NODE + middle) / 2, *self.label("D1"), anchor="end")
                s.words(CLAMP - 0.4, (TOP + middle) / 2, *self.label("D2"), anchor="end")
            else:
                s.part("Diode", (CLAMP, NODE), (CLAMP, TOP))
                s.words(CLAMP - 0.4, (TOP + NODE) / 2, *self.label("D1"), anchor="end")
        s.dot(COIL, NODE)
        s.mark(COIL, NODE, "TP2", dx=-0.25, dy=-0.42)
        s.mark(COIL, TOP - 0.45, "TP6", dx=0.25, dy=0.0)

    def switch(self) -> None:
        """Add the switch, what drives it, and the pin."""
        s = self.sketch
        found = s.switch(self.drive.kind, COIL, NODE - 1.2)
        s.wire((COIL, NODE), (COIL, NODE - 1.2))
        s.wire(found.lower, (COIL, LOW))
        s.words(COIL + 0.62, NODE - 2.45, *self.label("Q1"))
        x, y = found.control
        pin = 2.0
        self.across("ResistorIEC", pin + 0.4, x - 1.5, y, "R1")
        s.wire((x - 1.5, y), (x, y))
        s.wire((pin, y), (pin + 0.4, y))
        s.dot(pin, y, terminal=True)
        s.words(pin + 0.1, y - 0.5, "pulse pin", anchor="middle")
        if "R6" in self.parts:
            s.dot(x - 0.9, y)
            self.down("ResistorIEC", x - 0.9, y, LOW, "R6", left=True)
        s.mark(x - 0.35, y, "TP1", dx=-0.35, dy=0.42)

    def listen(self) -> None:
        """Add what listens, up to the pin."""
        s = self.sketch
        {"at_switch": self._at_switch, "mid_rail": self._mid_rail,
         "through_capacitor": self._through_capacitor}[self.arrangement]()  # fmt: skip
        s.mark(self.divider, TAP, "TP3", dx=0.2, dy=-0.4)
        last = self.first
        self.across("ResistorIEC", self.divider, self.first, TAP, "R4")
        self.down("Capacitor", self.first, TAP, LOW, "C2")
        s.dot(self.first, TAP)
        if "C3" in self.parts:
            last = self.second
            self.across("ResistorIEC", self.first, self.second, TAP, "R5")
            self.down("Capacitor", self.second, TAP, LOW, "C3")
            s.dot(self.second, TAP)
        s.wire((last, TAP), (last + 0.9, TAP))
        s.dot(last + 0.9, TAP, terminal=True)
        s.mark(last, TAP, "TP4", dx=0.15, dy=0.42)
        s.words(last + 0.9, TAP - 0.5, "signal pin", anchor="middle")

    def _at_switch(self) -> None:
        s = self.sketch
        s.wire((COIL, NODE), (self.divider, NODE))
        self.down("ResistorIEC", self.divider, NODE, TAP, "R2", left=True)
        self.down("ResistorIEC", self.divider, TAP, LOW, "R3")
        s.dot(self.divider, TAP)

    def _winding(self, x: float, top: float, low: float, *, left: bool = False) -> None:
        values = self.sheet.values
        self.sketch.part("Inductor", (x, top), (x, low))
        turns, ohms = values["pickup_coil.n_turns"].value, values["pickup_coil.r_coil"]
        self.sketch.words(
            x - 0.35 if left else x + 0.35, (top + low) / 2 + (0.0 if left else 0.45),
            "L2", f"{turns} turns", printed(shown(ohms)), anchor="end" if left else "start",
        )  # fmt: skip

    def _mid_rail(self) -> None:
        s, middle = self.sketch, NODE + 0.6
        self.down("ResistorIEC", self.bias, TOP, middle, "R2")
        s.wire((self.bias, middle), (self.bias, TAP))
        self.down("ResistorIEC", self.bias, TAP, LOW, "R3")
        s.wire((self.bias, middle), (self.bypass, middle))
        s.dot(self.bias, middle)
        s.dot(self.divider, middle)
        self._winding(self.divider, middle, TAP)
        if "C1" in self.parts:
            self.down("Capacitor", self.bypass, middle, NODE - 0.8, "C1")
            s.ground(self.bypass, NODE - 0.8)

    def _through_capacitor(self) -> None:
        s = self.sketch
        left = self.bias
        if self.done.result("pickup_coil") is not None:
            self._winding(left, TAP, LOW, left=True)
            self.across("Capacitor", left, self.divider, TAP, "C1")
        else:
            s.wire((COIL, NODE), (left, NODE), (left, TAP))
            self.across("Capacitor", left, self.divider, TAP, "C1")
        self.down("ResistorIEC", self.divider, TOP, TAP, "R2")
        self.down("ResistorIEC", self.divider, TAP, LOW, "R3")
        s.dot(self.divider, TAP)

    def indicator(self) -> None:
        """Add the indicator, if there is one."""
        if "D3" not in self.parts:
            return
        s, x = self.sketch, self.second + 0.2
        s.part("ResistorIEC", (x, TOP), (x, TOP - 1.9))
        s.part("LED", (x, TOP - 1.9), (x, TOP - 3.5))
        s.ground(x, TOP - 3.5)
        s.dot(x, TOP, terminal=True)
        s.words(x - 0.45, TOP - 0.95, *self.label("R8"), anchor="end")
        s.words(x - 0.45, TOP - 2.7, "D3", anchor="end")
        s.words(x - 0.25, TOP, "rail", anchor="end")


def circuit(sheet: Sheet, done: StagePass) -> Picture:
    """Return the circuit of this design."""
    drawn = _Circuit(sheet, done)
    drawn.supply()
    drawn.coil()
    drawn.switch()
    drawn.listen()
    drawn.indicator()
    drawing, width, height = drawn.sketch.svg()
    clamp = CLAMP_WORDS[done.result("clamp").kind]
    listens = LISTEN_WORDS[drawn.arrangement]
    switch = "A MOSFET" if drawn.drive.kind == "nmos" else "A bipolar transistor"
    listed = "; ".join(
        f"{part.reference} {part.part}" for part in sheet.parts if part.reference[0] in "RCDQ"
    )
    return Picture(
        name="circuit", title="The circuit", width=width, height=height, drawing=drawing,
        alternative=f"{switch}, {drawn.drive.transistor}, closes the coil to ground; {clamp} takes "
        f"the kick; {listens} feeds the filter and the pin. Parts: {listed}.",
        caption=printed(
            f"{switch} closes the coil to ground, {clamp} takes its current when it opens, and "
            f"{listens} brings the magnet's signal to the controller. Discs mark the test points "
            "TP1 to TP6 of the bench list."
        ),
    )  # fmt: skip
