"""The sign-off in the window: a supervisor's whole work by keyboard alone, then by mouse alone; bad input."""

import json
from dataclasses import replace

import numpy as np
import pytest
from office import BEN, PHRASES, RUTH, Bench, quick_keys, who

from trainer.desktop import events
from trainer.desktop.desk import Desk
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
        (BEN, "supervisor"),
        (RUTH, "supervisor, keeper"),
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
    player.press("enter")
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
    player.send(events.CloseAsked(player.clock(), at_once=True))
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
    player.press("enter", "enter", "down", "enter")
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
        player.press("enter", "down", "enter")
        player.type(PHRASES[RUTH])
        player.press("enter")
        assert player.screen.case.statements[0].state == state
        bench.later(minutes=5)
    player.press("escape")
    assert isinstance(player.screen, Signoff)


def fill(player, **texts):
    """Click into fields and type."""
    for key, text in texts.items():
        player.click(key)
        player.type(text)


def row(player, key, number):
    """Click a row of a table."""
    box = player.placed(key).rect
    player.click_at(box.x + 40, box.y + 30 * (number + 1) + 15)


def test_a_supervisor_s_whole_work_by_mouse_alone(bench, tmp_path):
    player = bench.open(size=(1280, 1600))
    player.click("rail:signoff")
    player.click("first")
    fill(player, name=RUTH, passphrase=PHRASES[RUTH], again=PHRASES[RUTH])
    player.click("ok")
    player.click("accounts")
    player.click("add")
    fill(player, name=BEN, passphrase=PHRASES[BEN], again=PHRASES[BEN])
    player.click("keeper")
    player.click("ok")
    fill(player, passphrase=PHRASES[RUTH])
    player.click("ok")
    row(player, "accounts", 0)
    assert player.screen.lines[0].cells == (BEN, "supervisor, keeper", "in force", RUTH)
    player.click("back")
    row(player, "standing", 1)
    player.click("check")
    assert player.screen.person.name == "Lee Orr"
    player.click("find")
    player.press("a", ctrl=True)
    player.press("backspace")
    row(player, "people", 0)
    row(player, "rules", 0)
    player.click("accept")
    player.click("go")
    row(player, "account", 0)
    fill(player, passphrase=PHRASES[BEN])
    player.click("ok")
    assert isinstance(player.screen, Drill)
    player.click("begin")
    player.answer_all([0.4, -0.3], until=2)
    player.click("leave")
    player.click("later")
    assert isinstance(player.screen, Signoff)
    player.click("rail:home")
    player.click("resume")
    player.click("begin")
    player.answer_all([0.4, -0.3])
    player.click("no")
    assert "the person did not attest at the end" in player.screen.record
    player.click("room")
    assert isinstance(player.screen, Signoff)
    shown(bench, checks=4)
    player.click("rail:home")
    player.click("rail:signoff")
    player.click("case")
    player.click("sign")
    player.click("folder")
    player.press("a", ctrl=True)
    player.type(str(tmp_path / "elsewhere"))
    player.click("ok")
    row(player, "account", 1)
    fill(player, passphrase=PHRASES[RUTH])
    player.click("ok")
    assert len(list((tmp_path / "elsewhere").iterdir())) == 2
    number = player.screen.case.statements[0].id
    player.click(f"condition:{number}")
    fill(player, reason="with the loupe")
    player.click("ok")
    row(player, "account", 0)
    fill(player, passphrase=PHRASES[BEN])
    player.click("ok")
    assert player.screen.case.statements[0].conditions == ("with the loupe",)
    player.click(f"files:{number}")
    player.click("ok")
    assert len(list((tmp_path / "statements").iterdir())) == 2
    player.click("back")
    assert isinstance(player.screen, Signoff)


def unlocking(bench):
    """Return a player before the passphrase for a check of the first person, with one account."""
    bench.accounts(RUTH)
    player = bench.open()
    player.press("6", ctrl=True)
    player.click("check")
    player.click("accept")
    player.click("go")
    assert isinstance(player.screen, Unlock)
    assert player.focus == "passphrase"
    return player


