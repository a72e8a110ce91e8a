"""What is worked out for one person at a time: curves, trends, pace and learning beside the score."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from trainer.scoring import drift
from trainer.scoring.central import central, spread_df
from trainer.scoring.errors import Floats, UnscorableAnswers
from trainer.scoring.learning import LearningForecast, learning_forecast
from trainer.scoring.population import Population, misread_rows, population
from trainer.scoring.profile import InterpolationProfile, interpolation_profile
from trainer.scoring.stacks import stack_of

SPREAD_LIMIT_TENTHS = 1.0  # the usual criterion, rounding included (docs/methods/signoff.md)
FEWEST_OF_SESSION = 10  # readings of a session for a spread that can mark progress


@dataclass(frozen=True, slots=True)
class PersonDetail:
    """Curve, rank trend within sessions, first five readings, pace, serial correlation and learning.

    `sessions` has one row a session in order: readings used, bias and spread in tenths (None if too few).
    """

    interpolation: InterpolationProfile
    rank_trend: drift.RankTrend
    first_five: drift.FirstFive
    pace: drift.Pace
    serial_correlation: float | None
    learning: LearningForecast
    sessions: tuple[dict[str, float | int | None], ...]

    def summary(self) -> pd.DataFrame:
        """Return one row a session."""
        return pd.DataFrame(list(self.sessions), columns=["session", "used", "bias_tenths", "spread_tenths"])

    def to_dict(self) -> dict[str, object]:
        """Return the values by name, ready for JSON."""
        return {
            "interpolation": self.interpolation.to_dict(),
            "rank_trend": self.rank_trend.to_dict(),
            "first_five": self.first_five.to_dict(),
            "pace": self.pace.to_dict(),
            "serial_correlation": self.serial_correlation,
            "learning": self.learning.to_dict(),
            "sessions": [dict(row) for row in self.sessions],
        }


def person_detail(
    answers: pd.DataFrame, *, instrument: str | None = None, limit_tenths: float = SPREAD_LIMIT_TENTHS
) -> PersonDetail:
    """Return the detail of the answers of one person on one instrument, misreads set apart.

    `limit_tenths` is the spread that learning is to reach. Raises `UnscorableAnswers` if the answers are
    of several people, or as `score_people` does.
    """
    group = population(_in_time(answers), instrument)
    if len(group.names) != 1:
        raise UnscorableAnswers(f"the detail is of one person; the answers are of {len(group.names)}")
    flagged, _, error = misread_rows(group)
    used = ~flagged
    sitting = group.sitting[used]
    sessions = [error[used][sitting == number] for number in np.unique(sitting)]
    rows, spread, df = _sessions(sessions)
    return PersonDetail(
        interpolation_profile(group.truth, group.answer, instrument=group.instruments[0]),
        drift.combined(sessions),
        drift.first_five(error[used], group.order[used]),
        drift.pace(error[used], _seconds(group)[used]),
        drift.serial_correlation(error[used]) if used.any() else None,
        learning_forecast(spread, df, limit_tenths),
        rows,
    )


def _in_time(answers: pd.DataFrame) -> pd.DataFrame:
    """Return the answers in the order of their times, where each has one: it numbers the sessions."""
    if "at" not in answers.columns:
        return answers
    at = pd.to_datetime(answers["at"], errors="coerce", utc=True, format="ISO8601")
    return answers if at.isna().any() else answers.loc[at.sort_values(kind="stable").index]


def _seconds(group: Population) -> Floats:
    return np.full(len(group.truth), np.nan) if group.seconds is None else group.seconds


def _sessions(
    sessions: list[Floats],
) -> tuple[tuple[dict[str, float | int | None], ...], Floats, Floats]:
    """Return a row a session, and spread and degrees of freedom of each (NaN if too few readings)."""
    rows: list[dict[str, float | int | None]] = []
    spread, df = np.full(len(sessions), np.nan), np.full(len(sessions), np.nan)
    for place, error in enumerate(sessions):
        n = len(error)
        if n >= FEWEST_OF_SESSION and np.ptp(error) > 0:
            with np.errstate(all="ignore"):
                columns = central(stack_of(error, np.zeros(n)))
                spread[place] = columns["sd"][0]
                df[place] = spread_df(np.array([float(n)]), columns["kurtosis"])[0]
        rows.append(
            {
                "session": place + 1,
                "used": n,
                "bias_tenths": float(error.mean()),
                "spread_tenths": float(spread[place]) if np.isfinite(spread[place]) else None,
            }
        )
    return tuple(rows), spread, df
