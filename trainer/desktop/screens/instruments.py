"""The choice of an instrument among many: three at a time, and a way to the next three."""

from collections.abc import Sequence

from trainer.desktop.desk import Desk
from trainer.desktop.nodes import Choice
from trainer.desktop.results import short_titles
from trainer.desktop.words import say

AT_A_TIME = 3  # more do not fit beside the way to the others
MORE = "+"  # no instrument is called so


def fold_of(names: Sequence[str]) -> float:
    """Return the units of width under which the choice stands alone in its row."""
    return 640.0 if len(names) < AT_A_TIME else 1200.0


def instrument_choice(label: str, names: Sequence[str], chosen: str, desk: Desk) -> Choice:
    """Return the choice with the chosen instrument in it."""
    first = _at(names, chosen) // AT_A_TIME * AT_A_TIME
    options = short_titles(names, desk)[first : first + AT_A_TIME]
    if len(names) > AT_A_TIME:
        options = (*options, (MORE, say("instrument.more")))
    return Choice("instrument", label, options, chosen)


def instrument_meant(names: Sequence[str], chosen: str, value: str) -> str:
    """Return the instrument that a value of the choice means: itself, or the first of the next three."""
    if value != MORE:
        return value
    following = (_at(names, chosen) // AT_A_TIME + 1) * AT_A_TIME
    return names[following if following < len(names) else 0]


def _at(names: Sequence[str], chosen: str) -> int:
    return names.index(chosen) if chosen in names else 0
