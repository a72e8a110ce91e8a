"""A sign-off from the first key to its withdrawal, through the commands alone; and years afterwards."""

import copy
import json
import secrets
import shutil
import sqlite3
from datetime import timedelta
from pathlib import Path

import pypdf
import pytest

from tests.commands.laboratory import BEN, PHRASES, RUTH, Laboratory
from trainer.records import copying, documents, office, statements
from trainer.records.archive import Archive
from trainer.records.check import check as archive_check
from trainer.signoff import criteria
from trainer.signoff.sealed import seal


@pytest.fixture
def lab(tmp_path, monkeypatch, capsys):
    made = Laboratory(monkeypatch, capsys, tmp_path)
    made.set_up("Kim Vale")
    return made


def sign(lab, by=BEN, *further, file="kim.json"):
    """Sign and return the statement."""
    lab.later(hours=1)
    given = ["signoff", "sign", "Kim Vale", "--out", file, "--pdf", Path(file).stem + ".pdf", *further]
    lab.done(*given, by=by)
    return json.loads(Path(file).read_text(encoding="utf-8"))


def standing(lab):
    """Return the one statement's line of `signoff list`."""
    (row,) = json.loads(lab.done("signoff", "list", "--json"))["statements"]
    return row


def change(lab, number, kind, reason, by=RUTH):
    lab.later(hours=1)
    return lab.done("signoff", "standing", number, kind, "--reason", reason, by=by)


def test_a_whole_life(lab):
    for seed in (1, 2):
        lab.check(seed)
    lab.check(3, during={5: lambda: setattr(lab, "now", lab.now + timedelta(minutes=20))})
    code, out, _ = lab.run("signoff", "status", "Kim Vale")
    assert code == 1
    assert "not yet shown after 60 readings in 3 sittings" in out
    assert "counts; on its record: paused 1 time" in out
    assert "waits for: another day: a check counts as another sitting from 2026-03-06 00:" in out
    assert "nothing to sign yet" in lab.refused("signoff", "sign", "Kim Vale", "--out", "kim.json", by=BEN)
    lab.check(4, says="no")
    code, out, _ = lab.run("signoff", "status", "Kim Vale")
    assert code == 0
    assert "waits for: a signature: attempt 1 shows everything, and a supervisor can sign" in out

    made = sign(lab, BEN, "--condition", "metric only")
    number = made["body"]["id"]
    rows = made["body"]["evidence"]
    assert [row["flags"] for row in rows][2] == ["paused 1 time"]
    assert [row["attested"] for row in rows] == [True, True, True, False]
    said = made["body"]["limitations"]
    assert "The person did not attest at the end of 1 of 4 checks." in said
    assert "On the record of 1 of 4 checks: paused 1 time." in said
    assert "Only pictures of these instruments of the catalogue were read: metric." in said
    assert "4 of 4 checks had plain pictures, without texture and numerals." in said
    assert "How large a division was seen is not known of 4 of 4 checks." in said
    assert one_page("kim.pdf")
    assert "nothing: attempt 1 is signed" in lab.run("signoff", "status", "Kim Vale")[1]

    lab.done("signoff", "keys", "publish", RUTH, "--out", "ruth.pem")
    good = lab.finding("kim.json")
    assert good["good"]
    assert [one["holds"] for one in good["findings"] if one["what"] == "guard"] == [True]
    elsewhere(lab, "kim.json", "ruth.pem")

    # kept alive by monitoring checks: due, overdue, suspended, taken up again
    signed_at = lab.now
    row = standing(lab)
    assert (row["state"], row["due_in_days"], row["reminder"]) == (
        "valid", 30, "monitoring check: due in 30 days",
    )  # fmt: skip
    lab.later(days=25)
    lab.check(10)
    assert standing(lab)["state"] == "valid"
    lab.later(days=32)
    row = standing(lab)
    assert (row["state"], row["due_in_days"]) == ("due", -2)
    assert row["reminder"] == "monitoring check: 2 days overdue"
    lab.later(days=14)
    assert standing(lab)["state"] == "suspended"
    assert standing(lab)["reminder"] == ""
    lab.check(11)
    assert standing(lab)["state"] == "valid"

    # drift suspends, a reason reinstates, withdrawal ends it
    for seed in (12, 13, 14):
        lab.check(seed, bias=2.0)
    assert "bias high beyond its limit" in standing(lab)["sentence"]
    assert not lab.finding("kim.json")["good"]
    assert "reinstate or condition" in lab.refused(
        "signoff", "standing", number, "revive", "--reason", "x", by=RUTH
    )
    change(lab, number, "reinstate", "new glasses; three drills")
    lab.check(15)
    assert lab.finding("kim.json")["good"]
    change(lab, number, "condition", "with loupe")
    assert standing(lab)["conditions"] == ["metric only", "with loupe"]
    change(lab, number, "suspend", "away for a month")
    change(lab, number, "reinstate", "back")
    change(lab, number, "withdraw", "changed jobs", by=BEN)
    report = lab.finding("kim.json")
    (found,) = [one["sentence"] for one in report["findings"] if not one["holds"]]
    assert "withdrawn" in found
    assert "changed jobs; by Ben Olt" in found
    assert "takes a new sign-off" in lab.refused(
        "signoff", "standing", number, "reinstate", "--reason", "again", by=RUTH
    )
    assert lab.finding("kim.json", "--on", f"{signed_at:%Y-%m-%d}")["good"]  # on the day it was signed
    with Archive.open(create=False) as archive:
        assert archive_check(archive.store).findings == []


