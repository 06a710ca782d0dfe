"""Ringing of a winding with the capacitance at its end."""

from dataclasses import dataclass

from calc.calculator import calculator, pi, require, sqrt
from calc.units import Farad, Henry, Hertz, Ohm, Ratio, Second


@dataclass(frozen=True, slots=True, kw_only=True)
class Ringing:
    """A winding left alone with a capacitance and a resistor across it."""

    f_ring: Hertz
    q_ring: Ratio
    tau_ring: Second


@calculator
def winding_ringing(*, l_coil: Henry, r_coil: Ohm, c_node: Farad, r_load: Ohm) -> Ringing:
    """Return how a winding rings once its clamp has let go.

    Parameters
    ----------
    l_coil : float
        Inductance of the winding [H].
    r_coil : float
        Resistance of the winding [ohm].
    c_node : float
        Capacitance of the winding and of what hangs on its end [F].
    r_load : float
        Resistance across the winding, infinite for none [ohm].

    Returns
    -------
    ringing : Ringing
        Frequency without damping, quality of the resonance, and the time in which it falls to
        1/e; a quality below one half does not ring.

    Raises
    ------
    OutOfRangeError
        If an argument is not above zero.

    Notes
    -----
    f_ring = 1 / (2 * pi * sqrt(l_coil * c_node))
    q_ring = 1 / (r_coil * sqrt(c_node / l_coil) + sqrt(l_coil / c_node) / r_load)
    tau_ring = 2 / (r_coil / l_coil + 1 / (r_load * c_node))

    References
    ----------
    Textbook relation (resonance with series and parallel loss); no source needed.

    Examples
    --------
    >>> found = winding_ringing(l_coil=0.012, r_coil=30.0, c_node=200e-12, r_load=47e3)
    >>> round(found.f_ring), round(found.q_ring, 2)
    (102734, 5.93)
    """
    require(l_coil > 0, "winding_ringing: l_coil must be above zero; give the inductance")
    require(r_coil > 0, "winding_ringing: r_coil must be above zero; give the resistance")
    require(c_node > 0, "winding_ringing: c_node must be above zero; a winding has some 100 pF")
    require(r_load > 0, "winding_ringing: r_load must be above zero; infinite stands for none")
    return Ringing(
        f_ring=1 / (2 * pi * sqrt(l_coil * c_node)),
        q_ring=1 / (r_coil * sqrt(c_node / l_coil) + sqrt(l_coil / c_node) / r_load),
        tau_ring=2 / (r_coil / l_coil + 1 / (r_load * c_node)),
    )
