"""Drills on the command line and in the window's store while the server is away, and delivery by hand."""

import io
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.commands.laboratory import BEN, RUTH, Laboratory
from tests.records.line import Line
from trainer.commands.main import main
from trainer.desktop.work import CountWaiting, LoadPeople, LoadTeam, Services
from trainer.records import checks, documents, statements
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.refusals import ArchiveAway
from trainer.records.spool import open_archive

DRILL = ["drill", "full-reading-metric", "--person", "Ana", "--no-window", "pictures", "--size", "320x240"]


@pytest.fixture
def line(new_database: Callable[[], str]) -> Iterator[Line]:
    """Give a line to an empty database."""
    opened = Line(new_database())
    opened.url += "?connect_timeout=2"
    yield opened
    opened.close()


@pytest.fixture
def bench(line: Line, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Line:
    """Give the line to an archive with Ana in it, which this station has seen."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TENTHWISE_ARCHIVE", line.url)
    with Archive.open(line.url) as archive:
        archive.add_person("Ana")
    open_archive(line.url).close()
    return line


def run(monkeypatch: Any, capsys: Any, *arguments: str, typed: str = "") -> tuple[int, str, str]:
    capsys.readouterr()
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    code = main(list(arguments))
    told = capsys.readouterr()
    return code, told.out, told.err


def test_a_drill_without_its_server_is_taken_and_delivered_by_hand(
    bench: Line, monkeypatch: Any, capsys: Any
) -> None:
    bench.cut()
    code, out, err = run(monkeypatch, capsys, *DRILL, "--json", typed="7.382\n" * 100)
    assert code == 0, err
    items = len(out.splitlines()) - 1
    assert f"note: {items} answers wait at this station and will be delivered at the next start" in err
    assert json.loads(out.splitlines()[-1])["people"]  # the result as always
    code, out, err = run(monkeypatch, capsys, "archive", "deliver")
    assert (code, out.splitlines()[0]) == (1, f"0 answers delivered, {items} wait")
    assert "the server does not answer" in out
    bench.mend()
    code, out, err = run(monkeypatch, capsys, "archive", "deliver", "--json")
    assert (code, json.loads(out)) == (0, {"delivered": items, "waiting": 0, "trouble": ""})
    with Archive.open(bench.url) as archive:
        assert len(archive.answers("Ana")) == items
        assert check(archive.store).findings == []


def test_a_drill_left_without_its_server_is_gone_on_with(bench: Line, monkeypatch: Any, capsys: Any) -> None:
    bench.cut()
    code, _, err = run(monkeypatch, capsys, *DRILL, typed="7.382\n" * 3)
    assert (code, "the answers ended after 3 of" in err) == (1, True)
    bench.mend()
    code, _, err = run(monkeypatch, capsys, *DRILL, "--resume", typed="7.382\n" * 100)
    assert code == 0, err
    with Archive.open(bench.url) as archive:
        assert archive.sessions()["ended_how"].tolist() == ["finished"]
        assert check(archive.store).findings == []


def test_a_bench_check_goes_on_without_its_server(bench: Line, monkeypatch: Any, capsys: Any) -> None:
    check_it = ["bench", "Ana", "--instrument", "inch", "--step", "0.00005", "--readings", "3"]
    rows = [
        "0",
        "0.00005",
        "0",
        "-0.00005",
        "0",
        "",
        "0.2785",
        "0.27855",
        "0.5001",
        "0.50015",
        "0.1234",
        "0.12345",
    ]
    bench.cut()
    code, out, err = run(monkeypatch, capsys, *check_it, typed="\n".join(rows) + "\n")
    assert code == 0, err
    assert "note: 3 answers wait at this station" in err
    assert "screen: the server does not answer, so nothing is compared now" in out
    bench.mend()
    assert run(monkeypatch, capsys, "archive", "deliver")[0] == 0
    with Archive.open(bench.url) as archive:
        (session,) = archive.sessions()["session"]
        stored = archive.session(session)
        assert (len(stored.answers), stored.ended_how) == (3, "finished")
        assert [one.kind for one in stored.notes].count("estimate-locked") == 3
        assert check(archive.store).findings == []


def test_other_commands_say_in_a_sentence_that_the_server_is_away(
    bench: Line, monkeypatch: Any, capsys: Any
) -> None:
    assert run(monkeypatch, capsys, "archive", "deliver")[:2] == (0, "0 answers delivered, 0 wait\n")
    bench.cut()
    for arguments in (
        ["people", "add", "Bo"],
        ["archive", "info"],
        ["archive", "check"],
        [*DRILL, "--new-person"],
    ):
        code, _, err = run(monkeypatch, capsys, *arguments)
        assert (code, err.count("\n")) == (1, 1), err
        assert "the server does not answer" in err
    monkeypatch.setenv("TENTHWISE_ARCHIVE", "here.tenthwise")
    assert "nothing waits" in run(monkeypatch, capsys, "archive", "deliver")[2]


def test_the_windows_store_counts_what_waits_and_knows_the_people(bench: Line) -> None:
    services = Services(lambda: open_archive(bench.url), lambda: 1)
    assert CountWaiting().run(services) == 0
    bench.cut()
    services = Services(lambda: open_archive(bench.url), lambda: 1)
    assert [one.name for one in LoadPeople().run(services)] == ["Ana"]
    with pytest.raises(ArchiveAway, match="drills go on without it"):
        LoadTeam().run(services)
    services.store.close()


def test_a_guarded_check_is_finished_without_its_server_and_begun_only_with_it(
    line: Line, monkeypatch: pytest.MonkeyPatch, capsys: Any, tmp_path: Path
) -> None:
    lab = Laboratory(monkeypatch, capsys, tmp_path)
    monkeypatch.setenv("TENTHWISE_ARCHIVE", line.url)
    lab.set_up("Kim Vale")
    looked = []

    def cut() -> None:
        looked.append(line.up)
        line.cut()

    lines = lab.check(1, during={7: cut})
    assert looked == [True]
    assert lines[-2]["asks"] == "attestation"
    number = "nothing"
    assert "does not answer" in lab.refused(*lab.taking(number))
    assert "does not answer" in lab.refused("signoff", "check", "Kim Vale", by=RUTH)
    line.mend()
    lab.done("archive", "deliver")
    with Archive.open(create=False) as archive:
        (session,) = archive.sessions("Kim Vale")["session"].tolist()
        kept = checks.records(archive, archive.person("Kim Vale").id)[session]
        assert kept["ended_how"] == "finished"
        assert kept["attested"]
        assert len(archive.session(session).answers) == 20
        assert check(archive.store).findings == []


@pytest.mark.parametrize("sign", [b"FROM documents", b"INSERT INTO documents"])
def test_a_server_that_goes_during_a_sign_off_leaves_it_whole_or_not_made(
    line: Line, monkeypatch: pytest.MonkeyPatch, capsys: Any, tmp_path: Path, sign: bytes
) -> None:
    """Before the statement is kept, nothing is signed; when only the reply is lost, it is signed once."""
    lab = Laboratory(monkeypatch, capsys, tmp_path)
    monkeypatch.setenv("TENTHWISE_ARCHIVE", line.url)
    lab.set_up("Kim Vale")
    for seed in range(1, 5):
        lab.check(seed)
    seen: list[bytes] = []

    def loses(data: bytes) -> bool:
        seen.append(data)
        kept = any(sign in one for one in seen)
        return kept and (b"COMMIT" in data or not sign.startswith(b"INSERT"))

    signing = ["signoff", "sign", "Kim Vale", "--out", "kim.json"]
    line.lose_reply_after = loses
    assert "does not answer" in lab.refused(*signing, by=BEN)
    assert not line.up
    assert not Path("kim.json").exists()
    line.mend()
    with Archive.open(create=False) as archive:
        kept = documents.listed(archive, statements.STATEMENT)
        assert len(kept) == int(sign.startswith(b"INSERT"))
    if kept:  # it stands in the archive, and is not signed a second time
        assert "was signed on" in lab.refused(*signing, by=BEN)
    else:
        lab.done(*signing, by=BEN)
    with Archive.open(create=False) as archive:
        assert len(documents.listed(archive, statements.STATEMENT)) == 1
        assert check(archive.store).findings == []
