"""Which answers may be pooled into one figure: of one skill, and read under the same conditions."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd


def of_readings(frame: "pd.DataFrame") -> "pd.DataFrame":
    """Return the rows that show the skill of reading; figures of different skills are never pooled."""
    from trainer.practice.results import BENCH, asked_of, family

    of_reading = (asked_of(frame).map(family) == "reading") & (frame["drill"] != BENCH)
    found: pd.DataFrame = frame[of_reading.to_numpy(dtype=bool)]
    return found


def clear_of(frame: "pd.DataFrame") -> "pd.DataFrame":
    """Return the rows read clear: those under viewing conditions have figures of their own sitting only."""
    from trainer.practice.results import set_apart

    clear: pd.DataFrame = set_apart(frame)[0]
    return clear
