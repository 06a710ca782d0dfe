"""What the keys of one section must agree on among themselves; stages judge all the rest."""

from collections.abc import Callable
from math import pi
from types import MappingProxyType
from typing import Any

from circuits.design import (
    Clamp,
    Coil,
    Magnet,
    Movement,
    Rate,
    RingDown,
    Supply,
    TemperatureSpan,
    Winding,
)
from circuits.design_keys import Place
from circuits.format_quantity import show

RIVALS = MappingProxyType(
    {
        "movement": (("quality_factor", "ring_down", "bearing"),),
        "magnet": (("grade", "remanence"),),
        "coil": (("wire", "awg"),),
        "pickup_coil": (("wire", "awg"),),
        "supply": (("cell", "voltage"),),
    }
)
"""Keys of which a section may state one: each tells the same fact."""

DIMENSIONS = {
    "cylinder": ("diameter", "height"),
    "ring": ("diameter", "inner_diameter", "height"),
    "block": ("length", "width", "height"),
}


class _Checked:
    """One section under check: raises for the key that is at fault."""

    def __init__(self, record: Any, file: str, section: str) -> None:
        self.record = record
        self.file = file
        self.section = section

    def stated(self, key: str) -> bool:
        return getattr(self.record, key) is not None

    def refuse(self, key: str, found: str, wanted: str) -> None:
        raise Place(file=self.file, section=self.section, key=key).error(found, wanted)

    def need(self, key: str, wanted: str) -> None:
        if not self.stated("from_" if key == "from" else key):
            self.refuse(key, "nothing", wanted)

    def unused(self, keys: tuple[str, ...], why: str, wanted: str) -> None:
        for key in keys:
            if self.stated(key):
                self.refuse(key, why, wanted)

    def above(self, larger: str, smaller: str, unit: str) -> None:
        if not (self.stated(larger) and self.stated(smaller)):
            return
        high, low = getattr(self.record, larger), getattr(self.record, smaller)
        if not high > low:
            self.refuse(
                larger,
                f"{show(high, unit)} with {smaller} = {show(low, unit)}",
                f"make {larger} the greater of the two",
            )


def rivals(section: str, key: str) -> tuple[str, ...]:
    """Return the keys that tell the same fact as this one."""
    return tuple(
        other
        for group in RIVALS.get(section, ())
        if key in group
        for other in group
        if other != key
    )


def check_section(section: str, record: Any, file: str) -> None:
    """Refuse a section whose keys contradict each other or lack what gives them a meaning.

    Parameters
    ----------
    section : str
        Name of the section, or `section.key` of a table inside it.
    record : object
        The section's record, with at least one key stated.
    file : str
        The design file, for messages.

    Raises
    ------
    DesignFileError
        Naming the key to change.
    """
    checked = _Checked(record, file, section)
    for group in RIVALS.get(section, ()):
        both = [key for key in group if checked.stated(key)]
        if len(both) > 1:
            checked.refuse(
                both[1],
                f"{both[1]} beside {both[0]}",
                f"state one of {' and '.join(both)}: they tell the same fact",
            )
    for kind, check in _CHECKS.items():
        if isinstance(record, kind):
            check(checked, record)


def _movement(checked: _Checked, movement: Movement) -> None:
    if movement.kind == "balance":
        checked.unused(("effective_length",), "a length for a balance", "state its period instead")
    if movement.period is None and movement.effective_length is None:
        checked.refuse(
            "period", "neither period nor effective_length", 'state one, such as period = "2 s"'
        )
    if movement.kind != "balance" and movement.arc is not None and not movement.arc < pi:
        checked.refuse("arc", show(movement.arc, "rad"), "keep a pendulum's half arc below 180 deg")


