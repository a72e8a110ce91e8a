"""Tallies: what can be added up from session to session, kept by the engine when a session ends.

A tally holds counts and sums only, so the tally of a person, a team or a year is the sum of the tallies of
its sessions, and a view of many people costs by their sessions and not by their answers. Misreads need the
instrument and are judged by the scoring room; a tally only sets apart what is far off (`FAR_TENTHS`), so its
bias and spread are for an overview, not for a record.
"""

import math
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, text

from trainer.records.people import find

if TYPE_CHECKING:
    import pandas as pd

FAR_TENTHS = 5.0  # half a division: an error beyond it is no estimate between the lines (our own choice)
COUNTS = ("answers", "skipped", "timed_out", "answered", "near")
SUMS = ("sum_error", "sum_square")
BY_DIGIT = tuple(f"digit_{digit}" for digit in range(10))  # last digit of the answer, to the nearest tenth
BY_TENTH = tuple(f"tenth_{digit}" for digit in range(10))  # near answers by the tenth that the truth lies in
ERROR_BY_TENTH = tuple(f"error_{digit}" for digit in range(10))  # sum of their errors
ADDED = (*COUNTS, *SUMS, *BY_DIGIT, *BY_TENTH, *ERROR_BY_TENTH)
TEAM_COLUMNS = (
    "person", "sessions", "answers", "answered", "skipped", "timed_out", "far", "bias_tenths",
    "spread_tenths", "last_at",
)  # fmt: skip


def summing_sql(connection: Connection, where: str) -> str:
    """Return the SELECT that tallies the sessions for which `where` (fixed text, on `s`) holds."""
    floor = "CAST(floor({0}) AS BIGINT)" if connection.dialect.name != "sqlite" else "CAST({0} AS INTEGER)"
    error = "a.answer_tenths - i.position_tenths"
    near = f"a.outcome = 'answered' AND abs({error}) <= {FAR_TENTHS}"
    # positions and answers are below zero by a few tenths at most; a whole number of tens makes them positive
    digit = floor.format("a.answer_tenths + 1000000.5") + " % 10"
    tenth = floor.format("i.position_tenths + 1000000.0") + " % 10"
    count = "COALESCE(SUM(CASE WHEN {} THEN 1 ELSE 0 END), 0)"
    total = "COALESCE(SUM(CASE WHEN {} THEN {} ELSE 0.0 END), 0.0)"
    columns = [
        "COUNT(a.number)",
        count.format("a.outcome = 'skipped'"),
        count.format("a.outcome = 'timed-out'"),
        count.format("a.outcome = 'answered'"),
        count.format(near),
        total.format(near, error),
        total.format(near, f"({error}) * ({error})"),
        *(count.format(f"a.outcome = 'answered' AND {digit} = {d}") for d in range(10)),
        *(count.format(f"{near} AND {tenth} = {d}") for d in range(10)),
        *(total.format(f"{near} AND {tenth} = {d}", error) for d in range(10)),
    ]
    named = ", ".join(f"{column} AS {name}" for column, name in zip(columns, ADDED, strict=True))
    return (
        f"SELECT s.id AS session, s.person_id, {named} FROM sessions s "
        "LEFT JOIN answers a ON a.session = s.id "
        "LEFT JOIN items i ON i.session = a.session AND i.number = a.number "
        f"WHERE {where} GROUP BY s.id, s.person_id"
    )


def keep(connection: Connection, session: str) -> None:
    """Keep the tally of a session that has just ended, inside the caller's transaction."""
    statement = f"INSERT INTO tallies {summing_sql(connection, 's.id = :session')}"
    connection.execute(text(statement), {"session": session})


def keep_missing(connection: Connection) -> None:
    """Keep the tallies of all ended sessions that have none (after an upgrade, a rescue, a delivery)."""
    missing = "s.ended_how IS NOT NULL AND NOT EXISTS (SELECT 1 FROM tallies t WHERE t.session = s.id)"
    connection.execute(text(f"INSERT INTO tallies {summing_sql(connection, missing)}"))


