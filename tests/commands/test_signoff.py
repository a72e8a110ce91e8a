"""A whole life of a sign-off through the command line, and what is refused on the way."""

import io
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from trainer.commands.main import main
from trainer.instrument import catalogue
from trainer.practice import plans
from trainer.practice.deal import deal
from trainer.records import accounts, documents, engine, statements
from trainer.records.archive import Archive
from trainer.records.check import check
from trainer.records.values import SessionHeader
from trainer.signoff import guard, keys

START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
RUTH, BEN = "Ruth Amsel", "Ben Olt"
PHRASES = {RUTH: "lantern orbit velvet nine", BEN: "harbour pickle quartz dune"}


@pytest.fixture
def lab(tmp_path, monkeypatch):
    """Give a laboratory with its own clock: {"now": ...}, and keys that are quick to stretch."""
    clock = {"now": START}
    monkeypatch.setattr(engine, "utc_now", lambda: clock["now"])
    monkeypatch.setattr("trainer.commands.verify.datetime", _Clock(clock))
    monkeypatch.setattr(keys.locked, "__kwdefaults__", {**keys.locked.__kwdefaults__, "log2_n": 10})
    monkeypatch.setenv("TENTHWISE_ARCHIVE", str(tmp_path / "lab.db"))
    monkeypatch.chdir(tmp_path)
    return clock


class _Clock:
    def __init__(self, clock):
        self.clock = clock

    def now(self, _zone):
        return self.clock["now"]


def run(monkeypatch, *arguments, by=None, new=None):
    if by:
        monkeypatch.setenv("TENTHWISE_PASSPHRASE", PHRASES.get(by, by))
    if new:
        monkeypatch.setenv("TENTHWISE_NEW_PASSPHRASE", PHRASES.get(new, new))
    return main(list(arguments))


def set_up(monkeypatch):
    assert run(monkeypatch, "signoff", "keys", "set-up", RUTH, "--new-key-file", "ruth.key", new=RUTH) == 0
    assert run(
        monkeypatch, "signoff", "keys", "add", BEN, "--as", RUTH, "--key-file", "ruth.key",
        "--new-key-file", "ben.key", by=RUTH, new=BEN,
    ) == 0  # fmt: skip
    assert run(monkeypatch, "people", "add", "Kim Vale", "--as", RUTH, "--key-file", "ruth.key", by=RUTH) == 0


def take_check(monkeypatch, clock, number, *, bias=0.1, ticket=True, stop_after=20):
    """Take one check as a simulated reader would, a day after the last."""
    clock["now"] += timedelta(days=1)
    plan = plans.find("check-metric")
    body = plan.to_dict()
    if ticket:
        assert run(
            monkeypatch, "signoff", "check", "Kim Vale", "--as", RUTH, "--key-file", "ruth.key", by=RUTH
        ) == 0  # fmt: skip
    with Archive.open(create=False) as archive:
        kim = archive.person("Kim Vale")
        if ticket:
            body["ticket"] = documents.listed(archive, statements.TICKET, kim.id)[-1].document["body"]["id"]
        chance = np.random.default_rng(1000 + number)
        items = deal(plan, catalogue.load("metric"), chance)
        clock["now"] += timedelta(minutes=1)
        at = clock["now"].strftime("%Y-%m-%dT%H:%M:%SZ")
        header = SessionHeader("metric", plan.drill, True, 1000 + number, "test", "1", started_at=at)
        session = archive.begin_session(kim, body, [item.to_dict() for item in items], header)
        for item in items[:stop_after]:
            answer = float(np.rint(item.position_tenths + bias + 0.45 * chance.standard_normal()))
            archive.save_answer(
                session,
                {"number": item.number, "typed": str(answer), "answer_tenths": answer,
                 "outcome": "answered", "seconds": 5.0 + chance.random(), "at": at},
            )  # fmt: skip
        archive.end_session(session, "finished" if stop_after == 20 else "left", at)
        if ticket:
            watch = (
                guard.Watch(str(body["ticket"]))
                .marked("focus-lost", at)
                .closed("finished", [5.0], attested=True)
            )
            documents.keep(
                archive, statements.CLOSING, kim.id, {"session": session, "watch": watch.to_dict()}
            )
    return session


def sign(monkeypatch, by=BEN, file="kim.json", more=()):
    return run(
        monkeypatch, "signoff", "sign", "Kim Vale", "--as", by, "--key-file", f"{by.split()[0].lower()}.key",
        "--out", file, "--pdf", file.replace(".json", ".pdf"), *more, by=by,
    )  # fmt: skip


