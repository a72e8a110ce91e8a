"""The sign-off in the window: a supervisor's whole work by keyboard alone, then by mouse alone; bad input."""

import json
from dataclasses import replace

import numpy as np
import pytest
from office import BEN, PHRASES, RUTH, Bench, quick_keys

from trainer.desktop import events
from trainer.desktop.screens.drill import Drill
from trainer.desktop.screens.home import Home
from trainer.desktop.screens.result import Result
from trainer.desktop.screens.signoff import Signoff
from trainer.desktop.screens.signoff_accounts import Accounts, AddForm, SetUpForm
from trainer.desktop.screens.signoff_attest import Attest
from trainer.desktop.screens.signoff_case import CaseView
from trainer.desktop.screens.signoff_check import OpenCheck
from trainer.desktop.screens.unlock import Unlock
from trainer.records import accounts, checks, documents, statements

GOOD = (0.1, 0.45)  # bias and spread of a good reader, tenths


@pytest.fixture
def bench(tmp_path):
    with quick_keys():
        made = Bench(tmp_path)
        yield made
        made.archive.close()


def shown(bench, person="Kim Vale", checks=5, seed=1):
    """Let a good reader take checks on five days: enough for a first sign-off (docs/methods/signoff.md)."""
    chance = np.random.default_rng(seed)
    for _ in range(checks):
        bench.check(person, chance, *GOOD)


def test_a_supervisor_s_whole_work_by_keyboard_alone(bench, tmp_path):
    player = bench.open()
    # set-up
    player.press("6", ctrl=True)
    assert isinstance(player.screen, Signoff)
    assert player.focus == "first"
    player.press("enter")
    assert isinstance(player.screen, SetUpForm)
    player.type(RUTH)
    player.press("enter")
    for _ in range(2):
        player.type(PHRASES[RUTH])
        player.press("enter")
    assert isinstance(player.screen, Signoff)
    assert [one.account for one in accounts.keyring(bench.archive).certificates] == [RUTH]
    assert (tmp_path / "keys" / "ruth.key").is_file()
    # a second account, countersigned
    player.tab_to("accounts")
    player.press("enter", "enter")
    assert isinstance(player.screen, AddForm)
    player.type(BEN)
    player.press("enter")
    for _ in range(2):
        player.type(PHRASES[BEN])
        player.press("enter")
    assert isinstance(player.screen, Unlock)
    player.type(PHRASES[RUTH])
    player.press("enter")
    assert isinstance(player.screen, Accounts)
    assert [line.cells[:2] for line in player.screen.lines] == [
        (RUTH, "supervisor, keeper"),
        (BEN, "supervisor"),
    ]
    player.press("escape")
    # a check
    player.tab_to("check")
    player.press("enter")
    assert isinstance(player.screen, OpenCheck)
    assert player.screen.person.name == "Kim Vale"
    player.tab_to("go")
    player.press("enter")
    assert "Read what you attest" in player.screen.reason
    assert player.focus == "accept"
    player.press("space")
    player.tab_to("go")
    player.press("enter")
    assert isinstance(player.screen, Unlock)
    assert player.focus == "account"
    player.press("down", "enter")
    assert player.focus == "passphrase"
    player.type(PHRASES[BEN])
    player.press("enter")
    assert isinstance(player.screen, Drill)
    assert player.app.desk.person.name == "Kim Vale"
    ticket = player.screen.sitting.ticket
    assert [one.document["body"]["supervisor"] for one in documents.listed(bench.archive, "check")] == [BEN]
    player.press("enter")
    player.answer_all([0.4, -0.3], until=3)
    player.send(events.FocusLost(player.clock()))
    player.wait(4.0)
    player.send(events.FocusGained(player.clock()))
    player.press("f3")
    player.wait(30.0)
    player.press("f3")
    player.answer_all([0.4, -0.3], until=8)
    assert player.screen.session.phase == "reading"  # no feedback
    player.send(events.CloseAsked(player.clock()))
    # the window is opened again an hour later
    bench.later(hours=1)
    player = bench.open(settings=replace(player.app.desk.settings, last_person="Kim Vale"))
    assert isinstance(player.screen, Home)
    assert player.focus == "resume"
    player.press("enter")
    assert isinstance(player.screen, Drill)
    assert player.screen.sitting.ticket == ticket
    player.press("enter")
    bench.set_back_s = 600.0
    player.answer_all([0.4, -0.3])
    assert isinstance(player.screen, Attest)
    player.press("escape")
    player.press("1", ctrl=True)
    assert isinstance(player.screen, Attest)  # left only by an answer
    player.press("enter")
    told = player.screen.record
    assert told == (
        "the window lost the focus 1 time",
        "paused 1 time",
        "left and taken up again 1 time",
        "the clock was set back while it was taken",
    )
    bench.set_back_s = 0.0
    player.press("enter")
    assert isinstance(player.screen, Result)
    person = bench.archive.person("Kim Vale")
    (record,) = checks.records(bench.archive, person.id).values()
    assert record["ended_how"] == "finished"
    assert record["attested"].startswith("I took this check myself")
    kinds = [one["kind"] for one in record["marks"]]
    assert kinds == [
        "focus-lost", "focus-back", "pause", "resume", "left", "resumed", "clock-set-back",
    ]  # fmt: skip
    # four more days, then the verdict and the signature
    shown(bench, checks=4)
    player.press("6", ctrl=True)
    assert player.screen.lines[0].cells[2] == "shown"
    player.press("enter")
    assert isinstance(player.screen, CaseView)
    assert player.focus == "sign"
    player.press("enter")
    player.type("with the loupe; metric only")
    player.press("enter", "enter", "enter")
    player.type(PHRASES[RUTH])
    player.press("enter")
    assert isinstance(player.screen, CaseView)
    (kept,) = statements.statements(bench.archive, person.id)
    body = kept.document["body"]
    assert body["conditions"] == ["with the loupe", "metric only"]
    files = sorted((tmp_path / "statements").iterdir())
    assert [path.suffix for path in files] == [".json", ".pdf"]
    assert json.loads(files[0].read_text(encoding="utf-8")) == kept.document
    assert str(files[0]) in player.screen.said
    assert not player.screen.case.may_sign
    # its standing changes
    for kind, state in (("suspend", "suspended"), ("reinstate", "valid"), ("withdraw", "withdrawn")):
        player.tab_to(f"{kind}:{body['id']}")
        player.press("enter")
        player.press("enter")
        assert player.placed("reason").node.reason == "Write the reason down."
        player.type("new glasses")
        player.press("enter", "enter")
        player.type(PHRASES[RUTH])
        player.press("enter")
        assert player.screen.case.statements[0].state == state
        bench.later(minutes=5)
    player.press("escape")
    assert isinstance(player.screen, Signoff)