def one_page(file):
    return len(pypdf.PdfReader(file).pages) == 1


def elsewhere(lab, statement, key):
    """Verify in another folder without the archive: the file and the public key are all that is there."""
    away = lab.folder / "away"
    away.mkdir()
    for name in (statement, key):
        shutil.copy(name, away)
    with lab.patch.context() as patch:
        patch.delenv("TENTHWISE_ARCHIVE")
        patch.chdir(away)
        assert lab.finding(statement, "--key", key)["good"]
        assert not lab.finding(statement)["good"]  # nobody says whose key it is
        forged = json.loads(Path(statement).read_text(encoding="utf-8"))
        forged["body"]["evidence"][0]["attested"] = not forged["body"]["evidence"][0]["attested"]
        Path("forged.json").write_text(json.dumps(forged), encoding="utf-8")
        assert not lab.finding("forged.json", "--key", key)["good"]


@pytest.fixture
def signed(lab):
    """Sign Kim Vale off after four good checks; return the statement."""
    for seed in range(1, 5):
        lab.check(seed)
    return sign(lab)


def holds(lab, *arguments):
    """Return what of the statement does not hold."""
    return [one for one in lab.finding("kim.json", *arguments)["findings"] if not one["holds"]]


def test_a_statement_verifies_years_later_whatever_else_the_archive_has_come_to_hold(lab, signed):
    day = f"{lab.now:%Y-%m-%d}"
    assert holds(lab) == []
    lab.later(hours=2)
    for seed in range(10, 14):  # monitoring, and checks of other people
        lab.check(seed)
    lab.done("people", "add", "Lee Orme", by=RUTH)
    lab.check(20, person="Lee Orme", bias=3.0)
    lab.done("people", "rename", "Kim Vale", "Kim Vale-Orme", by=RUTH)
    assert holds(lab) == []
    with Archive.open(create=False) as archive:
        code = archive.pseudonymise_person("Kim Vale-Orme").name
        assert holds(lab) == []
        archive.archive_person(code)
    assert holds(lab) == []
    recover = ["signoff", "keys", "revoke", BEN, "--kind", "left", "--reason", "moved"]
    lab.done(*recover, by=RUTH)
    assert holds(lab) == []
    lab.later(days=3 * 365)
    assert {one["what"] for one in holds(lab)} == {"validity", "standing"}  # its year is over
    assert holds(lab, "--on", day) == []  # and what was said then still stands
    assert "type a day such as" in lab.refused("verify", "kim.json", "--on", "1 June")


def test_a_statement_verifies_in_a_copy_of_the_archive(lab, signed):
    lab.later(days=1)
    with Archive.open(create=False) as archive:
        copying.backup(archive.store, Path("copy.db"))
    assert holds(lab, "--archive", "copy.db") == []