def reason(player):
    return player.placed("passphrase").node.reason


def test_a_passphrase_is_never_shown_copied_or_kept(bench):
    player = unlocking(bench)
    player.type(PHRASES[RUTH])
    field = player.placed("passphrase").node
    assert field.seen == "\N{BULLET}" * len(PHRASES[RUTH])
    player.press("a", ctrl=True)
    player.press("c", ctrl=True)
    player.press("x", ctrl=True)
    assert player.clip.text == ""
    assert player.app.top.ui.memory["passphrase"].undo == ()
    assert PHRASES[RUTH] not in repr(player.app)
    player.press("end", "enter")
    assert isinstance(player.screen, Drill)
    assert not any(PHRASES[RUTH] in repr(page) for page in player.app.pages)
    assert PHRASES[RUTH] not in repr(player.asked)


def test_wrong_passphrases_make_the_account_wait_and_the_wait_is_counted_down(bench):
    player = unlocking(bench)
    for _ in range(3):
        player.type("not this one, I fear")
        player.press("enter")
    assert isinstance(player.screen, Unlock)
    assert player.screen.typed == ""
    assert "can be tried in 2\N{NO-BREAK SPACE}s" in reason(player)
    assert not player.placed("ok").node.enabled
    player.type(PHRASES[RUTH])
    player.press("enter")
    assert isinstance(player.screen, Unlock)  # not yet
    assert player.screen.tick_s(player.app.desk) is not None
    bench.later(seconds=1)
    assert "can be tried in 1\N{NO-BREAK SPACE}s" in reason(player)
    bench.later(seconds=1.5)
    assert player.screen.tick_s(player.app.desk) is None
    player.press("enter")
    assert isinstance(player.screen, Drill)


def test_a_lost_key_file_is_a_sentence_and_another_one_can_be_named(bench, tmp_path):
    player = unlocking(bench)
    moved = (tmp_path / "keys" / "ruth.key").rename(tmp_path / "stick.key")
    player.type(PHRASES[RUTH])
    player.press("enter")
    assert "there is no key file" in reason(player)
    player.click("other")
    player.type(str(moved))
    player.click("passphrase")
    player.type(PHRASES[RUTH])
    player.press("enter")
    assert isinstance(player.screen, Drill)


def test_a_person_put_away_meanwhile_is_a_sentence_and_no_ticket(bench):
    player = unlocking(bench)
    bench.archive.archive_person(bench.archive.person("Kim Vale"))
    player.type(PHRASES[RUTH])
    player.press("enter")
    assert "Kim Vale has been put away meanwhile" in reason(player)
    assert documents.listed(bench.archive, "check") == []


def test_without_an_archive_the_room_says_so_and_tries_again(bench):
    player = bench.open()
    before, player.services.open_store = player.services._store, None
    player.services._store = None

    def away():
        raise OSError(5, "Input/output error", "lab.db")

    player.services.open_store = away
    player.press("6", ctrl=True)
    assert any("Input/output error (lab.db)" in text for text in player.texts)
    assert player.focus == "again"
    player.services._store = before
    player.press("enter")
    assert player.focus == "first"


def signing(bench):
    """Return a player before the passphrase for the signature of a person who has shown everything."""
    bench.accounts(RUTH)
    shown(bench)
    player = bench.open()
    player.press("6", ctrl=True)
    player.press("enter", "enter")
    return player


@pytest.mark.parametrize("sentence", ["The server does not answer; nothing was kept.", "read-only"])
def test_an_archive_that_keeps_nothing_leaves_nothing_half_signed(bench, tmp_path, monkeypatch, sentence):
    from trainer.records.refusals import UnusableArchive

    player = signing(bench)
    player.press("enter", "enter")

    def refuses(*arguments, **named):
        raise UnusableArchive(sentence)

    player.type(PHRASES[RUTH])
    with monkeypatch.context() as patched:
        patched.setattr(documents, "keep", refuses)
        player.press("enter")
    assert reason(player) == sentence
    assert statements.statements(bench.archive) == []
    assert list((tmp_path / "statements").iterdir()) == []
    player.type(PHRASES[RUTH])
    player.press("enter")
    assert len(statements.statements(bench.archive)) == 1


