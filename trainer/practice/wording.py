"""Numbers as people read them: true minus signs, percentages with a space; light, so that all may use it."""

from collections.abc import Sequence

from trainer.instrument.sentence import joined


def figure(value: float, places: int = 1, *, signed: bool = True) -> str:
    """Return a number with that many decimals for people: a true minus sign, and none before zero.

    >>> figure(-0.34), figure(0.3), figure(-0.04), figure(2.0, signed=False)
    ('−0.3', '+0.3', '0.0', '2.0')
    """
    text = f"{value:{'+' if signed else ''}.{places}f}"
    return text.lstrip("+-") if not float(text) else text.replace("-", "−")


def percent(share: float, places: int = 0) -> str:
    """Return a share as a percentage.

    >>> percent(0.5), percent(0.015, 1)
    ('50 %', '1.5 %')
    """
    return f"{100 * share:.{places}f} %"


def listed(names: Sequence[str], word: str = "and") -> str:
    """Return names as people list them.

    >>> listed(["judge", "size-it", "set-to"])
    'judge, size-it and set-to'
    """
    return joined(names, "comma", word)