def test_a_statement_is_written_to_files_again(lab, signed):
    number = signed["body"]["id"]
    lab.done("signoff", "write", number, "--out", "again.json", "--pdf", "again.pdf")
    assert json.loads(Path("again.json").read_text(encoding="utf-8")) == signed
    assert one_page("again.pdf")
    assert "nothing to write" in lab.refused("signoff", "write", number)
    assert "there is no statement" in lab.refused("signoff", "write", "0" * 16, "--out", "x.json")
    assert not Path("x.json").exists()


def test_the_guards_records_are_part_of_what_was_signed(lab, signed):
    flips = {
        "another one": 'UPDATE documents SET body = replace(body, \'"attested":"I\', \'"attested":"We\')'
        " WHERE kind = 'check-end'",
        "is missing": "DELETE FROM documents WHERE kind = 'check-end'",
    }
    for words, sql in flips.items():
        shutil.copy(lab.archive, "altered.db")
        with sqlite3.connect("altered.db") as connection:
            assert connection.execute(sql).rowcount == 4
        connection.close()
        (found,) = holds(lab, "--archive", "altered.db")
        assert (found["what"], words in found["sentence"]) == ("guard", True)
        with Archive.open("altered.db", create=False) as archive:
            assert archive_check(archive.store).findings != []


def test_a_session_slipped_in_among_the_evidence_is_named(lab, signed):
    """A station whose clock was set back begins a check that seems to belong to the evidence."""
    present, counted = lab.now, lab.counter
    lab.now = present - timedelta(days=2, hours=3)
    lab.check(9, bias=0.5)
    lab.now, lab.counter = present + timedelta(hours=1), counted + 3600
    (found,) = holds(lab)
    assert found["what"] == "evidence"
    assert "belongs to the evidence and was not in the archive when it was signed" in found["sentence"]


def test_a_statement_of_an_earlier_version_stands(lab, signed):
    """Before records were part of it, a statement gave flags alone, and tickets did not name their plan."""
    old = copy.deepcopy(signed)
    for row in old["body"]["evidence"]:
        del row["attested"], row["watch_sha256"]
    del old["body"]["not_counted"]
    old["body"]["id"] = secrets.token_bytes(8).hex()
    with Archive.open(create=False) as archive:
        key = office.unlock(archive, BEN, PHRASES[BEN], Path("ben.key"))
        old = {**seal(old["body"], key), "keys": old["keys"]}
        documents.keep(archive, statements.STATEMENT, old["body"]["person"]["id"], old, who=BEN)
    Path("kim.json").write_text(json.dumps(old), encoding="utf-8")
    assert holds(lab) == []


def test_an_edited_criterion_starts_anew_and_the_old_statement_stands(lab):
    own = Path("own.toml")
    text = criteria.find("first-level-metric").text
    own.write_text(text, encoding="utf-8")
    asked = ["--criterion", str(own)]
    for seed in range(1, 5):
        lab.check(seed, criterion=str(own))
    made = sign(lab, BEN, *asked)
    own.write_text(text.replace("bias_tenths = 0.5", "bias_tenths = 0.9"), encoding="utf-8")
    assert holds(lab) == []
    assert made["body"]["criterion"]["text"] == text
    code, out, _ = lab.run("signoff", "status", "Kim Vale", *asked)
    assert code == 1
    assert out.count("another text of own; a changed criterion starts anew") == 4
    assert "nothing to sign yet" in lab.refused(
        "signoff", "sign", "Kim Vale", "--out", "again.json", *asked, by=BEN
    )
    lab.later(days=20)
    lab.check(30, criterion=str(own))  # under the edited one
    row = standing(lab)
    assert (row["state"], row["due_in_days"]) == ("valid", 30)  # it keeps the old statement alive too