def wrong(connection: Connection) -> list[str]:
    """Return the sessions whose tally is not what counting again gives."""
    here = {row[0]: tuple(row) for row in connection.execute(text("SELECT * FROM tallies"))}
    again = text(summing_sql(connection, "s.ended_how IS NOT NULL"))
    found = []
    for row in connection.execution_options(yield_per=1000).execute(again):
        kept = here.pop(row[0], None)
        if kept is None or kept[:7] != tuple(row)[:7] or not _alike(kept[2:], tuple(row)[2:]):
            found.append(str(row[0]))
    return [*found, *map(str, here)]


def _alike(kept: tuple[Any, ...], counted: tuple[Any, ...]) -> bool:
    """Return whether two tallies agree; sums may differ in the last bits by the order of adding."""
    return all(
        isinstance(a, int | float) and math.isclose(a, float(b), rel_tol=1e-9, abs_tol=1e-9)
        for a, b in zip(kept, counted, strict=True)
    )


def people_rows(
    connection: Connection, *, after: str = "", limit: int = 1000, person: str | None = None
) -> list[dict[str, Any]]:
    """Return the summed tallies of up to `limit` people whose name key comes after `after`, by name.

    Each row has person, id, key, sessions, last_at and every field of `ADDED`. Sessions that have not ended
    are counted at once.
    """
    sums = ", ".join(f"SUM({name}) AS {name}" for name in ADDED)
    values: dict[str, Any] = {"after": after, "limit": limit}
    one = ""
    if person is not None:
        one, values["person"] = "AND p.id = :person", find(connection, person).id
    page = (
        "SELECT id, name, name_key FROM people p WHERE archived_at IS NULL AND name_key > :after "
        f"{one} ORDER BY name_key LIMIT :limit"
    )
    open_ones = summing_sql(connection, "s.ended_how IS NULL AND s.person_id IN (SELECT id FROM page)")
    statement = text(
        f"WITH page AS ({page}), live AS ({open_ones}), "
        "both_kinds AS (SELECT * FROM tallies WHERE person_id IN (SELECT id FROM page) "
        "UNION ALL SELECT * FROM live) "
        "SELECT page.name AS person, page.id, page.name_key AS key, "
        "(SELECT MAX(started_at) FROM sessions s WHERE s.person_id = page.id) AS last_at, "
        f"COUNT(b.session) AS sessions, {sums} FROM page LEFT JOIN both_kinds b ON b.person_id = page.id "
        "GROUP BY page.id, page.name, page.name_key ORDER BY page.name_key"
    )
    return [_plain(dict(row._mapping)) for row in connection.execute(statement, values)]


def _plain(row: dict[str, Any]) -> dict[str, Any]:
    """Return a row with Python's own numbers; the engines' sums come as other kinds, or as nothing."""
    for name in ADDED:
        value = row[name] or 0
        row[name] = float(value) if name in SUMS or name in ERROR_BY_TENTH else int(value)
    return row


def moments(row: dict[str, Any]) -> tuple[float, float]:
    """Return bias and spread (n - 1) of the near answers of a tally, in tenths; NaN where they cannot be had.

    Errors lie within `FAR_TENTHS`, so the sums lose nothing that matters by cancellation.
    """
    n = row["near"]
    bias = row["sum_error"] / n if n else math.nan
    spread = math.sqrt(max(0.0, row["sum_square"] - n * bias * bias) / (n - 1)) if n > 1 else math.nan
    return bias, spread


def team_frame(connection: Connection, **wanted: Any) -> "pd.DataFrame":
    """Return an overview of people as a data frame with the columns of `TEAM_COLUMNS`."""
    import pandas as pd

    rows = []
    for row in people_rows(connection, **wanted):
        bias, spread = moments(row)
        far = row["answered"] - row["near"]
        rows.append({**row, "far": far, "bias_tenths": bias, "spread_tenths": spread})
    frame = pd.DataFrame.from_records(rows, columns=list(TEAM_COLUMNS))
    return frame.astype({"bias_tenths": float, "spread_tenths": float})