def test_a_folder_that_cannot_be_written_to_is_found_out_before_the_signature(bench, tmp_path):
    player = signing(bench)
    (tmp_path / "a file").write_text("in the way", encoding="utf-8")
    player.press("enter")
    player.press("a", ctrl=True)
    player.type(str(tmp_path / "a file" / "inside"))
    player.press("enter")
    player.type(PHRASES[RUTH])
    player.press("enter")
    assert "cannot be written to" in reason(player)
    assert statements.statements(bench.archive) == []


def test_after_a_fail_a_new_attempt_takes_a_reason_and_the_waiting_time(bench):
    bench.accounts(RUTH)
    chance = np.random.default_rng(2)
    for _ in range(3):
        bench.check("Kim Vale", chance, 0.4, 2.4)
    player = bench.open()
    player.press("6", ctrl=True)
    assert player.screen.lines[0].cells[2] == "shown to fail"
    player.press("enter")
    assert player.focus == "attempt"
    assert not player.screen.case.may_sign
    why_not = [one.why_not for one in player.screen.case.checks]
    assert why_not == ["", "", "it was taken after an attempt had ended without success"]
    for days, outcome in ((0, "7 days of training"), (7, "")):
        bench.later(days=days)
        player.press("enter")
        player.type("two weeks of drills")
        player.press("enter")
        player.type(PHRASES[RUTH])
        player.press("enter")
        if outcome:
            assert outcome in reason(player)
            player.press("escape")
    assert player.screen.said.startswith("A new attempt is open from 2026-03-1")
    assert player.screen.case.attempts[-1].reason == "two weeks of drills"


def test_home_tells_in_one_line_what_is_due(bench):
    player = signing(bench)
    player.press("enter", "enter")
    player.type(PHRASES[RUTH])
    player.press("enter")
    for days, told in ((1, None), (30, "Sign-off: 1 check due."), (20, "Sign-off: 1 statement suspended.")):
        bench.later(days=days)
        player.press("1", ctrl=True)
        found = [text for text in player.texts if text.startswith("Sign-off:")]
        assert found == ([told] if told else [])


def test_the_team_s_view_tells_who_may_not_yet_sign_by_instrument(bench):
    player = signing(bench)
    player.press("enter", "enter")
    player.type(PHRASES[RUTH])
    player.press("enter")
    bench.check("Lee Orr", np.random.default_rng(5), *GOOD)
    player.press("5", ctrl=True)
    cells = {line.cells[0]: line.cells[-1] for line in player.screen.lines}
    assert cells == {"Kim Vale": "until 2027-03-07", "Lee Orr": "not yet"}
    assert "Lee Orr: 1 check taken, not signed off" in player.texts
    signed = player.screen.signed["Kim Vale"]
    assert "metric" in signed.until
    assert "inch" not in signed.until  # another scope
    assert signed.why_not.startswith("only for First level, metric")


def test_with_a_ticket_the_window_opens_at_that_check(bench):
    from trainer.desktop.app import begin
    from trainer.practice import plans

    bench.accounts(RUTH)
    kim = bench.archive.person("Kim Vale")
    opened = bench.office.start_check(bench.archive, who(RUTH), kim.id, "first-level-metric")
    player = bench.open()
    start = Home(start=plans.find("check-metric"), ticket=opened.ticket)
    desk = replace(player.app.desk, settings=replace(player.app.desk.settings, last_person="Kim Vale"))
    player.app, effects = begin(desk, start, player.fitter)
    player.perform(effects)
    assert isinstance(player.screen, Drill)
    assert player.screen.sitting.ticket == opened.ticket
    # the same ticket serves no second check
    player.app, effects = begin(desk, start, player.fitter)
    player.perform(effects)
    assert "is used up" in player.screen.refused