def _ring_down(checked: _Checked, ring_down: RingDown) -> None:
    form = '{ from = "3 deg", to = "1.5 deg", time = "4 min", coil = "open" }'
    for key in ("from", "to", "time"):
        checked.need(key, f"state it: ring_down = {form}")
    start, end = ring_down.from_, ring_down.to
    if start is not None and end is not None and not start > end:
        checked.refuse(
            "to",
            f"{show(end, 'rad')}, not below from = {show(start, 'rad')}",
            "state the later, smaller arc here",
        )


def _magnet(checked: _Checked, magnet: Magnet) -> None:
    checked.need("gap", 'state the distance from magnet face to winding, such as "4 mm"')
    if magnet.shape is None:
        shapes = " or ".join(f'"{shape}"' for shape in DIMENSIONS)
        checked.need("shape", f"write {shapes}")
        return
    for key in DIMENSIONS[magnet.shape]:
        checked.need(key, f"state it: a {magnet.shape} has {', '.join(DIMENSIONS[magnet.shape])}")
    every = {key for keys in DIMENSIONS.values() for key in keys}
    checked.unused(
        tuple(sorted(every - set(DIMENSIONS[magnet.shape]))),
        f"a dimension that a {magnet.shape} does not have",
        f"state {', '.join(DIMENSIONS[magnet.shape])} only, or change shape",
    )
    checked.above("diameter", "inner_diameter", "m")


def _winding(checked: _Checked, winding: Winding) -> None:
    checked.above("outer_diameter", "inner_diameter", "m")
    checked.above("height", "wire", "m")
    inner, outer, wire = winding.inner_diameter, winding.outer_diameter, winding.wire
    if (
        inner is not None
        and outer is not None
        and wire is not None
        and not outer - inner > 2 * wire
    ):
        checked.refuse(
            "wire",
            show(wire, "m"),
            f"fit a wire thinner than the window's depth, {show((outer - inner) / 2, 'm')}",
        )


def _coil(checked: _Checked, coil: Coil) -> None:
    if coil.count == 1:
        checked.unused(
            ("connection",), "a connection of one coil", "state count = 2, or leave it out"
        )
        if coil.sides == "both":
            checked.refuse("sides", '"both" with count = 1', 'state count = 2, or sides = "one"')


def _supply(checked: _Checked, supply: Supply) -> None:
    if supply.cell is None and supply.voltage is None:
        checked.refuse("cell", "neither cell nor voltage", 'state one, such as cell = "LR20"')
    if supply.voltage is not None:
        checked.unused(
            ("series", "parallel", "cutoff_per_cell"),
            "a figure of cells beside a voltage",
            "state cell instead of voltage, or leave it out",
        )
    if supply.coil_rail == "regulated":
        checked.need("regulator_output", 'state what feeds the coil, such as "3.3 V"')


def _clamp(checked: _Checked, clamp: Clamp) -> None:
    none_of = {
        "diode": ("zener", "resistor"),
        "diode_zener": ("resistor",),
        "switch_zener": ("diode", "resistor"),
        "resistor": ("diode", "zener"),
    }
    if clamp.kind is not None:
        checked.unused(
            none_of[clamp.kind],
            f'a part that kind = "{clamp.kind}" does not have',
            "leave it out, or change kind",
        )


def _rate(checked: _Checked, _: Rate) -> None:
    checked.above("width_max", "width_min", "s")


def _temperature_span(checked: _Checked, span: TemperatureSpan) -> None:
    for key in ("from", "to"):
        checked.need(key, 'state both: { from = "5 degC", to = "30 degC" }')
    if span.from_ is not None and span.to is not None and not span.to >= span.from_:
        checked.refuse("to", "a temperature below from", "state the coldest first")


_CHECKS: dict[type[Any], Callable[[_Checked, Any], None]] = {
    Movement: _movement,
    RingDown: _ring_down,
    Magnet: _magnet,
    Winding: _winding,
    Coil: _coil,
    Supply: _supply,
    Clamp: _clamp,
    Rate: _rate,
    TemperatureSpan: _temperature_span,
}
