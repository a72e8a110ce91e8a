"""A check under a ticket without a window: what is refused before it, kept of it, asked at its end."""

import io
import secrets
import sqlite3
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import func, select

from tests.commands.laboratory import BEN, RUTH, Laboratory, Reader
from trainer.practice import plans
from trainer.records import accounts, checks, documents, office
from trainer.records.archive import Archive
from trainer.records.check import check as archive_check
from trainer.records.tables import acts as log
from trainer.signoff import criteria, guard
from trainer.signoff.evidence import moment


@pytest.fixture
def lab(tmp_path, monkeypatch, capsys):
    made = Laboratory(monkeypatch, capsys, tmp_path)
    made.set_up("Kim Vale", "Lee Orme")
    return made


def kept(lab, person="Kim Vale"):
    """Return the sessions of a person and the guard's record of each."""
    with Archive.open(create=False) as archive:
        frame = archive.sessions(person)
        sessions = [archive.session(one) for one in frame["session"].tolist()]
        return sessions, checks.records(archive, archive.person(person).id)


def test_a_finished_check_is_attested_and_leaves_its_record(lab):
    lines = lab.check(1)
    assert lines[-2]["asks"] == "attestation"
    assert lines[-2]["statement"] == guard.PERSON_ATTESTS
    assert lines[-1]["people"][0]["readings"] == 20
    (session,), records = kept(lab)
    assert session.ended_how == "finished"
    assert records[session.id] == {
        "ticket": session.plan["ticket"], "marks": [], "flags": [],
        "attested": guard.PERSON_ATTESTS, "ended_how": "finished",
    }  # fmt: skip


@pytest.mark.parametrize("says", ["no", "", "perhaps"])
def test_without_a_plain_yes_nobody_attested(lab, says):
    lines = lab.check(1, says=says)
    (session,), records = kept(lab)
    assert session.ended_how == "finished"
    assert records[session.id]["attested"] == ""
    assert records[session.id]["flags"] == ["the person did not attest at the end"]
    again = [line for line in lines if line.get("asks") == "attestation"]
    assert [line.get("refused") for line in again] == (
        [None, "'perhaps' is neither yes nor no"] if says == "perhaps" else [None]
    )


def test_the_question_is_put_in_words_where_no_program_answers(lab):
    ticket = lab.ticket()
    lab.patch.setattr("sys.stdin", Reader(lab, 1))
    given = [one for one in lab.taking(ticket) if one != "--json"]
    out = lab.done(*given)
    assert f"{guard.PERSON_ATTESTS}\nIs that so? Type yes or no:" in out
    assert "on the record of this check: you attested that you took it alone" in out


REFUSALS = {
    "unknown": "there is no ticket",
    "other person": "the ticket is for another person",
    "other plan": "its plan is check-inch, and the check was opened for check-metric as it was then",
    "changed plan": "its plan check-metric has been changed",
    "late": "it began more than 4 hours after the supervisor opened it",
    "early": "it began before the supervisor opened it",
    "used": "is used up: session",
    "new person": "leave out --new-person",
}


@pytest.mark.parametrize("case", REFUSALS)
def test_a_ticket_is_looked_at_before_anything_is_kept(lab, case):
    ticket = lab.ticket()
    person, plan, further = "Kim Vale", "check-metric", []
    if case == "unknown":
        ticket = "0123456789abcdef"
    elif case == "other person":
        person = "Lee Orme"
    elif case == "other plan":
        plan = "check-inch"
    elif case == "changed plan":
        text = _shipped("check-metric").replace("items = 20", "items = 10")
        Path("check-metric.toml").write_text(text, encoding="utf-8")
        plan = "check-metric.toml"
    elif case == "late":
        lab.later(hours=4, seconds=1)
    elif case == "early":
        lab.now -= timedelta(minutes=2)
    elif case == "used":
        lab.patch.setattr("sys.stdin", Reader(lab, 1))
        lab.done(*lab.taking(ticket))
    elif case == "new person":
        person, further = "Noa Brand", ["--new-person"]
    before = acts()
    lab.patch.setattr("sys.stdin", io.StringIO(""))
    told = lab.refused(*lab.taking(ticket, person, *further, plan=plan))
    assert REFUSALS[case] in told
    assert acts() == before  # not a person, not a session, not an act


def _shipped(plan):
    return plans.shipped_files()[plan].read_text(encoding="utf-8")


def acts():
    """Return how many acts the log holds."""
    with Archive.open(create=False) as archive, archive.store.read() as connection:
        return connection.execute(select(func.count()).select_from(log)).scalar_one()


