"""Numbers and findings as words, alike in every report: true minus signs, a dash for what cannot be had."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, log10
from typing import Literal

from trainer.instrument import catalogue
from trainer.scoring.intervals import Interval
from trainer.scoring.person import Spread

Setting = Literal["screen", "sheet", "bench"]  # where readings were made
UM_PER_TEN_THOUSANDTH_IN = 2.54  # 0.0001 in, exactly
NONE = "–"

CAUTION: dict[Setting, str] = {
    "screen": (
        "This score was taken on pictures. It shows skill on a picture and must be confirmed on a "
        "real instrument by a bench check before it supports a release decision."
    ),
    "sheet": (
        "This score was taken on printed pictures. It shows skill on a picture and must be confirmed on a "
        "real instrument by a bench check before it supports a release decision."
    ),
    "bench": (
        "This score was taken on a real instrument against the reference named. It holds for that "
        "instrument, that person and those conditions."
    ),
}
STANDING = (
    "Acceptance and rejection of parts or instruments follow the laboratory's own procedures, its quality "
    "system and the governing standards. This program is not accredited and does not replace licensed or "
    "accredited practice."
)
KIND_WORDS = {
    "graduation": "a graduation too many or too few",
    "turn": "a turn miscounted",
    "half-millimetre": "half-millimetre line missed or imagined",
    "wrong-side": "tenths counted from the wrong line",
    "swapped-digits": "digits exchanged",
    "vernier-line": "another vernier line",
    "decimal-or-unit": "decimal point or unit",
    "unexplained": "not explained",
}


@dataclass(frozen=True, slots=True)
class Lengths:
    """A number of tenths as lengths; both None where the instrument is not known."""

    um: float | None
    ten_thousandths_in: float | None


def tenth_um(instrument: str | None) -> float | None:
    """Return a tenth of a division of that instrument in micrometres, or None for one not in the catalogue.

    >>> tenth_um("inch")
    2.54
    """
    if instrument is None or instrument not in catalogue.names():
        return None
    return round(catalogue.load(instrument).tenth_um, 9)


def lengths(tenths: float | None, um_per_tenth: float | None) -> Lengths:
    """Return tenths as micrometres and as ten-thousandths of an inch.

    >>> lengths(2.0, 2.54)
    Lengths(um=5.08, ten_thousandths_in=2.0)
    """
    if tenths is None or um_per_tenth is None:
        return Lengths(None, None)
    um = tenths * um_per_tenth
    return Lengths(um, um / UM_PER_TEN_THOUSANDTH_IN)


def fixed(value: float | None, places: int = 2, *, sign: bool = False) -> str:
    """Return a number with that many decimals, with a true minus, or a dash.

    >>> fixed(-0.104), fixed(0.3, sign=True), fixed(None), fixed(-0.001)
    ('−0.10', '+0.30', '–', '0.00')
    """
    if value is None:
        return NONE
    text = f"{value:+.{places}f}" if sign else f"{value:.{places}f}"
    if not float(text):
        text = text.lstrip("+-")
    return text.replace("-", "−")


def two_figures(value: float | None) -> str:
    """Return an uncertainty with two significant figures (JCGM 100, 7.2.6), or a dash.

    >>> two_figures(0.01234), two_figures(12.6), two_figures(0.0996)
    ('0.012', '13', '0.10')
    """
    if value is None:
        return NONE
    if value == 0:
        return "0"
    places = 1 - floor(log10(abs(value)))
    if abs(round(value, places)) >= 10.0 ** (2 - places):  # rounding carried into the next decade
        places -= 1
    return fixed(round(value, places), max(places, 0))


def to_match(value: float, u: float | None, figures: int = 2) -> str:
    """Return a value with the decimals that its uncertainty has in that many significant figures.

    >>> to_match(19.8742, 0.0016), to_match(838.4, 36.2), to_match(1.15, None)
    ('19.8742', '838', '1.15')
    """
    if not u:
        return f"{value:.10g}".replace("-", "−")
    return fixed(value, max(figures - 1 - floor(log10(u)), 0))


def short(value: float) -> str:
    """Return a number with three significant figures, without an exponent where that stays readable.

    >>> short(1.62e-05), short(0.709), short(31.66), short(1.2e-12)
    ('0.0000162', '0.709', '31.7', '1.2e-12')
    """
    if value == 0 or not 1e-7 <= abs(value) < 1e7:
        return f"{value:.3g}"
    return fixed(value, max(2 - floor(log10(abs(value))), 0))


def true_minus(text: str) -> str:
    """Return a text whose negative numbers have a minus sign in place of a hyphen.

    >>> true_minus("turned by -15 to 15 degrees, first-level-2")
    'turned by −15 to 15 degrees, first-level-2'
    """
    return re.sub(r"(?<![\w-])-(?=\d)", "−", text)


def ends(interval: Interval | Spread, places: int = 2, *, sign: bool = False) -> str:
    """Return an interval's ends in words, or a dash."""
    if interval.low is None or interval.high is None:
        return NONE
    return f"{fixed(interval.low, places, sign=sign)} to {fixed(interval.high, places, sign=sign)}"


def percent(share: float | None, places: int = 1) -> str:
    """Return a share as a percentage, or a dash."""
    return NONE if share is None else f"{fixed(100 * share, places)} %"


def percents(interval: Interval) -> str:
    """Return the interval of a share as percentages.

    >>> percents(Interval(0.01, 0.0002, 0.0456))
    '0.02 to 4.6 %'
    """
    if interval.low is None or interval.high is None:
        return NONE
    low = f"{100 * interval.low:.1g}" if interval.low < 0.001 else fixed(100 * interval.low, 1)
    return f"{low} to {fixed(100 * interval.high, 1)} %"


def count(number: int, one: str, many: str | None = None) -> str:
    """Return a number with its noun.

    >>> count(1, "reading"), count(2, "reading"), count(3, "person", "people")
    ('1 reading', '2 readings', '3 people')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def in_tenths(value: float, places: int = 2, *, sign: bool = False) -> str:
    """Return a length in tenths with its noun.

    >>> in_tenths(0.8), in_tenths(-1.2, sign=True)
    ('0.80 tenth', '−1.20 tenths')
    """
    return f"{fixed(value, places, sign=sign)} {'tenth' if abs(value) <= 1 else 'tenths'}"


def direction(bias_tenths: float) -> str:
    """Return which way a bias reads."""
    return "high" if bias_tenths > 0 else "low"


def aligned(table: Sequence[Sequence[str]]) -> list[str]:
    """Return rows as lines, the first column to the left and the others to the right.

    >>> aligned([("a", "tenths"), ("bias", "+0.2")])
    ['a     tenths', 'bias    +0.2']
    """
    widths = [max(len(row[column]) for row in table) for column in range(len(table[0]))]
    return [
        "  ".join(
            cell.rjust(width) if column else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in table
    ]
