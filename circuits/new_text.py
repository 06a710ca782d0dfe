"""The commented text of a starting design, made from six answers."""

from circuits.design import Movement
from circuits.design_keys import Place, keys_of, read_key
from circuits.format_quantity import show

MUST = "MEASURE:"
"""Marks a line whose figure only the finished movement can tell."""


def design_text(texts: dict[str, str], title: str) -> str:
    """Return the text of a starting design.

    Parameters
    ----------
    texts : dict
        Design-file texts by `section.key`, from the six answers.
    title : str
        The design's title.

    Returns
    -------
    text : str
        TOML with comments; lines to measure are marked.
    """
    balance = texts["movement.kind"] == "balance"
    lines = [
        f"# {title}: a starting design. Change any figure; leave out what you want sized.",
        f"# Lines with {MUST} hold a guess: put your own figure in when you have it.",
        "",
        "[design]",
        f'title = "{title}"',
        "",
        "[movement]",
        *_lines(texts, "movement", ("kind", "period", "effective_length", "mass", "inertia")),
        *_radius(texts),
        *_lines(texts, "movement", ("arc", "travel")),
        *([_FACE] if balance else []),
        f'bearing = "{"pivot" if balance else "spring"}"',
        f"#   {MUST} let it swing free and time how far the arc falls; then replace bearing by",
        _ring_down(texts),
        "",
        "[magnet]",
        'shape = "cylinder"',
        *_lines(texts, "magnet", ("diameter", "height")),
        'axis = "coil"                   # the poles point at the coil',
        *_lines(texts, "magnet", ("grade",)),
        *_lines(texts, "magnet", ("gap",), f"{MUST} one millimetre is about a fifth of the signal"),
        "",
        "[coil]",
        'use = "shared"                  # one winding listens and pushes',
        *_lines(texts, "coil", ("wire",)),
        "enamel = 1",
        *_lines(texts, "coil", ("inner_diameter", "outer_diameter", "height")),
        "# turns are left out: the window decides",
        f"#   {MUST} resistance and inductance once the coil is wound:",
        '#   measured_resistance = "120 ohm"',
        '#   measured_inductance = "40 mH"',
        "",
        "[supply]",
        *_lines(texts, "supply", ("cell",)),
        *([f"series = {texts['supply.series']}"] if "supply.series" in texts else []),
        *_lines(texts, "supply", ("voltage",)),
        *(
            ['# wanted_life = "1 year"       # take the # away and the sheet judges the life by it']
            if "supply.cell" in texts
            else []
        ),
        "",
        *_CIRCUIT,
    ]
    return "\n".join(lines) + "\n"


_FACE = 'plane = "face"                  # the magnet passes parallel to the winding\'s face'

_CIRCUIT = (
    "[controller]",
    'chip = "8-bit 20 mA"            # a pin class; `coilwright parts pin` lists them',
    'pin_high = "rail"',
    'adc_reference = "rail"',
    "adc_bits = 10",
    f'sleep_current = "5 uA"          # {MUST} with a meter in series with the cells',
    f'active_current = "1 mA"         # {MUST} the same, awake',
    'active_time = "30 ms"           # awake in each swing',
    "",
    "[drive]",
    'switch = "npn"',
    'polarity = "repel"',
    'trigger = "crossing"',
    'pull_down = "100 kohm"          # keeps the switch off while the controller starts',
    "# transistor, base_resistor and pulse_width are left out: the sheet says what to fit",
    "",
    "[clamp]",
    'kind = "diode"',
    "",
    "[pickup]",
    'arrangement = "at_switch"',
    'baseline = "tracked"',
    "",
    "[filter]",
    "poles = 1",
    'mains = "50 Hz"                 # or "60 Hz"',
    "",
    "[tolerance]",
    "resistor = 0.05",
    "capacitor = 0.1",
    'gap = "0.3 mm"',
)


def _lines(texts: dict[str, str], section: str, keys: tuple[str, ...], note: str = "") -> list[str]:
    lines = []
    for key in keys:
        if f"{section}.{key}" in texts:
            line = f'{key} = "{texts[f"{section}.{key}"]}"'
            lines.append(f"{line:<31} # {note}" if note else line)
    return lines


def _ring_down(texts: dict[str, str]) -> str:
    """Return the line that shows how a free swing is stated: from the arc to half of it."""
    place = Place(file="answers", section="", key="swing")
    keys = keys_of(Movement)
    if "movement.arc" in texts:
        arc = read_key(keys["arc"][1], texts["movement.arc"], place).value
    else:
        travel = read_key(keys["travel"][1], texts["movement.travel"], place).value
        radius = read_key(keys["magnet_radius"][1], _radius_text(texts), place).value
        arc = travel / (2 * radius)
    first, last = (show(part, "rad", 2) for part in (arc, arc / 2))
    return f'#   ring_down = {{ from = "{first}", to = "{last}", time = "5 min", coil = "open" }}'


def _radius(texts: dict[str, str]) -> list[str]:
    """Return the magnet's distance from the pivot: stated, or the pendulum's effective length."""
    if "movement.magnet_radius" in texts:
        return _lines(texts, "movement", ("magnet_radius",))
    line = f'magnet_radius = "{_radius_text(texts)}"'
    return [f"{line:<31} # {MUST} pivot to magnet face; here the effective length"]


def _radius_text(texts: dict[str, str]) -> str:
    from calc.pendulum import effective_length  # noqa: PLC0415 - start-up time

    for key in ("magnet_radius", "effective_length"):
        if f"movement.{key}" in texts:
            return texts[f"movement.{key}"]
    place = Place(file="answers", section="", key="movement")
    period = read_key(keys_of(Movement)["period"][1], texts["movement.period"], place).value
    return show(effective_length(period=period), "m")
