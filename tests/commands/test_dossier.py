"""Personal data: everything about one person in one file; a name taken out without breaking anything."""

import csv
import io
import json
import sqlite3
import zipfile

import pytest

from tests.commands.laboratory import BEN, RUTH, Laboratory
from trainer.signoff.keys import PublicKey
from trainer.signoff.verify import verify

NAME = '=HYPERLINK("../../x") Vale'  # a formula to a spreadsheet, a way up to a path


@pytest.fixture
def lab(tmp_path, monkeypatch, capsys):
    made = Laboratory(monkeypatch, capsys, tmp_path)
    made.set_up(NAME, "Lee Orme")
    return made


@pytest.fixture
def signed(lab):
    """Give a laboratory in which the person was signed off, and another took a check too."""
    for seed in range(4):
        lab.check(seed, person=NAME)
    lab.done("signoff", "sign", NAME, "--out", "signed.json", by=BEN)
    lab.check(9, person="Lee Orme")
    return lab


def opened(lab, name="kim.zip"):
    """Return the files of a dossier by name, as text."""
    with zipfile.ZipFile(lab.folder / name) as bundle:
        assert bundle.testzip() is None
        return {one: bundle.read(one).decode("utf-8") for one in bundle.namelist()}


def rows(text):
    """Return a CSV text's rows, comment lines left out."""
    return list(csv.DictReader(io.StringIO("".join(t for t in text.splitlines(True) if t[:1] != "#"))))


def test_a_dossier_holds_everything_about_one_person_and_nothing_of_another(signed):
    signed.done("people", "dossier", NAME, "--out", "kim.zip", by=RUTH)
    files = opened(signed)
    (statement,) = [one for one in files if one.startswith("statements/")]
    assert set(files) == {"README.txt", "person.json", "answers.csv", "sessions.csv", "log.csv", statement}
    whole = json.loads(files["person.json"])
    assert whole["person"]["name"] == NAME
    with sqlite3.connect(signed.archive) as store:

        def count(query):
            return store.execute(query, (whole["person"]["id"],)).fetchone()[0]

        assert len(whole["sessions"]) == count("SELECT count(*) FROM sessions WHERE person_id = ?") == 4
        own = "session IN (SELECT id FROM sessions WHERE person_id = ?)"
        assert len(rows(files["answers.csv"])) == count(f"SELECT count(*) FROM answers WHERE {own}") == 80
        assert sum(len(one["items"]) for one in whole["sessions"]) == count(
            f"SELECT count(*) FROM items WHERE {own}"
        )
        told = {(row["chain"], int(row["seq"])) for row in rows(files["log.csv"])}
        for chain, seq in store.execute(f"SELECT chain, seq FROM acts WHERE {own}", (whole["person"]["id"],)):
            assert (chain, seq) in told
    # a ticket and two records (left open, finished) at most a check, the statement
    assert {one["kind"] for one in whole["documents"]} == {"check", "check-end", "statement"}
    assert json.loads(files[statement]) == json.loads((signed.folder / "signed.json").read_text("utf-8"))
    kinds = {row["kind"] for row in rows(files["log.csv"])}
    assert {"person-added", "session-begun", "answer", "session-ended", "document"} <= kinds
    assert "Lee Orme" not in "".join(files.values())


def test_cells_are_no_formulas_and_names_no_paths(signed):
    signed.done("people", "dossier", NAME, "--out", "kim.zip", by=RUTH)
    files = opened(signed)
    assert not [one for one in files if ".." in one or one.startswith("/")]
    for name in ("answers.csv", "sessions.csv"):
        assert {row["person"] for row in rows(files[name])} == {"'" + NAME}
    assert {cell[:1] for row in rows(files["log.csv"]) for cell in row.values()} & set("=+-@") == set()


def test_the_taking_out_is_an_act_without_the_name(signed):
    signed.done("people", "dossier", NAME, "--out", "kim.zip", by=RUTH)
    with sqlite3.connect(signed.archive) as store:
        who, detail = store.execute("SELECT who, detail FROM acts WHERE kind = 'export'").fetchone()
    assert who == RUTH
    assert json.loads(detail)["what"] == "dossier"
    assert NAME not in detail
    assert "exists already" in signed.refused("people", "dossier", NAME, "--out", "kim.zip", by=RUTH)
    assert "end in .zip" in signed.refused("people", "dossier", NAME, "--out", "kim.txt", by=RUTH)


def test_a_name_is_taken_out_without_breaking_chain_or_statement(signed):
    code, out, err = signed.run("people", "pseudonymise", NAME, "--yes", by=RUTH)
    assert code == 0
    assert "5 signed documents" in err  # four tickets and the statement
    assert out.startswith("Person ")
    assert signed.run("archive", "check")[0] == 0
    assert [one for one in signed.finding("signed.json")["findings"] if not one["holds"]] == []
    signed.done("signoff", "keys", "publish", RUTH, "--out", "ruth.pem")
    ruth = PublicKey.of_pem((signed.folder / "ruth.pem").read_text("utf-8"))
    alone = json.loads((signed.folder / "signed.json").read_text("utf-8"))
    assert verify(alone, now=signed.now, trusted=ruth).good  # without the archive too
    for what in ("answers", "sessions", "people", "statistics", "signoffs"):
        told = signed.done("export", what, "--json", by=RUTH)
        assert "HYPERLINK" not in told, what
        assert "Lee Orme" in told or what == "signoffs"
    assert "HYPERLINK" not in signed.done("signoff", "list")
    with sqlite3.connect(signed.archive) as store:
        for table in ("acts", "people", "sessions", "items", "answers", "tallies", "settings"):
            assert not [r for r in store.execute(f"SELECT * FROM {table}") if "HYPERLINK" in str(r)], table
