"""Two equal windings joined in series or in parallel."""

from dataclasses import dataclass

from calc.calculator import calculator, require
from calc.units import Henry, Ohm, Ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinedWindings:
    """Two equal windings seen at their two common terminals.

    `linkage_factor` times the flux linkage of one winding is the linkage at the terminals.
    """

    r_coil: Ohm
    l_coil: Henry
    linkage_factor: Ratio


@calculator
def windings_in_series(*, r_coil: Ohm, l_coil: Henry, mutual: Henry) -> JoinedWindings:
    """Return two equal windings joined in series.

    Parameters
    ----------
    r_coil : float
        Resistance of one winding [Ω].
    l_coil : float
        Self-inductance of one winding [H].
    mutual : float
        Mutual inductance as they are joined; negative if their fields oppose [H].

    Returns
    -------
    joined : JoinedWindings
        Resistance, inductance and linkage factor at the terminals.

    Raises
    ------
    OutOfRangeError
        If r_coil or l_coil is not above zero, or mutual exceeds l_coil.

    Notes
    -----
    r_coil = 2 * r_coil
    l_coil = 2 * (l_coil + mutual)
    linkage_factor = 2

    References
    ----------
    Kirchhoff's laws, no source needed.

    Examples
    --------
    >>> windings_in_series(r_coil=20.0, l_coil=0.010, mutual=0.001)
    JoinedWindings(r_coil=40.0, l_coil=0.022, linkage_factor=2.0)
    """
    require(r_coil > 0, "two windings: r_coil must be above zero")
    require(l_coil > 0, "two windings: l_coil must be above zero")
    require((mutual < l_coil) & (mutual > -l_coil), "two windings: mutual must be below l_coil")
    return JoinedWindings(r_coil=2 * r_coil, l_coil=2 * (l_coil + mutual), linkage_factor=2.0)


@calculator
def windings_in_parallel(*, r_coil: Ohm, l_coil: Henry, mutual: Henry) -> JoinedWindings:
    """Return two equal windings joined in parallel.

    Parameters
    ----------
    r_coil : float
        Resistance of one winding [Ω].
    l_coil : float
        Self-inductance of one winding [H].
    mutual : float
        Mutual inductance as they are joined; negative if their fields oppose [H].

    Returns
    -------
    joined : JoinedWindings
        Resistance, inductance and linkage factor at the terminals.

    Raises
    ------
    OutOfRangeError
        If r_coil or l_coil is not above zero, or mutual exceeds l_coil.

    Notes
    -----
    r_coil = r_coil / 2
    l_coil = (l_coil + mutual) / 2
    linkage_factor = 1

    References
    ----------
    Kirchhoff's laws, no source needed.

    Examples
    --------
    >>> windings_in_parallel(r_coil=20.0, l_coil=0.010, mutual=0.002)
    JoinedWindings(r_coil=10.0, l_coil=0.006, linkage_factor=1.0)
    """
    require(r_coil > 0, "two windings: r_coil must be above zero")
    require(l_coil > 0, "two windings: l_coil must be above zero")
    require((mutual < l_coil) & (mutual > -l_coil), "two windings: mutual must be below l_coil")
    return JoinedWindings(r_coil=r_coil / 2, l_coil=(l_coil + mutual) / 2, linkage_factor=1.0)