def test_a_whole_life(lab, monkeypatch, capsys, tmp_path):
    set_up(monkeypatch)
    for number in range(3):
        take_check(monkeypatch, lab, number)
    assert main(["signoff", "status", "Kim Vale"]) == 1  # not yet
    told = capsys.readouterr().out
    assert "not yet shown after 60 readings" in told
    for limit in ("limit 0.5 tenths: ", "limit 1 tenth: ", " of 60 [", " %], limit 5 %: "):
        assert limit in told, limit
    assert sign(monkeypatch) == 1
    assert "nothing to sign yet" in capsys.readouterr().err
    for number in (3, 4):
        take_check(monkeypatch, lab, number)
    assert main(["signoff", "status", "Kim Vale"]) == 0
    capsys.readouterr()
    assert sign(monkeypatch, file="none/kim.json") == 1  # what cannot be written is not signed either
    assert "its folder does not exist" in capsys.readouterr().err
    assert main(["signoff", "list"]) == 0
    assert capsys.readouterr().out == "no statement has been signed yet\n"
    assert sign(monkeypatch) == 0
    assert Path("kim.pdf").read_bytes()[:5] == b"%PDF-"
    assert main(["signoff", "keys", "publish", RUTH, "--out", "ruth.pem"]) == 0
    archive = str(tmp_path / "lab.db")
    assert main(["verify", "kim.json", "--archive", archive]) == 0
    assert sign(monkeypatch, file="again.json") == 1  # no attempt is signed twice
    assert "was signed on" in capsys.readouterr().err

    monkeypatch.delenv("TENTHWISE_ARCHIVE")  # elsewhere: only the file and the public key
    assert main(["verify", "kim.json", "--key", "ruth.pem"]) == 0
    assert main(["verify", "kim.json"]) == 1  # nobody says whose key it is
    altered = json.loads(Path("kim.json").read_text(encoding="utf-8"))
    altered["body"]["person"]["name"] = "Lee Vale"
    Path("forged.json").write_text(json.dumps(altered), encoding="utf-8")
    assert main(["verify", "forged.json", "--key", "ruth.pem"]) == 1
    monkeypatch.setenv("TENTHWISE_ARCHIVE", archive)

    for number in range(10, 13):  # monitoring: a drift of the bias to 1.5 tenths
        take_check(monkeypatch, lab, number, bias=1.5)
    capsys.readouterr()
    assert main(["signoff", "list"]) == 0
    assert "suspended" in capsys.readouterr().out
    assert main(["verify", "kim.json"]) == 1
    assert "bias high beyond its limit" in capsys.readouterr().out
    with Archive.open(create=False) as opened:
        assert check(opened.store).findings == []


def test_a_statement_is_withdrawn_and_suspended_by_name_and_reason(lab, monkeypatch, capsys):
    set_up(monkeypatch)
    for number in range(5):
        take_check(monkeypatch, lab, number)
    capsys.readouterr()
    assert sign(monkeypatch, more=["--json"]) == 0
    signed = json.loads(capsys.readouterr().out)
    number = json.loads(Path("kim.json").read_text(encoding="utf-8"))["body"]["id"]
    assert (signed["statement"], signed["files"]) == (number, ["kim.json", "kim.pdf"])
    first = [("suspend", 0), ("suspend", 1), ("reinstate", 0), ("reinstate", 1)]
    first_in = ("condition", "withdraw")  # from then on the condition stands
    steps = [*first, ("condition", 0), ("withdraw", 0), ("reinstate", 1)]
    for change, code in steps:
        lab["now"] += timedelta(hours=1)
        asked = ["signoff", "standing", number, change, "--as", RUTH, "--key-file", "ruth.key"]
        assert run(monkeypatch, *asked, "--reason", "with loupe", "--json", by=RUTH) == code, change
        told = capsys.readouterr().out
        assert not told if code else json.loads(told)["conditions"] == ["with loupe"] * (change in first_in)
    assert main(["verify", "kim.json"]) == 1
    assert "withdrawn" in capsys.readouterr().out


def test_what_does_not_count_is_told_with_its_reason(lab, monkeypatch, capsys):
    set_up(monkeypatch)
    for number in range(4):
        take_check(monkeypatch, lab, number, ticket=number > 0)
    assert main(["signoff", "status", "Kim Vale"]) == 1
    told = capsys.readouterr().out
    assert "no supervisor attested who sat there" in told
    assert "after 60 readings" in told
    take_check(monkeypatch, lab, 9, stop_after=7)  # abandoned ones count
    main(["signoff", "status", "Kim Vale"])
    assert "after 67 readings in 3 sittings" in capsys.readouterr().out


