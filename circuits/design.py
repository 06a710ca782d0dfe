"""The design file's sections as frozen records in SI units; a key that is left out is None."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

Span = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityKey:
    """A quantity with its unit: outside `possible` is an error, outside `plausible` a doubt."""

    unit: str
    possible: Span
    plausible: Span
    keywords: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberKey:
    """A bare number: a count if `whole`, otherwise a ratio; bounds as for a quantity."""

    possible: Span
    whole: bool = False
    plausible: Span | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceKey:
    """One word of a short list."""

    words: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TextKey:
    """Free text, or the name of a part of the given catalogue kind."""

    part: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TableKey:
    """An inline table with keys of its own."""

    record: type[Any]


def quantity(unit: str, possible: Span, plausible: Span, keywords: tuple[str, ...] = ()) -> Any:
    """Declare a key that holds a quantity."""
    key = QuantityKey(unit=unit, possible=possible, plausible=plausible, keywords=keywords)
    return field(default=None, metadata={"key": key})


def count(low: int, high: int, plausible: Span | None = None) -> Any:
    """Declare a key that holds a whole number."""
    key = NumberKey(possible=(low, high), whole=True, plausible=plausible)
    return field(default=None, metadata={"key": key})


def ratio(low: float, high: float, plausible: Span | None = None) -> Any:
    """Declare a key that holds a bare number."""
    key = NumberKey(possible=(low, high), plausible=plausible)
    return field(default=None, metadata={"key": key})


def choice(*words: str) -> Any:
    """Declare a key that holds one of the given words."""
    return field(default=None, metadata={"key": ChoiceKey(words=words)})


def text(part: str = "") -> Any:
    """Declare a key that holds text, or a part's name."""
    return field(default=None, metadata={"key": TextKey(part=part)})


def table(record: type[Any]) -> Any:
    """Declare a key that holds an inline table."""
    return field(default=None, metadata={"key": TableKey(record=record)})


