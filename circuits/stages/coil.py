"""Coil: the winding from the bobbin and the wire, reconciled where facts compete."""

from dataclasses import dataclass

from calc.inductance import mutual_inductance, self_inductance
from calc.linkage_parts import WindingShape
from calc.winding import winding_resistance
from calc.winding_pair import windings_in_parallel, windings_in_series
from calc.wire import resistance_at_temperature
from circuits.catalogue import Catalogue
from circuits.design import Design, Winding
from circuits.errors import DesignFileError
from circuits.format_quantity import percent, show, show_range, show_temperature
from circuits.ledger import Basis, Ledger
from circuits.stages.winding import OneWinding, resolve
from circuits.stages.winding_checks import enter_winding

ROOM_TEMPERATURE = 293.15
"""Where the design file is silent: common practice, and where copper is specified."""

HAND_WOUND = 0.1
"""How far a hand-wound coil's resistance may lie from its sum without a fault: no source."""

INDUCTANCE_MISS = 0.15
"""A measured inductance further off than this is worth a second look: no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CoilResult:
    """A winding, or two joined, as seen at the two terminals.

    `linkage_factor` times the linkage of one winding is the linkage at the terminals; two
    windings end to end on one side count as one winding of all their turns and height.
    Resistances hold at the design temperature; low and high span tolerance and temperature.
    """

    n_turns: int
    d_wire: float
    d_overall: float
    r_inner: float
    r_outer: float
    height: float
    r_coil: float
    r_coil_low: float
    r_coil_high: float
    l_coil: float
    count: int
    connection: str
    sides: str
    linkage_factor: float
    mass: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Joined:
    """How the windings are joined, and the shape that the magnet sees."""

    count: int
    connection: str
    sides: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Terminals:
    r_computed: float
    l_computed: float
    linkage_factor: float
    shape: WindingShape


def size(design: Design, catalogue: Catalogue, ledger: Ledger) -> CoilResult:
    """Size or check the drive coil and enter it into the sheet.

    Parameters
    ----------
    design : Design
        The design file.
    catalogue : Catalogue
        The wires.
    ledger : Ledger
        The sheet.

    Returns
    -------
    coil : CoilResult

    Raises
    ------
    DesignFileError
        Where the section lacks a fact, or asks for a core.
    """
    keys = design.coil
    if keys.core not in (None, "air", "none"):
        raise DesignFileError(
            file=design.file,
            section="coil",
            key="core",
            found=f'"{keys.core}"',
            wanted=(
                'write core = "air" or leave it out: an iron core pulls the magnet to itself at '
                "rest (cogging) and carries more flux, and this calculation holds for air alone"
            ),
        )
    joined = _how_joined(design, ledger)
    return _enter(design, catalogue, ledger, section="coil", keys=keys, joined=joined)


def size_pickup(design: Design, catalogue: Catalogue, ledger: Ledger) -> CoilResult | None:
    """Size or check the separate pickup coil, if the design has one.

    Parameters
    ----------
    design : Design
        The design file.
    catalogue : Catalogue
        The wires.
    ledger : Ledger
        The sheet.

    Returns
    -------
    coil : CoilResult or None

    Raises
    ------
    DesignFileError
        Where the section lacks a fact.
    """
    if design.pickup_coil is None:
        return None
    joined = _Joined(count=1, connection="series", sides="one")
    return _enter(
        design, catalogue, ledger, section="pickup_coil", keys=design.pickup_coil, joined=joined
    )


def _how_joined(design: Design, ledger: Ledger) -> _Joined:
    keys = design.coil
    if keys.count != 2:
        for key, found in (("connection", keys.connection), ("sides", keys.sides)):
            if found is not None and found != "one":
                raise DesignFileError(
                    file=design.file, section="coil", key=key, found=f'"{found}" with one coil',
                    wanted="state count = 2, or leave it out",
                )  # fmt: skip
        return _Joined(count=1, connection="series", sides="one")
    if keys.connection is None:
        ledger.assume("coil.connection", "series", None, "the usual way of joining two coils")
    # A second coil above a swinging magnet would be in its way; elsewhere it faces the first.
    usual = "one" if design.movement.plane == "arc" else "both"
    if keys.sides is None:
        why = {"one": "the second coil lies under the first", "both": "the magnet passes between"}
        ledger.assume("coil.sides", usual, None, f"two coils: {why[usual]}")
    return _Joined(
        count=2, connection=keys.connection or "series", sides=keys.sides or usual
    )  # fmt: skip


def _enter(
    design: Design, catalogue: Catalogue, ledger: Ledger, *, section: str, keys: Winding,
    joined: _Joined,
) -> CoilResult:  # fmt: skip
    temperature = design.design.temperature
    if temperature is None:
        temperature = ROOM_TEMPERATURE
        ledger.assume("design.temperature", temperature, "K", "room temperature: common practice")
    share = {"series": 1 / joined.count, "parallel": float(joined.count)}[joined.connection]
    one = resolve(
        section, keys, design.file, catalogue, ledger, temperature=temperature,
        terminal_share=share,
    )  # fmt: skip
    told = [design.stated_tolerance.get(f"{section}.{fact.key}", 0.0) for fact in one.facts]
    allowed = max([design.tolerance.winding or 0.0, *told])
    enter_winding(ledger, catalogue, one, count=joined.count, allowed=allowed)
    ends = _terminals(design, one, joined)
    r_coil, low, high = _resistance(design, ledger, one, ends, joined)
    l_coil = _inductance(ledger, one, ends)
    ledger.value(
        f"{section}.tau", l_coil / r_coil, "s", words="time constant of the coil's current",
        basis=Basis.COMPUTED, rule="L / R",
    )  # fmt: skip
    _bench(ledger, one, r_coil)
    return CoilResult(
        n_turns=int(ends.shape.n_turns), d_wire=one.d_wire, d_overall=one.d_overall,
        r_inner=one.r_inner, r_outer=one.r_outer, height=ends.shape.height, r_coil=r_coil,
        r_coil_low=low, r_coil_high=high, l_coil=l_coil, count=joined.count,
        connection=joined.connection, sides=joined.sides, linkage_factor=ends.linkage_factor,
        mass=float(ledger.values[f"{section}.mass"].value),
    )  # fmt: skip


def _terminals(design: Design, one: OneWinding, joined: _Joined) -> _Terminals:
    """Return resistance, inductance and shape as the windings' joint terminals show them."""
    r_one = winding_resistance(
        n_turns=one.n_turns, r_inner=one.r_inner, r_outer=one.r_outer, r_per_metre=one.r_per_metre
    )
    shape = WindingShape(
        n_turns=one.n_turns, r_inner=one.r_inner, r_outer=one.r_outer, height=one.height
    )
    l_one = self_inductance(winding=shape)
    if joined.count == 1:
        return _Terminals(r_computed=r_one, l_computed=l_one, linkage_factor=1.0, shape=shape)
    together = shape
    if joined.sides == "one":
        together = WindingShape(
            n_turns=2 * one.n_turns, r_inner=one.r_inner, r_outer=one.r_outer,
            height=2 * one.height,
        )  # fmt: skip
        mutual = self_inductance(winding=together) / 2 - l_one
    else:
        mutual = mutual_inductance(one=shape, other=shape, distance=_between(design))
        # The field of a magnet lying along its path leaves the two coils in opposite senses.
        mutual = -mutual if design.magnet.axis == "motion" else mutual
    join = windings_in_series if joined.connection == "series" else windings_in_parallel
    pair = join(r_coil=r_one, l_coil=l_one, mutual=mutual)
    return _Terminals(
        r_computed=pair.r_coil,
        l_computed=pair.l_coil,
        linkage_factor=pair.linkage_factor * one.n_turns / together.n_turns,
        shape=together,
    )