def test_wrong_passphrases_grow_slow_for_one_account_alone(lab, monkeypatch, capsys):
    set_up(monkeypatch)
    capsys.readouterr()
    asked = ["signoff", "check", "Kim Vale", "--as", BEN, "--key-file", "ben.key"]
    told = []
    for _ in range(4):
        assert run(monkeypatch, *asked, by="nothing of the kind") == 1
        told.append(capsys.readouterr().err)
    assert told[0] == told[2] == "tenthwise: the account and the passphrase do not go together; try again\n"
    assert "try again in 2 seconds" in told[3]
    assert (
        run(monkeypatch, "signoff", "check", "Kim Vale", "--as", RUTH, "--key-file", "ruth.key", by=RUTH) == 0
    )
    lab["now"] -= timedelta(days=1)  # a clock set back does not open the lock
    assert run(monkeypatch, *asked, by=BEN) == 1
    lab["now"] += timedelta(days=1, seconds=3)
    assert run(monkeypatch, *asked, by=BEN) == 0


def test_nobody_signs_or_opens_checks_for_themself(lab, monkeypatch, capsys):
    set_up(monkeypatch)
    assert run(monkeypatch, "people", "add", BEN, "--as", RUTH, "--key-file", "ruth.key", by=RUTH) == 0
    assert run(monkeypatch, "signoff", "check", BEN, "--as", BEN, "--key-file", "ben.key", by=BEN) == 1
    assert "cannot open their own check" in capsys.readouterr().err


def test_keys_are_revoked_rotated_and_recovered(lab, monkeypatch, capsys):
    set_up(monkeypatch)
    lab["now"] += timedelta(days=1)
    recover = ["signoff", "keys", "recover", BEN, "--as", RUTH, "--key-file", "ruth.key", "--reason", "lost"]
    assert run(monkeypatch, *recover, "--new-key-file", "ben2.key", by=RUTH, new=BEN) == 0
    lab["now"] += timedelta(days=1)
    assert run(monkeypatch, "signoff", "check", "Kim Vale", "--as", BEN, "--key-file", "ben.key", by=BEN) == 1
    assert "revoked" in capsys.readouterr().err
    assert (
        run(monkeypatch, "signoff", "check", "Kim Vale", "--as", BEN, "--key-file", "ben2.key", by=BEN) == 0
    )
    rotate = [
        "signoff",
        "keys",
        "rotate",
        "--as",
        RUTH,
        "--key-file",
        "ruth.key",
        "--new-key-file",
        "ruth2.key",
    ]
    assert run(monkeypatch, *rotate, by=RUTH, new=RUTH) == 0
    lab["now"] += timedelta(days=1)
    revoke = ["signoff", "keys", "revoke", BEN, "--as", RUTH, "--key-file", "ruth2.key", "--kind", "left"]
    assert run(monkeypatch, *revoke, "--reason", "new employer", by=RUTH) == 0
    assert (
        run(monkeypatch, "signoff", "check", "Kim Vale", "--as", BEN, "--key-file", "ben2.key", by=BEN) == 1
    )
    with Archive.open(create=False) as archive:
        assert len(accounts.keyring(archive).revocations) == 3


def test_the_cost_is_told_before_anyone_is_tested(lab, capsys):
    assert (
        main(["signoff", "cost", "first-level-metric", "--people", "400", "--json", "--out", "cost.png"]) == 0
    )
    found = json.loads(capsys.readouterr().out)
    by_name = {one["reader"]: one for one in found["readers"]}
    assert found["first_possible_readings"] == 80
    assert by_name["good"]["pass_rate"] > 0.95
    assert by_name["poor"]["pass_rate"] == 0
    assert Path("cost.png").read_bytes()[:4] == b"\x89PNG"


def test_a_check_taken_under_a_ticket_from_the_command_line_is_evidence(lab, monkeypatch, capsys):
    set_up(monkeypatch)
    capsys.readouterr()
    asked = ["signoff", "check", "Kim Vale", "--as", RUTH, "--key-file", "ruth.key", "--json"]
    assert run(monkeypatch, *asked, by=RUTH) == 0
    ticket = json.loads(capsys.readouterr().out)["ticket"]
    lab["now"] += timedelta(hours=5)
    assert run(monkeypatch, *asked, by=RUTH) == 0
    fresh = json.loads(capsys.readouterr().out)["ticket"]
    taken = ["drill", "check-metric", "--person", "Kim Vale", "--no-window", "pictures", "--size", "320x240"]
    monkeypatch.setattr("sys.stdin", io.StringIO("1.000\n" * 20))
    assert main([*taken, "--ticket", ticket]) == 1  # opened in March
    assert "it began more than 4 hours after" in capsys.readouterr().err
    assert main([*taken, "--ticket", fresh]) == 0
    capsys.readouterr()
    main(["signoff", "status", "Kim Vale"])
    told = capsys.readouterr().out
    assert "after 20 readings" in told
    assert "does not count" not in told  # nothing was kept under the ticket that is out of time
