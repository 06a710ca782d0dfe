"""What one winding enters into the sheet: its figures, its checks and its parts."""

from math import ceil, floor

from calc.winding import winding_resistance, wire_length
from calc.winding_window import fill_factor, outer_radius_of_turns
from calc.wire import awg_number, wire_mass
from circuits.catalogue import Catalogue
from circuits.format_quantity import percent, show, significant
from circuits.ledger import Basis, Change, Ledger
from circuits.stages.winding import PACKING, Fact, OneWinding, millimetres

SPARE = 0.1
"""Wire to buy beyond the winding, for leads and a false start: common practice, no source."""

AGREEMENT = 0.05
"""Spread of competing facts that bobbin and tape measure explain: common practice, no source."""

CONTRADICTION = 0.25
"""Spread beyond which the facts cannot all be true."""

FILL_LOW, FILL_HIGH = 0.3, 0.6
"""Share of copper that windings by hand and by machine end at: common practice, no source."""


def copper_share(one: OneWinding, n_turns: float, d: float) -> float:
    """Return the window's share of so many wires of a diameter."""
    return fill_factor(
        n_turns=n_turns, d_wire=d, r_inner=one.r_inner, r_outer=one.r_outer, height=one.height
    )


def enter_winding(
    ledger: Ledger, catalogue: Catalogue, one: OneWinding, *, count: int, allowed: float = AGREEMENT
) -> None:
    """Enter figures, checks and parts of a winding, or of two equal ones.

    Parameters
    ----------
    ledger : Ledger
        The sheet.
    catalogue : Catalogue
        The wires.
    one : OneWinding
        The winding.
    count : int
        How many of them there are.
    allowed : float
        Spread of competing facts that their own tolerances explain.
    """
    _figures(ledger, one, count)
    _wire_to_buy(ledger, one, count)
    _fits(ledger, catalogue, one)
    _share_of_copper(ledger, one)
    _agreement(ledger, one, max(allowed, AGREEMENT))


def _each(count: int) -> str:
    return "" if count == 1 else " of each winding"


def _figures(ledger: Ledger, one: OneWinding, count: int) -> None:
    s, each = one.section, _each(count)
    rivals = [fact.n_turns for fact in one.facts]
    spread = len(rivals) > 1
    ledger.value(
        f"{s}.n_turns", one.n_turns, "1", words=f"turns{each}", basis=one.turns_basis,
        rule=one.turns_rule, low=min(rivals) if spread else None,
        high=max(rivals) if spread else None,
    )  # fmt: skip
    ledger.value(
        f"{s}.d_wire", one.d_wire, "m", words="bare wire diameter", basis=one.wire_basis,
        rule=one.wire_rule,
    )  # fmt: skip
    field = f"d_overall_grade{one.enamel}"
    tabulated = one.size.r_per_metre is not None
    origin = str(one.size.marks.get(field, one.size.name)) if tabulated else one.size.note
    ledger.value(
        f"{s}.d_overall", one.d_overall, "m", words="diameter over the enamel",
        basis=Basis.CATALOGUE, rule=f"largest of grade {one.enamel}; {origin}",
    )  # fmt: skip
    ledger.value(
        f"{s}.outer_diameter", 2 * one.r_outer, "m", words="outer diameter of the winding",
        basis=one.outer_basis,
        rule=f"{s}.outer_diameter" if one.outer_basis is Basis.STATED
        else f"turns laid at {significant(PACKING)} of square layers",
    )  # fmt: skip
    stated_length = bool(one.facts) and one.facts[0].key == "wire_length"
    ledger.value(
        f"{s}.wire_length", one.length, "m", words=f"wire{each}, without leads",
        basis=Basis.STATED if stated_length else Basis.COMPUTED,
        rule="turns x pi x mean diameter",
    )  # fmt: skip
    shares = [copper_share(one, n, one.d_wire) for n in rivals]
    ledger.value(
        f"{s}.fill_factor", copper_share(one, one.n_turns, one.d_wire), "1",
        words="share of the window that is copper", basis=Basis.COMPUTED,
        rule="copper area / window area", low=min(shares) if spread else None,
        high=max(shares) if spread else None,
    )  # fmt: skip
    ledger.value(
        f"{s}.fill_overall", copper_share(one, one.n_turns, one.d_overall), "1",
        words="share of the window that is wire with its enamel", basis=Basis.COMPUTED,
        rule="wire area over the enamel / window area",
    )  # fmt: skip
    ledger.value(
        f"{s}.turns_per_layer", one.capacity.turns_per_layer, "1", words="turns in a full layer",
        basis=Basis.COMPUTED, rule="height / overall diameter",
    )  # fmt: skip
    ledger.value(
        f"{s}.layers", ceil(one.n_turns / max(1, one.capacity.turns_per_layer)), "1",
        words="layers, if each is full", basis=Basis.COMPUTED, rule="turns / turns in a layer",
    )  # fmt: skip


