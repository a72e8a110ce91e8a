"""The archive's tables as data frames, in the columns that every room expects."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Select, and_, case, func, select

from trainer.practice.conditions import CLEAR
from trainer.records import people as people_rows
from trainer.records import viewed
from trainer.records.tables import answers, items, people, sessions

if TYPE_CHECKING:
    import pandas as pd

ANSWER_COLUMNS = (
    "person", "truth_tenths", "answer_tenths", "session", "item", "at", "seconds", "instrument", "drill",
    "outcome", "typed", "asks", "extra", "conditions",
)  # fmt: skip
SESSION_COLUMNS = (
    "session", "person", "instrument", "drill", "for_record", "started_at", "ended_at", "ended_how", "items",
    "answers", "station", "seed", "program_version", "drawing_version", "px_per_mm",
    "conditions", "division_arcmin",
)  # fmt: skip
PAGE = 20_000  # answers fetched at a time
MOST_SESSIONS = 500  # in one page


# Sessions by their start; those of one moment by their number in the chain: "x-2" before "x-10".
IN_TIME = (sessions.c.started_at, func.length(sessions.c.id), sessions.c.id)


def answers_query(connection: Connection, **wanted: Any) -> Select[Any]:
    """Return the query of answers with their truths, in the order in which they were given.

    The columns are those of `ANSWER_COLUMNS` but the last, `conditions`, which a session has as a whole.
    """
    query = (
        select(
            people.c.name.label("person"),
            items.c.position_tenths.label("truth_tenths"),
            answers.c.answer_tenths,
            answers.c.session,
            answers.c.number.label("item"),
            answers.c.at,
            answers.c.seconds,
            sessions.c.instrument,
            sessions.c.drill,
            answers.c.outcome,
            answers.c.typed,
            items.c.asks,
            case((answers.c.extra == "{}", ""), else_=answers.c.extra).label("extra"),
        )
        .select_from(answers)
        .join(items, and_(items.c.session == answers.c.session, items.c.number == answers.c.number))
        .join(sessions, sessions.c.id == answers.c.session)
        .join(people, people.c.id == sessions.c.person_id)
    )
    return query.where(*_conditions(connection, **wanted)).order_by(*IN_TIME, answers.c.number)


def _conditions(
    connection: Connection,
    *,
    person: str | None = None,
    session: str | None = None,
    instrument: str | None = None,
    drill: str | None = None,
    for_record: bool | None = None,
    since: str | None = None,
    until: str | None = None,
    team: Sequence[str] | None = None,
    conditions: str | None = None,  # told from viewing and plan: `_seen` looks at it
) -> list[Any]:
    """Return the conditions on sessions; `since` is included, `until` is not (ISO 8601, UTC).

    `team` are people by name or id.
    """
    tests: list[Any] = []
    if team is not None:
        tests.append(sessions.c.person_id.in_([people_rows.find(connection, one).id for one in team]))
    if person is not None:
        tests.append(sessions.c.person_id == people_rows.find(connection, person).id)
    for column, value in (
        (sessions.c.id, session),
        (sessions.c.instrument, instrument),
        (sessions.c.drill, drill),
        (sessions.c.for_record, None if for_record is None else int(for_record)),
    ):
        if value is not None:
            tests.append(column == value)
    if since is not None:
        tests.append(sessions.c.started_at >= since)
    if until is not None:
        tests.append(sessions.c.started_at < until)
    return tests


def answer_pages(
    connection: Connection, *, page: int = PAGE, **wanted: Any
) -> Iterator[list[tuple[Any, ...]]]:
    """Yield the answers in order, in pages of whole sessions or, of a long session, parts: no offset."""
    given = select(func.count()).where(answers.c.session == sessions.c.id).scalar_subquery()
    listed = select(sessions.c.id, given).where(*_conditions(connection, **wanted)).order_by(*IN_TIME)
    known = conditions_of(connection, **wanted)
    batch: list[str] = []
    held = 0
    found = [(session, count) for session, count in connection.execute(listed) if session in known]
    for session, count in [*found, (None, page)]:
        if batch and (held + count > page or len(batch) == MOST_SESSIONS):
            yield from _pages_of(connection, batch, page, known)
            batch, held = [], 0
        if session is not None and count:
            batch.append(session)
            held += count


def _pages_of(
    connection: Connection, batch: list[str], page: int, known: dict[str, str]
) -> Iterator[list[tuple[Any, ...]]]:
    """Yield the answers of a few sessions that fit a page, or of a long one in parts by number."""
    query, last = answers_query(connection).where(answers.c.session.in_(batch)), 0
    if len(batch) > 1:
        rows = [tuple(row) for row in connection.execute(query)]
        yield [(*row, known[row[3]]) for row in rows]
        return
    while True:
        part = query.where(answers.c.number > last).limit(page)
        rows = [tuple(row) for row in connection.execute(part)]
        if rows:
            yield [(*row, known[row[3]]) for row in rows]
            last = rows[-1][4]
        if len(rows) < page:
            return


def conditions_of(connection: Connection, **wanted: Any) -> dict[str, str]:
    """Return the conditions of sessions in words, by id; only of those wanted by their `conditions` too."""
    own = sessions.c
    query = select(own.id, own.viewing, own.plan).where(*_conditions(connection, **wanted))
    rows = connection.execution_options(yield_per=1000).execute(query)
    told = ((row.id, viewed.conditions(row.viewing, row.plan)) for row in rows)
    return {session: words for session, words in told if _seen(words, wanted.get("conditions"))}


def _seen(words: str, wanted: str | None) -> bool:
    """Return whether a session's conditions are those wanted: "clear", "unknown", or words among them."""
    if wanted is None:
        return True
    asked = wanted.strip().casefold()
    if asked in ("clear", "unknown"):
        return words == {"clear": CLEAR, "unknown": ""}[asked]
    return asked in words.casefold() and words != CLEAR


