"""One winding from what the design file states: what is missing is sized, rivals are compared."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import floor

from calc.winding import turns_of_resistance, turns_of_wire_length, wire_length
from calc.winding_window import (
    WindowCapacity,
    outer_radius_of_turns,
    outer_radius_of_wire_length,
    window_capacity,
)
from calc.wire import awg_diameter, copper_resistance_per_metre, copper_wire_diameter
from circuits.catalogue import Catalogue, WireSize
from circuits.design import Winding
from circuits.errors import DesignFileError
from circuits.format_quantity import show, significant
from circuits.ledger import Basis, Ledger

PACKING = 0.85
"""Turns that a careful winder gets in, over what square layers hold: common practice, no source."""

ENAMEL = 1
"""Grade of enamel that shops sell unless asked: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One stated figure from which the turns follow."""

    key: str
    found: str
    n_turns: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OneWinding:
    """A winding whose every figure is known, with where each came from.

    `terminal_share` times a resistance at the terminals is the resistance of this winding.
    """

    section: str
    keys: Winding
    size: WireSize
    enamel: int
    d_wire: float
    d_overall: float
    wire_basis: Basis
    wire_rule: str
    r_inner: float
    r_outer: float
    height: float
    outer_basis: Basis
    r_per_metre: float
    temperature: float
    facts: tuple[Fact, ...]
    n_turns: int
    turns_basis: Basis
    turns_rule: str
    capacity: WindowCapacity
    terminal_share: float

    @property
    def length(self) -> float:
        """Length of wire without leads."""
        return wire_length(n_turns=self.n_turns, r_inner=self.r_inner, r_outer=self.r_outer)

    @property
    def sized_by_window(self) -> bool:
        """Whether the usual packing itself made turns or outer diameter."""
        return not self.facts or self.outer_basis is Basis.SIZED


def millimetres(value: float) -> str:
    """Return a length as a winder writes it and as the design file takes it."""
    return f"{significant(value * 1e3, 4)} mm"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wire:
    size: WireSize
    d_wire: float
    d_overall: float
    r_per_metre: float
    basis: Basis
    rule: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Resolver:
    """Works one winding out of its section, step by step."""

    section: str
    keys: Winding
    file: str
    catalogue: Catalogue
    ledger: Ledger
    temperature: float
    terminal_share: float

    @property
    def enamel(self) -> int:
        return self.keys.enamel or ENAMEL

    def lacking(self, key: str, wanted: str) -> DesignFileError:
        return DesignFileError(
            file=self.file, section=self.section, key=key, found="nothing", wanted=wanted
        )

    def bobbin(self) -> tuple[float, float, float | None]:
        """Return inner radius, height, and outer radius if it is stated."""
        inner, height, outer = (
            self.keys.inner_diameter,
            self.keys.height,
            self.keys.outer_diameter,
        )
        if inner is None:
            raise self.lacking("inner_diameter", 'add what the winding sits on, such as "10 mm"')
        if height is None:
            raise self.lacking("height", 'add the room between the bobbin\'s cheeks, "8 mm"')
        if outer is not None and not outer > inner:
            raise DesignFileError(
                file=self.file,
                section=self.section,
                key="outer_diameter",
                found=millimetres(outer),
                wanted=f"make it larger than inner_diameter = {millimetres(inner)}",
            )
        return inner / 2, height, None if outer is None else outer / 2

    def resistance(self) -> tuple[str, float] | None:
        """Return the key and figure of one winding's resistance, if any is stated."""
        if self.keys.resistance is not None:
            return "resistance", self.keys.resistance
        if self.keys.measured_resistance is not None:
            return "measured_resistance", self.keys.measured_resistance * self.terminal_share
        return None

    def wire(self, d_wire: float, basis: Basis, rule: str) -> _Wire:
        size = self.catalogue.wire(d_wire)
        proportion = d_wire / size.d_wire
        grades = {1: size.d_overall_grade1, 2: size.d_overall_grade2}
        return _Wire(
            size=size,
            d_wire=d_wire,
            d_overall=grades[self.enamel] * proportion,
            r_per_metre=copper_resistance_per_metre(d_wire=d_wire, temperature=self.temperature),
            basis=basis,
            rule=rule,
        )

    def stated_wire(self) -> _Wire | None:
        if self.keys.wire is not None:
            return self.wire(self.keys.wire, Basis.STATED, f"{self.section}.wire, bare")
        if self.keys.awg is not None:
            rule = f"bare diameter of AWG {self.keys.awg}, ASTM B258"
            return self.wire(awg_diameter(awg=self.keys.awg), Basis.STATED, rule)
        return None

    def facts(self, wire: _Wire, r_inner: float, r_outer: float) -> tuple[Fact, ...]:
        """Return every statement of the turns, the most trusted first."""
        keys, mean = self.keys, {"r_inner": r_inner, "r_outer": r_outer}

        def of_resistance(r: float) -> float:
            return turns_of_resistance(r_coil=r, r_per_metre=wire.r_per_metre, **mean)

        found: list[Fact] = []
        if keys.turns is not None:
            found.append(Fact(key="turns", found=str(keys.turns), n_turns=keys.turns))
        if keys.resistance is not None:
            n_turns = of_resistance(keys.resistance)
            found.append(
                Fact(key="resistance", found=show(keys.resistance, "ohm"), n_turns=n_turns)
            )
        if keys.measured_resistance is not None:
            n_turns = of_resistance(keys.measured_resistance * self.terminal_share)
            shown = show(keys.measured_resistance, "ohm")
            found.append(Fact(key="measured_resistance", found=shown, n_turns=n_turns))
        if keys.wire_length is not None:
            n_turns = turns_of_wire_length(length=keys.wire_length, **mean)
            shown = show(keys.wire_length, "m")
            found.append(Fact(key="wire_length", found=shown, n_turns=n_turns))
        return tuple(found)

    def outer(self, wire: _Wire, r_inner: float, height: float) -> float:
        """Return the outer radius to which the stated turns or wire build up."""
        room = {
            "d_overall": wire.d_overall,
            "r_inner": r_inner,
            "height": height,
            "packing": PACKING,
        }
        resistance = self.resistance()
        if self.keys.turns is not None:
            r_outer = outer_radius_of_turns(n_turns=float(self.keys.turns), **room)
        elif resistance is not None:
            length = resistance[1] / wire.r_per_metre
            r_outer = outer_radius_of_wire_length(length=length, **room)
        elif self.keys.wire_length is not None:
            r_outer = outer_radius_of_wire_length(length=self.keys.wire_length, **room)
        else:
            raise self.lacking(
                "outer_diameter",
                'add it, such as "25 mm", or one of turns, wire_length and resistance',
            )
        self.assume_packing()
        return r_outer

    def sizes(self) -> Iterator[_Wire]:
        """Yield the catalogue's sizes, the thickest first."""
        for size in sorted(self.catalogue.wires(), key=lambda size: -size.d_wire):
            yield self.wire(size.d_wire, Basis.SIZED, "the thickest wire that fits the window")

    def sized_wire(self, r_inner: float, r_outer: float | None, height: float) -> _Wire:
        """Return the wire that the stated facts leave open."""
        resistance = self.resistance()
        if r_outer is None or not (
            resistance or self.keys.turns is not None or self.keys.wire_length is not None
        ):
            raise self.lacking(
                "wire",
                'add the bare diameter, such as "0.2 mm", or awg; or state outer_diameter and one '
                "of turns, wire_length and resistance, and the wire will be sized",
            )
        mean = {"r_inner": r_inner, "r_outer": r_outer}
        length = self.keys.wire_length
        if self.keys.turns is not None:
            length = wire_length(n_turns=float(self.keys.turns), **mean)
        if resistance is not None and length is not None:
            d_wire = copper_wire_diameter(
                r_per_metre=resistance[1] / length, temperature=self.temperature
            )
            nearest = min(self.sizes(), key=lambda wire: abs(wire.d_wire - d_wire))
            rule = f"nearest size to {millimetres(d_wire)}, which length and resistance ask for"
            return self.wire(nearest.d_wire, Basis.SIZED, rule)
        self.assume_packing()
        chosen = None
        for chosen in self.sizes():
            turns = self.facts(chosen, r_inner, r_outer)[0].n_turns
            if turns <= PACKING * self.capacity(chosen, r_inner, r_outer, height).n_turns:
                break
        assert chosen is not None
        return chosen

    def capacity(
        self, wire: _Wire, r_inner: float, r_outer: float, height: float
    ) -> WindowCapacity:
        return window_capacity(
            r_inner=r_inner, r_outer=r_outer, height=height, d_overall=wire.d_overall
        )

    def assume_packing(self) -> None:
        self.ledger.assume(
            f"{self.section}.packing",
            PACKING,
            "1",
            "turns of a careful hand over those of square layers: common practice, no source",
        )

    def resolve(self) -> OneWinding:
        if self.keys.enamel is None:
            self.ledger.assume(
                f"{self.section}.enamel", ENAMEL, "1", "grade 1 as shops sell it: common practice"
            )
        r_inner, height, stated_outer = self.bobbin()
        wire = self.stated_wire() or self.sized_wire(r_inner, stated_outer, height)
        r_outer = stated_outer or self.outer(wire, r_inner, height)
        facts = self.facts(wire, r_inner, r_outer)
        capacity = self.capacity(wire, r_inner, r_outer, height)
        if facts:
            n_turns = max(1, round(facts[0].n_turns))
            stated = facts[0].key == "turns"
            basis = Basis.STATED if stated else Basis.COMPUTED
            rule = f"{self.section}.turns" if stated else f"from {facts[0].key} = {facts[0].found}"
        else:
            self.assume_packing()
            n_turns = max(1, floor(PACKING * capacity.n_turns))
            basis = Basis.SIZED
            rule = f"fills the window at {significant(PACKING)} of its square layers"
        return OneWinding(
            section=self.section, keys=self.keys, size=wire.size, enamel=self.enamel,
            d_wire=wire.d_wire, d_overall=wire.d_overall, wire_basis=wire.basis,
            wire_rule=wire.rule, r_inner=r_inner, r_outer=r_outer, height=height,
            outer_basis=Basis.SIZED if stated_outer is None else Basis.STATED,
            r_per_metre=wire.r_per_metre, temperature=self.temperature, facts=facts,
            n_turns=n_turns, turns_basis=basis, turns_rule=rule, capacity=capacity,
            terminal_share=self.terminal_share,
        )  # fmt: skip


def resolve(
    section: str, keys: Winding, file: str, catalogue: Catalogue, ledger: Ledger, *,
    temperature: float, terminal_share: float = 1.0,
) -> OneWinding:  # fmt: skip
    """Return the winding that a section describes.

    Parameters
    ----------
    section : str
        `coil` or `pickup_coil`.
    keys : Winding
        The section.
    file : str
        The design file, for messages.
    catalogue : Catalogue
        The wires.
    ledger : Ledger
        Takes what had to be assumed.
    temperature : float
        Temperature of the winding [K].
    terminal_share : float
        Resistance of this winding over the resistance at the terminals.

    Raises
    ------
    DesignFileError
        Naming the key that is missing and what it might hold.
    """
    resolver = _Resolver(
        section=section, keys=keys, file=file, catalogue=catalogue, ledger=ledger,
        temperature=temperature, terminal_share=terminal_share,
    )  # fmt: skip
    return resolver.resolve()