def test_a_check_that_is_open_and_not_begun_can_be_begun_from_the_room(bench):
    bench.accounts(RUTH)
    lee = bench.archive.person("Lee Orr")
    bench.office.start_check(bench.archive, who(RUTH), lee.id, "first-level-metric")
    player = bench.open()
    player.press("6", ctrl=True)
    player.click("ticket")
    assert isinstance(player.screen, Drill)
    assert player.app.desk.person.name == "Lee Orr"


def test_a_check_left_for_longer_than_its_ticket_holds_is_told_and_counts(bench):
    player = unlocking(bench)
    player.type(PHRASES[RUTH])
    player.press("enter", "enter")
    player.answer_all([0.2], until=4)
    player.press("escape")
    player.click("later")
    bench.later(hours=5)
    player.press("1", ctrl=True)
    player.click("resume")
    assert "hours after the supervisor opened it" in player.screen.refused
    player.press("escape")
    player.click("end")
    person = bench.archive.person("Kim Vale")
    (record,) = checks.records(bench.archive, person.id).values()
    assert record["ended_how"] == "closed"
    assert record["attested"] == ""


def test_where_there_are_accounts_the_list_of_people_asks_for_one(bench, tmp_path):
    bench.accounts(RUTH, BEN)
    player = bench.open()
    names = tmp_path / "names.txt"
    names.write_text("Mia New\n", encoding="utf-8")
    player.press("2", ctrl=True)
    player.click("add")
    player.type("Nils New")
    player.press("enter")
    assert isinstance(player.screen, Unlock)
    player.press("escape")
    assert player.placed("name").node.value == "Nils New"  # nothing is lost
    player.press("enter", "enter")
    player.type(PHRASES[BEN])  # a supervisor may add, but not put away: that takes the keeper
    player.press("enter")
    assert player.app.toast == "Nils New is on the list."
    player.click("import")
    player.type(str(names))
    player.press("enter", "escape", "enter", "enter")
    player.type(PHRASES[BEN])
    player.press("enter")
    assert [one.name for one in bench.archive.people()] == ["Kim Vale", "Lee Orr", "Mia New", "Nils New"]
    player.tab_to("archive")
    player.press("enter")
    player.click("ok")
    player.press("enter")
    player.type(PHRASES[BEN])
    player.press("enter")
    assert "that takes a keeper" in reason(player)
    player.click("account")
    player.press("end", "enter")
    player.type(PHRASES[RUTH])
    player.press("enter")
    assert [one.name for one in bench.archive.people()] == ["Lee Orr", "Mia New", "Nils New"]


def test_without_accounts_the_list_of_people_asks_nothing(bench):
    player = bench.open()
    player.press("2", ctrl=True)
    player.click("add")
    player.type("Nils New")
    player.press("enter")
    assert len(bench.archive.people()) == 3


def test_a_newcomer_at_a_bench_with_accounts_is_added_by_an_account(tmp_path):
    with quick_keys():
        bench = Bench(tmp_path, people=())
        bench.accounts(RUTH)
        player = bench.open()
        player.type("Nils New")
        player.press("enter")
        assert isinstance(player.screen, Unlock)
        player.type(PHRASES[RUTH])
        player.press("enter")
        assert isinstance(player.screen, Home)
        assert player.app.desk.person.name == "Nils New"
        bench.archive.close()


def test_closing_before_the_attestation_is_asked_about_once_and_an_answer_is_never_dropped():
    desk, asking = Desk(), Attest("a check")
    (kept,) = asking.closing(desk)
    assert not kept.attested
    warned = asking.ask_first(1.0, desk)
    assert "nobody attested" in warned.toast
    assert warned.screen.ask_first(2.0, desk) is None  # asked twice, it closes
    said_yes = Attest("a check", asked=True, refused="the archive is away")
    assert said_yes.ask_first(1.0, desk) is None
    (kept,) = said_yes.closing(desk)
    assert kept.attested
    assert Attest("a check", asked=True, record=()).closing(desk) == ()
