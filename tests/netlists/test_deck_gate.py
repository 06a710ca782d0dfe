"""The gate lets plain circuit lines pass and nothing else."""

import pytest

from netlists.deck_gate import TITLE, check_deck
from netlists.errors import UnsafeDeckError
from tests.sources import Kind, source

PLAIN = (
    "v1 n1 0 dc 3.0e+00",
    "r1 n1 n2 4.7e+03",
    "l1 n2 n3 1.2e-02 ic=0.0e+00",
    "k1 l1 l2 9.0e-01",
    "b1 n4 0 v=pwl(time,0.0e+00,0.0e+00,1.0e-03,1.0e-01)",
    "q1 n3 n5 0 m1",
    ".model m1 npn (is=1.0e-14 bf=2.0e+02)",
    ".options reltol=1.0e-03 method=trap",
    ".ac dec 5.0e+01 1.0e+00 1.0e+04",
)


def deck(*lines: str) -> str:
    return "\n".join((TITLE, *lines, ".end", ""))


@pytest.mark.parametrize("line", PLAIN)
def test_plain_lines_pass(line: str) -> None:
    assert check_deck(deck(line)) == deck(line)


@pytest.mark.parametrize(
    "line",
    [
        ".control",
        ".include /etc/passwd",
        ".lib models",
        ".csparam a=1.0e+00",
        ".param a=1.0e+00",
        ".end",
        "+ r1 n1 n2 1.0e+00",
        "* a comment",
        "*# shell id",
        "x1 n1 n2 part",
        "a1 n1 n2 code",
        "r1 n1 n2 1k",
        "r1 n1 n2 1.0e+03k",
        "r1 n1 n2 4k7",
        "c1 n1 0 10meg",
        "r1 n1 n2 1.0e+00; shell id",
        "r1 n1 n2 1.0e+00 $ comment",
        'b1 n1 0 v=table("file")',
        "r1 n1 n2 1\N{MICRO SIGN}",
        "r1 n1 n2 1.0e+00\u2028.control",
        "r1 n1 n2 1.0e+00\r.control",
        "R1 n1 n2 1.0e+00",
        " r1 n1 n2 1.0e+00",
        "",
        "v1 n1 0 dc `id`",
        ".model m1 cosim (is=1.0e-14)",
        ".model m1 d_process (is=1.0e-14)",
        ".model m1 filesource (is=1.0e-14)",
        ".options interp",
        ".options savecurrents",
    ],
)
def test_anything_else_is_refused_with_its_line(line: str) -> None:
    with pytest.raises(UnsafeDeckError, match=r"line 3|close with"):
        check_deck(deck("r9 n1 0 1.0e+00", line))


@pytest.mark.parametrize(
    "line",
    [
        "r1 In n2 1.0e+00",
        "r1 GND n2 1.0e+00",
        "r1 gnd n2 1.0e+00",
        "r1 out n2 1.0e+00",
        "rload n1 n2 1.0e+00",
        "C_current_shunt n1 n2 1.0e+00",
        "c_current_shunt n1 n2 1.0e+00",
    ],
)
@source(
    Kind.PUBLISHED,
    "public issue threads; merging of names that differ only in case reproduced with ngspice 39",
    printed="In/in, OUT/out merged; GND inside a sub-circuit is the global ground; a resistor "
    "named C_current_shunt became a capacitor card",
)
def test_no_name_enters_that_could_be_another(line: str) -> None:
    """Nodes are n1, n2 and so on, elements a letter and a number: no two can be merged."""
    with pytest.raises(UnsafeDeckError, match="line 3"):
        check_deck(deck("r9 n1 0 1.0e+00", line))


def test_a_title_of_the_users_is_refused() -> None:
    with pytest.raises(UnsafeDeckError, match="line 1"):
        check_deck(deck("r1 n1 0 1.0e+00").replace(TITLE, "*ng_script"))


@pytest.mark.parametrize("ending", ["", "\n\n", ".end"])
@source(
    Kind.PUBLISHED,
    "github.com/PySpice-org/PySpice issues 379, 399, 392, 264: a netlist without a last line break "
    "loses its .end",
    printed="there aren't any circuits loaded",
)
def test_the_deck_closes_with_end_and_one_line_break(ending: str) -> None:
    whole = deck("r1 n1 0 1.0e+00")
    with pytest.raises(UnsafeDeckError, match=r"\.end"):
        check_deck(whole.removesuffix("\n") + ending if ending != ".end" else whole + ".end")