def _wire_to_buy(ledger: Ledger, one: OneWinding, count: int) -> None:
    s, total = one.section, count * one.length
    spool = total * (1 + SPARE)

    def mass(length: float) -> float:
        return wire_mass(wire_length=length, d_wire=one.d_wire, d_overall=one.d_overall)

    ledger.value(
        f"{s}.mass", mass(total), "kg", words="weight of the wire wound", basis=Basis.COMPUTED,
        rule="copper 8890 kg/m3 with its enamel",
    )  # fmt: skip
    ledger.value(
        f"{s}.spool_length", spool, "m", words="wire to buy", basis=Basis.COMPUTED,
        rule=f"wire and {percent(SPARE)} for leads and a false start",
    )  # fmt: skip
    ledger.value(
        f"{s}.spool_mass", mass(spool), "kg", words="weight of the wire to buy",
        basis=Basis.COMPUTED,
        rule="copper 8890 kg/m3 with its enamel",
    )  # fmt: skip
    gauge = f" (AWG {one.keys.awg})" if one.keys.awg is not None else ""
    reference, role = ("L1", "drive coil") if s == "coil" else ("L2", "pickup coil")
    ledger.part(
        reference, f"{role}, wire",
        f"enamelled copper wire {millimetres(one.d_wire)}{gauge}, grade {one.enamel}",
        rating=f"{show(spool, 'm')}, {show(mass(spool), 'kg')}",
    )  # fmt: skip
    ledger.part(
        reference, f"{role}, bobbin",
        f"bobbin of plastic or wood, inner {millimetres(2 * one.r_inner)}, "
        f"winding height {millimetres(one.height)}",
        rating=f"cheeks of at least {millimetres(2 * one.r_outer)}", quantity=count,
    )  # fmt: skip


def _fits(ledger: Ledger, catalogue: Catalogue, one: OneWinding) -> None:
    fits = one.n_turns <= one.capacity.n_turns
    ledger.at_most(
        f"{one.section}.fits", one.n_turns, one.capacity.n_turns, "1",
        f"{one.n_turns} turns of wire {millimetres(one.d_overall)} over its enamel; square layers "
        f"hold {one.capacity.n_turns} in this window.",
        remedy="Take thinner wire, fewer turns or a larger bobbin.",
        changes=() if fits else _ways_to_fit(catalogue, one),
    )  # fmt: skip


def _ways_to_fit(catalogue: Catalogue, one: OneWinding) -> list[tuple[Change, ...]]:
    s = one.section
    ways: list[tuple[Change, ...]] = []
    room = (one.r_outer - one.r_inner) * one.height
    shrink = PACKING * room / (one.n_turns * one.d_overall**2)
    # Thinner wire needs fewer turns for the same resistance, but as many for the same turns.
    by_resistance = bool(one.facts) and one.facts[0].key.endswith("resistance")
    d_wire = one.d_wire * shrink ** (0.25 if by_resistance else 0.5)
    # Enamel is thicker in proportion on thinner wire: one more gauge, or 2 %, leaves room.
    if one.keys.awg is not None:
        ways.append((Change(section=s, key="awg", text=str(ceil(awg_number(d_wire=d_wire)) + 1)),))
    else:
        ways.append((Change(section=s, key="wire", text=_thinner(catalogue, d_wire)),))
    if one.keys.turns is not None:
        fewer = floor(PACKING * one.capacity.n_turns)
        if fewer:
            ways.append((Change(section=s, key="turns", text=str(fewer)),))
    r_outer = outer_radius_of_turns(
        n_turns=float(one.n_turns), d_overall=one.d_overall, r_inner=one.r_inner,
        height=one.height, packing=PACKING,
    )  # fmt: skip
    wider = ceil(2e3 * r_outer)
    ways.append((Change(section=s, key="outer_diameter", text=f"{wider} mm"),))
    return ways