def _between(design: Design) -> float:
    """Return the room between the two coils' faces, in which the magnet passes."""
    magnet = design.magnet
    if magnet.axis == "motion":
        depth = magnet.length if magnet.shape == "block" else magnet.diameter
    else:
        depth = None if magnet.height is None else magnet.height * (magnet.count or 1)
    if magnet.gap is None or depth is None:
        raise DesignFileError(
            file=design.file, section="magnet", key="gap" if magnet.gap is None else "shape",
            found="nothing", wanted="state the magnet: it sets how far apart the two coils stand",
        )  # fmt: skip
    return 2 * (magnet.gap + (magnet.flange or 0.0)) + depth


def _resistance(
    design: Design, ledger: Ledger, one: OneWinding, ends: _Terminals, joined: _Joined
) -> tuple[float, float, float]:
    """Enter the resistance at the terminals; return it with its low and high."""
    keys, section = one.keys, one.section
    at = show_temperature(one.temperature)
    winding = design.tolerance.winding or 0.0
    stated = design.stated_tolerance
    computed = show(ends.r_computed, "ohm")
    if keys.measured_resistance is not None:
        r_coil, basis = keys.measured_resistance, Basis.MEASURED
        part = stated.get(f"{section}.measured_resistance", 0.0)
        share = (1 - part, 1 + part)
        rule = f"measured at the terminals at {at}; {_beside(r_coil, ends.r_computed)} {computed}"
    elif keys.resistance is not None:
        r_coil, basis = keys.resistance / one.terminal_share, Basis.STATED
        part = stated.get(f"{section}.resistance", winding)
        share = (1 - part, 1 + part)
        rule = f"{section}.resistance at {at}; {_beside(r_coil, ends.r_computed)} {computed}"
    else:
        r_coil, basis = ends.r_computed, Basis.COMPUTED
        wire = stated.get(f"{section}.wire", 0.0)
        share = ((1 - winding) / (1 + wire) ** 2, (1 + winding) / (1 - wire) ** 2)
        rule = f"wire length x 1/58 ohm mm2/m at {at}"
    if joined.count == 2:
        rule += f"; two windings in {joined.connection}"
    span = design.tolerance.temperature
    ends_of_span = (one.temperature, one.temperature)
    if span is not None and span.from_ is not None and span.to is not None:
        ends_of_span = (span.from_, span.to)
    cold, warm = (
        resistance_at_temperature(r=r_coil, t_from=one.temperature, t_to=t) for t in ends_of_span
    )
    low, high = share[0] * cold, share[1] * warm
    spread = low < r_coil or high > r_coil
    ledger.value(
        f"{section}.r_coil", r_coil, "ohm", words="resistance at the terminals", basis=basis,
        rule=rule, low=low if spread else None, high=high if spread else None,
    )  # fmt: skip
    return r_coil, low, high