def test_a_check_without_a_ticket_is_warned_about_and_counts_nowhere(lab):
    lab.patch.setattr("sys.stdin", Reader(lab, 1, says=""))
    code, _, err = lab.run(*lab.taking(""))
    assert code == 0
    assert "warning: without a ticket (--ticket) this check counts for no criterion" in err
    assert "no supervisor attested who sat there" in lab.run("signoff", "status", "Kim Vale")[1]
    assert kept(lab)[1] == {}


def test_a_ticket_of_a_compromised_key_counts_no_more(lab):
    lab.later(hours=1)
    day = f"{lab.now:%Y-%m-%dT%H:%M:%SZ}"
    lab.later(hours=1)
    ticket = lab.ticket("Kim Vale", BEN)
    lab.patch.setattr("sys.stdin", Reader(lab, 1))
    lab.done(*lab.taking(ticket))
    lab.later(hours=1)
    revoke = ["signoff", "keys", "revoke", BEN, "--kind", "compromised", "--reason", "stolen"]
    lab.done(*revoke, "--since", day, by=RUTH)
    out = lab.run("signoff", "status", "Kim Vale")[1]
    assert "no supervisor attested who sat there; the ticket of a check: the key of Ben Olt is revoked" in out


def test_with_a_window_the_ticket_is_looked_at_before_it_opens(lab):
    told = lab.refused("drill", "check-metric", "--person", "Kim Vale", "--ticket", "0123456789abcdef")
    assert "there is no ticket" in told


def test_a_check_that_is_left_is_gone_on_with_under_its_ticket(lab):
    ticket = lab.ticket()
    lab.patch.setattr("sys.stdin", Reader(lab, 1, at_most=7))
    assert "after 7 of 20" in lab.refused(*lab.taking(ticket))
    (session,), records = kept(lab)
    assert session.ended_how is None
    assert records[session.id]["ended_how"] == "left"
    assert records[session.id]["attested"] == ""
    lab.later(minutes=5)
    assert "used up" in lab.refused(*lab.taking(ticket))  # not a second one under the same ticket
    other = lab.ticket()
    assert "not under" in lab.refused(*lab.taking(other, "Kim Vale", "--resume"))
    lab.patch.setattr("sys.stdin", Reader(lab, 2))
    lab.done(*lab.taking("", "Kim Vale", "--resume"))
    (session,), records = kept(lab)
    assert session.ended_how == "finished"
    assert len(session.answers) == 20
    record = records[session.id]
    assert [one["kind"] for one in record["marks"]] == ["left", "resumed"]
    assert "left and taken up again 1 time" in record["flags"]
    assert record["attested"] == guard.PERSON_ATTESTS
    with Archive.open(create=False) as archive:
        assert archive_check(archive.store).findings == []


def test_a_check_left_too_long_counts_as_it_stands_and_is_closed_at_the_next_opening(lab):
    lab.check(1, at_most=7)
    lab.later(hours=5)
    told = lab.refused(*lab.taking("", "Kim Vale", "--resume"))
    assert "more than 4 hours after" in told
    assert "it counts as it stands" in told
    lab.ticket()
    (session,), records = kept(lab)
    assert session.ended_how == records[session.id]["ended_how"] == "closed"
    assert "the person did not attest at the end" in records[session.id]["flags"]
    assert "after 7 readings" in lab.run("signoff", "status", "Kim Vale")[1]


def test_a_killed_program_leaves_what_it_had_noted(lab):
    ticket = lab.ticket()
    lab.patch.setattr("sys.stdin", Reader(lab, 1, at_most=3))
    lab.refused(*lab.taking(ticket))
    with Archive.open(create=False) as archive:
        (session,) = archive.unfinished("Kim Vale")
        at = archive.store.now()
        archive.note(session.id, "focus-lost", at, "")  # by a program that had no time to close its record
    lab.patch.setattr("sys.stdin", Reader(lab, 2))
    lab.done(*lab.taking("", "Kim Vale", "--resume"))
    (session,), records = kept(lab)
    assert [one["kind"] for one in records[session.id]["marks"]] == ["left", "focus-lost", "resumed"]
    assert "the window lost the focus 1 time" in records[session.id]["flags"]


def test_what_the_clock_tells_is_noted(lab):
    def back():
        lab.now -= timedelta(hours=1)

    def asleep():
        lab.now += timedelta(minutes=10)

    def long():
        lab.later(minutes=3)

    lab.check(1, during={4: back, 9: asleep, 14: long})
    (session,), records = kept(lab)
    record = records[session.id]
    assert [one["kind"] for one in record["marks"]] == ["clock-set-back", "pause", "resume"]
    assert record["marks"][0]["detail"] == "by 3600 s"
    assert sorted(record["flags"]) == [
        "1 reading took more than 120 s", "paused 1 time", "the clock was set back while it was taken",
    ]  # fmt: skip
    assert [one.kind for one in session.notes] == ["clock-set-back", "pause", "resume"]


