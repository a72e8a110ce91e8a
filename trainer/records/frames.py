"""The archive's tables as data frames, in the columns that every room expects."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Select, and_, func, literal, select, tuple_

from trainer.records import people as people_rows
from trainer.records.tables import answers, items, people, sessions

if TYPE_CHECKING:
    import pandas as pd

ANSWER_COLUMNS = (
    "person", "truth_tenths", "answer_tenths", "session", "item", "at", "seconds", "instrument", "drill",
    "outcome", "typed",
)  # fmt: skip
SESSION_COLUMNS = (
    "session", "person", "instrument", "drill", "for_record", "started_at", "ended_at", "ended_how", "items",
    "answers", "station", "seed", "program_version", "drawing_version", "px_per_mm",
)  # fmt: skip
PAGE = 20_000  # answers fetched at a time


def answers_query(connection: Connection, **wanted: Any) -> Select[Any]:
    """Return the query of answers with their truths, ordered by session and item."""
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
        )
        .select_from(answers)
        .join(items, and_(items.c.session == answers.c.session, items.c.number == answers.c.number))
        .join(sessions, sessions.c.id == answers.c.session)
        .join(people, people.c.id == sessions.c.person_id)
    )
    return query.where(*_conditions(connection, **wanted)).order_by(answers.c.session, answers.c.number)


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
) -> list[Any]:
    """Return the conditions on sessions; `since` is included, `until` is not (ISO 8601, UTC)."""
    tests: list[Any] = []
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
    """Yield the answers in pages, each begun after the key of the last: constant memory, no offset."""
    query = answers_query(connection, **wanted).limit(page)
    key = None
    while True:
        after = query
        if key is not None:
            after = query.where(tuple_(answers.c.session, answers.c.number) > tuple_(*map(literal, key)))
        rows = [tuple(row) for row in connection.execute(after)]
        if rows:
            yield rows
            key = (rows[-1][3], rows[-1][4])
        if len(rows) < page:
            return


def answers_frame(connection: Connection, **wanted: Any) -> "pd.DataFrame":
    """Return answers as a data frame with the columns of `ANSWER_COLUMNS`."""
    import pandas as pd

    rows = connection.execute(answers_query(connection, **wanted)).all()
    frame = pd.DataFrame.from_records(rows, columns=list(ANSWER_COLUMNS))
    numbers: dict[Any, Any] = {
        "truth_tenths": float,
        "answer_tenths": float,
        "seconds": float,
        "item": "int64",
    }
    return frame.astype(numbers)


def sessions_query(connection: Connection, **wanted: Any) -> Select[Any]:
    """Return the query of sessions, the oldest first, with how much was dealt and answered."""
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
    ).join(people, people.c.id == own.person_id)
    return query.where(*_conditions(connection, **wanted)).order_by(own.started_at, own.id)


def sessions_frame(connection: Connection, **wanted: Any) -> "pd.DataFrame":
    """Return sessions as a data frame with the columns of `SESSION_COLUMNS`."""
    import pandas as pd

    rows = connection.execute(sessions_query(connection, **wanted)).all()
    frame = pd.DataFrame.from_records(rows, columns=list(SESSION_COLUMNS))
    return frame.astype({"for_record": bool, "items": "int64", "answers": "int64", "px_per_mm": float})
