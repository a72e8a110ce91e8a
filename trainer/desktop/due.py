"""Who is due for a refresher, by practice.refreshers: computed off the main thread from readings."""

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from trainer.practice.refreshers import Refresher, Sat, refresher

if TYPE_CHECKING:
    import pandas as pd

SECONDS_A_DAY = 86400.0


def day_of(at: str) -> float:
    """Return a moment, ISO 8601, as days since 1970 UTC. Raises ValueError.

    >>> day_of("1970-01-02T12:00:00Z")
    1.5
    """
    moment = datetime.fromisoformat(at)
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp() / SECONDS_A_DAY


def refreshers(readings: "pd.DataFrame") -> dict[tuple[str, str], Refresher]:
    """Return when each person is due on each instrument, from a table of readings, misreads left out."""
    import numpy as np

    from trainer.scoring import misreads
    from trainer.scoring.errors import within_division

    given = readings[(readings["outcome"] == "answered") & readings["answer_tenths"].notna()]
    sat: dict[tuple[str, str], list[Sat]] = {}
    for (person, instrument, _), part in given.groupby(["person", "instrument", "session"]):
        truths = part["truth_tenths"].to_numpy(dtype=np.float64)
        errors = part["answer_tenths"].to_numpy(dtype=np.float64) - truths
        kept = errors[~misreads.is_misread(errors, within_division(truths))]
        if kept.size:
            rms = float(np.sqrt(np.mean(kept**2)))
            day = day_of(str(part["at"].astype(str).max()))
            sat.setdefault((str(person), str(instrument)), []).append(Sat(day, rms, int(kept.size)))
    found = {key: refresher(sittings) for key, sittings in sat.items()}
    return {key: when for key, when in found.items() if when is not None}
