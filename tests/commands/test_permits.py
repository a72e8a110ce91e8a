"""Role limits outside the sign-off: with accounts in it, an archive asks for one whose role may."""

import json
import sqlite3

import pytest

from tests.commands.laboratory import BEN, PHRASES, RUTH, Laboratory
from trainer.commands.main import main
from trainer.commands.permits import ASKS
from trainer.signoff.roles import MAY

IDA = "Ida Kern"
# what each command that asks is called with
CALLS = {
    "people add": ["New Person"],
    "people import-list": ["list.txt"],
    "people rename": ["Kim Vale", "Kim Orme"],
    "people archive-person": ["Kim Vale"],
    "people pseudonymise": ["Kim Vale", "--yes"],
    "people dossier": ["Kim Vale", "--out", "kim.zip"],
    "export": ["people"],
    "archive backup": ["copy.db"],
    "archive move": ["lab.db", "moved.db"],
}
KEEPERS = sorted(set(CALLS) - {"people add", "people import-list", "people rename"})


@pytest.fixture
def lab(monkeypatch, capsys, tmp_path):
    monkeypatch.setitem(PHRASES, IDA, "copper walnut lattice seven")
    made = Laboratory(monkeypatch, capsys, tmp_path)
    made.set_up()
    made.done(
        "signoff", "keys", "add", IDA, "--role", "keeper", "--new-key-file", "ida.key", by=RUTH, new=IDA
    )
    (tmp_path / "list.txt").write_text("Ana\nBo\n", encoding="utf-8")
    return made


def acts(lab):
    """Return (kind, who) of every act in the log."""
    with sqlite3.connect(lab.archive) as connection:
        return connection.execute("SELECT kind, who FROM acts ORDER BY chain, seq").fetchall()


def test_every_act_that_a_command_asks_for_is_one_of_a_role():
    assert set(ASKS.values()) <= set().union(*MAY.values())
    assert set(CALLS) == set(ASKS)


@pytest.mark.parametrize("command", CALLS)
def test_without_an_account_nothing_is_done_and_the_role_is_named(lab, command):
    before = acts(lab)
    told = lab.refused(*command.split(), *CALLS[command])
    assert "keeper" in told
    assert IDA in told
    assert acts(lab) == before
    assert not (lab.folder / "copy.db").exists()
    assert not (lab.folder / "moved.db").exists()


@pytest.mark.parametrize("command", KEEPERS)
def test_a_supervisor_who_is_no_keeper_may_not(lab, command):
    assert "takes a keeper" in lab.refused(*command.split(), *CALLS[command], by=BEN)


@pytest.mark.parametrize("command", CALLS)
def test_the_keeper_may_and_the_log_says_who_it_was(lab, command):
    lab.done(*command.split(), *CALLS[command], by=IDA)
    if command == "archive move":
        lab.archive = str(lab.folder / "moved.db")
    assert IDA in [who for kind, who in acts(lab) if kind not in ("document", "key")]
    assert main(["archive", "check", "--archive", lab.archive]) == 0


def test_a_wrong_passphrase_is_no_permit_and_is_counted(lab):
    lab.patch.setenv("TENTHWISE_PASSPHRASE", "none of theirs at all")
    code, _, err = lab.run("people", "archive-person", "Kim Vale", "--as", IDA, "--key-file", "ida.key")
    assert (code, err.count("\n")) == (1, 1)
    assert ("wrong-passphrase", IDA) in acts(lab)
    assert "Kim Vale" in lab.done("people", "list")


def test_the_keeper_signs_nothing(lab):
    assert "takes a supervisor" in lab.refused("signoff", "check", "Kim Vale", by=IDA)


def test_drilling_results_and_scores_never_ask(lab):
    assert "Kim Vale" in lab.done("people", "list")
    lab.patch.setattr("sys.stdin", iter(()))
    lab.done("archive", "check")
    lab.done("archive", "info")
    assert not {one for one in ASKS if one.split()[0] in ("drill", "score", "report", "quote", "compare")}
    lab.check(1)
    assert json.loads(lab.run("signoff", "status", "Kim Vale", "--json")[1])["attempts"]


def test_an_archive_without_accounts_is_open(monkeypatch, capsys, tmp_path):
    lab = Laboratory(monkeypatch, capsys, tmp_path)
    lab.done("people", "add", "Kim Vale")
    lab.done("archive", "backup", "copy.db")
    assert "no accounts" in lab.refused("people", "add", "Lee Orme", by=RUTH)
