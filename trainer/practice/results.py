"""What a sitting gives to scoring: rows of truth and answer, and trials of judgement."""

from collections.abc import Sequence
from typing import Any, Literal

from trainer.practice.conditions import CLEAR
from trainer.practice.items import Answer, Item
from trainer.practice.kinds import KINDS
from trainer.practice.overlap import judged
from trainer.practice.turning import approach_of

Family = Literal["reading", "vernier", "setting", "sizing", "judging", "none"]

FAMILY: dict[str, Family] = {
    "tenths": "reading",
    "full-reading": "reading",
    "half-line": "reading",
    "zero-look": "reading",
    "zero-offset": "reading",
    "estimate": "reading",
    "block-reading": "reading",
    "vernier": "vernier",
    "self-check": "vernier",
    "set-to": "setting",
    "set-line": "setting",
    "size-it": "sizing",
    "judge": "judging",
}
"""What skill an answer shows; figures of different families are never pooled."""

# how a whole session is named where a table does not say what its items ask, and what is no reading in it
OTHERWISE: dict[str, Family] = {
    "calibration": "judging",
    "verdict": "judging",
    "block-error": "judging",
    "set-to typed": "setting",
}

TYPED_TURNS = "set-to typed"  # without a window: reading and arithmetic, not the hand


def family(asks: str) -> Family:
    """Return what skill an item's answer shows.

    >>> family("self-check"), family("verdict")
    ('vernier', 'none')
    """
    return FAMILY.get(asks, "none")


def readings(answers: Any) -> Any:
    """Return the rows of a table of answers that are readings, where the table tells what was asked.

    Each row goes by what its item asked (`asks`), else by the session's `drill`: of a self-check the
    estimates are readings, of a calibration run the readings at the blocks. Settings, sizes, vernier lines
    and judgements would spoil figures of reading; what is not known here, of another program say, is kept.
    A table that holds one other family alone is returned whole, since then nothing is mixed.
    """
    asked = asked_of(answers)
    if asked is None:
        return answers
    known = {str(name): OTHERWISE.get(str(name), family(str(name))) for name in asked.unique()}
    if len(set(known.values())) <= 1:
        return answers
    return answers[asked.map(known).isin(("reading", "none"))]


def asked_of(answers: Any) -> Any:
    """Return what each row of a table was asked, empty where it does not say; None without such a column."""
    found = None
    for column in ("drill", "asks"):
        if column in answers.columns:
            words = answers[column].astype(object)
            words = words.where(words.notna(), "")
            found = words if found is None else words.where(words != "", found)
    return found


def set_apart(answers: Any) -> tuple[Any, dict[str, int]]:
    """Return the rows read clear, and how many there are under each other viewing condition.

    Figures of poor light say nothing of clear sight, so they are never pooled. A row whose conditions are
    not known (a bench check, another program's file) counts as clear.
    """
    if "conditions" not in answers.columns:
        return answers, {}
    words = answers["conditions"].astype(object)
    clear = words.isna() | words.isin(("", CLEAR))
    if clear.all():
        return answers, {}
    return answers[clear], {str(name): int(n) for name, n in words[~clear].value_counts(sort=False).items()}


BENCH = "bench-check"  # the drill under which estimates on a real instrument are kept


def without_bench(answers: Any) -> tuple[Any, int]:
    """Return the rows read from pictures and paper, and how many bench readings were set apart.

    A real instrument with its reference is other evidence than a picture. A table of bench readings alone
    is returned whole, since then nothing is mixed.
    """
    if "drill" not in answers.columns:
        return answers, 0
    bench = answers["drill"].astype(object) == BENCH
    count = int(bench.sum())
    return (answers, 0) if count in (0, len(answers)) else (answers[~bench], count)


def rows(
    instrument: str, items: Sequence[Item], answers: Sequence[Answer], *, of: Family | None = None
) -> list[dict[str, Any]]:
    """Return one row for each answered, skipped or timed-out item whose answer is a position.

    Columns: truth_tenths, answer_tenths (None unless answered), item, at, seconds, instrument, drill,
    outcome, typed. `drill` is what the item asks, so that the two halves of a self-check stay apart; `of`
    keeps one family only.
    """
    asked = {item.number: item for item in items}
    found = []
    for answer in answers:
        item = asked[answer.number]
        if KINDS[item.asks].scored != "position" or (of is not None and family(item.asks) != of):
            continue
        found.append(
            {
                "truth_tenths": item.position_tenths,
                "answer_tenths": answer.answer_tenths,
                "item": item.number,
                "at": answer.at,
                "seconds": answer.seconds,
                "instrument": instrument,
                "drill": TYPED_TURNS if _typed_turns(item, answer) else item.asks,
                "outcome": answer.outcome,
                "typed": answer.typed,
            }
        )
    return found


def _typed_turns(item: Item, answer: Answer) -> bool:
    """Return whether a setting was typed as turns, without a window."""
    answered = KINDS[item.asks].turned and answer.outcome == "answered"
    return answered and approach_of(answer.typed, answer.extra) is None


def trials(items: Sequence[Item], answers: Sequence[Answer]) -> list[dict[str, Any]]:
    """Return one row for each judgement given, fit for `trainer.scoring.judgement.fit`.

    `beyond_tenths` is the size of the offset less the tolerance, positive out of tolerance; `said_out` is
    the judgement; `offset_tenths` keeps the sign.
    """
    asked = {item.number: item for item in items}
    found = []
    for answer in answers:
        item = asked[answer.number]
        if item.asks != "judge" or answer.outcome != "answered":
            continue
        offset, tolerance = float(item.extra["offset_tenths"]), float(item.extra["tolerance_tenths"])
        found.append(
            {
                "item": item.number,
                "offset_tenths": offset,
                "tolerance_tenths": tolerance,
                "beyond_tenths": abs(offset) - tolerance,
                "said_out": judged(answer.typed) == "out",
                "seconds": answer.seconds,
                "at": answer.at,
            }
        )
    return found