def answers_frame(connection: Connection, **wanted: Any) -> "pd.DataFrame":
    """Return answers as a data frame with the columns of `ANSWER_COLUMNS`."""
    import pandas as pd

    # plain tuples: the frame asks each row for attributes, which the library's own rows answer slowly
    rows = list(map(tuple, connection.execute(answers_query(connection, **wanted)).all()))
    frame = pd.DataFrame.from_records(rows, columns=list(ANSWER_COLUMNS[:-1]))
    frame["conditions"] = frame["session"].map(conditions_of(connection, **wanted)).astype(object)
    if wanted.get("conditions") is not None:
        frame = frame[frame["conditions"].notna()].reset_index(drop=True)
    numbers: dict[Any, Any] = {
        "truth_tenths": float,
        "answer_tenths": float,
        "seconds": float,
        "item": "int64",
    }
    return frame.astype(numbers)


def sessions_query(connection: Connection, **wanted: Any) -> Select[Any]:
    """Return the query of sessions, the oldest first, with how much was dealt and answered.

    The last two columns are viewing and plan as kept, from which `session_rows` tells the conditions.
    """
    dealt = select(func.count()).where(items.c.session == sessions.c.id).scalar_subquery()
    given = select(func.count()).where(answers.c.session == sessions.c.id).scalar_subquery()
    own = sessions.c
    query = select(
        own.id.label("session"),
        people.c.name.label("person"),
        own.instrument,
        own.drill,
        own.for_record,
        own.started_at,
        own.ended_at,
        own.ended_how,
        dealt.label("items"),
        given.label("answers"),
        own.station,
        own.seed,
        own.program_version,
        own.drawing_version,
        own.px_per_mm,
        own.viewing,
        own.plan,
    ).join(people, people.c.id == own.person_id)
    return query.where(*_conditions(connection, **wanted)).order_by(*IN_TIME)


def session_rows(connection: Connection, **wanted: Any) -> Iterator[tuple[Any, ...]]:
    """Yield sessions, the oldest first, with the columns of `SESSION_COLUMNS`."""
    query = sessions_query(connection, **wanted)
    for row in connection.execution_options(yield_per=1000).execute(query):
        *own, viewing, plan = row
        words = viewed.conditions(viewing, plan)
        if _seen(words, wanted.get("conditions")):
            yield (*own, words, viewed.angle_arcmin(viewing, row.instrument))


def sessions_frame(connection: Connection, **wanted: Any) -> "pd.DataFrame":
    """Return sessions as a data frame with the columns of `SESSION_COLUMNS`."""
    import pandas as pd

    frame = pd.DataFrame.from_records(list(session_rows(connection, **wanted)), columns=list(SESSION_COLUMNS))
    numbers: dict[Any, Any] = {"for_record": bool, "items": "int64", "answers": "int64"}
    return frame.astype(numbers | {"px_per_mm": float, "division_arcmin": float})
