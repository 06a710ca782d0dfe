"""Model cards: the few parameters of a part that the pulse depends on, as SPICE names them.

Cards hold at 25 degrees Celsius; the simulator moves them with temperature by its own laws.
Charge storage and capacitances are left out: they act within nanoseconds, where the coil's
current takes a good part of a millisecond to change.
"""

import math
from dataclasses import dataclass
from typing import ClassVar

V_THERMAL = 1.380649e-23 * 298.15 / 1.602176634e-19
"""Thermal voltage at 25 degrees Celsius [V]."""
I_SATURATION = 1e-14
"""Transport saturation current of a small bipolar transistor; common practice, no source [A]."""
MOST_SLOPE = 0.15
"""Logarithm of a zener's breakdown as a share of its voltage, at most: the limit of r_z that a
data sheet gives is three times what a zener of low voltage really has; common practice."""
SILICON_GAP, SCHOTTKY_GAP = 1.11, 0.69
"""Energies that move a junction with temperature; the simulators' own handbook values [eV]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BipolarCard:
    """A saturated switch: gains either way, resistance in the collector and in the base."""

    kind: ClassVar[str] = "npn"
    beta_f: float
    beta_r: float
    r_collector: float
    r_base: float
    i_saturation: float = I_SATURATION

    def parameters(self) -> dict[str, float]:
        """Return the card's entries."""
        return {
            "is": self.i_saturation,
            "bf": self.beta_f,
            "br": self.beta_r,
            "rc": self.r_collector,
            "rb": self.r_base,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class MosfetCard:
    """A vertical MOSFET: threshold, gain and the resistance that is left when it is wide open.

    As ``nmos`` the same entries make the oldest MOSFET model, which every SPICE has; at 25
    degrees Celsius both draw the same current.
    """

    kind: ClassVar[str] = "vdmos"
    v_threshold: float
    gain: float
    r_drain: float

    def parameters(self) -> dict[str, float]:
        """Return the card's entries."""
        return {"vto": self.v_threshold, "kp": self.gain, "rd": self.r_drain}


@dataclass(frozen=True, slots=True, kw_only=True)
class JunctionCard:
    """A junction: saturation current, emission coefficient, resistance, and what warmth does."""

    kind: ClassVar[str] = "d"
    i_saturation: float
    emission: float
    resistance: float
    gap: float = SILICON_GAP
    exponent: float = 3.0

    def parameters(self) -> dict[str, float]:
        """Return the card's entries."""
        return {
            "is": self.i_saturation,
            "n": self.emission,
            "rs": self.resistance,
            "eg": self.gap,
            "xti": self.exponent,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class ZenerCard:
    """A zener as two junctions: the breakdown behind a constant voltage, and the forward one.

    Simulators' own breakdown sets in with a jump, and is no good for soft zeners of low voltage.
    """

    v_constant: float
    breakdown: JunctionCard
    forward: JunctionCard


Card = BipolarCard | MosfetCard | JunctionCard


def bipolar_card(
    *,
    beta_f: float,
    beta_r: float,
    resistance: float,
    i_c: float,
    i_b: float,
    v_be_sat: float,
) -> BipolarCard:
    """Return the card of a bipolar switch whose base meets a catalogue point.

    Parameters
    ----------
    beta_f, beta_r : float
        Forward and reverse gain [1].
    resistance : float
        Resistance in series with the collector [Ω].
    i_c, i_b : float
        Currents of the catalogue's saturation point [A].
    v_be_sat : float
        Base-emitter voltage there [V].

    Returns
    -------
    card : BipolarCard
        With the base resistance, or the saturation current, that gives v_be_sat at the point.
    """
    junction = v_be_saturated(i_c=i_c, i_b=i_b, beta_f=beta_f, beta_r=beta_r)
    if junction <= v_be_sat:
        r_base, scale = (v_be_sat - junction) / i_b, 1.0
    else:
        r_base, scale = 0.0, math.exp((junction - v_be_sat) / V_THERMAL)
    return BipolarCard(
        beta_f=beta_f,
        beta_r=beta_r,
        r_collector=resistance,
        r_base=r_base,
        i_saturation=I_SATURATION * scale,
    )


def v_be_saturated(
    *, i_c: float, i_b: float, beta_f: float, beta_r: float, i_saturation: float = I_SATURATION
) -> float:
    """Return the base-emitter junction's voltage at currents i_c and i_b [V].

    With f = exp(v_be / V_T) and r = exp(v_bc / V_T) the transport model reads
    i_c = i_s (f - r - r / beta_r) and i_b = i_s (f / beta_f + r / beta_r).
    """
    forward = (i_c + i_b * (1 + beta_r)) / (1 + (1 + beta_r) / beta_f)
    return V_THERMAL * math.log(forward / i_saturation)


def mosfet_card(
    *, r_ds_on: float, v_gs: float, v_gs_th: float, channel_share: float = 0.2
) -> MosfetCard:
    """Return the card of a MOSFET whose on-resistance meets one catalogue point.

    Parameters
    ----------
    r_ds_on : float
        On-resistance [Ω] at the gate voltage v_gs.
    v_gs : float
        Gate voltage of that point [V].
    v_gs_th : float
        Threshold voltage [V], below v_gs.
    channel_share : float
        Share of the resistance that the channel has there; the rest does not depend on the
        gate; common practice, no source.
    """  # fmt: skip
    channel = channel_share * r_ds_on
    return MosfetCard(
        v_threshold=v_gs_th,
        gain=1 / (channel * (v_gs - v_gs_th)),
        r_drain=r_ds_on - channel,
    )


def junction_card(
    *, v_log: float, i_log: float, resistance: float, gap: float = SILICON_GAP
) -> JunctionCard:
    """Return the card of the junction v = v_log ln(1 + i / i_log) + resistance i."""
    return JunctionCard(
        i_saturation=i_log, emission=v_log / V_THERMAL, resistance=resistance, gap=gap
    )


def zener_card(*, v_z: float, i_z: float, r_z: float) -> ZenerCard:
    """Return the card of a zener that stands at v_z when i_z flows, with slope r_z there.

    The breakdown is a logarithm: the slope falls as the current rises, as data sheets show it.
    Where the logarithm alone spans all of v_z, as at low voltage, nothing is constant.
    """
    v_log = max(min(r_z * i_z, MOST_SLOPE * v_z), V_THERMAL)
    leak = max(i_z / math.expm1(v_z / v_log) if v_z / v_log < 100 else 0.0, I_SATURATION)
    spanned = v_log * math.log1p(i_z / leak)
    return ZenerCard(
        v_constant=max(v_z - spanned, 0.0),
        # Gap and exponent that leave the voltage at the test current as it is.
        breakdown=JunctionCard(
            i_saturation=leak, emission=v_log / V_THERMAL, resistance=0.0, gap=spanned, exponent=0.0
        ),
        forward=JunctionCard(i_saturation=I_SATURATION, emission=1.0, resistance=0.0),
    )