def test_stopping_by_hand_leaves_a_record(lab):
    def stop():
        raise KeyboardInterrupt

    ticket = lab.ticket()
    lab.patch.setattr("sys.stdin", Reader(lab, 1, during={5: stop}))
    assert lab.run(*lab.taking(ticket))[0] == 130
    (session,), records = kept(lab)
    assert len(session.answers) == 4
    assert records[session.id]["ended_how"] == "left"


def test_stopping_by_hand_at_the_question_leaves_a_finished_check_that_nobody_attested(lab):
    def stop():
        raise KeyboardInterrupt

    ticket = lab.ticket()
    lab.patch.setattr("sys.stdin", Reader(lab, 1, during={21: stop}))
    assert lab.run(*lab.taking(ticket))[0] == 130
    (session,), records = kept(lab)
    assert session.ended_how == records[session.id]["ended_how"] == "finished"
    assert records[session.id]["flags"] == ["the person did not attest at the end"]


def test_a_check_without_any_record_says_so_before_signing(lab):
    """Its program was killed at the question, after the last answer was kept."""
    lab.check(1)
    with sqlite3.connect(lab.archive) as connection:
        connection.execute("DELETE FROM documents WHERE kind = 'check-end'")
    connection.close()
    out = lab.run("signoff", "status", "Kim Vale")[1]
    assert "counts; on its record: no record was kept of what happened during it" in out


def test_machine_like_pace_stands_on_the_record(lab):
    ticket = lab.ticket()
    reader = Reader(lab, 1)
    reader.chance = _Even()
    lab.patch.setattr("sys.stdin", reader)
    lab.done(*lab.taking(ticket))
    (session,), records = kept(lab)
    assert records[session.id]["flags"] == ["the readings came at an even pace that no person keeps"]


class _Even:
    """Chance that never varies."""

    def random(self):
        return 0.5

    def standard_normal(self):
        return 0.0


def test_a_ticket_serves_the_text_of_its_criterion_and_no_other(lab):
    first = criteria.find("first-level-metric")
    own = Path("own.toml")
    own.write_text(first.text, encoding="utf-8")
    ticket = lab.ticket("Kim Vale", RUTH, "--criterion", str(own))
    lab.patch.setattr("sys.stdin", Reader(lab, 1))
    lab.done(*lab.taking(ticket))
    assert "after 20 readings" in lab.run("signoff", "status", "Kim Vale", "-c", str(own))[1]
    other = lab.run("signoff", "status", "Kim Vale", "-c", "second-level-metric")[1]
    assert "it was opened for own, not for second-level-metric" in other
    own.write_text(first.text.replace("bias_tenths = 0.5", "bias_tenths = 0.8"), encoding="utf-8")
    edited = lab.run("signoff", "status", "Kim Vale", "-c", str(own))[1]
    assert "it was opened for another text of own; a changed criterion starts anew" in edited
    assert "no reading counts yet" in edited


def test_a_criterion_whose_plan_gives_no_evidence_opens_no_check(lab):
    text = criteria.find("first-level-metric").text.replace('"check-metric"', '"check-inch"')
    Path("odd.toml").write_text(text, encoding="utf-8")
    told = lab.refused("signoff", "check", "Kim Vale", "-c", "odd.toml", by=BEN)
    assert "the plan check-inch gives no evidence for odd" in told
    assert "it reads in inches, and the criterion is for millimetres" in told


def test_a_ticket_of_an_earlier_version_is_held_to_person_and_time(lab):
    """Tickets that do not name their plan's content serve as they did, so that old statements stand."""
    with Archive.open(create=False) as archive:
        kim = archive.person("Kim Vale")
        key = office.unlock(archive, RUTH, "lantern orbit velvet nine", Path("ruth.key"))
        old = guard.ticket(
            accounts.keyring(archive), key, criteria.find("second-level-metric"), kim.id, kim.name,
            now=moment(archive.store.now()), random_bytes=secrets.token_bytes,
        )  # fmt: skip
        documents.keep(archive, "check", kim.id, old.document, who=RUTH)
    assert not old.binds
    lab.patch.setattr("sys.stdin", Reader(lab, 1))
    lab.done(*lab.taking(old.id))
    assert "after 20 readings" in lab.run("signoff", "status", "Kim Vale")[1]