@dataclass(frozen=True, slots=True, kw_only=True)
class General:
    """Section [design]."""

    title: str | None = text()
    note: str | None = text()
    temperature: float | None = quantity("K", (173.0, 473.0), (253.0, 333.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class RingDown:
    """How far the free swing fell, and in which time."""

    from_: float | None = quantity("rad", (1e-6, 6.0), (1e-3, 5.0))
    to: float | None = quantity("rad", (1e-6, 6.0), (1e-3, 5.0))
    time: float | None = quantity("s", (1e-2, 1e8), (1.0, 1e6))
    coil: str | None = choice("open", "connected")


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """Section [movement]."""

    kind: str | None = choice("pendulum", "balance")
    period: float | None = quantity("s", (1e-3, 1e3), (0.05, 20.0))
    effective_length: float | None = quantity("m", (1e-4, 1e3), (0.005, 20.0))
    target_period: float | None = quantity("s", (1e-3, 1e3), (0.05, 20.0))
    nut_pitch: float | None = quantity("m", (1e-6, 0.1), (1e-4, 5e-3))
    mass: float | None = quantity("kg", (1e-6, 1e5), (1e-4, 100.0))
    inertia: float | None = quantity("kg*m^2", (1e-12, 1e8), (1e-8, 1e3))
    magnet_radius: float | None = quantity("m", (1e-4, 1e3), (2e-3, 20.0))
    arc: float | None = quantity("rad", (1e-5, 6.0), (5e-3, 5.0))
    travel: float | None = quantity("m", (1e-5, 1e3), (1e-3, 5.0))
    quality_factor: float | None = ratio(0.5, 1e7, (10.0, 2e5))
    ring_down: RingDown | None = table(RingDown)  # noqa: RUF009 - declares a field
    bearing: str | None = choice("knife", "spring", "ball", "pivot")
    work_per_swing: float | None = quantity("J", (1e-15, 1e3), (1e-9, 0.1))
    plane: str | None = choice("arc", "face")
    rod_expansion: float | None = quantity("1/K", (-1e-4, 1e-3), (-1e-6, 3e-5))
    support_stiffness: float | None = quantity("N/m", (1e-3, 1e12), (1e2, 1e9))


@dataclass(frozen=True, slots=True, kw_only=True)
class Magnet:
    """Section [magnet]."""

    shape: str | None = choice("cylinder", "ring", "block")
    diameter: float | None = quantity("m", (1e-4, 1.0), (1e-3, 0.1))
    inner_diameter: float | None = quantity("m", (1e-5, 1.0), (5e-4, 0.1))
    length: float | None = quantity("m", (1e-4, 1.0), (1e-3, 0.2))
    width: float | None = quantity("m", (1e-4, 1.0), (1e-3, 0.2))
    height: float | None = quantity("m", (1e-4, 1.0), (5e-4, 0.2))
    axis: str | None = choice("coil", "motion")
    grade: str | None = text(part="magnet")
    remanence: float | None = quantity("T", (1e-3, 2.5), (0.1, 1.5))
    count: int | None = count(1, 100)
    gap: float | None = quantity("m", (1e-5, 1.0), (5e-4, 0.05))
    flange: float | None = quantity("m", (0.0, 0.1), (0.0, 5e-3))
    offset: float | None = quantity("m", (-1.0, 1.0), (-0.05, 0.05))


@dataclass(frozen=True, slots=True, kw_only=True)
class Winding:
    """The keys that any winding has."""

    wire: float | None = quantity("m", (5e-6, 1e-2), (2e-5, 2e-3))
    awg: int | None = count(0, 60)
    enamel: int | None = count(1, 2)
    inner_diameter: float | None = quantity("m", (1e-4, 10.0), (1e-3, 0.3))
    outer_diameter: float | None = quantity("m", (1e-4, 10.0), (2e-3, 0.5))
    height: float | None = quantity("m", (1e-4, 1.0), (5e-4, 0.2))
    turns: int | None = count(1, 1_000_000, (20, 100_000))
    wire_length: float | None = quantity("m", (1e-2, 1e6), (0.5, 1e4))
    resistance: float | None = quantity("ohm", (1e-3, 1e6), (0.3, 3e4))
    measured_resistance: float | None = quantity("ohm", (1e-3, 1e6), (0.3, 3e4))
    measured_inductance: float | None = quantity("H", (1e-9, 1e3), (1e-6, 50.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil(Winding):
    """Section [coil]."""

    use: str | None = choice("shared", "drive")
    count: int | None = count(1, 2)
    connection: str | None = choice("series", "parallel")
    sides: str | None = choice("one", "both")
    core: str | None = text()


@dataclass(frozen=True, slots=True, kw_only=True)
class PickupCoil(Winding):
    """Section [pickup_coil]."""

    gap: float | None = quantity("m", (1e-5, 1.0), (5e-4, 0.05))
    position: float | None = quantity("m", (-10.0, 10.0), (-0.5, 0.5))
    sense: str | None = choice("same", "reversed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """Section [supply]."""

    cell: str | None = text(part="cell")
    series: int | None = count(1, 16)
    parallel: int | None = count(1, 16)
    voltage: float | None = quantity("V", (0.1, 1e3), (0.8, 60.0))
    resistance: float | None = quantity("ohm", (0.0, 1e4), (0.0, 100.0))
    reservoir: float | None = quantity("F", (1e-12, 100.0), (1e-7, 0.1))
    coil_rail: str | None = choice("cells", "regulated")
    regulator_output: float | None = quantity("V", (0.1, 1e3), (0.8, 60.0))
    regulator_quiescent: float | None = quantity("A", (0.0, 1.0), (0.0, 0.02))
    regulator_dropout: float | None = quantity("V", (0.0, 20.0), (0.0, 3.0))
    cutoff_per_cell: float | None = quantity("V", (0.0, 5.0), (0.6, 3.0))
    wanted_life: float | None = quantity("s", (1.0, 1e10), (3600.0, 1e9))


@dataclass(frozen=True, slots=True, kw_only=True)
class Controller:
    """Section [controller]."""

    chip: str | None = text(part="pin")
    pin_high: float | str | None = quantity("V", (0.1, 60.0), (1.0, 15.0), ("rail",))
    pin_resistance: float | None = quantity("ohm", (0.0, 1e6), (0.0, 2e3))
    pin_current_limit: float | None = quantity("A", (1e-7, 10.0), (1e-4, 0.1))
    injection_limit: float | None = quantity("A", (0.0, 1.0), (0.0, 0.02))
    pin_clamp: str | None = choice("none", "schottky")
    pull_up: float | None = quantity("ohm", (1.0, 1e9), (500.0, 1e6))
    brown_out: float | None = quantity("V", (0.1, 60.0), (0.9, 5.0))
    adc_bits: int | None = count(1, 32)
    adc_reference: float | str | None = quantity("V", (0.05, 60.0), (0.5, 6.0), ("rail",))
    adc_leakage: float | None = quantity("A", (0.0, 1e-2), (0.0, 2e-6))
    adc_capacitance: float | None = quantity("F", (0.0, 1e-6), (0.0, 1e-10))
    adc_resistance: float | None = quantity("ohm", (1.0, 1e12), (1e3, 1e10))
    sleep_current: float | None = quantity("A", (0.0, 1.0), (0.0, 5e-3))
    active_current: float | None = quantity("A", (0.0, 10.0), (0.0, 0.1))
    active_time: float | None = quantity("s", (0.0, 1e3), (0.0, 2.0))
    tick: float | None = quantity("s", (1e-10, 1.0), (1e-8, 1e-2))
    crystal_tolerance: float | None = ratio(0.0, 0.1, (1e-8, 1e-2))


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """Section [drive]."""

    switch: str | None = text()
    transistor: str | None = text(part="transistor")
    base_resistor: float | None = quantity("ohm", (0.0, 1e9), (10.0, 1e6))
    gate_resistor: float | None = quantity("ohm", (0.0, 1e9), (0.0, 1e5))
    pull_down: float | None = quantity("ohm", (1.0, 1e9), (1e3, 1e7))
    forced_gain: float | None = ratio(0.1, 10000.0, (1.0, 200.0))
    pulse_width: float | None = quantity("s", (1e-6, 100.0), (1e-4, 0.5))
    pulse_delay: float | None = quantity("s", (-100.0, 100.0), (-2.0, 2.0))
    polarity: str | None = choice("repel", "attract")
    trigger: str | None = choice("crossing", "threshold", "previous_pass")
    swings_per_pulse: int | None = count(1, 1000)
    duty: float | None = ratio(1e-4, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamp:
    """Section [clamp]."""

    kind: str | None = choice("diode", "diode_zener", "switch_zener", "resistor")
    diode: str | None = text(part="diode")
    zener: str | None = text(part="zener")
    resistor: float | None = quantity("ohm", (1e-2, 1e9), (10.0, 1e6))


@dataclass(frozen=True, slots=True, kw_only=True)
class Pickup:
    """Section [pickup]."""

    arrangement: str | None = text()
    upper: float | None = quantity("ohm", (1.0, 1e10), (100.0, 3e7))
    lower: float | None = quantity("ohm", (1.0, 1e10), (100.0, 3e7))
    bypass: float | None = quantity("F", (1e-13, 1.0), (1e-9, 1e-2))
    coupling: float | None = quantity("F", (1e-13, 1.0), (1e-9, 1e-2))
    threshold: float | None = quantity("V", (-60.0, 60.0), (-5.0, 5.0))
    hysteresis: float | None = quantity("V", (0.0, 60.0), (0.0, 1.0))
    baseline: str | None = choice("fixed", "ratiometric", "tracked")


@dataclass(frozen=True, slots=True, kw_only=True)
class Filter:
    """Section [filter]."""

    poles: int | None = count(1, 2)
    cutoff: float | None = quantity("Hz", (1e-3, 1e7), (0.5, 1e4))
    resistor: float | None = quantity("ohm", (0.0, 1e10), (10.0, 3e7))
    capacitor: float | None = quantity("F", (1e-14, 1.0), (1e-11, 1e-3))
    mains: float | None = quantity("Hz", (1.0, 1e3), (16.0, 400.0))
    mains_rejection: float | None = ratio(1.0, 1e6, (1.0, 1e4))
    hum: float | None = quantity("V", (0.0, 100.0), (0.0, 5.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Indicator:
    """Section [indicator]."""

    led_current: float | None = quantity("A", (1e-8, 1.0), (1e-6, 0.05))
    led_drop: float | None = quantity("V", (0.1, 60.0), (1.2, 4.5))
    resistor: float | None = quantity("ohm", (0.1, 1e9), (10.0, 1e6))


@dataclass(frozen=True, slots=True, kw_only=True)
class LogOutput:
    """Section [log_output]."""

    pwm_frequency: float | None = quantity("Hz", (0.1, 1e8), (10.0, 1e6))
    resistor: float | None = quantity("ohm", (1.0, 1e9), (100.0, 1e7))
    capacitor: float | None = quantity("F", (1e-13, 1.0), (1e-10, 1e-2))
    poles: int | None = count(1, 2)
    full_scale: float | None = quantity("s", (1e-6, 100.0), (1e-3, 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """Section [rate]; rates are in seconds a day here, as the file and the sheet have them."""

    allowed_error: float | None = quantity("s/day", (0.0, 86400.0), (1e-3, 600.0))
    time_constant: float | None = quantity("s", (1e-2, 1e9), (10.0, 1e6))
    width_min: float | None = quantity("s", (0.0, 100.0), (1e-4, 0.5))
    width_max: float | None = quantity("s", (1e-6, 100.0), (1e-4, 0.5))
    kp: float | None = ratio(-1e12, 1e12)
    ki: float | None = ratio(-1e12, 1e12)
    measured_slope: float | None = quantity("1/day", (-1e9, 1e9), (-1e6, 1e6))


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureSpan:
    """The coldest and the warmest that the movement sees."""

    from_: float | None = quantity("K", (173.0, 473.0), (233.0, 343.0))
    to: float | None = quantity("K", (173.0, 473.0), (253.0, 343.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """Section [tolerance]; relative ones are ratios, "5%" being 0.05."""

    resistor: float | None = ratio(0.0, 0.9, (0.0, 0.2))
    capacitor: float | None = ratio(0.0, 0.9, (0.0, 0.5))
    winding: float | None = ratio(0.0, 0.9, (0.0, 0.2))
    remanence: float | None = ratio(0.0, 0.9, (0.0, 0.3))
    gap: float | None = quantity("m", (0.0, 0.1), (0.0, 3e-3))
    quality_factor: float | None = ratio(0.0, 0.99)
    supply: float | None = ratio(0.0, 0.9)
    temperature: TemperatureSpan | None = table(TemperatureSpan)  # noqa: RUF009 - declares a field


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A stated value that is possible but unusual: the sheet asks whether it is meant."""

    section: str
    key: str
    found: str
    usual: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """One design file, validated; sections that are left out are empty records or None."""

    file: str = "design"
    design: General = field(default_factory=General)
    movement: Movement = field(default_factory=Movement)
    magnet: Magnet = field(default_factory=Magnet)
    coil: Coil = field(default_factory=Coil)
    pickup_coil: PickupCoil | None = None
    supply: Supply = field(default_factory=Supply)
    controller: Controller = field(default_factory=Controller)
    drive: Drive = field(default_factory=Drive)
    clamp: Clamp = field(default_factory=Clamp)
    pickup: Pickup = field(default_factory=Pickup)
    filter: Filter = field(default_factory=Filter)
    indicator: Indicator | None = None
    log_output: LogOutput | None = None
    rate: Rate = field(default_factory=Rate)
    tolerance: Tolerance = field(default_factory=Tolerance)
    part: Mapping[str, Mapping[str, object]] = field(default_factory=lambda: MappingProxyType({}))
    stated_tolerance: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    doubts: tuple[Doubt, ...] = ()
