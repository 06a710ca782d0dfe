"""An invented ledger with one finding of every severity; no real design stands behind it."""

from circuits.ledger import Basis, Change, Ledger, Severity

SMALLER = (Change(section="drive", key="base_resistor", text="330 ohm"),)
SMALLEST = (Change(section="drive", key="base_resistor", text="100 ohm"),)
OTHER_CELL = (Change(section="supply", key="cell", text="LR20"),)


def invented_ledger() -> Ledger:
    ledger = Ledger()
    ledger.value(
        "coil.r_coil", 41.5, "ohm", words="coil resistance", basis=Basis.COMPUTED,
        rule="wire length times resistance per metre", low=39.4, high=46.0,
    )  # fmt: skip
    ledger.value("coil.n_turns", 1480, "1", words="turns", basis=Basis.STATED, rule="design file")
    ledger.value(
        "drive.transistor", "BC337-25", None, words="transistor", basis=Basis.SIZED,
        rule="least saturation voltage that the pin can drive",
    )  # fmt: skip
    ledger.value(
        "drive.r_b", 1500.0, "ohm", words="base resistor", basis=Basis.STATED, rule="design file"
    )
    ledger.value(
        "movement.circular_error", -9.3, "s/day", words="circular error", basis=Basis.COMPUTED,
        rule="arc**2 / 16, exact", state="at the wanted arc",
    )  # fmt: skip
    ledger.at_least(
        "drive.saturation", 1.1e-3, 2.0e-3, "A", "The base gets 1.1 mA and needs 2 mA.",
        remedy="Fit a smaller base resistor.", changes=(SMALLER, SMALLEST),
    )  # fmt: skip
    ledger.at_most("drive.pin_current", 2e-3, 8e-3, "A", "The pin gives 2 mA of its 8 mA.")
    ledger.at_least("cells.life", 9.0e7, 8.6e7, "s", "The cells last 2.9 years.")
    ledger.at_most(
        "clamp.release", 0.05, 0.04, "s", "The current takes 50 ms to die away.", soft=True
    )
    ledger.say(
        "movement.quality_factor", Severity.MEASURE, "How far the free swing rings is unknown.",
        remedy="Let it swing freely and note how long it takes from 3 deg to 1.5 deg.",
    )  # fmt: skip
    ledger.assume("supply.r_internal", 0.3, "ohm", "fresh cell of this kind, common practice")
    ledger.part("Q1", "switch", "BC337-25", "45 V, 500 mA")
    ledger.part("R1", "base resistor", "1.5 kohm, 5 %", quantity=1)
    ledger.test_point(
        "switch node", "switch off", "oscilloscope",
        "3 V with a dip of 0.2 V after the crossing", "swap the coil's two ends",
    )  # fmt: skip
    return ledger