def _thinner(catalogue: Catalogue, d_wire: float) -> str:
    """Return a size below a diameter that a wire maker lists."""
    sizes = [size.d_wire for size in catalogue.wires() if size.d_wire < 0.98 * d_wire]
    return millimetres(max(sizes, default=0.9 * d_wire))


def _share_of_copper(ledger: Ledger, one: OneWinding) -> None:
    if one.sized_by_window or one.n_turns > one.capacity.n_turns:
        return
    facts = [fact.n_turns for fact in one.facts]
    shares = sorted(copper_share(one, n, one.d_wire) for n in facts)
    enamelled = sorted(copper_share(one, n, one.d_overall) for n in facts)
    share = shares[0]
    span = _span(shares)
    s = one.section
    if share < (FILL_LOW + FILL_HIGH) / 2:
        neat = max(1, floor(PACKING * one.capacity.n_turns))
        r_neat = winding_resistance(
            n_turns=neat, r_inner=one.r_inner, r_outer=one.r_outer, r_per_metre=one.r_per_metre
        )
        text = f"{span} of the window is copper ({_span(enamelled)} with the enamel)"
        if share < FILL_LOW * 1.1:
            text += (
                "; that is a loose winding, or the winding ends below the stated outer diameter:"
                f" a neat one up to {millimetres(2 * one.r_outer)} would have about"
                f" {significant(neat, 2)} turns and {show(r_neat, 'ohm', 2)}"
            )
        ledger.at_least(
            f"{s}.fill_factor", share, FILL_LOW, "1", f"{text}.", soft=True,
            remedy="Measure the winding's outer diameter and write that.",
        )  # fmt: skip
        return
    share = shares[-1]
    text = f"{span} of the window is copper"
    if share > FILL_HIGH * 0.9:
        text += f"; more than {percent(FILL_HIGH)} takes layers laid turn by turn"
    ledger.at_most(
        f"{s}.fill_factor", share, FILL_HIGH, "1", f"{text}.", soft=True,
        remedy="Wind in layers, or take a larger bobbin.",
    )  # fmt: skip


def _span(shares: list[float]) -> str:
    low, high = (significant(100 * share, 2) for share in (shares[0], shares[-1]))
    return f"{low} %" if low == high else f"{low} to {high} %"


def _agreement(ledger: Ledger, one: OneWinding, allowed: float) -> None:
    if len(one.facts) < 2:
        return
    turns = [fact.n_turns for fact in one.facts]
    spread = max(turns) / min(turns) - 1
    told = "; ".join(
        f"{fact.key} = {fact.found}"
        + ("" if fact.key == "turns" else f" makes {round(fact.n_turns)} turns")
        for fact in one.facts
    )
    text = f"{told}: they differ by {percent(spread)}"
    if spread > allowed:
        text += f", and the sheet goes on with {one.n_turns} turns, from {one.facts[0].key}"
    ledger.at_most(
        f"{one.section}.agreement", spread, allowed, "1", f"{text}.",
        soft=spread <= max(CONTRADICTION, allowed),
        remedy="Measure again and correct the figure that is wrong.",
        changes=_ways_to_agree(one),
    )  # fmt: skip


def _ways_to_agree(one: OneWinding) -> list[tuple[Change, ...]]:
    """Take each fact for true in turn and correct the others; a measured one stands."""
    ways: list[tuple[Change, ...]] = []
    for truth in one.facts:
        others = [fact for fact in one.facts if fact is not truth]
        wrong = [f for f in others if abs(f.n_turns / truth.n_turns - 1) > AGREEMENT]
        if not wrong or any(fact.key == "measured_resistance" for fact in wrong):
            continue
        ways.append(tuple(_corrected(one, fact, truth.n_turns) for fact in wrong))
    return ways


def _corrected(one: OneWinding, fact: Fact, n_turns: float) -> Change:
    mean = {"r_inner": one.r_inner, "r_outer": one.r_outer}
    if fact.key == "turns":
        text = str(max(1, round(n_turns)))
    elif fact.key == "wire_length":
        text = show(wire_length(n_turns=n_turns, **mean), "m")
    else:
        r = winding_resistance(n_turns=n_turns, r_per_metre=one.r_per_metre, **mean)
        text = show(r, "ohm")
    return Change(section=one.section, key=fact.key, text=text)
