"""Quality factors that bearings usually allow, for as long as nobody has measured."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True, kw_only=True)
class QualityRange:
    """A range of quality factors and who says so."""

    low: float
    high: float
    words: str
    source: str

    @property
    def typ(self) -> float:
        """The middle of the range on a scale of ratios."""
        return float((self.low * self.high) ** 0.5)


BEARINGS: Mapping[str, QualityRange] = MappingProxyType(
    {
        "knife": QualityRange(
            low=1000.0,
            high=18500.0,
            words="a knife edge",
            source="upper end: a 24 inch knife-edge pendulum on model-engineer.co.uk; lower end: "
            "common practice, no source",
        ),
        "spring": QualityRange(
            low=2000.0,
            high=15000.0,
            words="a suspension spring",
            source="good seconds pendulums about 10 000, home-built from 15 000 "
            "(model-engineer.co.uk); lower end: common practice, no source",
        ),
        "ball": QualityRange(
            low=50.0,
            high=1000.0,
            words="a ball bearing",
            source="common practice, no source",
        ),
        "pivot": QualityRange(
            low=100.0,
            high=400.0,
            words="a pair of pivots",
            source="wrist watches 100 to 300, chronometers about 400 (orologeria.com)",
        ),
    }
)

UNKNOWN: Mapping[str, QualityRange] = MappingProxyType(
    {
        "pendulum": QualityRange(
            low=50.0,
            high=31000.0,
            words="an unknown bearing",
            source="home-built pendulums up to 31 000 (model-engineer.co.uk); a ball bearing may "
            "give 50: common practice, no source",
        ),
        "balance": QualityRange(
            low=50.0,
            high=400.0,
            words="an unknown pair of pivots",
            source="from a ball bearing to a chronometer's pivots; common practice, no source",
        ),
    }
)