def _beside(stated: float, computed: float) -> str:
    """Return how a figure lies to the one that wire and turns give."""
    miss = stated / computed - 1
    if abs(miss) < 0.005:
        return "turns and wire give the same,"
    return f"{percent(abs(miss))} {'above' if miss > 0 else 'below'} what turns and wire give,"


def _inductance(ledger: Ledger, one: OneWinding, ends: _Terminals) -> float:
    section, measured = one.section, one.keys.measured_inductance
    l_coil, basis = ends.l_computed, Basis.COMPUTED
    rule = "quadrature over a winding of evenly spread turns, air core"
    if measured is not None:
        rule = f"measured; {_beside(measured, l_coil)} {show(l_coil, 'H')}"
        ledger.at_most(
            f"{section}.inductance", abs(measured / l_coil - 1), INDUCTANCE_MISS, "1",
            f"Measured {show(measured, 'H')}; turns and bobbin give {show(l_coil, 'H')}.",
            soft=True, remedy="Count the turns again; iron nearby and shorted turns shift it too.",
        )  # fmt: skip
        l_coil, basis = measured, Basis.MEASURED
    ledger.value(
        f"{section}.l_coil", l_coil, "H", words="inductance at the terminals", basis=basis,
        rule=rule,
    )  # fmt: skip
    return l_coil


def _bench(ledger: Ledger, one: OneWinding, r_coil: float) -> None:
    name = "coil" if one.section == "coil" else "pickup coil"
    low, high = (r_coil * (1 + miss) for miss in (-HAND_WOUND, HAND_WOUND))
    warmer = resistance_at_temperature(
        r=r_coil, t_from=one.temperature, t_to=one.temperature + 10.0
    )
    ledger.test_point(
        f"{name}, its two ends, unplugged from the circuit",
        f"switch off, winding at {show_temperature(one.temperature)}",
        "ohmmeter",
        f"{show(r_coil, 'ohm')} ({show_range(low, high, 'ohm')} is a sound winding; "
        f"{show(warmer, 'ohm')} when 10 K warmer)",
        "no reading: enamel not removed, or wire broken; too low: shorted or missing turns; "
        f"write what you read as {one.section}.measured_resistance",
    )
