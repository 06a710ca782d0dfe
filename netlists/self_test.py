"""Three circuits with known answers: a simulator that misreads them is not used."""

import math
from functools import lru_cache
from pathlib import Path

from netlists.deck_gate import TITLE
from netlists.errors import SimulatorFailed
from netlists.runner import run_deck
from netlists.spice_number import spice_number

DRAIN = 1e6
AGREE = 1e-4
"""The simulator's own default accuracy in a transient is a few parts in 1e5 at these steps."""

_DECK = "\n".join(
    (
        TITLE,
        f"i1 0 n1 dc {spice_number(1.0)}",
        f"r1 n1 0 {spice_number(1.0)}",
        f"v1 n2 0 dc {spice_number(1.0)}",
        f"r2 n2 0 {spice_number(DRAIN)}",
        f"v2 n3 0 dc {spice_number(1.0)}",
        f"r3 n3 n4 {spice_number(1e3)}",
        f"c1 n4 0 {spice_number(1e-6)}",
        f".options temp={spice_number(25.0)} tnom={spice_number(25.0)}",
        f".ic v(n4)={spice_number(0.0)}",
        ".save v(n1) v(n4) i(v1)",
        f".tran {spice_number(1e-5)} {spice_number(1e-3)} {spice_number(0.0)}"
        f" {spice_number(2e-6)} uic",
        ".end",
        "",
    )
)


@lru_cache(maxsize=8)
def check_simulator(program: Path, version: str) -> None:
    """Raise unless the simulator gives the known answers; once for each version.

    Parameters
    ----------
    program : pathlib.Path
        The simulator.
    version : str
        Its version text.

    Raises
    ------
    SimulatorFailed
        Naming the circuit that came out wrong.

    Notes
    -----
    1 A into 1 ohm gives 1 V; 1 V on 1e6 ohm draws 1e-6 A; an RC of 1 ms reaches 1 - 1/e of its
    drive after 1 ms.
    """
    run = run_deck(
        _DECK, program=program, version=version, vectors=("v(n1)", "v(n4)", "i(v1)"), end=1e-3
    )
    found = {
        "1 A into 1 ohm": (float(run.real("v(n1)")[-1]), 1.0),
        "1 V on 1e6 ohm": (-float(run.real("i(v1)")[-1]), 1 / DRAIN),
        "an RC of 1 ms after 1 ms": (float(run.real("v(n4)")[-1]), 1 - math.exp(-1)),
    }
    for circuit, (value, wanted) in found.items():
        if abs(value - wanted) > AGREE * wanted:
            raise SimulatorFailed(
                f"{version} misreads numbers: {circuit} gave {value:g}, not {wanted:g}; "
                "it is not used",
                deck=_DECK,
                log=run.log,
            )
