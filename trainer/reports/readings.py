"""Answers as a figure needs them: position in the division, error, whether a misread, session, order."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from trainer.scoring.errors import Floats, error_tenths, within_division
from trainer.scoring.misreads import is_misread, signatures

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class Readings:
    """One person's answered readings in order of time; arrays of shape (readings,).

    `session_of` numbers the session of each reading by its place in `sessions`.
    """

    inside_tenths: Floats
    error_tenths: Floats
    misread: NDArray[np.bool_]
    session_of: NDArray[np.int64]
    sessions: tuple[str, ...]
    starts: tuple[str, ...]  # when each session began, ISO 8601, or empty
    skipped: int = 0  # items left out or out of time

    def __len__(self) -> int:
        return len(self.error_tenths)

    @property
    def kept_tenths(self) -> Floats:
        """The errors that are not misreads."""
        return self.error_tenths[~self.misread]


def readings(answers: "pd.DataFrame", instrument: str | None = None) -> Readings:
    """Return the answered rows of one person's answers, oldest first.

    `answers` has the columns of an answers table; `session`, `item`, `at` and `outcome` may be missing.
    """
    frame = answers
    skipped = 0
    if "outcome" in frame:
        answered = frame["outcome"].fillna("answered").eq("answered")
        skipped = int((~answered).sum())
        frame = frame[answered]
    frame = frame[frame["answer_tenths"].notna() & frame["truth_tenths"].notna()]
    frame = _in_order(frame)
    truth = frame["truth_tenths"].to_numpy(float)
    error = error_tenths(frame["answer_tenths"].to_numpy(float), truth)
    inside = within_division(truth)
    named = frame["session"].fillna("").astype(str).tolist() if "session" in frame else [""] * len(frame)
    order = tuple(dict.fromkeys(named))
    at = frame["at"].fillna("").astype(str).tolist() if "at" in frame else [""] * len(frame)
    first = dict(zip(reversed(named), reversed(at), strict=True))
    if instrument is None and "instrument" in frame and frame["instrument"].nunique() == 1:
        instrument = str(frame["instrument"].iloc[0])
    return Readings(
        inside_tenths=inside,
        error_tenths=error,
        misread=is_misread(error, inside, vernier=signatures(instrument).vernier),
        session_of=np.array([order.index(name) for name in named], dtype=np.int64),
        sessions=order,
        starts=tuple(first[name] for name in order),
        skipped=skipped,
    )


def _in_order(frame: "pd.DataFrame") -> "pd.DataFrame":
    """Return the rows session by session, the session that began first in front, each as it was read."""
    if "session" in frame and "at" in frame:
        began = frame.groupby("session")["at"].transform("min")
        frame = frame.assign(began=began)
    keys = [key for key in ("began", "session", "at", "item") if key in frame]
    return frame.sort_values(keys, kind="stable") if keys else frame
