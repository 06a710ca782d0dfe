"""The unit is the type: aliases that mypy reads as numbers and tests read as dimensions."""

from dataclasses import dataclass
from typing import Annotated

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """Exponents of the SI base units metre, kilogram, second, ampere and kelvin."""

    m: float = 0
    kg: float = 0
    s: float = 0
    A: float = 0
    K: float = 0


_RATIO = Unit()
_M = Unit(m=1)
_S = Unit(s=1)
_A = Unit(A=1)
_V = Unit(m=2, kg=1, s=-3, A=-1)
_WB = Unit(m=2, kg=1, s=-2, A=-1)
_WB_PER_M = Unit(m=1, kg=1, s=-2, A=-1)
_J = Unit(m=2, kg=1, s=-2)

Ratio = Annotated[float, _RATIO]
Count = Annotated[int, _RATIO]
Radian = Annotated[float, _RATIO]
Metre = Annotated[float, _M]
SquareMetre = Annotated[float, Unit(m=2)]
Kilogram = Annotated[float, Unit(kg=1)]
Second = Annotated[float, _S]
Hertz = Annotated[float, Unit(s=-1)]
RadianPerSecond = Annotated[float, Unit(s=-1)]
Ampere = Annotated[float, _A]
Kelvin = Annotated[float, Unit(K=1)]
PerKelvin = Annotated[float, Unit(K=-1)]
PerSquareKelvin = Annotated[float, Unit(K=-2)]
PerSecond = Annotated[float, Unit(s=-1)]
Volt = Annotated[float, _V]
VoltPerKelvin = Annotated[float, Unit(m=2, kg=1, s=-3, A=-1, K=-1)]
VoltPerSecond = Annotated[float, Unit(m=2, kg=1, s=-4, A=-1)]
Ohm = Annotated[float, Unit(m=2, kg=1, s=-3, A=-2)]
PerOhm = Annotated[float, Unit(m=-2, kg=-1, s=3, A=2)]
OhmMetre = Annotated[float, Unit(m=3, kg=1, s=-3, A=-2)]
OhmPerMetre = Annotated[float, Unit(m=1, kg=1, s=-3, A=-2)]
Henry = Annotated[float, Unit(m=2, kg=1, s=-2, A=-2)]
HenryPerMetre = Annotated[float, Unit(m=1, kg=1, s=-2, A=-2)]
Farad = Annotated[float, Unit(m=-2, kg=-1, s=4, A=2)]
Tesla = Annotated[float, Unit(kg=1, s=-2, A=-1)]
Weber = Annotated[float, _WB]
WeberPerMetre = Annotated[float, _WB_PER_M]
WeberPerSquareMetre = Annotated[float, Unit(kg=1, s=-2, A=-1)]
Newton = Annotated[float, Unit(m=1, kg=1, s=-2)]
NewtonPerMetre = Annotated[float, Unit(kg=1, s=-2)]
Joule = Annotated[float, _J]
JoulePerKelvin = Annotated[float, Unit(m=2, kg=1, s=-2, K=-1)]
Watt = Annotated[float, Unit(m=2, kg=1, s=-3)]
Coulomb = Annotated[float, Unit(s=1, A=1)]
MetrePerSecond = Annotated[float, Unit(m=1, s=-1)]
MetrePerSecondSquared = Annotated[float, Unit(m=1, s=-2)]
PerSecondSquared = Annotated[float, Unit(s=-2)]
KilogramSquareMetre = Annotated[float, Unit(m=2, kg=1)]
KilogramPerCubicMetre = Annotated[float, Unit(m=-3, kg=1)]

RatioCurve = Annotated[NDArray[np.float64], _RATIO]
RadianCurve = Annotated[NDArray[np.float64], _RATIO]
MetreCurve = Annotated[NDArray[np.float64], _M]
SecondCurve = Annotated[NDArray[np.float64], _S]
PerSecondCurve = Annotated[NDArray[np.float64], Unit(s=-1)]
AmpereCurve = Annotated[NDArray[np.float64], _A]
VoltCurve = Annotated[NDArray[np.float64], _V]
OhmCurve = Annotated[NDArray[np.float64], Unit(m=2, kg=1, s=-3, A=-2)]
VoltPerSecondCurve = Annotated[NDArray[np.float64], Unit(m=2, kg=1, s=-4, A=-1)]
WeberCurve = Annotated[NDArray[np.float64], _WB]
WeberPerMetreCurve = Annotated[NDArray[np.float64], _WB_PER_M]
WeberPerSquareMetreCurve = Annotated[NDArray[np.float64], Unit(kg=1, s=-2, A=-1)]
JouleCurve = Annotated[NDArray[np.float64], _J]
MetrePerSecondCurve = Annotated[NDArray[np.float64], Unit(m=1, s=-1)]
