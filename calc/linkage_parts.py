"""The two bodies whose linkage is computed: a uniform magnet and a uniform winding."""

from dataclasses import dataclass

from calc.calculator import require
from calc.units import Metre, Ratio, Tesla


@dataclass(frozen=True, slots=True, kw_only=True)
class WindingShape:
    """A winding of rectangular section, its turns spread evenly over it."""

    n_turns: Ratio
    r_inner: Metre
    r_outer: Metre
    height: Metre

    def __post_init__(self) -> None:
        require(self.n_turns > 0, "winding: n_turns must be above zero; give the turns")
        require(self.r_inner > 0, "winding: r_inner must be above zero; it is the bobbin's radius")
        require(
            self.r_outer > self.r_inner,
            "winding: r_outer must exceed r_inner; the winding has a thickness",
        )
        require(self.height > 0, "winding: height must be above zero; it is the winding's length")


@dataclass(frozen=True, slots=True, kw_only=True)
class MagnetShape:
    """A magnet of uniform magnetisation, by its size along its path, across and away from the coil.

    `along` and `across` are the diameters of a round magnet with its axis along the coil's.
    Lying, with its axis along the motion, a round magnet has `across` equal to `depth`.
    `bore` is a ring's inner diameter, zero for none.
    """

    round: bool
    lying: bool
    b_r: Tesla
    along: Metre
    across: Metre
    depth: Metre
    bore: Metre = 0.0

    def __post_init__(self) -> None:
        require(self.b_r > 0, "magnet: b_r must be above zero; take the grade's remanence")
        require(self.along > 0, "magnet: along must be above zero; it is the size along the path")
        require(self.across > 0, "magnet: across must be above zero; it is the size across it")
        require(self.depth > 0, "magnet: depth must be above zero; it is the size off the coil")
        require(self.bore >= 0, "magnet: bore must not be negative; zero stands for none")
        require(
            self.bore < (self.across if self.round else 1e-9 * self.across) or self.bore == 0,
            "magnet: bore must be smaller than the magnet, and a block has none",
        )

    @property
    def half(self) -> Metre:
        """Half the size along the path."""
        return self.along / 2
