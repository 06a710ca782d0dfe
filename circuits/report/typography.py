"""Units as print has them, where the sheet's own sentences keep to ASCII."""

import re

SIGNS = (
    (re.compile(r"(?<=\d) ([mkMG]?)ohm\b"), "\u00a0\\1\u03a9"),
    (re.compile(r"(?<=\d) u(?=(?:A|V|F|s|J|W|H|m|C|T|N|Wb)\b)"), "\u00a0\u00b5"),
    (re.compile(r"(?<=\d) degC\b"), "\u00a0\u00b0C"),
    (re.compile(r"(?<=\d) deg\b"), "\u00b0"),
    (re.compile(r"per deg\b"), "per degree"),
    (re.compile(r"\bohm mm2/m\b"), "\u03a9 mm\u00b2/m"),
    (re.compile(r"\bkg/m3\b"), "kg/m\u00b3"),
    (re.compile(r"\*\*2\b"), "\u00b2"),
    (re.compile(r"(?<=\d) (?=(?:[numkM]?[AVFsJWHmCTN]|mAh|Ah|Hz|kHz|min|h|g|kg|mg|%)(?![\w-]))"),
     "\u00a0"),
    (re.compile(r"(?<![\w.-])-(?=\d)"), "\u2212"),
)  # fmt: skip


def printed(sentence: str) -> str:
    r"""Return a sentence of the sheet with the signs of its units, kept beside their figures.

    Examples
    --------
    >>> printed("The base gets 11.9 uA through 4.7 kohm at -5 degC, 4.5 deg.")
    'The base gets 11.9\xa0µA through 4.7\xa0kΩ at −5\xa0°C, 4.5°.'
    """
    pieces = sentence.split('"')
    for place in range(0, len(pieces), 2):
        # What stands between quotes is to be typed as it is.
        for pattern, sign in SIGNS:
            pieces[place] = pattern.sub(sign, pieces[place])
    return '"'.join(pieces)
