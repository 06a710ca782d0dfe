"""Plain designs about one winding, for the tests of the coil."""

from typing import Any

from circuits.catalogue import Catalogue
from circuits.design import Coil, Design, Magnet, Movement, Supply
from circuits.ledger import Ledger
from circuits.stages import coil
from circuits.stages.coil import CoilResult

BOBBIN = {"inner_diameter": 8e-3, "outer_diameter": 22e-3, "height": 9e-3}
MAGNET = Magnet(shape="cylinder", diameter=12e-3, height=5e-3, remanence=1.2, gap=3e-3)


def designed(keys: dict[str, Any], **rest: Any) -> Design:
    """A design whose other sections are as plain as the door allows."""
    sections: dict[str, Any] = {
        "movement": Movement(period=1.7),
        "magnet": MAGNET,
        "supply": Supply(voltage=5.0),
        **rest,
    }
    return Design(coil=Coil(**keys), **sections)


def sized(keys: dict[str, Any], **rest: Any) -> tuple[CoilResult, Ledger]:
    ledger = Ledger()
    return coil.size(designed(keys, **rest), Catalogue(), ledger), ledger


def value(ledger: Ledger, name: str) -> Any:
    return ledger.values[f"coil.{name}"].value
