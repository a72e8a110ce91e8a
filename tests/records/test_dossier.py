"""The dossier of a person on both engines: what it holds is what the archive holds."""

import json
import zipfile
from pathlib import Path

import pytest

from tests.records.conftest import HEADER, ITEMS, PLAN, answer
from trainer.records import documents, dossier, statements
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.refusals import UnknownPerson


def test_a_dossier_is_the_same_on_both_engines(begun: tuple[Archive, str], tmp_path: Path) -> None:
    archive, session = begun
    archive.save_answer(session, answer(1, typed="=1+1"))
    archive.note(session, "pause", "2026-03-02T09:01:00Z", {"seconds": 3})
    ana, bo = archive.person("Ana"), archive.add_person("Bo")
    other = archive.begin_session(bo, PLAN, ITEMS, HEADER)
    archive.save_answer(other, answer(1))
    number = "../../etc/passwd"  # a statement put in by hand: its number becomes no path
    documents.keep(archive, statements.STATEMENT, ana.id, {"body": {"id": number}}, who="Ruth")
    counts = dossier.write(archive, "Ana", tmp_path / "ana.zip", who="Ruth")
    # Ana added, session begun, one answer, a note, the statement
    assert counts == {"sessions": 1, "answers": 1, "documents": 1, "acts": 5}
    with zipfile.ZipFile(tmp_path / "ana.zip") as bundle:
        names = set(bundle.namelist())
        whole = json.loads(bundle.read("person.json"))
        log = bundle.read("log.csv").decode("utf-8")
        answers = bundle.read("answers.csv").decode("utf-8")
    assert names == {
        "README.txt", "person.json", "answers.csv", "sessions.csv", "log.csv",
        "statements/------etc-passwd.json",
    }  # fmt: skip
    assert whole["sessions"][0]["answers"][0]["typed"] == "=1+1"
    assert "'=1+1" in answers
    assert [line.split(",")[3] for line in log.splitlines()[1:]] == [
        "person-added", "session-begun", "answer", "note", "document",
    ]  # fmt: skip
    assert bo.id not in log
    assert other not in log
    assert check(archive.store).whole


def test_a_dossier_of_nobody_leaves_nothing_behind(archive: Archive, tmp_path: Path) -> None:
    with pytest.raises(UnknownPerson):
        dossier.write(archive, "Nobody", tmp_path / "none.zip")
    assert not list(tmp_path.glob("*none.zip*"))