def test_an_edited_criterion_is_no_way_round_an_attempt_without_success(lab):
    """A single comment makes another text of it; so would a copy under another name."""
    own, text = Path("own.toml"), criteria.find("first-level-metric").text
    own.write_text(text, encoding="utf-8")
    asked = ["--criterion", str(own)]
    for seed in range(1, 5):
        lab.check(seed, bias=2.5, criterion=str(own))
    assert "shown to fail" in lab.run("signoff", "status", "Kim Vale", *asked)[1]
    own.write_text(text + "# 2nd edition\n", encoding="utf-8")
    copy_of = ["--criterion", "copy.toml"]
    Path("copy.toml").write_text(text, encoding="utf-8")
    for choice in (asked, copy_of):
        out = lab.run("signoff", "status", "Kim Vale", *choice)[1]
        assert "waits for: training; a supervisor can open a new attempt from 2026-03-" in out
    for seed in range(5, 9):
        lab.check(seed, criterion=str(own))
    assert "it was taken after check " in lab.run("signoff", "status", "Kim Vale", *asked)[1]
    assert "nothing to sign yet" in lab.refused(
        "signoff", "sign", "Kim Vale", "--out", "kim.json", *asked, by=BEN
    )
    said = lab.done("signoff", "check", "Kim Vale", *asked, by=BEN)
    assert "this check will count in no attempt" in said
    attempt = ["signoff", "attempt", "Kim Vale", *asked, "--reason", "two weeks of drills"]
    early = lab.refused(*attempt, by=RUTH)
    assert "opened for another text of own, has led to no sign-off; the criterion asks for 7 days" in early
    lab.later(days=7)
    lab.done(*attempt, by=RUTH)
    assert "a new one follows one without success" in lab.refused(*attempt, by=RUTH)
    said = lab.done("signoff", "check", "Kim Vale", *asked, by=BEN)
    assert "no attempt" not in said
    for seed in range(10, 14):
        lab.check(seed, criterion=str(own))
    made = sign(lab, BEN, *asked)["body"]
    assert made["attempt"] == {"number": 1, "reason": "two weeks of drills", "without_success_before": 0}
    assert sum(one["sessions"] for one in made["not_counted"]) == 8
    assert holds(lab) == []
    with Archive.open(create=False) as archive:
        assert archive_check(archive.store).findings == []


def test_what_was_shown_before_a_failed_attempt_is_signed_no_more(lab):
    for seed in range(1, 5):
        lab.check(seed)
    assert lab.run("signoff", "status", "Kim Vale")[0] == 0
    for seed in range(5, 9):
        lab.check(seed, bias=2.5)
    code, out, _ = lab.run("signoff", "status", "Kim Vale")
    assert code == 1
    assert "attempt 2: shown to fail" in out
    asked = ["signoff", "sign", "Kim Vale", "--out", "kim.json"]
    assert "nothing to sign yet" in lab.refused(*asked, by=BEN)
    lab.later(days=7)
    lab.done("signoff", "attempt", "Kim Vale", "--reason", "two weeks of drills", by=RUTH)
    assert "nothing to sign yet" in lab.refused(*asked, by=BEN)
    code, out, _ = lab.run("signoff", "status", "Kim Vale")
    assert code == 1
    assert "waits for: a first check, at any time" in out


def test_after_a_failed_attempt_a_reason_a_wait_and_new_evidence(lab):
    for seed in range(1, 5):
        lab.check(seed, bias=2.5)
    code, out, _ = lab.run("signoff", "status", "Kim Vale")
    assert code == 1
    assert "shown to fail" in out
    assert "waits for: training; a supervisor can open a new attempt from 2026-03-1" in out
    lab.check(5)  # practice in between: it belongs to nothing
    attempt = ["signoff", "attempt", "Kim Vale", "--reason"]
    assert "7 days of training" in lab.refused(*attempt, "two drills", by=RUTH)
    lab.later(days=7)
    assert "needs a reason" in lab.refused(*attempt, " ", by=RUTH)
    lab.done(*attempt, "two weeks of drills", by=RUTH)
    for seed in range(10, 14):
        lab.check(seed)
    assert lab.run("signoff", "status", "Kim Vale")[0] == 0
    made = sign(lab)["body"]
    assert made["attempt"] == {
        "number": 2, "reason": "two weeks of drills", "without_success_before": 1,
    }  # fmt: skip
    told = json.loads(lab.run("signoff", "status", "Kim Vale", "--json")[1])
    first, second = (len(one["sessions"]) for one in told["attempts"][:2])
    assert second == len(made["evidence"])
    assert made["not_counted"] == [
        {
            "reason": "it was taken after an attempt had ended without success",
            "sessions": 5 - first,  # of five checks those that the decision did not take in
        }
    ]
    assert holds(lab) == []
