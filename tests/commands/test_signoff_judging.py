"""Judging in or out is signed off through the commands: checks under tickets, verdict, statement."""

import json

import pytest

from tests.commands.laboratory import BEN, RUTH, Laboratory
from trainer.commands.window_signoff import WindowOffice
from trainer.practice.overlap import truth_of
from trainer.records.archive import Archive


class Judging:
    """Standard input of a simulated judge: right but for the first `wrong` offsets outside that count."""

    def __init__(self, lab, wrong=0):
        self.lab, self.wrong, self.lines = lab, wrong, None

    def readline(self):
        """Return the next judgement, then the answer to whether it was taken alone, then nothing."""
        if self.lines is None:
            with Archive.open(create=False) as archive:
                frame = archive.sessions()
                stored = archive.session(frame[frame["ended_how"].isna()]["session"].iloc[-1])
            self.lines = []
            for item in stored.items:
                slip = self.wrong > 0 and abs(item.extra["offset_tenths"]) >= 3.0
                self.wrong -= slip
                self.lines.append("in" if slip else truth_of(item))
            self.lines.append("yes")
        self.lab.later(seconds=3.1)
        return self.lines.pop(0) + "\n" if self.lines else ""


@pytest.fixture
def lab(tmp_path, monkeypatch, capsys):
    made = Laboratory(monkeypatch, capsys, tmp_path)
    made.set_up()
    return made


def judge(lab, wrong=0):
    """Let a day pass and Kim take a check of judging."""
    lab.later(days=1)
    ticket = lab.ticket("Kim Vale", RUTH, "--criterion", "judging-metric")
    lab.later(minutes=1)
    lab.patch.setattr("sys.stdin", Judging(lab, wrong))
    lab.done(*lab.taking(ticket, plan="check-judging-metric"))


def status(lab):
    """Return the last attempt's decision."""
    told = json.loads(lab.run("signoff", "status", "Kim Vale", "-c", "judging-metric", "--json")[1])
    return told["attempts"][-1]


def test_judging_is_signed_off_and_verifies(lab):
    for day in range(3):
        assert status(lab)["verdict"] == "not yet shown", day
        judge(lab)
    found = status(lab)
    assert (found["verdict"], found["readings"], found["sittings"]) == ("shown", 300, 3)
    assert [(one["name"], one["count"], one["of"]) for one in found["limits"]] == [
        ("judgement", 0, 75),
        ("rejects", 0, 75),
    ]
    lab.done("signoff", "sign", "Kim Vale", "-c", "judging-metric", "--out", "kim.json", by=BEN)
    body = json.loads((lab.folder / "kim.json").read_text(encoding="utf-8"))["body"]
    assert [row["judged"] for row in body["evidence"]] == [25, 25, 25]
    assert "False accepts shown below 5 %" in " ".join(body["limitations"])
    assert "isread" not in " ".join(body["limitations"])
    report = lab.finding("kim.json")
    assert [one for one in report["findings"] if not one["holds"]] == []
    # whoever judges is not signed off for readings with it
    quoted = ["quote", "--team", "--signed-off", "--instrument", "metric"]
    assert "nobody's sign-off on metric is in force" in lab.refused(*quoted)
    with Archive.open(lab.archive, create=False) as archive:
        named = WindowOffice(lab.folder, lab.folder).may_sign(archive)["Kim Vale"]
    assert named.until == {}
    assert "udging" in str(named.why_not)
    judge(lab)  # monitoring
    assert "valid" in lab.done("signoff", "list")
    judge(lab, wrong=20)
    assert "false accepts beyond its limit" in lab.done("signoff", "list")


def test_who_accepts_what_is_out_is_shown_to_fail(lab):
    judge(lab, wrong=8)
    judge(lab, wrong=8)
    found = status(lab)
    assert found["verdict"] == "shown to fail"
    told = lab.run("signoff", "status", "Kim Vale", "-c", "judging-metric")[1]
    assert "shown to fail after 200 readings: false accepts" in told
    assert found["limits"][0]["verdict"] == "shown to fail"
    assert "nothing to sign" in lab.refused(
        "signoff", "sign", "Kim Vale", "-c", "judging-metric", "--out", "k.json", by=BEN
    )


def test_a_check_of_reading_is_no_evidence_of_judging(lab):
    lab.check(1)
    told = json.loads(lab.run("signoff", "status", "Kim Vale", "-c", "judging-metric", "--json")[1])
    assert "its drill is full-reading" in told["not_counted"][0]["reason"]
